package home

import (
	"fyne.io/fyne/v2"

	"volar/internal/coach"
	"volar/internal/today"
	"volar/ui/parts"
)

// moment is when the client is asked about pain.
type moment int8

const (
	painBefore moment = iota
	hurting
	painAfter
)

// pain asks for the pain from 0 to 10.
type pain struct {
	base
	when  moment
	plan  *plan
	item  *today.Item
	scale *parts.Scale
}

func newPain(h *Home, when moment, p *plan, it *today.Item) *pain {
	return &pain{base: base{h: h}, when: when, plan: p, item: it}
}

func (s *pain) Content() fyne.CanvasObject {
	s.scale = parts.NewScale(s.chosen)
	s.first = s.scale.First()
	title, words := "How much does your hand hurt now?", "Before the exercise."
	switch s.when {
	case hurting:
		title, words = "Stopped. How much does it hurt?", "Let your hand rest. Nothing goes on until you say so."
	case painAfter:
		words = "After the exercise."
	}
	body := parts.Column(gap, text(words), s.scale.Content(),
		parts.Row(gap, []float32{1, 1}, quiet("0: no pain"), quietRight("10: the worst pain you can think of")),
		quiet("Press a number, T for ten, or touch one."))
	var actions []fyne.CanvasObject
	switch s.when {
	case painBefore:
		actions = append(actions,
			s.action(parts.Plain, "Back", fyne.KeyB, func() { s.h.show(newAbout(s.h, s.plan, s.item)) }),
			s.hurt(func() { s.h.hurtBefore(s.plan, s.item) }))
	case painAfter:
		actions = append(actions, s.hurt(func() { s.h.hurtNow(s.plan, s.item) }))
	}
	return s.screen(title, s.Scroll(body), actions...)
}

func (s *pain) Key(k fyne.KeyName) {
	if !s.scale.Key(k) {
		s.base.Key(k)
	}
}

func (s *pain) chosen(n int) {
	h := s.h
	h.sitting.pain = &n
	if s.when == painBefore {
		h.prepare(s.plan, s.item)
		return
	}
	if n == 0 {
		h.answer(s.plan, s.item, n, false)
		return
	}
	h.show(newSharp(h, s.plan, s.item, n))
}

// answer gives the pain to the exercise and leads on.
func (h *Home) answer(p *plan, it *today.Item, n int, sharp bool) {
	h.sitting.stage.PainAfter(n, sharp, func(st coach.PracticeStatus) {
		h.opt.Do(func() {
			if h.sitting != nil {
				h.after(p, it, st)
			}
		})
	})
}

// sharp asks for the kind of pain.
type sharp struct {
	base
	plan *plan
	item *today.Item
	n    int
}

func newSharp(h *Home, p *plan, it *today.Item, n int) *sharp {
	return &sharp{base: base{h: h}, plan: p, item: it, n: n}
}

func (s *sharp) Content() fyne.CanvasObject {
	no := s.action(parts.Lead, "No", fyne.KeyN, func() { s.h.answer(s.plan, s.item, s.n, false) })
	yes := s.action(parts.Plain, "Yes", fyne.KeyY, func() { s.h.answer(s.plan, s.item, s.n, true) })
	return s.screen("Does it stab, shoot, burn or spread?",
		s.Scroll(parts.Column(gap, text("Dull aching or tiredness is \"no\"."))), no.AtLeast(200), yes.AtLeast(200))
}

// goOn is shown after "it hurts" where the answer lets the exercise go on.
type goOn struct {
	base
	plan *plan
	item *today.Item
}

func newGoOn(h *Home, p *plan, it *today.Item) *goOn {
	return &goOn{base: base{h: h}, plan: p, item: it}
}

func (s *goOn) Content() fyne.CanvasObject {
	body := parts.Column(gap,
		text("Rest as long as you like. Go on only if your hand feels well enough; more gently, with less force or a smaller movement."),
		text("Your therapist will see that it hurt here."))
	return s.screen("Do you want to go on?", s.Scroll(parts.Measure(body)),
		s.action(parts.Plain, "Go on", fyne.KeySpace, func() {
			s.h.sitting.stage.GoOn()
			s.h.show(newLive(s.h, s.plan, s.item))
		}),
		s.action(parts.Plain, "End this exercise", fyne.KeyE, func() { s.h.end(s.item) }),
		s.hurt(func() { s.h.hurtNow(s.plan, s.item) }))
}

// stopped is shown where pain ended the session.
type stopped struct {
	base
	reason coach.StopReason
	saved  error
}

func newStopped(h *Home, r coach.StopReason, saved error) *stopped {
	return &stopped{base{h: h}, r, saved}
}

func (s *stopped) Content() fyne.CanvasObject {
	why := "Your pain has risen by more than 2."
	if s.reason == coach.SharpPain {
		why = "You said that the pain stabs, shoots, burns or spreads."
	}
	kept := "What you did today is kept, with the moment at which you stopped."
	switch {
	case s.h.sitting.rec == nil:
		kept = "This was not kept, as you chose. Tell your therapist of it yourself."
	case s.saved != nil:
		kept = "What you did could not be kept yet: " + s.h.opt.Words(s.saved)
	}
	body := parts.Column(gap, strong("Let your hand rest, and call your therapist before you exercise again."), text(why), text(kept))
	return s.screen("Stop for today", s.Scroll(parts.Measure(body)), s.action(parts.Lead, "Understood", fyne.KeySpace, s.h.today))
}

// effort asks how hard it was.
type effort struct {
	base
	plan  *plan
	item  *today.Item
	scale *parts.Scale
}

func newEffort(h *Home, p *plan, it *today.Item) *effort {
	return &effort{base: base{h: h}, plan: p, item: it}
}

func (s *effort) Content() fyne.CanvasObject {
	s.scale = parts.NewScale(func(n int) {
		s.h.sitting.stage.Effort(n)
		s.h.end(s.item)
	})
	s.first = s.scale.First()
	body := parts.Column(gap, text("How hard was the exercise for your hand?"), s.scale.Content(),
		parts.Row(gap, []float32{1, 1}, quiet("0: no effort at all"), quietRight("10: the hardest there is")))
	return s.screen("How hard was it?", s.Scroll(body),
		s.action(parts.Plain, "No answer", fyne.KeyX, func() { s.h.end(s.item) }),
		s.hurt(func() { s.h.hurtNow(s.plan, s.item) }))
}

func (s *effort) Key(k fyne.KeyName) {
	if !s.scale.Key(k) {
		s.base.Key(k)
	}
}
