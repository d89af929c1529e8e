package coach_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
)

// Recordings begin and end where they like.
func TestWhereARecordingBeginsAndEnds(t *testing.T) {
	grip, straight := movement(t, "whole-hand-grip"), movement(t, "straight-finger-hold")
	// One repetition: 0 rest, 1 closing, 2 held, 5 opening, 6 open, 7 over.
	pose := func(m *exercise.Movement) func(time.Duration) exercise.Pose {
		a, b := m.StartPose(), m.EndPose()
		return along(way{0, a}, way{sec(1), a}, way{sec(2), b}, way{sec(5), b}, way{sec(6), a}, way{sec(7), a})
	}
	for _, c := range []struct {
		name                       string
		m                          *exercise.Movement
		from, to                   float64
		counted, partial, unjudged int
		holds, met                 int
		flags                      int
	}{
		{"whole", grip, 0, 7, 1, 0, 0, 1, 1, 0},
		{"begins closing", grip, 1.5, 7, 1, 0, 0, 1, 1, 0},
		{"begins in the hold, enough of it left", grip, 2.5, 7, 1, 0, 0, 1, 1, 0},
		{"begins in the hold, too little left", grip, 4, 7, 1, 0, 0, 1, 0, 1},
		{"begins opening", grip, 5.7, 7, 0, 0, 0, 0, 0, 0},
		{"ends at rest before", grip, 0, 0.9, 0, 0, 0, 0, 0, 0},
		{"ends as it begins to close", grip, 0, 1.4, 0, 0, 0, 0, 0, 0},
		{"ends while closing", grip, 0, 1.6, 0, 0, 1, 0, 0, 0},
		{"ends in the hold, met", grip, 0, 4.8, 1, 0, 0, 1, 1, 0},
		{"ends in the hold, not met", grip, 0, 3, 0, 0, 1, 1, 0, 0},
		{"ends while opening", grip, 0, 5.6, 1, 0, 0, 1, 1, 0},
		{"whole straight hold", straight, 0, 7, 1, 0, 0, 1, 1, 0},
		{"all of it held straight", straight, 2.2, 4.9, 1, 0, 0, 1, 1, 0},
		{"ends in the straight hold, not met", straight, 0, 3, 0, 0, 1, 1, 0, 0},
		{"begins in the straight hold, too little left", straight, 4, 7, 0, 1, 0, 1, 0, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			whole := pose(c.m)
			cut := func(at time.Duration) exercise.Pose { return whole(at + sec(c.from)) }
			s, _ := judge(t, coach.Config{Movement: c.m, Hold: sec(2.4)}, noisy(film{pose: cut, long: sec(c.to - c.from)}, 5).samples())
			require.Equal(t, []int{c.counted, c.partial, c.unjudged}, []int{s.Counted, s.Partial, s.Unjudged}, "counted, partial, unjudged")
			require.Len(t, s.Holds, c.holds)
			met := 0
			for _, h := range s.Holds {
				if h.Met {
					met++
				}
			}
			require.Equal(t, c.met, met)
			require.Len(t, s.Flags, c.flags, "%v", kinds(s.Flags))
		})
	}
}

func TestNothingComesOfNothing(t *testing.T) {
	m := movement(t, "whole-hand-grip")
	s, events := judge(t, coach.Config{Movement: m, Side: hand.Left}, nil)
	require.Empty(t, events)
	require.Zero(t, s.Counted+s.Partial+s.Unjudged)
	require.Equal(t, hand.Left, s.Side)

	var empty []hand.Sample
	for i := range 90 {
		empty = append(empty, hand.Sample{Time: time.Duration(i) * time.Second / 30})
	}
	s, events = judge(t, coach.Config{Movement: m}, empty)
	require.Zero(t, s.Measured)
	require.Zero(t, s.Counted+s.Partial+s.Unjudged)
	require.Empty(t, s.Angles)
	require.NotEmpty(t, s.NotJudged)
	for _, n := range s.NotJudged {
		require.Equal(t, 1.0, n.Share)
		require.Equal(t, hand.NoHand, n.Why)
	}
	require.IsType(t, coach.Paused{}, events[0])
	require.Contains(t, events[1].(coach.Cue).Text, "I cannot see your hand.")
}

