package coach_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
)

// inSteps goes through the steps of a sequence in the given order, each to a
// share of its way, once; rest is the time at the start before and after.
func inSteps(m *exercise.Movement, hold time.Duration, rest time.Duration, order []int, share func(step int) float64) film {
	start := exercise.KeyPose{Pose: m.StartPose(), Name: m.Measure.From}
	keys, shares := []exercise.KeyPose{start}, []float64{1}
	at := time.Duration(0)
	add := func(d time.Duration, k exercise.KeyPose, x float64) {
		at += d
		k.At = at
		keys, shares = append(keys, k), append(shares, x)
	}
	add(rest, start, 1)
	for n, i := range order {
		s := m.Steps[i]
		x := 1.0
		if share != nil {
			x = share(i)
		}
		k := exercise.KeyPose{Pose: m.StartPose().Blend(m.Poses[s.To], x), Name: s.To}
		way := sec(s.Seconds)
		add(way, k, x)
		if hold > 0 {
			add(hold, k, x)
		}
		if m.Between != "" && n < len(order)-1 {
			add(way, exercise.KeyPose{Pose: m.Poses[m.Between], Name: m.Between}, 1)
		}
	}
	add(sec(1.5), start, 1)
	add(rest, start, 1)
	return film{pose: func(t time.Duration) exercise.Pose { return exercise.PoseAt(keys, t) }, extra: danced(m, keys, shares), long: at}
}

// then plays films one after the other.
func then(films ...film) []hand.Sample {
	var all []hand.Sample
	var at time.Duration
	for i, f := range films {
		for _, s := range noisy(f, uint64(i)+11).samples() {
			s.Time += at
			all = append(all, s)
		}
		at = all[len(all)-1].Time + 33*time.Millisecond
	}
	return all
}

func stepNames(m *exercise.Movement, order ...int) (names []string) {
	for _, i := range order {
		names = append(names, m.Steps[i].Name)
	}
	return names
}

// That the first step is done once more is known only when it has been held for
// a while; the repetition before ended when it was begun, and a fault in it
// belongs to the new one.
func TestAFaultInTheStepThatBeginsAnew(t *testing.T) {
	m := movement(t, "finger-lifts")
	// Each step takes a second, is held for two, and another leads back: the
	// index finger is up again from 10 to 12 s.
	f := noisy(inSteps(m, sec(2), sec(1), []int{0, 1, 0, 1, 2, 3}, nil), 3)
	f.look = func(s *hand.Sample) {
		if s.Time > sec(10.1) && s.Time < sec(11.5) {
			s.Joints[hand.IndexPIP].RawDeg -= 35
		}
	}
	s, events := judge(t, coach.Config{Movement: m, Hold: sec(2)}, f.samples())
	require.Equal(t, []int{1, 1}, []int{s.Counted, s.Partial})
	require.Len(t, s.Flags, 1, "%v", s.Flags)
	require.Equal(t, coach.Hyperextension, s.Flags[0].Kind)
	require.Equal(t, 2, s.Flags[0].Repetition)
	for i := range s.Repetitions[1:] {
		require.LessOrEqual(t, s.Repetitions[i].End, s.Repetitions[i+1].Start, "one after the other")
	}
	for _, e := range events {
		if e, ok := e.(coach.FlagEnded); ok {
			require.Equal(t, s.Flags[0], e.Flag)
		}
	}
}

