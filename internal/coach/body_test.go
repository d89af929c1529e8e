package coach_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/hand"
)

// An arm that moves instead of the fingers, and one that only trembles.
func TestArmMoves(t *testing.T) {
	m := movement(t, "cloth-gather")
	require.Equal(t, 0.8, m.Judge.StayPutPalms)
	for palms, want := range map[float64]int{0: 0, 0.5: 0, 1.5: 1} {
		f := noisy(perform(m, 2, sec(2), 1, nil), 2)
		keys := m.KeyPoses(sec(2), 1)
		second := 1.5 + keys[len(keys)-1].At.Seconds() // under way in the second repetition
		f.look = func(s *hand.Sample) {
			s.PalmPixels = 100
			s.Palm = hand.Point{X: 320 + 2*math.Sin(40*s.Time.Seconds()), Y: 240}
			if at := s.Time.Seconds() - second; at > 0 && at < 4 {
				s.Palm.X += palms * 100 * math.Min(1, math.Min(at, 4-at))
			}
		}
		s, _ := judge(t, coach.Config{Movement: m, Hold: sec(2)}, f.samples())
		require.Equal(t, 2, s.Counted)
		require.Len(t, s.Flags, want, "%g palms: %v", palms, s.Flags)
		for _, f := range s.Flags {
			require.Equal(t, coach.Compensation, f.Kind)
			require.Equal(t, "arm", f.Subject())
			require.Equal(t, 2, f.Repetition)
			require.InDelta(t, 150, f.PeakDeg, 10, "in percent of the palm")
		}
	}
	// Nothing is known of a hand whose place nobody measured.
	s, _ := judge(t, coach.Config{Movement: m, Hold: sec(2)}, noisy(perform(m, 2, sec(2), 1, nil), 2).samples())
	require.Empty(t, s.Flags)
}

// A hand whose points draw together at its knuckles reads as a small one elsewhere.
// That is no arm that moves.
func TestPointsThatDrawTogetherAreNoArm(t *testing.T) {
	m := movement(t, "cloth-gather")
	for why, want := range map[hand.Reason]int{hand.TooSmall: 0, hand.NoReason: 1} {
		f := noisy(perform(m, 2, sec(2), 1, nil), 2)
		f.look = func(s *hand.Sample) {
			s.PalmPixels, s.Palm = 100, hand.Point{X: 320, Y: 240}
			if at := s.Time.Seconds(); at > 2 && at < 2.6 {
				s.PalmPixels, s.Palm.Y = 25, 130
				for j := range s.Joints {
					s.Joints[j].Judged, s.Joints[j].Why = why == hand.NoReason, why
				}
			}
		}
		s, _ := judge(t, coach.Config{Movement: m, Hold: sec(2)}, f.samples())
		require.Equal(t, 2, s.Counted)
		require.Len(t, s.Flags, want, "%v: %v", why, s.Flags)
	}
}