// lose takes the hand away between two times.
func lose(from, to time.Duration) func(*hand.Sample) {
	return func(s *hand.Sample) {
		if s.Time >= from && s.Time < to {
			*s = hand.Sample{Time: s.Time}
		}
	}
}

func TestHandIsLostAndReturns(t *testing.T) {
	m := movement(t, "whole-hand-grip")
	a, b := m.StartPose(), m.EndPose()
	// Closed from 2 to 7, open again from 8.
	pose := along(way{0, a}, way{sec(1), a}, way{sec(2), b}, way{sec(7), b}, way{sec(8), a}, way{sec(10), a})
	for _, c := range []struct {
		name                       string
		from, to                   float64
		counted, partial, unjudged int
		held                       float64 // of 5
		paused                     bool
		flags                      []coach.FlagKind
	}{
		{"never", 20, 21, 1, 0, 0, 5, false, nil},
		{"a short drop-out in the hold", 4, 4.25, 1, 0, 0, 5, false, nil},
		{"a second in the hold", 4, 5, 1, 0, 0, 4, true, nil},
		{"at rest", 0.2, 0.8, 1, 0, 0, 5, true, nil},
		{"while closing", 1.3, 1.9, 1, 0, 0, 5, true, nil},
		{"while opening", 7.2, 7.9, 1, 0, 0, 5, true, nil},
		{"all but the start of the hold", 3, 6.9, 1, 0, 0, 1, true, nil},
		{"the whole repetition", 0.9, 8.1, 0, 0, 0, 0, true, nil},
		{"the top of it", 1.6, 7.9, 0, 0, 1, 0, true, nil},
		{"all before the middle of the hold", 0.9, 4, 1, 0, 0, 3, true, nil},
		{"all before the way back", 0.9, 7.4, 0, 0, 1, 0, true, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := noisy(film{pose: pose, long: sec(10)}, 3)
			f.look = lose(sec(c.from), sec(c.to))
			s, events := judge(t, coach.Config{Movement: m, Hold: sec(4)}, f.samples())
			require.Equal(t, []int{c.counted, c.partial, c.unjudged}, []int{s.Counted, s.Partial, s.Unjudged}, "counted, partial, unjudged")
			require.Empty(t, s.Flags, "%v", kinds(s.Flags))
			if c.held > 0 {
				require.Len(t, s.Holds, 1)
				require.InDelta(t, c.held, s.Holds[0].Held.Seconds(), 0.3)
				require.Equal(t, c.held < 3.7, s.Holds[0].Unsure, "what was not seen may have been held")
			}
			paused, resumed := 0, 0
			for _, e := range events {
				switch e.(type) {
				case coach.Paused:
					paused++
				case coach.Resumed:
					resumed++
				}
			}
			require.Equal(t, c.paused, paused == 1)
			require.Equal(t, paused, resumed)
		})
	}
}

// A camera that delivers nothing at all for a while is like a hand that is not
// seen.
func TestNoPictures(t *testing.T) {
	m := movement(t, "whole-hand-grip")
	a, b := m.StartPose(), m.EndPose()
	pose := along(way{0, a}, way{sec(1), a}, way{sec(2), b}, way{sec(7), b}, way{sec(8), a}, way{sec(10), a})
	var samples []hand.Sample
	for _, s := range noisy(film{pose: pose, long: sec(10)}, 3).samples() {
		if s.Time < sec(3) || s.Time > sec(5) {
			samples = append(samples, s)
		}
	}
	s, _ := judge(t, coach.Config{Movement: m, Hold: sec(2)}, samples)
	require.Equal(t, 1, s.Counted)
	require.InDelta(t, 3, s.Holds[0].Held.Seconds(), 0.25)
	require.InDelta(t, 5, (s.Holds[0].End - s.Holds[0].Start).Seconds(), 0.25)
	require.InDelta(t, 0.8, s.Measured, 0.03)
}