func TestSequencesInOrder(t *testing.T) {
	for _, id := range []string{"tendon-glide-sequence", "thumb-opposition", "finger-lifts", "cloth-gather-in-order"} {
		m := movement(t, id)
		for name, c := range map[string]struct {
			order            []int
			counted, partial int
			missing          []string
			flagged          []string // steps out of order
		}{
			"in order":              {[]int{0, 1, 2, 3}, 1, 0, nil, nil},
			"two exchanged":         {[]int{0, 2, 1, 3}, 1, 0, nil, stepNames(m, 2)},
			"the last exchanged":    {[]int{0, 1, 3, 2}, 1, 0, nil, stepNames(m, 3)},
			"left out, then right":  {[]int{0, 1, 3, 0, 1, 2, 3}, 1, 1, stepNames(m, 2), stepNames(m, 3)},
			"left out, and again":   {[]int{0, 1, 3, 3}, 0, 2, stepNames(m, 2, 0, 1, 2), stepNames(m, 3, 3)},
			"the third left out":    {[]int{0, 1, 3}, 0, 1, stepNames(m, 2), stepNames(m, 3)},
			"stopped after two":     {[]int{0, 1}, 0, 1, stepNames(m, 2, 3), nil},
			"one twice in a row":    {[]int{0, 1, 1, 2, 3}, 1, 0, nil, nil},
			"begun anew in between": {[]int{0, 1, 0, 1, 2, 3}, 1, 1, stepNames(m, 2, 3), nil},
		} {
			if m.Between == "" && name != "in order" && name != "stopped after two" {
				continue // the poses build on each other
			}
			t.Run(id+", "+name, func(t *testing.T) {
				films := []film{inSteps(m, sec(1), sec(1), c.order, nil)}
				if name == "stopped after two" {
					films = append(films, inSteps(m, sec(1), sec(1), []int{0, 1, 2, 3}, nil))
					c.counted++
				}
				s, events := judge(t, coach.Config{Movement: m, Hold: sec(1)}, then(films...))
				require.Equal(t, []int{c.counted, c.partial, 0}, []int{s.Counted, s.Partial, s.Unjudged}, "counted, partial, unjudged; flags %v", s.Flags)
				var flagged []string
				for _, f := range s.Flags {
					require.Equal(t, coach.OutOfOrder, f.Kind, "%+v", f)
					flagged = append(flagged, f.Subject())
				}
				require.Equal(t, c.flagged, flagged)
				var reached []string
				for _, e := range events {
					if e, ok := e.(coach.StepReached); ok {
						reached = append(reached, e.Name)
					}
				}
				require.GreaterOrEqual(t, len(reached), len(m.Steps)*c.counted)
				var missing []string
				for _, r := range s.Repetitions {
					missing = append(missing, r.Missing...)
				}
				require.Equal(t, c.missing, missing)
				for _, h := range s.Holds {
					require.True(t, h.Met)
					require.NotEmpty(t, h.Step)
				}
			})
		}
	}
}

// Of two directions the other one may come first: it is flagged, and the
// repetition is whole when both are done. The same one twice is two that are not.
func TestTheOtherDirectionFirst(t *testing.T) {
	m := movement(t, "wringing-together").For(hand.Right)
	for _, c := range []struct {
		order            []int
		counted, partial int
		flagged          int
	}{
		{[]int{0, 1}, 1, 0, 0},
		{[]int{1, 0}, 1, 0, 1},
		{[]int{0, 1, 1, 0}, 2, 0, 1},
		{[]int{1, 0, 0, 1}, 2, 0, 1},
		{[]int{1, 1}, 0, 2, 2},
	} {
		s, _ := judge(t, coach.Config{Movement: m, Hold: sec(1)}, then(inSteps(m, sec(1), sec(1), c.order, nil)))
		require.Equal(t, []int{c.counted, c.partial, 0}, []int{s.Counted, s.Partial, s.Unjudged}, "%v: %v", c.order, s.Flags)
		require.Len(t, s.Flags, c.flagged, "%v", c.order)
		for _, f := range s.Flags {
			require.Equal(t, []any{coach.OutOfOrder, "back"}, []any{f.Kind, f.Subject()})
		}
		for i := range s.Repetitions[1:] {
			require.LessOrEqual(t, s.Repetitions[i].End, s.Repetitions[i+1].Start)
		}
	}
}

