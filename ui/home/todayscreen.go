package home

import (
	"fmt"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"volar/internal/hand"
	"volar/internal/today"
	"volar/ui/look"
	"volar/ui/parts"
)

// list is today's exercises.
type list struct {
	base
	plan  plan
	cards []*parts.Choice
}

func newToday(h *Home, p plan) *list { return &list{base: base{h: h}, plan: p} }

func (s *list) Content() fyne.CanvasObject {
	p := &s.plan
	if p.Stopped != "" {
		return s.stopped()
	}
	body := parts.Column(gap)
	if p.trial {
		// The date shows a computer whose clock is wrong.
		date := s.h.opt.Clock().Format("2 January 2006")
		words := "No program from a therapist holds for today, " + date + ". These have their usual dose; nobody chose them for you."
		if s.h.opt.Post != nil {
			words += " If your therapist gave you a file, take it in under “Therapist”."
		}
		body.Add(quiet(words))
	}
	if m := strings.TrimSpace(p.program.Program.Message); m != "" {
		body.Add(parts.Column(2, quiet("From your therapist"), text(m)))
	}
	for i := range p.Items {
		card := parts.NewChoice(itemCard(&p.Items[i], i), i == p.Next, func() { s.open(i) })
		s.cards = append(s.cards, card)
		body.Add(card)
		if i < 9 {
			s.On(fyne.KeyName(fmt.Sprint(i+1)), func() { s.open(i) })
		}
	}
	var actions []fyne.CanvasObject
	if p.Next >= 0 {
		label := "Start the next"
		if p.trial {
			label = "Try the first"
		}
		actions = append(actions, s.action(parts.Lead, label, fyne.KeySpace, func() { s.open(p.Next) }))
	}
	if p.trial {
		other := s.h.trialSide.Other()
		actions = append(actions, s.action(parts.Plain, fmt.Sprintf("Use my %s hand", other), fyne.KeyH, func() {
			s.h.trialSide = other
			s.h.today()
		}))
	}
	actions = s.post(actions)
	actions = append(actions,
		s.action(parts.Plain, "Settings", fyne.KeyO, func() { s.h.show(newSettings(s.h)) }),
		s.action(parts.Plain, "Close", fyne.KeyQ, s.h.opt.Leave))
	head := s.head()
	if n := s.h.opt.Notice; n != "" {
		head = append(head, parts.NewWords(n, parts.Style{Bold: true}))
	}
	return s.page("Today", parts.Column(4, head...), s.Scroll(body), actions...)
}

// head says how today stands.
func (s *list) head() []fyne.CanvasObject {
	p := &s.plan
	switch {
	case p.trial:
		return []fyne.CanvasObject{parts.Heading(fmt.Sprintf("Try with your %s hand", s.h.trialSide))}
	case p.Next < 0:
		return []fyne.CanvasObject{parts.Heading("Done for today"), quiet("Everything on today's list is done. Well done.")}
	}
	title := "Today"
	if p.Rounds > 1 {
		title = fmt.Sprintf("Today, round %d of %d", p.Round, p.Rounds)
	}
	left := 0
	for i := range p.Items {
		if it := &p.Items[i]; it.State == today.ToDo && it.Times < p.Round {
			left++
		}
	}
	words := "1 exercise is left"
	if left != 1 {
		words = fmt.Sprintf("%d exercises are left", left)
	}
	return []fyne.CanvasObject{parts.Heading(title), quiet(words + ", " + today.Minutes(p.Left) + ".")}
}

// itemCard is an exercise in the list.
func itemCard(it *today.Item, i int) fyne.CanvasObject {
	sign, word := parts.ToDo, "to do"
	switch it.State {
	case today.Done:
		sign, word = parts.DoneSign, "done"
	case today.LeftOut:
		sign, word = parts.LeftOut, "left out"
	case today.DayOff:
		sign, word = parts.LeftOut, "not today"
	}
	if it.Of > 1 && it.State != today.DayOff {
		word = fmt.Sprintf("%d of %d done", it.Times, it.Of)
	}
	right := parts.Column(2,
		parts.NewWords(word, parts.Style{Bold: true}),
		parts.NewWords(today.Minutes(it.Takes), parts.Style{Size: theme.SizeNameCaptionText, Colour: look.Quiet}))
	what := parts.Column(2, strong(fmt.Sprintf("%d  %s", i+1, it.Movement.Name)), quiet(dose(it)))
	if it.Object.Name != "" {
		what.Add(quiet("With: " + it.Object.Name))
	}
	return parts.Row(16, []float32{0, 3, 1}, parts.NewBadge(sign, 44), what, right)
}

// dose is the dose in one line.
func dose(it *today.Item) string {
	d := it.Dose
	words := fmt.Sprintf("%s × %s", number(d.Sets, "set", "sets"), number(d.Repetitions, "repetition", "repetitions"))
	if d.HoldSeconds > 0 {
		words += fmt.Sprintf(", hold %g s", d.HoldSeconds)
	}
	if it.Movement.Hands == 2 {
		return words + ", both hands"
	}
	if it.Side != hand.UnknownSide {
		words += fmt.Sprintf(", %s hand", it.Side)
	}
	return words
}

func number(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func (s *list) open(i int) {
	it := &s.plan.Items[i]
	s.h.show(newAbout(s.h, &s.plan, it))
}

// stopped is shown for the rest of a day on which pain ended a session.
func (s *list) stopped() fyne.CanvasObject {
	body := parts.Column(gap,
		text("You stopped because of pain today. Rest your hand, and call your therapist before you go on."),
		text("This list is here again tomorrow. If your therapist tells you to stay with the rest, do that."))
	actions := s.post([]fyne.CanvasObject{s.action(parts.Lead, "Close", fyne.KeySpace, s.h.opt.Leave)})
	return s.screen("Rest for today", s.Scroll(parts.Measure(body)),
		append(actions, s.action(parts.Plain, "Settings", fyne.KeyO, func() { s.h.show(newSettings(s.h)) }))...)
}

// Key is part of parts.Screen: the arrows go through the cards.
func (s *list) Key(k fyne.KeyName) {
	if (k == fyne.KeyUp || k == fyne.KeyDown) && len(s.cards) > 0 {
		parts.Arrows(k, s.cards)
		return
	}
	s.base.Key(k)
}
