package reading

import (
	"fyne.io/fyne/v2"

	"volar/internal/review"
	"volar/ui/parts"
)

// drafting is a screen on which something may be lost by leaving it.
type drafting interface {
	// Unsaved says whether something would be lost.
	Unsaved() bool
	// Ask asks whether it is to be thrown away, and then goes on with then.
	Ask(then func())
}

// Unsaved says whether leaving would lose something that is written.
func (r *Reader) Unsaved() bool {
	s, ok := r.now.(drafting)
	return ok && s.Unsaved()
}

// Ask asks before what is written is thrown away, and then goes on with then.
func (r *Reader) Ask(then func()) {
	if s, ok := r.now.(drafting); ok {
		s.Ask(then)
		return
	}
	then()
}

// leaveNote asks before a note that is written and not kept is thrown away.
type leaveNote struct {
	base
	n    *note
	then func()
}

// Content is part of parts.Screen.
func (s *leaveNote) Content() fyne.CanvasObject {
	stay := s.Action(parts.Plain, "Keep writing", fyne.KeyEscape, func() { s.n.r.show(s.n) })
	save := func() { s.n.keep(s.then) }
	keep := s.ControlAction(parts.Lead, "Keep the note", fyne.KeyS, save)
	s.first = stay
	words := "What is written about the session of " + day(s.n.f.s.Started, s.n.f.s.Zone) + " has not been kept."
	return s.page(parts.Heading(s.title), s.Scroll(text(words)),
		stay, keep, s.Action(parts.Plain, "Throw it away", fyne.KeyT, func() {
			s.n.written = review.Note{}
			s.then()
		}))
}

// Unsaved is part of drafting: while it is asked nothing is thrown away yet.
func (s *leaveNote) Unsaved() bool { return s.n.Unsaved() }

// Ask is part of drafting: the question stands, and what was tried last comes of
// its answer.
func (s *leaveNote) Ask(then func()) { s.then = then }
