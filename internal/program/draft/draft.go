// Package draft is a program while a therapist writes it: edits, what is wrong
// after each, and the version that comes of it. An editor's window shows it and
// holds no rule of its own.
//
// What is typed as text is kept as it was typed as long as it cannot be read,
// and the problem stands beside its field; the program keeps what it had there.
// Fields have the names that program.Check gives them, such as
// exercises[2].dose.sets; list items count from 1.
//
// Angles are typed without a sign: 20 is 20° short of straight, 10 past is 10°
// past straight, and free lifts a limit.
//
// A Draft is for one goroutine. Its errors tell what could not be read, for a
// person.
package draft

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"volar/internal/exercise"
	"volar/internal/program"
	"volar/internal/strictyaml"
)

// Draft is a program being written. New and Next make one.
type Draft struct {
	p         *program.Program
	before    *program.Program
	src       program.Source
	catalogue []*exercise.Movement
	// unread are the problems of texts that cannot be read, and typed the texts.
	unread, typed    map[string]string
	faults, warnings []strictyaml.Problem
}

// Options say what a first version begins with.
type Options struct {
	Client         string
	Side, Dominant program.Side
	// Precautions bring their defaults.
	Precautions []program.Precaution
	Zone        string
	Now         time.Time
}

// New begins the first version of a client's program, without exercises.
func New(o Options) (*Draft, error) {
	zone := o.Now.Location()
	if z, err := program.ParseZone(o.Zone); err == nil {
		zone = z
	}
	from := program.DateOf(o.Now, zone)
	d := &Draft{p: &program.Program{
		FileFormat: program.FormatVersion, Client: o.Client, Side: o.Side, Dominant: o.Dominant, Version: 1,
		Issued: program.Instant{Time: o.Now.UTC().Truncate(time.Second)}, ValidFrom: from, NextReview: from.AddDays(program.ReviewDays),
		Zone: o.Zone, Cue: program.UsualCue,
	}}
	if err := d.begin(); err != nil {
		return nil, err
	}
	for _, q := range o.Precautions {
		d.bring(q)
	}
	d.check()
	return d, nil
}

// Next begins the version after one that has been checked. A next review that
// has passed is set anew.
func Next(before *program.Program, now time.Time) (*Draft, error) {
	d := &Draft{p: before.Next(now), before: before, src: program.Carried(before.Files)}
	if d.p.NextReview.IsZero() || !d.p.ValidFrom.Before(d.p.NextReview) {
		d.p.NextReview = d.p.ValidFrom.AddDays(program.ReviewDays)
	}
	if err := d.begin(); err != nil {
		return nil, err
	}
	d.check()
	return d, nil
}

func (d *Draft) begin() (err error) {
	d.unread, d.typed = map[string]string{}, map[string]string{}
	d.catalogue, err = exercise.Catalogue()
	d.src.Catalogue = d.catalogue
	return err
}

// Program is the program as it stands; it is to be read only.
func (d *Draft) Program() *program.Program { return d.p }

// Before is the version that the draft goes on from; nil for a first one.
func (d *Draft) Before() *program.Program { return d.before }

// Catalogue lists the movements that can be prescribed.
func (d *Draft) Catalogue() []*exercise.Movement { return d.catalogue }

// Problem is something wrong, or doubtful, with a field.
type Problem struct {
	Field, Text string
	// Fault is what has to be mended before the program can be saved; the
	// others are warnings.
	Fault bool
}

// Problems lists all there are, faults first.
func (d *Draft) Problems() []Problem {
	var all []Problem
	for _, f := range slices.Sorted(keys(d.unread)) {
		all = append(all, Problem{f, d.unread[f], true})
	}
	for _, p := range d.faults {
		all = append(all, Problem{p.Field, p.Text, true})
	}
	for _, p := range d.warnings {
		all = append(all, Problem{p.Field, p.Text, false})
	}
	return all
}

func keys(m map[string]string) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

// Beside is what to say beside a field: the first fault of it or of what is in
// it, else the first warning, else nothing.
func (d *Draft) Beside(field string) (text string, fault bool) {
	for _, p := range d.Problems() {
		if rest, ok := strings.CutPrefix(p.Field, field); ok && (rest == "" || rest[0] == '.' || rest[0] == '[') {
			return p.Text, p.Fault
		}
	}
	return "", false
}

// At is what to say beside a field whose parts have fields of their own: Beside
// without what is in it.
func (d *Draft) At(field string) (text string, fault bool) {
	for _, p := range d.Problems() {
		if p.Field == field {
			return p.Text, p.Fault
		}
	}
	return "", false
}

// Faults is how many problems have to be mended.
func (d *Draft) Faults() int { return len(d.unread) + len(d.faults) }

// Changes says what is different from the version before; for a first version
// there is nothing to compare, and it is nil.
func (d *Draft) Changes() []program.Change {
	if d.before == nil || d.Faults() > 0 {
		return nil
	}
	return program.Diff(d.before, d.p)
}

// Touched says whether anything would be lost if the draft were thrown away.
func (d *Draft) Touched() bool {
	if len(d.unread) > 0 {
		return true
	}
	if d.before == nil {
		return len(d.p.Exercises) > 0
	}
	as := d.before.Clone()
	as.Version, as.Issued, as.ValidFrom, as.NextReview = d.p.Version, d.p.Issued, d.p.ValidFrom, d.p.NextReview
	return string(as.Format()) != string(d.p.Format())
}

// Finish returns the version that was written, issued now, or says why it
// cannot be.
func (d *Draft) Finish(now time.Time) (*program.Program, error) {
	if n := d.Faults(); n > 0 {
		p := d.Problems()[0]
		return nil, fmt.Errorf("%s: %s", p.Field, p.Text)
	}
	if d.before != nil && !d.Touched() && d.before.ValidFrom == d.p.ValidFrom && d.before.NextReview == d.p.NextReview {
		return nil, errors.New("nothing was changed")
	}
	p := d.p.Clone()
	p.Issued = program.Instant{Time: now.UTC().Truncate(time.Second)}
	// Checked anew, since a copy knows its movements only then.
	if faults, _ := p.Check(d.src); len(faults) > 0 {
		return nil, &strictyaml.Error{Problems: faults}
	}
	return p, nil
}

// check looks at the program after an edit.
func (d *Draft) check() { d.faults, d.warnings = d.p.Check(d.src) }

// Typed is what stands in a text field: what was typed there last where that
// cannot be read, else what the program has, which is given.
func (d *Draft) Typed(field, have string) string {
	if t, ok := d.typed[field]; ok {
		return t
	}
	return have
}

// read notes whether what was typed into a field could be read.
func (d *Draft) read(field, text string, err error) error {
	if err != nil {
		d.unread[field], d.typed[field] = err.Error(), text
	} else {
		delete(d.unread, field)
		delete(d.typed, field)
	}
	d.check()
	return err
}

// forget drops what was typed into fields that are gone or have moved.
func (d *Draft) forget(prefix string) {
	for f := range d.unread {
		if strings.HasPrefix(f, prefix) {
			delete(d.unread, f)
			delete(d.typed, f)
		}
	}
}
