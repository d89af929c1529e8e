package program

import (
	"slices"
	"time"

	"volar/internal/exercise"
	"volar/internal/strictyaml"
)

// Options says what a new program begins with.
type Options struct {
	// Client and Side are wanted.
	Client   string
	Side     Side
	Dominant Side
	// Precautions bring their defaults into the program.
	Precautions []Precaution
	// Exercises are IDs of movements in the catalogue or names of movement
	// files, in order.
	Exercises []string
	History   string
	Zone      string
	// Now is when the program is issued. ValidFrom is that day where it is not
	// given, in the zone or, without one, in that of Now; NextReview is
	// ReviewDays after ValidFrom.
	Now                   time.Time
	ValidFrom, NextReview Date
}

// ReviewDays is after how many days a new program is to be looked at again
// (a choice; the therapist sees it and can change it).
const ReviewDays = 14

// New makes the first version of a program: every exercise with its object and
// its usual dose written out, and the defaults of all precautions. An exercise
// takes the usual object, or the first that the precautions allow. The program
// has been checked, with the problems that Parse would find.
func New(o Options, src Source) (p *Program, warnings []strictyaml.Problem, err error) {
	p = &Program{
		FileFormat: FormatVersion, Client: o.Client, Side: o.Side, Dominant: o.Dominant, Version: 1,
		Issued: Instant{o.Now.UTC().Truncate(time.Second)}, ValidFrom: o.ValidFrom, NextReview: o.NextReview,
		Zone: o.Zone, History: o.History, Precautions: slices.Clone(o.Precautions), Cue: UsualCue,
	}
	zone := o.Now.Location()
	if z, err := ParseZone(o.Zone); err == nil {
		zone = z
	}
	if p.ValidFrom.IsZero() {
		p.ValidFrom = DateOf(o.Now, zone)
	}
	if p.NextReview.IsZero() {
		p.NextReview = p.ValidFrom.AddDays(ReviewDays)
	}
	lower := false
	for _, q := range p.Precautions {
		d := q.Kind.Defaults()
		p.Limits = append(p.Limits, d.Limits...)
		for _, a := range d.Avoid {
			if !slices.Contains(p.Avoid, a) {
				p.Avoid = append(p.Avoid, a)
			}
		}
		if d.Cue != "" {
			p.Cue = d.Cue
		}
		p.SideViewCheck = p.SideViewCheck || d.SideViewCheck
		lower = lower || d.LowerDose
	}
	for _, id := range o.Exercises {
		p.Exercises = append(p.Exercises, Exercise{Movement: id})
	}
	// The first check finds the movements; what it says of doses and objects
	// is not yet so.
	p.Check(src)
	for i := range p.Exercises {
		e := &p.Exercises[i]
		if e.movement == nil {
			continue
		}
		dose := e.movement.Dose
		if lower {
			dose = LowerDose(dose)
		}
		e.Dose = FullDose(dose)
		e.Object = p.allowedObject(e.movement)
	}
	faults, warnings := p.Check(src)
	if len(faults) > 0 {
		return nil, warnings, &strictyaml.Error{Problems: faults}
	}
	return p, warnings, nil
}

// allowedObject is the usual one, or the first that nothing forbids.
func (p *Program) allowedObject(m *exercise.Movement) string {
	usual, err := m.Object("")
	if err != nil {
		return ""
	}
	for _, o := range append([]exercise.Object{usual}, m.Objects...) {
		if !slices.ContainsFunc(p.Avoid, func(a Avoid) bool { return a.forbids(m, o) != "" }) {
			return o.ID
		}
	}
	return usual.ID
}
