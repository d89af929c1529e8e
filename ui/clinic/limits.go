package clinic

import (
	"slices"
	"strings"

	"fyne.io/fyne/v2"

	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/program/draft"
	"volar/ui/parts"
)

// limits is the section of the limits: the hand that is meant, drawn for its
// joints to be chosen, the step that is written, the table of that hand's steps
// with their dates, and the other hand's limits in words.
type limits struct {
	section
	where              draft.Where
	beside             *fyne.Container
	hand               *parts.HandMap
	table              *parts.Table
	shown              []draft.Row
	name               *parts.Words
	scope              string
	from, lower, upper *parts.Field
	reason             *parts.Field
	row                *parts.FormRow
	lowerRow, upperRow *parts.FormRow
}

func newLimits(e *editor) *limits {
	w := draft.Where{Of: e.of}
	w.Other = e.hand != 0 && e.hand != e.d.Hand(w) && twoHands(e.d, e.of)
	return &limits{section: section{base: base{c: e.c}, e: e}, where: w}
}

// twoHands says whether the limits of both hands are edited: of all exercises,
// and of one that takes both or has limits for both.
func twoHands(d *draft.Draft, of int) bool {
	if of == draft.All || len(d.Rows(draft.Where{Of: of, Other: true})) > 0 {
		return true
	}
	m := d.Movement(of)
	return m == nil || m.Hands == 2
}

// handWords names a hand at the head of a sentence.
func handWords(s program.Side) string {
	if s.Hand() == hand.Left {
		return "Left hand"
	}
	return "Right hand"
}

// hands are the buttons that choose the hand: the one that is shown, and the
// other with its key.
func (s *limits) hands() fyne.CanvasObject {
	shown := s.e.d.Hand(s.where)
	if !twoHands(s.e.d, s.where.Of) {
		return strong(handWords(shown))
	}
	var both []fyne.CanvasObject
	for _, side := range []program.Side{program.Side(hand.Right), program.Side(hand.Left)} {
		to := func() {
			s.e.hand = side
			s.e.open(1)
		}
		if side == shown {
			both = append(both, parts.NewButton(parts.Lead, handWords(side), "", to))
		} else {
			both = append(both, s.Action(parts.Plain, handWords(side), fyne.KeyH, to))
		}
	}
	return parts.Flow(4, both...)
}

// Content is part of parts.Screen.
func (s *limits) Content() fyne.CanvasObject {
	shown := s.e.d.Hand(s.where)
	s.hand = parts.NewHandMap(shown.Hand(), func(j hand.Joint) { s.choose(program.Joints(j.String())) }, func() { s.c.opt.Window.Canvas().Focus(s.lower) })
	s.first = s.hand
	s.name = strong("")
	live := func(lower bool) func(string) {
		return func(t string) { s.read(t, lower) }
	}
	s.from = parts.NewField("", nil).Hint("always")
	s.lower = parts.NewField("", live(true)).Hint("20; 5 past; free")
	s.upper = parts.NewField("", live(false)).Hint("70; free")
	s.reason = parts.NewField("", nil).Hint("stays in the clinic")
	for _, f := range []*parts.Field{s.from, s.lower, s.upper, s.reason} {
		f.OnEnter = s.put
	}
	s.lowerRow, s.upperRow = parts.NewFormRow("Not straighter than, °", s.lower), parts.NewFormRow("Not bent beyond, °", s.upper)
	s.row = parts.NewFormRow("From, year-month-day", s.from)
	s.table = parts.NewTable([]parts.TableColumn{{Title: "Joints", Weight: 3}, {Title: "From", Weight: 3}, {Title: "Not straighter than", Weight: 3}, {Title: "Not bent beyond", Weight: 3}},
		"No limit is set for the "+shown.String()+" hand.", nil, s.load)
	s.table.AtLeast(3)
	s.scope = "all exercises"
	var scope fyne.CanvasObject = quiet("These hold in all exercises; an exercise's own limits go before them.")
	if s.e.of != draft.All {
		p := s.e.d.Program()
		s.scope = p.Exercises[s.e.of].Name()
		scope = parts.Flow(4, parts.NewButton(parts.Plain, "Show those of all exercises", "", func() {
			s.e.of = draft.All
			s.e.open(1)
		}))
	}
	wider := parts.Flow(4,
		s.Action(parts.Plain, "Joint", fyne.KeyJ, func() { s.choose(program.Joints(s.hand.At().String())) }),
		s.Action(parts.Plain, "Row", fyne.KeyR, func() { s.choose(row(s.hand.At())) }),
		s.Action(parts.Plain, "Finger", fyne.KeyF, func() { s.choose(finger(s.hand.At())) }),
		s.Action(parts.Plain, "All", fyne.KeyA, func() { s.choose("*") }))
	left := parts.Page(4, parts.Column(4, quiet("Seen from the back. Filled square: a limit today; empty square: a later one."), s.hands()), s.hand, wider)
	form := parts.Column(6, s.name,
		parts.Row(gap, []float32{3, 3, 3}, s.row.Content(), s.lowerRow.Content(), s.upperRow.Content()),
		parts.Row(gap, []float32{1, 0, 0}, parts.NewFormRow("Reason", s.reason).Content(),
			parts.NewButton(parts.Plain, "Put in", "Enter", s.put), s.Action(parts.Plain, "Take out", fyne.KeyDelete, s.remove)))
	s.beside = parts.Column(4)
	s.On(fyne.KeyM, s.same)
	right := parts.Page(6, form, s.table, parts.Column(4, s.beside, scope))
	out := s.lay(1, s.fill(parts.Sides(2*gap, 100, left, right)))
	s.refresh()
	s.choose(s.e.joints)
	return out
}

