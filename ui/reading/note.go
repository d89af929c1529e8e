package reading

import (
	"strings"

	"fyne.io/fyne/v2"

	"volar/internal/review"
	"volar/ui/parts"
)

// note is where something is written about a session, in the trade's order.
// Nothing is filled in.
type note struct {
	base
	f       *file
	back    screen
	written review.Note
	problem *parts.FormRow
}

func newNote(r *Reader, f *file, back screen) *note {
	return &note{base: base{r: r, title: "Note on " + f.s.Client}, f: f, back: back}
}

// Content is part of parts.Screen.
func (n *note) Content() fyne.CanvasObject {
	n.Clear()
	body := parts.Column(gap)
	w := &n.written
	for i, p := range []struct {
		label string
		to    *string
	}{
		{"Subjective: what the client says", &w.Subjective}, {"Objective: what was measured and seen", &w.Objective},
		{"Assessment: yours", &w.Assessment}, {"Plan", &w.Plan},
	} {
		field := parts.NewNotes(*p.to, 2, func(s string) { *p.to = s })
		row := parts.NewFormRow(p.label, field)
		body.Add(row.Content())
		if i == 0 {
			n.first, n.problem = field, row
		}
	}
	keep := n.ControlAction(parts.Lead, "Keep the note", fyne.KeyS, n.save)
	leave := n.Action(parts.Plain, "Back without it", fyne.KeyEscape, func() {
		if n.Unsaved() {
			n.Ask(n.leave)
			return
		}
		n.leave()
	})
	when := quiet(day(n.f.s.Started, n.f.s.Zone) + ". It stays in the clinic. Once kept it is not changed; what comes later stands below it. Tab goes on.")
	return n.page(parts.Column(2, parts.Heading(n.title), when), n.Scroll(body), keep, leave)
}

// Key is part of parts.Screen.
func (n *note) Key(k fyne.KeyName) {
	n.f.act()
	n.base.Key(k)
}

// Control takes a key pressed with Control.
func (n *note) Control(k fyne.KeyName) {
	n.f.act()
	n.base.Control(k)
}

func (n *note) save() { n.keep(n.leave) }

// keep puts the note into the store, and then goes on with then. Where it cannot
// be kept, the note says why.
func (n *note) keep(then func()) {
	problem := ""
	w := n.trimmed()
	if w.Empty() {
		problem = "Nothing is written yet."
	} else if err := n.f.say(review.Review{Note: w}); err != nil {
		problem = "This could not be kept: " + n.r.opt.Words(err)
	}
	if problem == "" {
		n.written = review.Note{}
		then()
		return
	}
	if n.r.now != screen(n) {
		n.r.show(n)
	}
	n.problem.Problem(problem)
}

// trimmed is what is written, without the room around it.
func (n *note) trimmed() review.Note {
	return review.Note{
		Subjective: strings.TrimSpace(n.written.Subjective), Objective: strings.TrimSpace(n.written.Objective),
		Assessment: strings.TrimSpace(n.written.Assessment), Plan: strings.TrimSpace(n.written.Plan),
	}
}

// Unsaved is part of drafting.
func (n *note) Unsaved() bool { return !n.trimmed().Empty() }

// Ask is part of drafting.
func (n *note) Ask(then func()) {
	n.r.show(&leaveNote{base: base{r: n.r, title: "Leave without the note?"}, n: n, then: then})
}

// leave goes back to where the note was opened from.
func (n *note) leave() {
	if v, ok := n.back.(*viewer); ok {
		n.r.show(v.again())
		return
	}
	n.r.show(n.back)
}
