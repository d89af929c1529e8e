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

// A hold that wavers by more than is allowed, as a strained hand does once or
// twice a second; the scatter of readings is none.
func TestUnsteadyHold(t *testing.T) {
	for _, id := range []string{"grip-hold", "straight-finger-hold", "adduction-hold-index-middle"} {
		m := movement(t, id)
		require.Equal(t, 8.0, m.Judge.SteadyDeg, id)
		for swing, want := range map[float64]bool{0: false, 5: false, 14: true} {
			for seed := range uint64(2) {
				f := noisy(perform(m, 2, sec(5), 1, nil), seed)
				f.look = func(s *hand.Sample) {
					if at := s.Time.Seconds(); at > 4 && at < 6 {
						for _, finger := range hand.Fingers {
							for _, k := range []hand.Kind{hand.MCP, hand.PIP} {
								s.Joints[hand.JointOf(finger, k)].RawDeg += 4 + swing*math.Sin(2*math.Pi*1.5*at)
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
				if id == "grip-hold" || swing < 10 {
					require.Equal(t, want, unsteady == 1, "%s, swing %g°: %v", id, swing, s.Flags)
				}
			}
		}
	}
}
