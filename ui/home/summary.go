package home

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/widget"

	"volar/internal/coach"
	"volar/internal/today"
	"volar/ui/parts"
)

// summary is what came of an exercise.
type summary struct {
	base
	plan  *plan
	item  *today.Item
	sum   coach.PracticeSummary
	saved error
}

func newSummary(h *Home, p *plan, it *today.Item, s coach.PracticeSummary, saved error) *summary {
	return &summary{base: base{h: h}, plan: p, item: it, sum: s, saved: saved}
}

func (s *summary) Content() fyne.CanvasObject {
	body := parts.Column(gap)
	for i, w := range today.Words(&s.sum) {
		if i == 0 {
			body.Add(strong(w))
			continue
		}
		body.Add(text(w))
	}
	body.Add(quiet(today.Estimate))
	if s.saved != nil {
		body.Add(strong("What you did could not be kept yet: " + s.h.opt.Words(s.saved)))
	}
	keeps := s.h.sitting.rec != nil
	if !keeps {
		body.Add(strong("This was not kept, as you chose."))
	}
	var actions []fyne.CanvasObject
	p := s.plan
	// Nobody is led on from an exercise that hurt; today's list still has it.
	if p.Next >= 0 && p.Stopped == "" && !p.trial && !s.sum.Stopped {
		it := &p.Items[p.Next]
		actions = append(actions, s.action(parts.Lead, "Next exercise", fyne.KeySpace, func() { s.h.show(newAbout(s.h, p, it)) }),
			s.action(parts.Plain, "Back to today", fyne.KeyB, s.h.today))
	} else {
		s.On(fyne.KeyB, s.h.today)
		actions = append(actions, s.action(parts.Lead, "Back to today", fyne.KeySpace, s.h.today))
	}
	if keeps {
		actions = append(actions, s.action(parts.Plain, "Add a note", fyne.KeyN, func() { s.h.show(newNote(s.h, s)) }))
	}
	return s.screen("How it went: "+s.item.Movement.Name, s.Scroll(parts.Measure(body)), actions...)
}

// note takes a note that the client need not write.
type note struct {
	base
	back  *summary
	entry *entry
}

func newNote(h *Home, back *summary) *note {
	return &note{base: base{h: h}, back: back}
}

// entry is a text field that gives Escape to the screen and ends with Tab like
// everything else.
type entry struct {
	widget.Entry
	// begun is true once a key went down in the field: the key that opened it
	// comes as a letter afterwards, and is no part of the text.
	begun bool
}

func newEntry() *entry {
	e := &entry{}
	e.MultiLine = true
	e.Wrapping = fyne.TextWrapWord
	e.ExtendBaseWidget(e)
	return e
}

// AcceptsTab is part of fyne.Tabbable: Tab goes on to the buttons.
func (e *entry) AcceptsTab() bool { return false }

// KeyDown is part of desktop.Keyable.
func (e *entry) KeyDown(ev *fyne.KeyEvent) {
	e.begun = true
	e.Entry.KeyDown(ev)
}

// TypedRune is part of fyne.Focusable.
func (e *entry) TypedRune(r rune) {
	if e.begun {
		e.Entry.TypedRune(r)
	}
}

// TypedKey is part of fyne.Focusable.
func (e *entry) TypedKey(ev *fyne.KeyEvent) {
	if ev.Name == fyne.KeyEscape {
		parts.Pass(e, ev)
		return
	}
	e.Entry.TypedKey(ev)
}

func (s *note) Content() fyne.CanvasObject {
	s.entry = newEntry()
	s.entry.SetPlaceHolder("For example: stiff in the morning")
	s.first = s.entry
	back := func() {
		again := newSummary(s.h, s.back.plan, s.back.item, s.back.sum, s.back.saved)
		s.h.show(again)
	}
	keep := parts.NewButton(parts.Lead, "Keep the note", "", func() {
		if s.entry.Text != "" {
			s.h.sitting.stage.Note(s.entry.Text)
		}
		back()
	})
	s.On(fyne.KeyEscape, back)
	cancel := parts.NewButton(parts.Plain, "Without a note", "Esc", back)
	return s.screen("A note for your therapist", s.entry, keep, cancel)
}