func TestShortDipsDoNotEndAHold(t *testing.T) {
	m := movement(t, "whole-hand-grip")
	a, b := m.StartPose(), m.EndPose()
	dip := a.Blend(b, 0.4)
	pose := along(way{0, a}, way{sec(1), a}, way{sec(2), b}, way{sec(4), b}, way{sec(4.1), dip}, way{sec(4.2), b}, way{sec(7), b}, way{sec(8), a}, way{sec(9), a})
	s, _ := judge(t, coach.Config{Movement: m, Hold: sec(4.5)}, noisy(film{pose: pose, long: sec(9)}, 3).samples())
	require.Equal(t, 1, s.Counted)
	require.Len(t, s.Holds, 1)
	require.InDelta(t, 5, s.Holds[0].Held.Seconds(), 0.2)
	require.Empty(t, s.Flags)
}

// A hand that opens only half way has not come back to rest.
func TestHalfOpeningIsNoReturn(t *testing.T) {
	m := movement(t, "whole-hand-grip")
	a, b := m.StartPose(), m.EndPose()
	half := a.Blend(b, 0.45)
	pose := along(way{0, a}, way{sec(1), a}, way{sec(2), b}, way{sec(4), b}, way{sec(5), half}, way{sec(6), half}, way{sec(7), b}, way{sec(9), b}, way{sec(10), a}, way{sec(11), a})
	s, _ := judge(t, coach.Config{Movement: m, Hold: sec(1.5)}, noisy(film{pose: pose, long: sec(11)}, 3).samples())
	require.Equal(t, 1, s.Counted)
	require.Zero(t, s.Partial)
	require.Len(t, s.Holds, 2)
}

// A stiff hand that never opens fully is counted all the same, and one that
// does not close fully is told so until its own range is known.
func TestSmallRangeOfMotion(t *testing.T) {
	m := movement(t, "whole-hand-grip")
	a, b := m.StartPose(), m.EndPose()
	t.Run("cannot open", func(t *testing.T) {
		half := a.Blend(b, 0.3)
		pose, long := repeat(m, 4, sec(1), 1, nil)
		stiff := func(at time.Duration) exercise.Pose {
			p := pose(at)
			if p.Fingers[0].MCP < half.Fingers[0].MCP {
				return half
			}
			return p
		}
		s, _ := judge(t, coach.Config{Movement: m, Hold: sec(1)}, noisy(film{pose: stiff, long: long}, 3).samples())
		require.Equal(t, 4, s.Counted)
		require.Zero(t, s.Partial)
	})
	pose, long := repeat(m, 4, sec(1), 1, func(i int) float64 { return []float64{0.55, 0.55, 0.35, 0.55}[i] })
	samples := noisy(film{pose: pose, long: long}, 3).samples()
	t.Run("cannot close", func(t *testing.T) {
		s, _ := judge(t, coach.Config{Movement: m, Hold: sec(1)}, samples)
		require.Zero(t, s.Counted)
		require.Equal(t, 3, s.Partial, "the third is not even an attempt by the key poses")
	})
	t.Run("cannot close, range known", func(t *testing.T) {
		own := map[hand.Joint]coach.Range{}
		from, to := a.Flexion(), a.Blend(b, 0.55).Flexion()
		for j := hand.Joint(0); j < hand.ThumbMP; j++ {
			own[j] = coach.Range{Start: from[j], End: to[j]}
		}
		s, _ := judge(t, coach.Config{Movement: m, Hold: sec(1), Own: own}, samples)
		require.Equal(t, 3, s.Counted)
		require.Equal(t, 1, s.Partial)
		require.Equal(t, 3, s.Flags[0].Repetition)
	})
	t.Run("closes further than the towel lets it", func(t *testing.T) {
		// An empty hand that makes a fist: a partial repetition is one by
		// what this hand does, though it would do for the towel.
		fist := a.WithFlexion([hand.NumJoints]float64{85, 100, 60, 85, 100, 60, 85, 100, 60, 85, 100, 60, 20, 20})
		keys := []way{{0, a}, {sec(1), a}}
		at := 1.0
		for i := range 5 {
			p := fist
			if i == 3 {
				p = a.Blend(fist, 0.55)
			}
			keys = append(keys, way{sec(at + 1), p}, way{sec(at + 2), p}, way{sec(at + 3), a}, way{sec(at + 4), a})
			at += 4
		}
		s, _ := judge(t, coach.Config{Movement: m, Hold: sec(1)}, noisy(film{pose: along(keys...), long: sec(at)}, 3).samples())
		require.Equal(t, 4, s.Counted)
		require.Equal(t, 1, s.Partial)
		require.Len(t, s.Flags, 1)
		require.Equal(t, 4, s.Flags[0].Repetition)
	})
}

