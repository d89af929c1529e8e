package clinic

import (
	"fmt"
	"slices"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"

	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/program/draft"
	"volar/ui/parts"
)

// exercises is the section of the exercises in order, with the dose and the
// rest of the one that is chosen beside.
type exercises struct {
	section
	table  *parts.Table
	detail *fyne.Container
	fields *parts.Scroller
	enter  fyne.Focusable
}

func newExercises(e *editor) *exercises {
	return &exercises{section: section{base: base{c: e.c}, e: e}}
}

// Content is part of parts.Screen.
func (s *exercises) Content() fyne.CanvasObject {
	d := s.e.d
	s.table = parts.NewTable([]parts.TableColumn{{Title: "Exercise", Weight: 5}, {Title: "Dose", Weight: 3}}, "No exercise yet. Control with N takes one from the catalogue.",
		func(i int) {
			s.e.at = i
			s.pick()
		}, func(int) {
			if s.enter != nil {
				s.c.opt.Window.Canvas().Focus(s.enter)
			}
		})
	s.detail = container.NewStack()
	s.first = s.table
	order := parts.Flow(4,
		s.ControlAction(parts.Plain, "Add", fyne.KeyN, func() { s.c.show(newCatalogue(s.e)) }),
		s.Action(parts.Plain, "Earlier", fyne.KeyE, func() { s.move(-1) }),
		s.Action(parts.Plain, "Later", fyne.KeyL, func() { s.move(1) }),
		s.Action(parts.Plain, "Take out", fyne.KeyDelete, s.remove))
	left := parts.Page(4, parts.Column(0), s.table, order)
	out := s.lay(0, s.fill(parts.Row(2*gap, []float32{1, 1}, left, s.detail)))
	s.refresh()
	if len(d.Program().Exercises) > 0 {
		s.table.Choose(s.e.at)
	}
	return out
}

// refresh shows the list anew.
func (s *exercises) refresh() {
	var rows []parts.TableRow
	p := s.e.d.Program()
	for i := range p.Exercises {
		e := &p.Exercises[i]
		r := parts.TableRow{Cells: []string{fmt.Sprintf("%d. %s", i+1, e.Name()), ""}}
		if m := s.e.d.Movement(i); m != nil {
			x := e.Dose.Over(m.Dose)
			r.Cells[0] = fmt.Sprintf("%d. %s", i+1, m.Name)
			r.Cells[1] = fmt.Sprintf("%d × %d", x.Sets, x.Repetitions)
		}
		if _, fault := s.e.d.Beside(draft.Field(i, "")); fault {
			r.Sign = parts.CautionSign
		}
		rows = append(rows, r)
	}
	s.table.SetRows(rows)
}

func (s *exercises) move(by int) {
	if s.table.At() < 0 {
		return
	}
	s.e.at = s.e.d.Move(s.table.At(), by)
	s.refresh()
	s.table.Choose(s.e.at)
	s.tell()
}

func (s *exercises) remove() {
	i := s.table.At()
	if i < 0 {
		return
	}
	s.e.d.Remove(i)
	s.e.of = draft.All
	s.refresh()
	if s.table.At() >= 0 {
		s.table.Choose(s.table.At())
	} else {
		s.pick()
	}
	s.c.opt.Window.Canvas().Focus(s.table)
	s.tell()
}

// pick shows the fields of the chosen exercise.
func (s *exercises) pick() {
	s.rows, s.enter = nil, nil
	s.detail.RemoveAll()
	if i := s.table.At(); i >= 0 {
		s.e.at = i
		s.fields = parts.NewScroller(s.form(i))
		s.detail.Add(s.fields)
	}
	if s.status != nil {
		s.tell()
	}
}

