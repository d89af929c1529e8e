package home

import (
	"fmt"

	"fyne.io/fyne/v2"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/stage"
	"volar/internal/today"
	"volar/ui/look"
	"volar/ui/parts"
)

// live is the exercise before the camera.
type live struct {
	base
	plan  *plan
	item  *today.Item
	video *parts.Video
	count *parts.Count
	ring  *parts.Ring
	set   *parts.Words
	cue   *parts.CueLine
	kept  *keptLine
	main  *parts.Button
	skip  *parts.Button
	now   coach.PracticeStatus
	done  bool
}

func newLive(h *Home, p *plan, it *today.Item) *live {
	return &live{
		base: base{h: h}, plan: p, item: it,
		video: parts.NewVideo(fyne.NewSize(320, 180)), count: parts.NewCount(), ring: parts.NewRing(),
		set: parts.NewWords("", parts.Style{Size: look.SizeFigure, Bold: true, Centre: true}), cue: parts.NewCueLine(),
		now: coach.PracticeStatus{State: coach.Ready, Sets: it.Dose.Sets},
	}
}

func (s *live) Content() fyne.CanvasObject {
	st := s.h.sitting.stage
	s.main = s.action(parts.Lead, "Start", fyne.KeySpace, s.forward).LeaveSpace().AtLeast(220).Holding(goesOn...)
	s.skip = s.action(parts.Plain, "Skip set", fyne.KeyS, st.Skip).LeaveSpace()
	end := s.action(parts.Plain, "End", fyne.KeyE, s.ask).LeaveSpace()
	hurt := s.hurt(func() { s.h.hurtNow(s.plan, s.item) }).LeaveSpace().AtLeast(220)
	side := parts.Shares(8, []float32{0.3, 0, 1}, s.count, s.set, s.ring)
	s.cue.Say("Press Space when you are ready.", false)
	s.show()
	body := parts.Row(20, []float32{2.4, 1}, s.video, side)
	s.kept = newKeptLine(s.h)
	middle := parts.Page(gap, parts.Column(0), body, parts.Column(8, s.kept.box, s.cue))
	s.kept.page = middle
	return s.page(s.item.Movement.Name, parts.Column(0), middle, s.main, s.skip, end, hurt)
}

// goesOn are the names of what Space does.
var goesOn = []string{"Start", "Pause", "Next set now", "Go on", "Set done"}

// forward is what Space does: start, pause, go on.
func (s *live) forward() {
	st := s.h.sitting.stage
	switch s.now.State {
	case coach.Ready, coach.Resting:
		st.Start()
	case coach.Working:
		if s.unmeasured() {
			st.SayDone()
		} else {
			st.Pause()
		}
	case coach.Halted:
		st.GoOn()
	}
}

func (s *live) unmeasured() bool { return s.item.Movement.Kind == exercise.Unmeasured }

// ask ends the exercise before its time.
func (s *live) ask() {
	s.h.sitting.stage.Pause()
	s.h.show(newPain(s.h, painAfter, s.plan, s.item))
}

// Seen is part of viewer.
func (s *live) Seen(v *stage.View) {
	if v.Picture != nil {
		s.video.Picture(v.Picture)
	}
	if v.Practice == nil || s.done {
		return
	}
	s.kept.say(v.Unkept)
	s.now = *v.Practice
	s.show()
	s.say(v)
	if s.now.State == coach.Done {
		s.done = true
		s.h.show(newPain(s.h, painAfter, s.plan, s.item))
	}
}

// show brings the figures and buttons up to date.
func (s *live) show() {
	n := &s.now
	counted, of := n.Coach.Counted, n.Coach.Repetitions
	if n.Pair != nil {
		counted, of = n.Pair.Counted, n.Pair.Repetitions
	}
	if of == 0 {
		of = s.item.Dose.Repetitions
	}
	s.count.Set(counted, of)
	s.set.Set(fmt.Sprintf("Set %d of %d", max(n.Set, 1), n.Sets))
	s.time()
	label := map[coach.State]string{coach.Ready: goesOn[0], coach.Working: goesOn[1], coach.Resting: goesOn[2], coach.Halted: goesOn[3]}[n.State]
	if n.State == coach.Working && s.unmeasured() {
		label = goesOn[4]
	}
	if label != "" {
		s.main.Set(label, s.forward)
	}
}

// time sets the ring: the rest that is left, or the hold.
func (s *live) time() {
	n := &s.now
	c := &n.Coach
	if n.Other != nil && n.Other.Holding && !c.Holding {
		c = n.Other
	}
	switch {
	case n.State == coach.Resting:
		rest := s.item.Rest()
		s.ring.Set(rest-n.RestLeft, rest, "rest")
	case c.Holding && n.State == coach.Working:
		s.ring.Set(c.Held, c.Wanted, "hold")
	case n.State == coach.Halted:
		s.ring.Clear("paused")
	case c.Wanted > 0:
		s.ring.Clear(fmt.Sprintf("hold %g s", c.Wanted.Seconds()))
	case n.State == coach.Working:
		s.ring.Clear("no hold")
	default:
		s.ring.Clear("")
	}
}

// say chooses the one line: what is wrong with the camera first, then the
// coach's cue, then what Space does.
func (s *live) say(v *stage.View) {
	switch words := cameraWords(v); {
	case words != "":
		s.cue.Say(words, true)
	case v.Cue.Text != "":
		s.cue.Say(v.Cue.Text, v.Cue.Warning)
	case s.now.State == coach.Ready:
		s.cue.Say("Press Space when you are ready.", false)
	case s.now.State == coach.Halted:
		s.cue.Say("Paused. Press Space to go on.", false)
	case s.now.State == coach.Resting:
		s.cue.Say("Rest. The next set begins by itself.", false)
	case s.now.Coach.Paused:
		s.cue.Say("The clock stands until your hand can be followed.", false)
	default:
		s.cue.Say("", false)
	}
}
