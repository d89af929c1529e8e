package clinic

import (
	"fyne.io/fyne/v2"

	"volar/ui/parts"
)

// Drafting is a screen on which something may be lost by leaving it. Screens of
// other packages may be such.
type Drafting interface {
	// Unsaved says whether something would be lost.
	Unsaved() bool
	// Ask asks whether it is to be thrown away, and then goes on with then.
	Ask(then func())
}

// discard asks before something that was written is thrown away.
type discard struct {
	base
	// words say what is not saved, and label what saving it is called.
	words, label string
	// keep goes back to it, save saves it, and then goes on without it.
	keep, save, then func()
	// gone is true once it was thrown away.
	gone bool
}

// Content is part of parts.Screen.
func (s *discard) Content() fyne.CanvasObject {
	keep := s.goBack("Keep writing", s.keep)
	s.first = keep
	title := "Leave without saving?"
	return s.page(title, parts.Heading(title), s.Scroll(parts.Measure(text(s.words))),
		keep, s.ControlAction(parts.Lead, s.label, fyne.KeyS, s.save), s.Action(parts.Plain, "Throw it away", fyne.KeyT, func() {
			s.gone = true
			s.then()
		}))
}

// Unsaved is part of Drafting: while it is asked nothing is thrown away yet.
func (s *discard) Unsaved() bool { return !s.gone }

// Ask is part of Drafting: the question stands, and what was tried last comes of
// its answer.
func (s *discard) Ask(then func()) { s.then = then }