// The poses of the tendon glides share joints; each is told from the others by
// what it keeps, and the roll-up of the fingers into a fist, middle knuckles
// first, is no hook.
func TestOnTheWayThroughAnotherPose(t *testing.T) {
	m := movement(t, "tendon-glide-sequence")
	start, hook, fist := m.StartPose(), m.Poses["hook"], m.Poses["fist"]
	straightAway := along(way{0, start}, way{sec(1), start}, way{sec(2.5), hook}, way{sec(4), hook}, way{sec(5.5), start},
		way{sec(6.3), hook}, way{sec(7.1), fist}, way{sec(8.5), fist}, way{sec(10), start}, way{sec(11), start})
	s, events := judge(t, coach.Config{Movement: m, Hold: sec(1)}, noisy(film{pose: straightAway, long: sec(11)}, 3).samples())
	require.Empty(t, s.Flags)
	var reached []string
	for _, e := range events {
		if e, ok := e.(coach.StepReached); ok {
			reached = append(reached, e.Name)
		}
	}
	require.Equal(t, []string{"hook", "full-fist"}, reached)
}

// A step that was tried and fell short is no question of order.
func TestStepThatFallsShort(t *testing.T) {
	m := movement(t, "tendon-glide-sequence")
	s, _ := judge(t, coach.Config{Movement: m, Hold: sec(1)}, then(inSteps(m, sec(1), sec(1), []int{0, 1, 2, 3}, func(step int) float64 {
		if step == 2 {
			return 0.55
		}
		return 1
	})))
	require.Equal(t, []int{0, 1}, []int{s.Counted, s.Partial})
	require.Equal(t, []coach.FlagKind{coach.IncompleteGrip}, kinds(s.Flags))
	require.Equal(t, "tabletop", s.Flags[0].Subject())
	require.Equal(t, []string{"tabletop"}, s.Repetitions[0].Missing)
}

// A pose that is right but for what it should keep is told so, not passed.
func TestStepThatKeepsWrong(t *testing.T) {
	// With the full fist among the steps this would be taken for it.
	m := *movement(t, "tendon-glide-sequence")
	m.Steps = []exercise.Step{m.Steps[0], m.Steps[2]}
	poor := m.Poses["hook"]
	for i := range poor.Fingers {
		poor.Fingers[i].MCP = 60
	}
	pose := along(way{0, m.StartPose()}, way{sec(1), m.StartPose()}, way{sec(2.5), poor}, way{sec(5.5), poor}, way{sec(7), m.StartPose()}, way{sec(8), m.StartPose()})
	s, events := judge(t, coach.Config{Movement: &m, Hold: sec(2)}, noisy(film{pose: pose, long: sec(8)}, 2).samples())
	require.Zero(t, s.Counted)
	require.Equal(t, []coach.FlagKind{coach.Compensation}, kinds(s.Flags))
	require.Equal(t, "Keep the big knuckles straight.", s.Flags[0].Say)
	require.Equal(t, "hook", s.Flags[0].Subject())
	require.Zero(t, count[coach.StepReached](events))
}

func TestStepHeldTooBriefly(t *testing.T) {
	m := movement(t, "thumb-opposition")
	s, _ := judge(t, coach.Config{Movement: m, Hold: sec(3)}, then(inSteps(m, sec(1), sec(1), []int{0, 1, 2, 3}, nil)))
	require.Equal(t, 1, s.Counted)
	require.Len(t, s.Flags, 4)
	for i, f := range s.Flags {
		require.Equal(t, coach.ShortHold, f.Kind)
		require.Equal(t, m.Steps[i].Name, f.Subject())
		require.InDelta(t, 1, f.Took.Seconds(), 0.4)
	}
}