// With only the nearest finger in sight, as in a pure side view, the movement
// is followed by that finger.
func TestOneFingerInSight(t *testing.T) {
	for _, id := range []string{"whole-hand-grip", "hook-fist", "straight-finger-hold"} {
		m := movement(t, id)
		pose, long := repeat(m, 5, sec(3), 1, nil)
		f := noisy(film{pose: pose, long: long}, 3)
		f.look = func(s *hand.Sample) {
			for j := hand.MiddleMCP; j < hand.ThumbMP; j++ {
				s.Joints[j] = hand.Measurement{SEDeg: 90, Why: hand.Hidden, ExtensionWhy: hand.Hidden}
			}
		}
		s, _ := judge(t, coach.Config{Movement: m, Hold: sec(3)}, f.samples())
		require.Equal(t, 5, s.Counted, id)
		require.Empty(t, s.Flags, id)
		require.Len(t, s.Holds, 5)
		for _, n := range s.NotJudged {
			require.NotEqual(t, hand.Index, n.Joint.Finger())
			require.Equal(t, 1.0, n.Share)
			require.Equal(t, hand.Hidden, n.Why)
		}
	}
}

func TestSamplesOutOfOrderAreDropped(t *testing.T) {
	m := movement(t, "hook-fist")
	pose, long := repeat(m, 2, sec(2), 1, nil)
	samples := noisy(film{pose: pose, long: long}, 3).samples()
	want, wantEvents := judge(t, coach.Config{Movement: m, Hold: sec(2)}, samples)
	var mixed []hand.Sample
	for i, s := range samples {
		mixed = append(mixed, s)
		if i%7 == 3 {
			mixed = append(mixed, samples[i/2], s)
		}
	}
	got, gotEvents := judge(t, coach.Config{Movement: m, Hold: sec(2)}, mixed)
	require.Positive(t, got.Dropped)
	got.Dropped = 0
	require.Equal(t, wantEvents, gotEvents)
	require.Equal(t, want.Holds, got.Holds)
}

func TestAfterFinish(t *testing.T) {
	m := movement(t, "hook-fist")
	pose, long := repeat(m, 1, sec(2), 1, nil)
	samples := noisy(film{pose: pose, long: long}, 3).samples()
	c, err := coach.New(coach.Config{Movement: m, Hold: sec(2)})
	require.NoError(t, err)
	for _, s := range samples {
		c.Push(s)
	}
	first := c.Finish(long)
	require.Empty(t, c.Push(hand.Sample{Time: long + 1}))
	second := c.Finish(2 * long)
	first.Last, second.Last = nil, nil
	second.Dropped = first.Dropped
	require.Equal(t, first.Repetitions[0].Number, second.Repetitions[0].Number)
	require.Equal(t, first.End, second.End)
	require.Equal(t, first.Counted, second.Counted)
}

