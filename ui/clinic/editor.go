package clinic

import (
	"fmt"
	"slices"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"volar/internal/clinicstore"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/program/draft"
	"volar/ui/look"
	"volar/ui/parts"
)

// editor is a program being written; its sections are screens of their own.
type editor struct {
	c      *Clinic
	client clinicstore.Client
	d      *draft.Draft
	back   func()
	// at is the exercise that is shown, and of what the limits are shown of:
	// draft.All or an exercise. hand is whose limits are shown; the zero Side is
	// the hand that they are for.
	at, of int
	hand   program.Side
	joints program.Joints
}

// edit opens the editor with the first or the next version of a client's
// program, at the exercise with the ID where one is named and with the limits of
// a hand where it is known.
func (c *Clinic) edit(code, exercise string, side hand.Side, back func()) {
	e := &editor{c: c, back: back, of: draft.All, hand: program.Side(side), joints: "index.pip"}
	var err error
	if e.client, err = c.store.Client(c.ctx, code); err != nil {
		c.trouble("The client cannot be read", err, back)
		return
	}
	h, err := c.store.History(c.ctx, code)
	if err != nil {
		c.trouble("The program cannot be read", err, back)
		return
	}
	now := c.opt.Clock()
	if h == nil {
		e.d, err = draft.New(draft.Options{Client: code, Side: program.Side(e.client.Side()), Precautions: e.client.Precautions, Zone: zoneName(now.Location().String()), Now: now})
	} else if e.d, err = draft.Next(h.Latest(), now); err == nil {
		if i, err := e.d.Program().Find(exercise); err == nil {
			e.at = i
		}
	}
	if err != nil {
		c.trouble("The program cannot be edited", err, back)
		return
	}
	if h == nil {
		c.show(newCatalogue(e))
		return
	}
	c.show(newExercises(e))
}

// zoneName is a zone that a program can name, or none.
func zoneName(name string) string {
	if _, err := program.ParseZone(name); err != nil || name == "Local" {
		return ""
	}
	return name
}

// section is what the editor's screens have in common.
type section struct {
	base
	e      *editor
	status *parts.Words
	sign   *parts.Badge
	rows   map[string]*parts.FormRow
}

var sections = []string{"Exercises", "Limits", "Precautions", "Dates and words", "Preview"}

// open shows a section.
func (e *editor) open(n int) {
	switch n {
	case 0:
		e.c.show(newExercises(e))
	case 1:
		e.c.show(newLimits(e))
	case 2:
		e.c.show(newPrecautions(e))
	case 3:
		e.c.show(newDates(e))
	case 4:
		e.c.show(newPreview(e))
	}
}

// lay lays a section out: what is edited, the sections, what is wrong, and
// below what is always there.
func (s *section) lay(n int, middle fyne.CanvasObject, actions ...fyne.CanvasObject) fyne.CanvasObject {
	p := s.e.d.Program()
	var tabs []fyne.CanvasObject
	for i, name := range sections {
		kind := parts.Plain
		if i == n {
			kind = parts.Lead
		}
		b := s.ControlAction(kind, name, fyne.KeyName(fmt.Sprint(i+1)), func() { s.e.open(i) })
		tabs = append(tabs, b)
	}
	s.Line = nil
	s.status = parts.NewWords("", parts.Style{})
	s.sign = parts.NewBadge(parts.DoneSign, 20)
	title := fmt.Sprintf("%s, version %d: %s", p.Client, p.Version, sections[n])
	head := parts.Column(6, parts.Row(gap, []float32{2, 0, 3}, parts.NewWords(fmt.Sprintf("%s, version %d", p.Client, p.Version), parts.Style{Size: theme.SizeNameSubHeadingText, Bold: true}), s.sign, s.status), parts.Flow(4, tabs...))
	save := s.ControlAction(parts.Lead, "Save this version", fyne.KeyS, s.save)
	if s.first == nil {
		s.first = save
	}
	actions = append(actions, save, s.goBack("Leave the editor", s.leaveEditor))
	out := s.page(title, head, middle, actions...)
	s.tell()
	return out
}

// field is a labelled text field beside which the draft's problems stand.
func (s *section) field(name, label, text string, multi bool, set func(string)) (*parts.Field, fyne.CanvasObject) {
	changed := func(t string) {
		set(t)
		s.tell()
	}
	f := parts.NewField(text, changed)
	if multi {
		f = parts.NewNotes(text, 3, changed)
	}
	return f, s.labelled(name, label, f)
}

// labelled puts a label over an object, and the draft's problem of a field
// below it.
func (s *section) labelled(name, label string, o fyne.CanvasObject) fyne.CanvasObject {
	r := parts.NewFormRow(label, o)
	if s.rows == nil {
		s.rows = map[string]*parts.FormRow{}
	}
	s.rows[name] = r
	return r.Content()
}

// tell shows what is wrong: beside each field, and the first of it above.
func (s *section) tell() {
	d := s.e.d
	for name, r := range s.rows {
		text, _ := d.Beside(name)
		if strings.HasSuffix(name, ".dose") {
			text, _ = d.At(name)
		}
		r.Problem(sentence(text))
	}
	all := d.Problems()
	sign, words, colour := parts.DoneSign, "Nothing is wrong.", look.Done
	switch n, faults := len(all), d.Faults(); {
	case faults > 0:
		words = fmt.Sprintf("%s: %s", fieldWords(d.Program(), all[0].Field), all[0].Text)
		if faults > 1 {
			words += fmt.Sprintf(" (and %d more)", faults-1)
		}
		sign, colour = parts.CautionSign, look.Caution
	case n == 1:
		words, sign, colour = "There is something to know: see Preview.", parts.Point, look.Ink
	case n > 1:
		words, sign, colour = fmt.Sprintf("There are %d things to know: see Preview.", n), parts.Point, look.Ink
	}
	s.sign.Set(sign)
	s.status.SetColour(colour)
	if s.status.Text() != words {
		s.status.Set(words)
		parts.Settle(s.status)
	}
}

