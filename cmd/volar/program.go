package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/strictyaml"
)

type programCmd struct {
	New   programNewCmd   `cmd:"" help:"Make a program's file, with comments, to be completed by hand."`
	Check programCheckCmd `cmd:"" help:"Say what is wrong with a program, or doubtful, with line and field."`
	Show  programShowCmd  `cmd:"" help:"What a program asks for on a day: limits in force, exercises, doses."`
	Diff  programDiffCmd  `cmd:"" help:"What has changed between two versions, in words."`
	Seal  programSealCmd  `cmd:"" help:"Keep the next version in the clinic's store and seal it for the client's home."`
}

type programNewCmd struct {
	Client     string   `required:"" help:"The client's code, such as C-017; never a name." placeholder:"CODE"`
	Side       string   `required:"" help:"The hand that the program is for: left or right." enum:"left,right" placeholder:"SIDE"`
	Exercise   []string `required:"" help:"An exercise of the catalogue, or a movement file beside the program. May be repeated; in order." placeholder:"ID"`
	Precaution []string `help:"lax-joints, arthritis, healing-tendon, healing-fracture or sensation-loss; words may follow after a colon. May be repeated. What goes with it is written into the file." sep:"none" placeholder:"KIND[: WORDS]"`
	Dominant   string   `help:"The client's dominant hand." enum:"left,right,unknown" default:"unknown" placeholder:"SIDE"`
	History    string   `help:"What happened, in the therapist's words." placeholder:"WORDS"`
	Zone       string   `help:"Where the client lives, such as Europe/Berlin." placeholder:"ZONE"`
	From       string   `help:"First day; today if not given." placeholder:"DATE"`
	Review     string   `help:"Next review; two weeks after the first day if not given." placeholder:"DATE"`
	Out        string   `short:"o" help:"Write this file, which must not exist; standard output if not given." placeholder:"FILE.yaml"`
	JSON       bool     `name:"json" help:"JSON instead of the file for people."`
}

func (c *programNewCmd) Run(e *environment) error {
	o := program.Options{Client: c.Client, Exercises: c.Exercise, History: c.History, Zone: c.Zone, Now: time.Now()}
	for _, f := range []struct {
		name, text string
		read       func(string) error
	}{
		{"side", c.Side, func(s string) error { return o.Side.UnmarshalText([]byte(s)) }},
		{"dominant", strings.TrimPrefix(c.Dominant, "unknown"), func(s string) error { return o.Dominant.UnmarshalText([]byte(s)) }},
		{"from", c.From, func(s string) error { return o.ValidFrom.UnmarshalText([]byte(s)) }},
		{"review", c.Review, func(s string) error { return o.NextReview.UnmarshalText([]byte(s)) }},
	} {
		if f.text == "" {
			continue
		}
		if err := f.read(f.text); err != nil {
			return &usageError{fmt.Errorf("--%s: %w", f.name, err)}
		}
	}
	for _, s := range c.Precaution {
		kind, words, _ := strings.Cut(s, ":")
		o.Precautions = append(o.Precautions, program.Precaution{Kind: program.PrecautionKind(strings.TrimSpace(kind)), Words: strings.TrimSpace(words)})
	}
	src := program.Folder(filepath.Dir(c.Out))
	p, warnings, err := program.New(o, src)
	name := "new program"
	if c.Out != "" {
		name = c.Out
	}
	var faults *strictyaml.Error
	if errors.As(err, &faults) {
		printProblems(e.err, name, faults.Problems, "")
		return &usageError{fmt.Errorf("no program was made: %s", plural(len(faults.Problems), "error", "errors"))}
	}
	if err != nil {
		return err
	}
	text := p.Format()
	if c.JSON {
		if text, err = json.Marshal(p); err != nil {
			return err
		}
		text = append(text, '\n')
	}
	if c.Out == "" {
		_, err = e.out.Write(text)
	} else {
		err = writeNew(c.Out, text)
	}
	if err != nil {
		return err
	}
	if c.Out != "" {
		// Read back, so that warnings name the lines of the file.
		if _, warnings, err = program.Parse(text, src); err != nil {
			return fmt.Errorf("the program that was written to %s cannot be read: %w", c.Out, err)
		}
	}
	printProblems(e.err, name, warnings, "warning: ")
	return nil
}