// While the hand is out of sight a step may have been done: the repetition is
// not judged.
func TestSequenceOutOfSight(t *testing.T) {
	m := movement(t, "thumb-opposition")
	f := noisy(inSteps(m, sec(1), sec(1), []int{0, 1, 2, 3}, nil), 5)
	f.look = lose(sec(4.2), sec(7.3)) // the middle finger's touch
	s, events := judge(t, coach.Config{Movement: m, Hold: sec(1)}, f.samples())
	require.Zero(t, s.Counted+s.Partial)
	require.Equal(t, 1, s.Unjudged)
	require.Equal(t, []string{"middle"}, s.Repetitions[0].Missing)
	require.Equal(t, 1, count[coach.Paused](events))
}

func TestSequenceStatus(t *testing.T) {
	m := movement(t, "finger-lifts")
	c, err := coach.New(coach.Config{Movement: m, Hold: sec(1)})
	require.NoError(t, err)
	require.Equal(t, []any{1, 4, "index"}, []any{c.Status().Step, c.Status().Steps, c.Status().StepName})
	seen := map[string]bool{}
	for _, s := range then(inSteps(m, sec(1), sec(1), []int{0, 1, 2, 3}, nil)) {
		c.Push(s)
		seen[c.Status().StepName] = true
	}
	require.Len(t, seen, 4)
	require.Equal(t, 1, c.Status().Counted)
	require.Equal(t, 1, c.Status().Step, "the next repetition")
}

// A client whose forearm lies otherwise before the camera does the same
// movement: what counts is how far the hand tilts.
func TestTiltCountsFromWhereTheHandRests(t *testing.T) {
	m := movement(t, "wrist-over-edge")
	for _, shift := range []float64{-30, 0, 30} {
		f := noisy(perform(m, 3, sec(1), 1, nil), 4)
		f.look = func(s *hand.Sample) { s.Extra[hand.HandTilt-hand.NumJoints].RawDeg += shift }
		s, _ := judge(t, coach.Config{Movement: m, Hold: sec(1)}, f.samples())
		require.Equal(t, 3, s.Counted, "%g° off", shift)
		require.Empty(t, s.Flags)
	}
}

// The turn is counted from where the hand rests, too; but a hand that shows
// another side than the movement can come to is not judged at all.
func TestTurnOfAnotherView(t *testing.T) {
	m := movement(t, "wringing-together").For(hand.Right)
	turned := func(shift float64) (coach.Summary, []coach.Event) {
		f := noisy(perform(m, 3, sec(1), 1, nil), 4)
		f.look = func(s *hand.Sample) { s.Extra[hand.HandTurn-hand.NumJoints].RawDeg += shift }
		return judge(t, coach.Config{Movement: m, Hold: sec(1)}, f.samples())
	}
	for _, shift := range []float64{-30, 0, 30, 330, -360} {
		s, _ := turned(shift)
		require.Equal(t, 3, s.Counted, "%g° off", shift)
		require.Empty(t, s.Flags, "%g° off", shift)
	}
	for _, shift := range []float64{-150, 150, 180} {
		s, _ := turned(shift)
		require.Zero(t, s.Counted+s.Partial, "%g° off", shift)
		require.Empty(t, s.Flags, "%g° off", shift)
		require.Zero(t, s.Measured, "%g° off", shift)
	}
}

// unread takes the judgement of joints away between two times.
func unread(from, to time.Duration, joints ...hand.Joint) func(*hand.Sample) {
	return func(s *hand.Sample) {
		if s.Time < from || s.Time >= to {
			return
		}
		for _, j := range joints {
			s.Joints[j].Judged, s.Joints[j].Why = false, hand.Unsure
		}
	}
}

