package coach_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
)

// A straight finger may read 8 degrees past straight all the while, two of its
// stated errors, and scatter by 2, as was found on rendered hands: that is no
// flag. The same finger is flagged when it falls by 12 for a third of a second, and
// so is one that reads as much too bent as was found, when what is left is past
// straight.
func TestTheFallTells(t *testing.T) {
	m := movement(t, "straight-finger-hold")
	for _, c := range []struct {
		reads, gives float64
		flagged      bool
	}{
		{0, 0, false}, {-5, 0, false}, {-8, 0, false}, {5, 0, false},
		{0, -12, true}, {-5, -12, true}, {-9, -12, true}, {2, -12, true}, {5, -15, true},
		{14, -12, false}, // a bent finger that straightens
	} {
		t.Run(fmt.Sprintf("reads %g, gives way by %g", c.reads, c.gives), func(t *testing.T) {
			const clips = 40
			n := 0
			for seed := range uint64(clips) {
				f := film{pose: giveWay(m, hand.Index, c.gives, sec(4), sec(4.3), sec(0.1)), long: sec(6), sd: 2, seed: seed}
				f.look = func(s *hand.Sample) { s.Joints[hand.IndexPIP].RawDeg += c.reads }
				s, _ := judge(t, coach.Config{Movement: m}, f.samples())
				for _, g := range s.Flags {
					if g.Kind == coach.Hyperextension {
						require.Equal(t, hand.IndexPIP, g.Joint)
						n++
					}
				}
			}
			if c.flagged {
				require.GreaterOrEqual(t, n, clips-2)
			} else {
				require.LessOrEqual(t, n, 1)
			}
		})
	}
}

// One that is further past straight from the first picture than its stated error
// explains is flagged before its own zero is known, and all the while counts as
// one flag.
func TestPastStraightFromTheStart(t *testing.T) {
	m := movement(t, "straight-finger-hold")
	for _, c := range []struct {
		deg, se float64
		flagged bool
	}{
		{-18, 4, true}, {-14, 4, true}, {-11, 3, true}, {-18, 7, true},
		{-7, 4, false}, {-11, 6, false}, {-5, 2, false},
	} {
		t.Run(fmt.Sprintf("%g, stated error %g", c.deg, c.se), func(t *testing.T) {
			pose := func(time.Duration) exercise.Pose {
				p := m.EndPose()
				p.Fingers[0].PIP = c.deg
				return p
			}
			for seed := range uint64(20) {
				f := film{pose: pose, long: sec(4), sd: 1.5, seed: seed}
				f.look = func(s *hand.Sample) { s.Joints[hand.IndexPIP].SEDeg = c.se }
				s, _ := judge(t, coach.Config{Movement: m, Hold: sec(3)}, f.samples())
				if !c.flagged {
					require.Empty(t, s.Flags)
					continue
				}
				require.Len(t, s.Flags, 1)
				require.Equal(t, "index.pip", s.Flags[0].Subject())
				require.InDelta(t, c.deg, s.Flags[0].PeakDeg, 3)
			}
		})
	}
}