// writeNew writes a file that must not exist; what could not be written whole
// is removed.
func writeNew(path string, text []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	switch {
	case errors.Is(err, fs.ErrExist):
		return &usageError{fmt.Errorf("%s exists already; name another file", path)}
	case errors.Is(err, fs.ErrNotExist):
		return &usageError{fmt.Errorf("there is no folder %s to write into; make it first", filepath.Dir(path))}
	}
	if err != nil {
		return fmt.Errorf("writing the program: %w", err)
	}
	_, err = f.Write(text)
	if err = errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("writing the program: %w", errors.Join(err, os.Remove(path)))
	}
	return nil
}

type programCheckCmd struct {
	File []string `arg:"" help:"Program files." name:"file"`
	JSON bool     `name:"json" help:"One JSON object a file."`
}

type programCheckResult struct {
	Path     string          `json:"path"`
	OK       bool            `json:"ok"`
	Errors   []problemResult `json:"errors"`
	Warnings []problemResult `json:"warnings"`
}

type problemResult struct {
	Line  int    `json:"line"`
	Field string `json:"field"`
	Text  string `json:"text"`
}

func (c *programCheckCmd) Run(e *environment) error {
	out := json.NewEncoder(e.out)
	bad := 0
	for _, path := range c.File {
		_, warnings, err := program.Load(path)
		var faults *strictyaml.Error
		if err != nil && !errors.As(err, &faults) {
			// The file cannot be read at all.
			faults = &strictyaml.Error{Problems: []strictyaml.Problem{{Text: err.Error()}}}
		}
		if faults == nil {
			faults = &strictyaml.Error{}
		} else {
			bad++
		}
		if c.JSON {
			if err := out.Encode(programCheckResult{path, len(faults.Problems) == 0, problemResults(faults.Problems), problemResults(warnings)}); err != nil {
				return err
			}
			continue
		}
		b := &printer{w: e.out}
		printProblems(b.w, path, faults.Problems, "")
		printProblems(b.w, path, warnings, "warning: ")
		if len(faults.Problems) == 0 {
			b.f("%s: can be used", path)
			if len(warnings) > 0 {
				b.f("; %s to look at", plural(len(warnings), "warning", "warnings"))
			}
			b.f("\n")
		}
		if b.err != nil {
			return b.err
		}
	}
	if bad > 0 {
		return &inputError{fmt.Errorf("%s of %d cannot be used", plural(bad, "program", "programs"), len(c.File))}
	}
	return nil
}

func problemResults(l []strictyaml.Problem) []problemResult {
	r := []problemResult{}
	for _, p := range l {
		r = append(r, problemResult(p))
	}
	return r
}

type programShowCmd struct {
	File string `arg:"" help:"Program file." name:"file"`
	Date string `help:"The day; today if not given." placeholder:"DATE"`
	JSON bool   `name:"json" help:"One JSON object."`
}

func (c *programShowCmd) Run(e *environment) error {
	p, err := loadProgram(e, c.File)
	if err != nil {
		return err
	}
	d, err := dayOf(p, c.Date)
	if err != nil {
		return err
	}
	r := p.On(d)
	if c.JSON {
		return json.NewEncoder(e.out).Encode(showJSON(&r))
	}
	return printProgram(&printer{w: e.out}, &r)
}

type programDiffCmd struct {
	Old  string `arg:"" help:"The earlier version's file."`
	New  string `arg:"" help:"The later version's file."`
	JSON bool   `name:"json" help:"One JSON object."`
}

func (c *programDiffCmd) Run(e *environment) error {
	a, err := loadProgram(e, c.Old)
	if err != nil {
		return err
	}
	b, err := loadProgram(e, c.New)
	if err != nil {
		return err
	}
	changes := program.Diff(a, b)
	if c.JSON {
		if changes == nil {
			changes = []program.Change{}
		}
		return json.NewEncoder(e.out).Encode(struct {
			Client  string           `json:"client"`
			Old     int              `json:"old"`
			New     int              `json:"new"`
			Changes []program.Change `json:"changes"`
		}{b.Client, a.Version, b.Version, changes})
	}
	w := &printer{w: e.out}
	w.f("Program of %s, from version %d to version %d\n", b.Client, a.Version, b.Version)
	for _, ch := range changes {
		w.wrapped("  - ", "    ", ch.Text)
	}
	switch {
	case len(changes) == 0:
		w.f("  nothing has changed\n")
	case a.Client != b.Client:
		w.wrapped("", "", fmt.Sprintf("These are programs of two clients, %s and %s.", a.Client, b.Client))
	case a.Version == b.Version:
		w.wrapped("", "", fmt.Sprintf("Both files have version %d. A change makes a new version: raise the number in %s.", b.Version, c.New))
	}
	return w.err
}