// Two fingers that draw in together are no order, and the first of them was not
// held too briefly: it was never held by itself. Whether they do shows in the
// ways, however briefly a pose is held.
func TestTwoFingersAtOnce(t *testing.T) {
	m := movement(t, "cloth-gather-in-order")
	s, _ := judge(t, coach.Config{Movement: m, Hold: sec(1)}, then(inSteps(m, sec(1), sec(1), []int{0, 2, 3}, nil)))
	require.Equal(t, []int{1, 0}, []int{s.Counted, s.Partial})
	require.Equal(t, []coach.FlagKind{coach.OutOfOrder}, kinds(s.Flags))
	require.Equal(t, "ring", s.Flags[0].Subject())
	for _, h := range s.Holds {
		require.True(t, h.Met, "%+v", h)
	}

	s, _ = judge(t, coach.Config{Movement: m, Hold: sec(1)}, then(inSteps(m, sec(0.2), sec(1), []int{0, 1, 2, 3}, nil)))
	require.Equal(t, 1, s.Counted)
	require.NotContains(t, kinds(s.Flags), coach.OutOfOrder, "one after the other, but each too briefly")
	require.Contains(t, kinds(s.Flags), coach.ShortHold)
}

// A pose that could not be read may have been held: it was not held too
// briefly, and the next finger did not come with it.
func TestPoseThatCouldNotBeRead(t *testing.T) {
	m := movement(t, "cloth-gather-in-order")
	f := noisy(inSteps(m, sec(1), sec(1), []int{0, 1, 2, 3}, nil), 5)
	// The index finger is in its pose from 2 to 3 s, the middle one from 4 s on.
	f.look = unread(sec(1.6), sec(3.8), hand.IndexPIP, hand.IndexDIP)
	s, _ := judge(t, coach.Config{Movement: m, Hold: sec(1)}, f.samples())
	require.Equal(t, 1, s.Counted)
	require.Empty(t, s.Flags)
	require.Equal(t, "index", s.Holds[0].Step)
	require.True(t, s.Holds[0].Unsure)
}

// A finger that stays in its pose and cannot be read for a moment has not come
// to it again before its turn.
func TestPoseThatIsUnreadForAMoment(t *testing.T) {
	m := movement(t, "cloth-gather-in-order")
	f := noisy(inSteps(m, sec(1), sec(1), []int{0, 1, 2, 3}, nil), 6)
	// All fingers are drawn in from 8 to 9 s. The big knuckle reads too straight,
	// so that it would say by itself that the finger has left.
	hide := unread(sec(8.2), sec(8.6), hand.RingPIP, hand.RingDIP)
	f.look = func(s *hand.Sample) {
		s.Joints[hand.RingMCP].RawDeg -= 20
		hide(s)
	}
	s, _ := judge(t, coach.Config{Movement: m, Hold: sec(1)}, f.samples())
	require.Equal(t, 1, s.Counted)
	require.Empty(t, s.Flags)
}

// Where the hand is back for two pictures only, the next pose, of the same
// joints, is no part of the hold before it.
func TestFastWaysBetweenPoses(t *testing.T) {
	m := movement(t, "tendon-glide-sequence")
	for seed := range uint64(10) {
		ways, at := []way{{0, m.StartPose()}, {sec(1), m.StartPose()}}, sec(1)
		for _, s := range m.Steps {
			p := m.Poses[s.To]
			ways = append(ways, way{at + sec(0.15), p}, way{at + sec(1.35), p}, way{at + sec(1.5), m.StartPose()})
			at += sec(1.5)
		}
		f := noisy(film{pose: along(append(ways, way{at + sec(1), m.StartPose()})...), long: at + sec(1), fps: 15}, seed)
		s, _ := judge(t, coach.Config{Movement: m, Hold: sec(1)}, f.samples())
		require.Equal(t, 1, s.Counted, seed)
		for _, f := range s.Flags {
			require.Equal(t, coach.TooFast, f.Kind, "%d: %+v", seed, f)
		}
		require.Len(t, s.Holds, len(m.Steps), seed)
		for _, h := range s.Holds {
			require.InDelta(t, 1.2, h.Held.Seconds(), 0.3, "%d: %s", seed, h.Step)
		}
	}
}