// A hold that wavers by more than is allowed, as a strained hand does once or
// twice a second, to both sides or to one; the scatter of readings is none, nor
// is giving in once, nor one finger of four that wavers.
func TestUnsteadyHold(t *testing.T) {
	swing := func(deg float64) func(at float64) float64 {
		return func(at float64) float64 { return deg * math.Sin(2*math.Pi*1.5*at) }
	}
	for _, id := range []string{"grip-hold", "straight-finger-hold", "adduction-hold-index-middle"} {
		m := movement(t, id)
		require.Equal(t, 8.0, m.Judge.SteadyDeg, id)
		for name, c := range map[string]struct {
			way     func(at float64) float64
			fingers []hand.Finger
			want    int
			only    bool // the big knuckle alone shows it
		}{
			"still":              {swing(0), hand.Fingers[:], 0, false},
			"a little":           {swing(5), hand.Fingers[:], 0, false},
			"to both sides":      {swing(14), hand.Fingers[:], 1, false},
			"in one joint":       {swing(14), hand.Fingers[:], 1, true},
			"to one side":        {func(at float64) float64 { return max(swing(14)(at), 0) }, hand.Fingers[:], 1, false},
			"gives in once":      {func(at float64) float64 { return 14 * math.Sin(math.Pi*(at-4)/2) }, hand.Fingers[:], 0, false},
			"one finger of four": {swing(14), []hand.Finger{hand.Ring}, 0, false},
		} {
			switch {
			case name == "to both sides" && id != "grip-hold":
				continue // a straight finger would pass straight, which is a fault of its own
			case name == "one finger of four" && id == "adduction-hold-index-middle":
				continue // it looks at two
			}
			for seed := range uint64(2) {
				f := noisy(perform(m, 2, sec(5), 1, nil), seed)
				f.look = func(s *hand.Sample) {
					if at := s.Time.Seconds(); at > 4 && at < 6 {
						for _, finger := range c.fingers {
							for _, k := range []hand.Kind{hand.MCP, hand.PIP} {
								if k == hand.MCP || !c.only {
									s.Joints[hand.JointOf(finger, k)].RawDeg += c.way(at)
								}
							}
						}
					}
				}
				s, _ := judge(t, coach.Config{Movement: m, Hold: sec(5), Limits: coach.Limits{}}, f.samples())
				unsteady := 0
				for _, f := range s.Flags {
					if f.Kind == coach.Unsteady {
						unsteady++
						require.Equal(t, 1, f.Repetition)
						require.True(t, f.Start >= sec(3.2) && f.End <= sec(6.8), "%v to %v", f.Start, f.End)
						require.Greater(t, f.PeakDeg, f.LimitDeg)
					}
				}
				require.Equal(t, c.want, unsteady, "%s, %s: %v", id, name, s.Flags)
			}
		}
	}
}

// A big knuckle that bends for most of a hold carries the reading of the middle
// one along: the hold is from where the hand came to a stand, not the fault.
func TestHoldWithAFaultOverMostOfIt(t *testing.T) {
	m := movement(t, "blocked-pip-middle")
	a, b := m.StartPose(), m.EndPose()
	pose := along(way{0, a}, way{sec(1), a}, way{sec(2), b}, way{sec(3.6), b}, way{sec(4.6), a}, way{sec(6), a})
	for seed := range uint64(5) {
		f := noisy(film{pose: pose, long: sec(6)}, seed)
		f.sd = 2
		f.look = func(s *hand.Sample) {
			if s.Time > sec(2.2) && s.Time < sec(3.45) {
				s.Joints[hand.MiddleMCP].RawDeg += 65
				s.Joints[hand.MiddlePIP].RawDeg += 18
			}
		}
		s, _ := judge(t, coach.Config{Movement: m, Hold: sec(1.6)}, f.samples())
		require.Equal(t, []coach.FlagKind{coach.Compensation}, kinds(s.Flags), seed)
		require.InDelta(t, 1.6, s.Holds[0].Held.Seconds(), 0.3, seed)
	}
}

// A joint that strays is flagged however unsure its reading is: the range that it
// is kept in is wide enough for that.
func TestUnsureJointThatStrays(t *testing.T) {
	m := movement(t, "hook-fist")
	for strays, want := range map[float64][]coach.FlagKind{30: {}, 50: {coach.Compensation}} {
		f := noisy(perform(m, 2, sec(3), 1, nil), 3)
		f.sd, f.se = 3, 15
		f.look = func(s *hand.Sample) {
			if s.Joints[hand.IndexPIP].RawDeg > 80 {
				s.Joints[hand.IndexMCP].RawDeg += strays - 5
			}
		}
		s, _ := judge(t, coach.Config{Movement: m, Hold: sec(3)}, f.samples())
		for _, f := range s.Flags {
			require.Equal(t, "index.mcp", f.Subject(), strays)
		}
		require.Subset(t, kinds(s.Flags), want, strays)
		require.Equal(t, len(want) > 0, len(s.Flags) > 0, strays)
	}
}
