// Package matrix holds the whole judge against clips of known truth: for every
// movement of the catalogue a good performance by either hand, one for each
// fault that applies, one in the wrong view and one in which the hand leaves
// the picture. The clips are rendered from the catalogue's own key poses, so
// that one definition drives both, and go through the live path.
//
// A clip is small and short: 320 x 240 pixels (twice that for two
// hands), 15 pictures a second, two repetitions of which the second has the fault. What the hand model finds in
// it is kept in a folder by what it was made from, so that a run that was cut
// off goes on where it was, and one after a change of the judge renders
// nothing and takes seconds.
//
// What is not reached is reported as not met, with the number. Nothing here
// bends an expectation to what the judge says.
package matrix

import (
	"fmt"
	"math"
	"slices"
	"time"

	"volar/internal/coach"
	"volar/internal/demonstration"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/handrender"
)

// Case is one clip and what the judge must say of it.
type Case struct {
	Movement *exercise.Movement
	// Name of the case, such as "good" or "hyperextension".
	Name string
	// Side is the hand that is judged. In a movement of two hands both are in
	// the picture and judged; the faults are this one's.
	Side hand.Side
	View exercise.View
	// Hand is the hand that is filmed and HandName what it is called in the
	// names of what is kept; nil and "" are the renderer's own.
	Hand     *handrender.Hand
	HandName string
	// Faults of the performance; the truth follows from them.
	Faults []demonstration.Fault
	// Wants are the flags that must be raised, each at least once, and no other.
	Wants []Want
	// Counted and Partial are the repetitions that must be counted.
	Counted, Partial int
	// Blind is true where the view cannot show what is to be judged: then the
	// judge must say so, raise no flag and pass nothing.
	Blind bool
}

// Want is a flag that must be raised: an empty Subject or a Repetition of 0 is
// any.
type Want struct {
	Kind       coach.FlagKind
	Subject    string
	Repetition int
}

func (w Want) String() string {
	s := string(w.Kind)
	if w.Subject != "" {
		s += " " + w.Subject
	}
	if w.Repetition > 0 {
		s += fmt.Sprintf(" in %d", w.Repetition)
	}
	return s
}

// ID names the case in the table, in files and on the command line.
func (c *Case) ID() string { return c.Movement.ID + "/" + c.Name }

// repetitions of each clip; the last has the fault.
const repetitions = 2

// hold is the time in the end pose: of the dose, but no longer than what tells
// a hold from a short one.
func (c *Case) hold() time.Duration {
	most := 1600 * time.Millisecond
	if c.Movement.Kind == exercise.Hold {
		most = 2 * time.Second
	}
	if c.Movement.Kind == exercise.Sequence {
		most = 1200 * time.Millisecond
	}
	return min(c.Movement.Dose.Hold(), most)
}

// Cases lists the cases of a movement; an unmeasured one has none.
func Cases(m *exercise.Movement) []Case {
	if m.Kind == exercise.Unmeasured {
		return nil
	}
	second := repetitions
	base := Case{Movement: m, Side: hand.Right, View: m.View.Best, Counted: repetitions}
	var out []Case
	add := func(name string, edit func(c *Case)) {
		c := base
		c.Name = name
		edit(&c)
		out = append(out, c)
	}
	fault := func(c *Case, f demonstration.Fault, wants ...Want) {
		f.Repetition = second - 1
		c.Faults, c.Wants = []demonstration.Fault{f}, wants
	}
	add("good", func(*Case) {})
	add("good, left hand", func(c *Case) { c.Side = hand.Left })
	back, backOK := pastStraight(m)
	if backOK && side(m.View.Best) {
		add("hyperextension", func(c *Case) {
			fault(c, back, Want{coach.Hyperextension, back.Joints[0].String(), second})
			if inRest(m, back) {
				// Between two repetitions a flag counts to the coming one.
				c.Faults[0].Repetition = second - 2
			}
		})
	}
	if m.Judge.IncompleteGrip {
		add("incomplete", func(c *Case) {
			fault(c, demonstration.Fault{Kind: demonstration.Incomplete}, Want{coach.IncompleteGrip, "", second})
			c.Counted, c.Partial = repetitions-1, 1
		})
	}
	if m.Dose.HoldSeconds > 0 && m.Kind != exercise.Sequence {
		add("short hold", func(c *Case) {
			fault(c, demonstration.Fault{Kind: demonstration.ShortHold}, Want{coach.ShortHold, "", second})
			if m.Kind == exercise.Hold {
				c.Counted, c.Partial = repetitions-1, 1
			}
		})
	}
	add("too fast", func(c *Case) {
		fault(c, demonstration.Fault{Kind: demonstration.TooFast}, Want{coach.TooFast, "", second})
	})
	for _, f := range compensations(m) {
		add(f.name, func(c *Case) { fault(c, f.Fault, f.Want) })
	}
	if m.Judge.Order {
		add("out of order", func(c *Case) {
			fault(c, demonstration.Fault{Kind: demonstration.OutOfOrder, Step: len(m.Steps)/2 - 1}, Want{coach.OutOfOrder, "", second})
		})
	}
	add("wrong view", func(c *Case) {
		c.View, c.Blind = wrongView(m), true
		if backOK && !side(c.View) {
			fault(c, back)
		}
	})
	add("leaves and returns", func(c *Case) {
		fault(c, demonstration.Fault{Kind: demonstration.Leaves, Start: 500 * time.Millisecond, Duration: 700 * time.Millisecond})
		if m.Kind == exercise.Hold {
			// Less than the wanted time is seen, so that the repetition is neither
			// counted nor failed.
			c.Counted = repetitions - 1
		}
	})
	return out
}