// row is all joints of a joint's kind in the long fingers, or in the thumb.
func row(j hand.Joint) program.Joints {
	_, level, _ := strings.Cut(j.String(), ".")
	if j.Finger() == hand.Thumb {
		return program.Joints(j.String())
	}
	return program.Joints("*." + level)
}

// finger is all joints of a joint's digit.
func finger(j hand.Joint) program.Joints {
	digit, _, _ := strings.Cut(j.String(), ".")
	return program.Joints(digit + ".*")
}

// choose shows the limit of some joints as it stands today.
func (s *limits) choose(joints program.Joints) {
	s.e.joints = joints
	s.hand.Choose(joints.List())
	s.name.Set(handWords(s.e.d.Hand(s.where)) + ", " + joints.Words() + ", in " + s.scope)
	day := s.c.day()
	if from := s.e.d.Program().ValidFrom; day.Before(from) {
		day = from
	}
	var lower, upper program.End
	reason := ""
	if l, ok := s.e.d.Find(s.where, joints); ok {
		lower, upper = l.On(day)
		reason = l.Reason
	}
	s.write("", lower, upper, reason)
	for i, r := range s.shown {
		if slices.Equal(r.Joints.List(), joints.List()) {
			s.table.Choose(i)
			break
		}
	}
}

func (s *limits) write(from string, lower, upper program.End, reason string) {
	s.from.SetText(from)
	s.lower.SetText(draft.EndText(lower))
	s.upper.SetText(draft.EndText(upper))
	s.reason.SetText(reason)
	s.row.Problem("")
}

// read says beside a field what its text means.
func (s *limits) read(t string, lower bool) {
	r := s.upperRow
	if lower {
		r = s.lowerRow
	}
	if e, err := draft.ParseEnd(t); err != nil {
		r.Problem(sentence(err.Error()))
	} else {
		r.Problem("")
		r.Say(map[bool]string{true: "", false: draft.EndWords(e, lower)}[e.IsZero()])
	}
}

// load takes a step of the table into the fields.
func (s *limits) load(i int) {
	if i < 0 || i >= len(s.shown) {
		return
	}
	r := s.shown[i]
	s.choose(r.Joints)
	s.table.Choose(i)
	s.write(r.Step.From.String(), r.Step.Lower, r.Step.Upper, r.Reason)
	s.c.opt.Window.Canvas().Focus(s.lower)
}