// form is all that can be said of an exercise.
func (s *exercises) form(i int) fyne.CanvasObject {
	d := s.e.d
	e, m := &d.Program().Exercises[i], d.Movement(i)
	box := parts.Column(gap)
	if m == nil {
		box.Add(strong(e.Name()))
		box.Add(text("This movement comes from a file beside the program. What it asks for is edited there."))
	} else {
		box.Add(strong(m.Name))
		box.Add(quiet(m.Purpose))
	}
	var row []fyne.CanvasObject
	for n, f := range draft.DoseFields {
		field, o := s.field(draft.Field(i, "dose."+string(f)), f.Words(), d.DoseText(i, f), false, func(t string) {
			d.SetDose(i, f, t)
			s.refresh()
		})
		if s.enter == nil {
			s.enter = field
		}
		row = append(row, o)
		if n%3 == 2 {
			box.Add(parts.Row(gap, []float32{1, 1, 1}, row...))
			row = nil
		}
	}
	box.Add(s.labelled(draft.Field(i, "dose"), "Dose in a day", quiet(doseADay(d, i))))
	if m != nil && len(m.Objects) > 0 {
		var names []string
		at := slices.IndexFunc(m.Objects, func(o exercise.Object) bool { return o.ID == e.Object })
		for _, o := range m.Objects {
			names = append(names, fmt.Sprintf("%s (%s)", o.Name, o.Grade))
		}
		box.Add(s.labelled(draft.Field(i, "object"), "Object and grade", parts.NewPicks(names, at, func(n int) {
			d.SetObject(i, m.Objects[n].ID)
			s.refresh()
			s.tell()
		}).Content()))
	}
	own := e.Side
	if own == 0 {
		own = d.Program().Side
	}
	sides := []program.Side{program.Side(hand.Right), program.Side(hand.Left)}
	box.Add(s.labelled(draft.Field(i, "side"), "Hand", parts.NewPicks([]string{"right", "left"}, slices.Index(sides, own), func(n int) {
		d.SetHand(i, sides[n])
		s.tell()
	}).Content()))
	if m != nil && m.View.Second.Name != "" {
		views := []program.ViewChoice{program.BestView, program.SecondView}
		box.Add(s.labelled(draft.Field(i, "view"), "View that the camera needs", parts.NewPicks([]string{m.View.Best.Name, m.View.Second.Name}, max(0, slices.Index(views, e.View)), func(n int) {
			v := views[n]
			if v == program.BestView {
				v = ""
			}
			d.SetView(i, v)
			s.tell()
		}).Content()))
	}
	_, tempo := s.field(draft.Field(i, "tempo.least_s"), "Least seconds each way; empty is the movement's own", d.TempoText(i), false, func(t string) { d.SetTempo(i, t) })
	_, targets := s.field(draft.Field(i, "targets"), "Targets, such as index.pip 80; *.mcp 90 % of the own range", d.TargetText(i), false, func(t string) { d.SetTargets(i, t) })
	_, words := s.field(draft.Field(i, "note"), "Note to the client", e.Note, true, func(t string) { d.SetNote(i, t) })
	box.Add(tempo)
	box.Add(targets)
	box.Add(words)
	n := len(e.Limits)
	label := "Limits of this exercise only"
	if n > 0 {
		label += fmt.Sprintf(": %d", n)
	}
	box.Add(parts.Flow(4, parts.NewButton(parts.Plain, label, "", func() {
		s.e.of = i
		s.e.open(1)
	})))
	if m != nil {
		list(box, "Cautions for the client", m.Cautions)
		list(box, "Ask the surgeon or doctor first", m.AskFirst)
		list(box, "What the camera does not see", m.Notes)
	}
	return box
}

// list adds sentences below a small title.
func list(to *fyne.Container, title string, words []string) {
	if len(words) > 0 {
		to.Add(parts.NewFormRow(title, text(strings.Join(words, "\n"))).Content())
	}
}

// doseADay says what a dose comes to.
func doseADay(d *draft.Draft, i int) string {
	m := d.Movement(i)
	if m == nil {
		return "as the file says"
	}
	return program.DoseWords(d.Program().Exercises[i].Dose.Over(m.Dose))
}

// catalogue is where a movement is chosen.
type catalogue struct {
	base
	e      *editor
	filter *parts.Field
	table  *parts.Table
	shown  []*exercise.Movement
	detail *fyne.Container
	added  *parts.Words
}

func newCatalogue(e *editor) *catalogue { return &catalogue{base: base{c: e.c}, e: e} }