func side(v exercise.View) bool { return v.Name == "radial" || v.Name == "ulnar" }

// wrongView turns the palm to the camera where the side is wanted or, of a hand
// that turns, its back, and the side where the palm is.
func wrongView(m *exercise.Movement) exercise.View {
	v := exercise.View{Name: "palmar", RollDeg: m.View.Best.RollDeg}
	if !side(m.View.Best) && !turns(m) {
		v.Name, v.YawDeg = "radial", 90
	}
	return v
}

// turns says whether the movement is a turn of the hand before the camera.
func turns(m *exercise.Movement) bool {
	_, ok := m.Measure.Ways[hand.HandTurn]
	for i := range m.Steps {
		_, step := m.Steps[i].Measure.Ways[hand.HandTurn]
		ok = ok || step
	}
	return ok
}

// near are the fingers from the one that is nearest the camera on, those that
// the movement is about first.
func near(m *exercise.Movement) []hand.Finger {
	fingers := slices.Clone(hand.Fingers[:])
	if m.View.Best.YawDeg < 0 {
		slices.Reverse(fingers)
	}
	about := func(f hand.Finger) bool {
		for _, kind := range []hand.Kind{hand.MCP, hand.PIP, hand.DIP} {
			if m.Measure.Weights[hand.JointOf(f, kind)] != 0 {
				return true
			}
		}
		return false
	}
	slices.SortStableFunc(fingers, func(a, b hand.Finger) int {
		switch {
		case about(a) == about(b):
			return 0
		case about(a):
			return -1
		}
		return 1
	})
	return fingers
}

// pastStraight is a middle knuckle that bends backwards in the movement: that
// of the nearest finger which is straight at one end of the way; ok is false
// where none is, or where no limit watches it.
func pastStraight(m *exercise.Movement) (f demonstration.Fault, ok bool) {
	f = demonstration.Fault{Kind: demonstration.PastStraight, Deg: 18}
	watched := map[hand.Joint]bool{}
	for _, b := range m.Judge.Lower {
		for _, j := range b.Joints {
			watched[j] = math.Abs(b.Deg) < 10
		}
	}
	with, err := m.With("")
	if err != nil {
		return f, false
	}
	for _, finger := range near(m) {
		j := hand.JointOf(finger, hand.PIP)
		if !watched[j] {
			continue
		}
		f.Joints = []hand.Joint{j}
		if m.Kind == exercise.Sequence {
			for i, s := range m.Steps {
				if m.Dose.HoldSeconds+s.HoldSeconds > 0 && m.Poses[s.To].Flexion()[j] < 12 {
					f.Step = i
					return f, true
				}
			}
		}
		if with.StartPose().Flexion()[j] < 12 || m.Kind != exercise.Sequence && with.EndPose().Flexion()[j] < 12 {
			return f, true
		}
	}
	return f, false
}

// inRest is true where a joint passes straight in the start pose, after the
// repetition, and not while the end pose or a step's is held.
func inRest(m *exercise.Movement, f demonstration.Fault) bool {
	end := m.EndPose()
	if m.Kind == exercise.Sequence {
		end = m.Poses[m.Steps[f.Step].To]
	}
	return math.Abs(end.Flexion()[f.Joints[0]]) > 12
}

// compensation is a fault by its name, with the flag that it must raise.
type compensation struct {
	name string
	demonstration.Fault
	Want
}

// compensations are those that the movement judges and its best view shows.
func compensations(m *exercise.Movement) (out []compensation) {
	finger := near(m)[0]
	for _, k := range m.Judge.Keep {
		// One joint of the nearest finger that is kept strays well past its end.
		for _, j := range k.Joints {
			if j.Finger() != finger && len(k.Joints) > 1 {
				continue
			}
			deg := 0.0
			switch {
			case k.To != nil:
				deg = *k.To + 30
			default:
				deg = *k.From - 12
			}
			out = append(out, compensation{"compensation: " + j.String(), demonstration.Fault{Kind: demonstration.Stray, Joints: []hand.Joint{j}, Deg: deg},
				Want{coach.Compensation, j.String(), repetitions}})
			break
		}
	}
	if m.Judge.StayPutPalms > 0 {
		out = append(out, compensation{"compensation: arm", demonstration.Fault{Kind: demonstration.ArmMoves, Palms: 2 * m.Judge.StayPutPalms},
			Want{coach.Compensation, "arm", repetitions}})
	}
	if m.Judge.SteadyDeg > 0 {
		out = append(out, compensation{"unsteady", demonstration.Fault{Kind: demonstration.Wobble, Deg: 2 * m.Judge.SteadyDeg},
			Want{coach.Unsteady, "", repetitions}})
	}
	return out
}

// Performance is the truth of the case: the judged hand's, and that of the
// other hand where two are in the picture.
func (c *Case) Performance() (judged, other *demonstration.Performance, err error) {
	plan := demonstration.Plan{Movement: c.Movement, Side: c.Side, Repetitions: repetitions, Hold: c.hold(), Pace: 1.2, Rest: 700 * time.Millisecond, Faults: c.Faults}
	if judged, err = demonstration.New(plan); err != nil || c.Movement.Hands == 1 {
		return judged, nil, err
	}
	plan.Side, plan.Faults = c.Side.Other(), nil
	if other, err = demonstration.New(plan); err != nil {
		return nil, nil, err
	}
	// The clip lasts until both are done: each stays as it is at its end.
	judged.Duration = max(judged.Duration, other.Duration)
	return judged, other, nil
}