// loadProgram reads a program that is to be used; its warnings are for
// program check.
func loadProgram(e *environment, path string) (*program.Program, error) {
	p, _, err := program.Load(path)
	var faults *strictyaml.Error
	switch {
	case errors.As(err, &faults):
		printProblems(e.err, path, faults.Problems, "")
		return nil, &inputError{fmt.Errorf("%s cannot be used: %s", path, plural(len(faults.Problems), "error", "errors"))}
	case err != nil:
		return nil, &inputError{fmt.Errorf("%s %w", path, err)}
	}
	return p, nil
}

// dayOf reads a date; without one it is today where the client lives, or here
// where the program does not say.
func dayOf(p *program.Program, date string) (program.Date, error) {
	if date == "" {
		loc := time.Local
		if p.Zone != "" {
			loc = p.Location()
		}
		return program.DateOf(time.Now(), loc), nil
	}
	d, err := program.ParseDate(date)
	if err != nil {
		return d, &usageError{fmt.Errorf("--date: %w", err)}
	}
	return d, nil
}

// showResult is program show's JSON.
type showResult struct {
	Client     string                 `json:"client"`
	Version    int                    `json:"version"`
	Date       program.Date           `json:"date"`
	InForce    bool                   `json:"in_force"`
	NextChange program.Date           `json:"next_change,omitzero"`
	Limits     map[string]limitResult `json:"limits"`
	// OtherLimits are those of the hand that the program is not for.
	OtherLimits map[string]limitResult `json:"other_limits,omitempty"`
	TakesS      float64                `json:"takes_s"`
	Exercises   []exerciseResult       `json:"exercises"`
	Program     *program.Program       `json:"program"`
}

type limitResult struct {
	LowerDeg *float64 `json:"lower_deg,omitempty"`
	UpperDeg *float64 `json:"upper_deg,omitempty"`
}

type exerciseResult struct {
	ID       string                 `json:"id"`
	Movement string                 `json:"movement"`
	Name     string                 `json:"name"`
	Side     string                 `json:"side"`
	View     string                 `json:"view"`
	Object   string                 `json:"object,omitempty"`
	Grade    exercise.Grade         `json:"grade,omitempty"`
	Dose     program.Dose           `json:"dose"`
	TakesS   float64                `json:"takes_s"`
	Limits   map[string]limitResult `json:"limits"`
	// OtherLimits are those of the other hand where it takes two.
	OtherLimits map[string]limitResult `json:"other_limits,omitempty"`
	OwnLimits   map[string]limitResult `json:"own_limits"`
	// NotSeen are joints whose limit near straight the view mostly cannot show.
	NotSeen []string `json:"not_seen"`
}

func showJSON(r *program.Resolved) showResult {
	s := showResult{
		Client: r.Program.Client, Version: r.Program.Version, Date: r.Date, InForce: r.InForce, NextChange: r.NextChange,
		Limits: limitResults(r.Limits), OtherLimits: limitResults(r.OtherLimits), TakesS: r.Takes().Seconds(), Exercises: []exerciseResult{}, Program: r.Program,
	}
	for i := range r.Exercises {
		q := &r.Exercises[i]
		x := exerciseResult{
			ID: q.ID, Movement: q.Movement.ID, Name: q.Movement.Name, Side: q.Side.String(), View: q.View.Name,
			Object: q.Object.ID, Grade: q.Object.Grade, Dose: program.FullDose(q.Dose), TakesS: q.Takes().Seconds(),
			Limits: limitResults(q.Limits), OtherLimits: limitResults(q.OtherLimits), OwnLimits: limitResults(q.OwnLimits()), NotSeen: []string{},
		}
		unseen, _ := q.Unseen()
		for _, j := range unseen {
			x.NotSeen = append(x.NotSeen, j.String())
		}
		s.Exercises = append(s.Exercises, x)
	}
	return s
}

func limitResults(l coach.Limits) map[string]limitResult {
	m := map[string]limitResult{}
	for j := hand.Joint(0); j < hand.NumJoints; j++ {
		if x, ok := l[j]; ok {
			m[j.String()] = limitResult{x.Lower, x.Upper}
		}
	}
	return m
}