// put puts what is typed into the schedule.
func (s *limits) put() {
	if err := s.e.d.PutStep(s.where, s.e.joints, s.from.Text, s.lower.Text, s.upper.Text, s.reason.Text); err != nil {
		s.row.Problem(sentence(err.Error()))
		return
	}
	s.row.Problem("")
	s.refresh()
	s.tell()
	from, _ := program.ParseDate(strings.TrimSpace(s.from.Text))
	for i, r := range s.shown {
		if slices.Equal(r.Joints.List(), s.e.joints.List()) && r.Step.From == from {
			s.table.Choose(i)
		}
	}
	s.c.opt.Window.Canvas().Focus(s.hand)
}

// remove takes the step that is chosen in the table out.
func (s *limits) remove() {
	i := s.table.At()
	if i < 0 || i >= len(s.shown) {
		return
	}
	r := s.shown[i]
	s.e.d.RemoveStep(s.where, r.Joints, r.Step.From)
	s.refresh()
	s.tell()
}

// refresh shows the table and the hand anew.
func (s *limits) refresh() {
	s.shown = s.e.d.Rows(s.where)
	day := s.c.day()
	var rows []parts.TableRow
	for i, r := range s.shown {
		from := "the beginning"
		if !r.Step.From.IsZero() {
			from = shortDate(r.Step.From)
		}
		first := i == 0 || s.shown[i-1].Joints != r.Joints
		row := parts.TableRow{Cells: []string{r.Joints.Words(), from, endCell(r.Step.Lower, first), endCell(r.Step.Upper, first)}}
		// In force is the last step of a limit whose day has come.
		if !day.Before(r.Step.From) && (i+1 == len(s.shown) || s.shown[i+1].Joints != r.Joints || day.Before(s.shown[i+1].Step.From)) {
			row.Strong, row.Sign = true, parts.DoneSign
		}
		if _, fault := s.e.d.Beside(r.Field); fault {
			row.Sign = parts.CautionSign
		}
		rows = append(rows, row)
	}
	s.table.SetRows(rows)
	s.hand.Mark(s.e.d.Marked(s.where, day))
	s.compare()
}

// compare says below the table what holds for the hand that is not shown, and
// whether what is shown is judged at all.
func (s *limits) compare() {
	s.beside.RemoveAll()
	if !twoHands(s.e.d, s.where.Of) {
		return
	}
	d, to := s.e.d, draft.Where{Of: s.where.Of, Other: !s.where.Other}
	if why := d.Unjudged(s.where); why != "" {
		s.beside.Add(quiet("To know: " + why + "."))
	}
	other, own, words := d.Hand(to), d.Words(s.where), d.Words(to)
	switch {
	case slices.Equal(own, words) && len(own) > 0:
		s.beside.Add(text(handWords(other) + ": the same limits."))
	case len(words) > 0:
		s.beside.Add(text(handWords(other) + ":\n" + strings.Join(words, "\n")))
	default:
		s.beside.Add(lacking(d, to))
		if len(own) > 0 {
			s.beside.Add(parts.Flow(4, parts.NewButton(parts.Plain, sameWords(other), string(fyne.KeyM), s.same)))
		}
	}
	parts.Settle(s.beside)
}

// lacking says of a hand that it has no limits, and warns where an exercise
// takes it all the same.
func lacking(d *draft.Draft, w draft.Where) fyne.CanvasObject {
	words := handWords(d.Hand(w)) + ": no limit"
	if i := d.Lacking(w); i >= 0 {
		return caution(words + " yet, and " + d.Program().Exercises[i].Name() + " takes both hands.")
	}
	return text(words + ".")
}

// sameWords name what gives a hand the limits of the other.
func sameWords(to program.Side) string { return "The same for the " + to.String() + " hand" }

// same gives the hand that is not shown the limits of the one that is.
func (s *limits) same() {
	s.e.d.Same(s.where)
	s.refresh()
	s.tell()
	s.c.opt.Window.Canvas().Focus(s.hand)
}

// endCell is an end in a column; on the first step of a limit nothing was
// before.
func endCell(e program.End, first bool) string {
	deg, ok := e.Deg()
	switch {
	case ok:
		return program.AngleWords(deg)
	case e.IsFree():
		return "no limit"
	case first:
		return "not set"
	}
	return "as before"
}