// Content is part of parts.Screen.
func (s *catalogue) Content() fyne.CanvasObject {
	s.table = parts.NewTable([]parts.TableColumn{{Title: "Movement", Weight: 5}, {Title: "Family", Weight: 3}, {Title: "Camera", Weight: 2}}, "No movement fits.", s.tell, s.add)
	s.detail = container.NewStack()
	s.added = quiet("")
	s.filter = parts.NewField("", func(string) { s.refresh() }).Hint("name, family or purpose")
	s.filter.OnEnter = func() { s.add(s.table.At()) }
	s.first = s.filter
	s.refresh()
	s.tellAdded()
	row := parts.NewFormRow("Find a movement", s.filter)
	title := "Take exercises from the catalogue"
	return s.page(title, parts.Row(gap, []float32{1, 1}, parts.Column(2, parts.Heading(title), s.added), row.Content()),
		s.fill(parts.Row(2*gap, []float32{3, 2}, s.table, s.detail)),
		parts.NewButton(parts.Lead, "Take it", "Enter", s.filter.OnEnter),
		s.goBack("To the program", func() { s.e.open(0) }))
}

// Key moves in the list while the filter is typed.
func (s *catalogue) Key(k fyne.KeyName) {
	if k == fyne.KeyEscape {
		s.base.Key(k)
		return
	}
	s.table.Key(k)
}

func (s *catalogue) refresh() {
	s.shown = nil
	var rows []parts.TableRow
	for _, m := range s.e.d.Catalogue() {
		if !fits(m.Name+" "+m.Family+" "+m.Purpose, s.filter.Text) {
			continue
		}
		r := parts.TableRow{Cells: []string{m.Name, strings.ReplaceAll(m.Family, "-", " "), "measured"}}
		if m.Kind == exercise.Unmeasured {
			r.Cells[2] = "shown only"
		}
		if slices.ContainsFunc(s.e.d.Program().Exercises, func(e program.Exercise) bool { return e.Movement == m.ID }) {
			r.Sign = parts.DoneSign
		}
		s.shown, rows = append(s.shown, m), append(rows, r)
	}
	s.table.SetRows(rows)
	if s.table.At() >= 0 {
		s.tell(s.table.At())
	}
}

// tell shows what the chosen movement is.
func (s *catalogue) tell(i int) {
	m := s.shown[i]
	box := parts.Column(gap, strong(m.Name), text(m.Purpose))
	list(box, "Usual dose", []string{program.DoseWords(m.Dose)})
	var objects []string
	for _, o := range m.Objects {
		objects = append(objects, fmt.Sprintf("%s (%s)", o.Name, o.Grade))
	}
	list(box, "Objects and grades", objects)
	list(box, "View that the camera needs", []string{m.View.Best.Name})
	list(box, "Cautions for the client", m.Cautions)
	list(box, "Ask the surgeon or doctor first", m.AskFirst)
	list(box, "What the camera does not see", m.Notes)
	s.detail.RemoveAll()
	s.detail.Add(parts.NewScroller(box))
}

// add takes the chosen movement into the program.
func (s *catalogue) add(i int) {
	if i < 0 || i >= len(s.shown) {
		return
	}
	at, err := s.e.d.Add(s.shown[i].ID)
	if err != nil {
		s.added.Set(sentence(err.Error()))
		return
	}
	s.e.at = at
	s.refresh()
	s.tellAdded()
}

func (s *catalogue) tellAdded() {
	p := s.e.d.Program()
	switch n := len(p.Exercises); n {
	case 0:
		s.added.Set("No exercise yet.")
	case 1:
		s.added.Set("1 exercise: " + s.title(0) + ".")
	default:
		s.added.Set(fmt.Sprintf("%d exercises; the last is %s.", n, s.title(n-1)))
	}
	parts.Settle(s.added)
}

// title is what the catalogue calls the program's exercise i.
func (s *catalogue) title(i int) string {
	if m := s.e.d.Movement(i); m != nil {
		return m.Name
	}
	return s.e.d.Program().Exercises[i].Name()
}
