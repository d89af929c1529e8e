package home

import (
	"fyne.io/fyne/v2"

	"volar/ui/parts"
)

// wait is shown while something is prepared.
type wait struct {
	base
	words string
}

func newWait(h *Home, words string) *wait { return &wait{base{h: h}, words} }

func (s *wait) Content() fyne.CanvasObject {
	return s.screen("One moment", parts.Column(gap, text(s.words)), s.action(parts.Plain, "Back to today", fyne.KeyB, s.h.today))
}

// unopened says why the store cannot be opened.
type unopened struct {
	base
	err error
}

func newUnopened(h *Home, err error) *unopened { return &unopened{base{h: h}, err} }

func (s *unopened) Content() fyne.CanvasObject {
	actions := []fyne.CanvasObject{s.action(parts.Lead, "Try again", fyne.KeySpace, s.h.Run)}
	if s.h.opt.Mend != nil {
		if label, do := s.h.opt.Mend(s.err); do != nil {
			actions = append(actions, s.action(parts.Plain, label, fyne.KeyR, func() {
				if err := do(); err != nil {
					s.h.show(newUnopened(s.h, err))
					return
				}
				s.h.Run()
			}))
		}
	}
	actions = append(actions, s.action(parts.Plain, "Close", fyne.KeyQ, s.h.opt.Leave))
	body := parts.Row(gap, []float32{0, 1}, parts.NewBadge(parts.CautionSign, 56), text(s.h.opt.Words(s.err)))
	return s.screen("What you did cannot be kept", s.Scroll(parts.Measure(body)), actions...)
}

// trouble says what does not work, and what can be done.
type trouble struct {
	base
	title, words string
	again        func()
}

func newTrouble(h *Home, title, words string, again func()) *trouble {
	return &trouble{base{h: h}, title, words, again}
}

func (s *trouble) Content() fyne.CanvasObject {
	body := parts.Row(gap, []float32{0, 1}, parts.NewBadge(parts.CautionSign, 56), text(s.words))
	return s.screen(s.title, s.Scroll(parts.Measure(body)),
		s.action(parts.Lead, "Try again", fyne.KeySpace, s.again),
		s.action(parts.Plain, "Close", fyne.KeyQ, s.h.opt.Leave))
}