// save keeps the version and goes back.
func (s *section) save() {
	e := s.e
	p, err := e.d.Finish(e.c.opt.Clock())
	if err != nil {
		s.sign.Set(parts.CautionSign)
		s.status.SetColour(look.Caution)
		words := "It cannot be saved yet. " + sentence(err.Error())
		if all := e.d.Problems(); len(all) > 0 {
			words = "It cannot be saved yet. " + sentence(fieldWords(e.d.Program(), all[0].Field)+": "+all[0].Text)
		}
		s.status.Set(words)
		parts.Settle(s.status)
		return
	}
	if err := e.c.store.PutProgram(e.c.ctx, p); err != nil {
		e.c.trouble("The program could not be saved", err, func() { e.c.show(newPreview(e)) })
		return
	}
	// The client's precautions are those of the newest program.
	if !slices.Equal(e.client.Precautions, p.Precautions) {
		one, err := e.c.store.Client(e.c.ctx, e.client.Code)
		if err == nil {
			one.Precautions = p.Precautions
			err = e.c.store.PutClient(e.c.ctx, one)
		}
		if err != nil {
			e.c.trouble("The client could not be saved", err, e.back)
			return
		}
	}
	e.c.client(e.client.Code)
}

// leaveEditor asks first where something would be lost.
func (s *section) leaveEditor() {
	if !s.e.d.Touched() {
		s.e.back()
		return
	}
	s.Ask(s.e.back)
}

// Unsaved is part of Drafting.
func (s *section) Unsaved() bool { return s.e.d.Touched() }

// Ask is part of Drafting.
func (s *section) Ask(then func()) {
	s.e.c.show(&discard{
		base: base{c: s.e.c}, words: "What was written in this version is not saved yet.", label: "Save this version",
		keep: func() { s.e.open(0) },
		save: func() {
			p := newPreview(s.e)
			s.e.c.show(p)
			p.save()
		},
		then: then,
	})
}

// preview shows the program in words and what changed.
type preview struct{ section }

func newPreview(e *editor) *preview { return &preview{section{base: base{c: e.c}, e: e}} }

// Content is part of parts.Screen.
func (s *preview) Content() fyne.CanvasObject {
	d := s.e.d
	body := parts.Column(gap)
	if changes := d.Changes(); len(changes) > 0 {
		body.Add(strong(fmt.Sprintf("Changes since version %d", d.Before().Version)))
		for _, ch := range changes {
			body.Add(parts.Row(8, []float32{0, 1}, parts.NewBadge(parts.Point, 18), text(sentence(ch.Text))))
		}
	}
	for _, p := range d.Problems() {
		words := fieldWords(d.Program(), p.Field) + ": " + p.Text
		if p.Fault {
			body.Add(caution(words))
		} else {
			body.Add(quiet("To know: " + words))
		}
	}
	var actions []fyne.CanvasObject
	if d.Faults() == 0 {
		body.Add(programWords(d.Program(), s.c.day()))
		actions = append(actions, s.ControlAction(parts.Plain, "Handout", fyne.KeyP, func() { s.c.handout(d.Program(), func() { s.e.open(4) }) }))
	}
	return s.lay(4, s.Scroll(body), actions...)
}

// dates is the section of days and words.
type dates struct{ section }

func newDates(e *editor) *dates { return &dates{section{base: base{c: e.c}, e: e}} }

// Content is part of parts.Screen.
func (s *dates) Content() fyne.CanvasObject {
	d, p := s.e.d, s.e.d.Program()
	from, fromBox := s.field("valid_from", "First day, year-month-day", d.Typed("valid_from", p.ValidFrom.String()), false, func(t string) { d.SetValidFrom(t) })
	_, review := s.field("next_review", "Next review, year-month-day", d.Typed("next_review", p.NextReview.String()), false, func(t string) { d.SetNextReview(t) })
	_, zone := s.field("zone", "Where the client lives, such as Europe/Berlin; days begin and end there", p.Zone, false, d.SetZone)
	hands := []program.Side{program.Side(hand.Right), program.Side(hand.Left)}
	pick := func(have program.Side, none bool, set func(program.Side)) fyne.CanvasObject {
		labels, sides := []string{"right", "left"}, hands
		if none {
			labels, sides = append(labels, "not known"), append(slices.Clone(sides), 0)
		}
		return parts.NewPicks(labels, slices.Index(sides, have), func(i int) {
			set(sides[i])
			s.tell()
		}).Content()
	}
	left := parts.Column(gap, fromBox, review, zone,
		s.labelled("side", "Hand that the program is for; where both hands have limits each keeps its own", pick(p.Side, false, d.SetSide)),
		s.labelled("dominant", "Dominant hand", pick(p.Dominant, true, d.SetDominant)))
	_, message := s.field("message", "Message to the client", p.Message, true, d.SetMessage)
	_, history := s.field("history", "History; stays in the clinic", p.History, true, d.SetHistory)
	_, notes := s.field("notes", "Notes; stay in the clinic", p.Notes, true, d.SetNotes)
	s.first = from
	return s.lay(3, s.Scroll(parts.Row(3*gap, []float32{1, 1}, left, parts.Column(gap, message, history, notes))))
}