// A finger that was half-way in its pose while its neighbour had its turn goes
// back to the start from there: that is no part of the way into its own.
func TestTheWayOutOfANeighboursPose(t *testing.T) {
	m := *movement(t, "thumb-opposition")
	m.Steps = m.Steps[2:] // ring and little finger
	const way, held = 0.12, 1.1
	times := [...]float64{1, 1 + way, 1 + way + held, 1 + 2*way + held, 1 + 3*way + held, 1 + 3*way + 2*held, 1 + 4*way + 2*held}
	ring := [...]float64{150, 4, 4, 150, 95, 95, 150}
	little := [...]float64{150, 55, 55, 150, 5, 5, 150}
	at := func(v []float64, t float64) float64 {
		for i := 1; i < len(times); i++ {
			if t < times[i] {
				return v[i-1] + (v[i]-v[i-1])*exercise.Ease(max(t-times[i-1], 0)/(times[i]-times[i-1]))
			}
		}
		return v[len(v)-1]
	}
	for seed := range uint64(10) {
		f := film{pose: func(time.Duration) exercise.Pose { return m.StartPose() }, long: sec(times[len(times)-1] + 1), fps: 15, sd: 3, phi: 0.5, seed: seed}
		f.extra = func(t time.Duration) (c channels) {
			c[hand.PinchIndex-hand.NumJoints], c[hand.PinchMiddle-hand.NumJoints] = 110, 110
			c[hand.PinchRing-hand.NumJoints] = at(ring[:], t.Seconds())
			c[hand.PinchLittle-hand.NumJoints] = at(little[:], t.Seconds())
			return c
		}
		s, _ := judge(t, coach.Config{Movement: &m, Hold: sec(held)}, f.samples())
		require.Equal(t, 1, s.Counted, seed)
		require.Len(t, s.Holds, 2, seed)
		require.InDelta(t, held, s.Holds[1].Held.Seconds(), 0.2, seed)
	}
}

// In a view that the movement does not ask for, and that shows its way badly, no
// step is said to have fallen short or to have been held too briefly. In its own
// view the same is said.
func TestStepsInAnotherView(t *testing.T) {
	m := movement(t, "finger-lifts")
	for _, c := range []struct {
		yaw, se float64
		flags   []coach.FlagKind
	}{
		{yaw: m.View.Best.YawDeg, se: 4, flags: []coach.FlagKind{coach.IncompleteGrip, coach.ShortHold, coach.ShortHold}},
		{yaw: m.View.Second.YawDeg, se: 4, flags: []coach.FlagKind{coach.IncompleteGrip, coach.ShortHold, coach.ShortHold}},
		{yaw: m.View.Best.YawDeg, se: 9, flags: []coach.FlagKind{coach.ShortHold, coach.ShortHold}},
		{yaw: 0, se: 9, flags: []coach.FlagKind{}},
	} {
		// The little finger falls short, and the next repetition tells that this was
		// all there was of it.
		var twice [2]film
		for i, little := range [...]float64{0.55, 1} {
			twice[i] = inSteps(m, sec(1), sec(1), []int{0, 1, 2, 3}, func(step int) float64 {
				if step == 3 {
					return little
				}
				return 1
			})
			twice[i].se = c.se
			twice[i].look = func(s *hand.Sample) { s.View.YawDeg = c.yaw }
		}
		// The index finger is to be held longer than it is.
		long := *m
		long.Steps = slices.Clone(m.Steps)
		long.Steps[0].HoldSeconds = 2
		s, _ := judge(t, coach.Config{Movement: &long, Hold: sec(1)}, then(twice[:]...))
		require.Equal(t, c.flags, kinds(s.Flags), "yaw %g, %g degrees", c.yaw, c.se)
		require.Equal(t, 1, s.Counted)
		if i := slices.Index(c.flags, coach.IncompleteGrip); i >= 0 {
			require.Equal(t, "little", s.Flags[i].Subject())
			require.Equal(t, 1, s.Partial)
		} else {
			require.Equal(t, 1, s.Unjudged, "the little finger may have got there")
		}
	}
}