func TestSetIsCompleted(t *testing.T) {
	m := movement(t, "hook-fist")
	pose, long := repeat(m, 4, sec(1), 1, nil)
	_, events := judge(t, coach.Config{Movement: m, Hold: sec(1), Repetitions: 3}, noisy(film{pose: pose, long: long}, 3).samples())
	done := 0
	for _, e := range events {
		if e, ok := e.(coach.SetCompleted); ok {
			done++
			require.Equal(t, 3, e.Counted)
		}
	}
	require.Equal(t, 1, done)
}

func TestEventsTellTheStory(t *testing.T) {
	m := movement(t, "whole-hand-grip")
	pose, long := repeat(m, 1, sec(3), 1, nil)
	_, events := judge(t, coach.Config{Movement: m, Hold: sec(3)}, noisy(film{pose: pose, long: long}, 3).samples())
	var story []string
	var last time.Duration
	for _, e := range events {
		require.GreaterOrEqual(t, e.When(), last, "events come in order")
		last = e.When()
		switch e := e.(type) {
		case coach.PhaseChanged:
			story = append(story, string(e.To))
		case coach.HoldStarted:
			story = append(story, "hold started")
		case coach.HoldMet:
			story = append(story, "hold met")
		case coach.HoldEnded:
			story = append(story, "hold ended")
		case coach.RepetitionCounted:
			story = append(story, "counted")
		case coach.Cue:
			story = append(story, "say "+e.Text)
		default:
			t.Errorf("unexpected %T", e)
		}
	}
	require.Equal(t, []string{
		"rest", "approach", "hold", "hold started", "say Hold gently.", "hold met",
		"say Now open the hand slowly and fully.", "return", "hold ended", "counted", "rest",
	}, story)
}

func TestStatus(t *testing.T) {
	m := movement(t, "straight-finger-hold")
	c, err := coach.New(coach.Config{Movement: m, Hold: sec(5), Repetitions: 2})
	require.NoError(t, err)
	require.Equal(t, coach.Status{Phase: coach.NotStarted, Repetitions: 2, Wanted: sec(5)}, c.Status())
	for _, s := range noisy(film{pose: giveWay(m, hand.Index, -20, sec(2), sec(9), sec(0.12)), long: sec(4)}, 1).samples() {
		c.Push(s)
	}
	st := c.Status()
	require.Equal(t, coach.InEndZone, st.Phase)
	require.True(t, st.Holding)
	require.InDelta(t, 4, st.Held.Seconds(), 0.3)
	require.InDelta(t, 1, st.Share, 0.15)
	require.Len(t, st.Flags, 1)
	require.Equal(t, hand.IndexPIP, st.Flags[0].Joint)
}

// A middle knuckle that cannot be read for a while does not stop the clock of a
// hold as long as the big knuckle is seen to stay, and says nothing of a hand
// that opens meanwhile.
func TestHalfAFingerInSightWhileHeld(t *testing.T) {
	m := movement(t, "straight-fist")
	a, b := m.StartPose(), m.EndPose()
	held := func(open float64) (coach.Summary, []coach.Event) {
		pose := along(way{0, a}, way{sec(1), a}, way{sec(2), b}, way{sec(open), b}, way{sec(open + 1), a}, way{sec(9), a})
		f := noisy(film{pose: pose, long: sec(9)}, 3)
		f.look = func(s *hand.Sample) {
			for j := hand.IndexMCP; j < hand.ThumbMP; j++ {
				if j > hand.IndexPIP || j == hand.IndexPIP && s.Time > sec(3) && s.Time < sec(4.5) {
					s.Joints[j].Judged, s.Joints[j].Why = false, hand.Hidden
				}
			}
		}
		return judge(t, coach.Config{Movement: m, Hold: sec(3)}, f.samples())
	}
	s, events := held(5)
	require.Equal(t, 1, s.Counted)
	require.InDelta(t, 3, s.Holds[0].Held.Seconds(), 0.3)
	require.Zero(t, count[coach.Paused](events))
	require.Empty(t, s.Flags)

	s, events = held(3.2)
	require.Less(t, s.Holds[0].Held, sec(1.8), "the big knuckle opens from 3.2 s on")
	require.Equal(t, 1, count[coach.Paused](events))
}
