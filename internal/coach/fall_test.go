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

// A straight finger may read up to 10 degrees past straight all the while and
// scatter by 2, as was found on rendered hands: that is no flag. The same
// finger is flagged when it falls by 12 for a third of a second, and so is one
// that reads as much too bent as was found, when what is left is past straight.
func TestTheFallTells(t *testing.T) {
	m := movement(t, "straight-finger-hold")
	for _, c := range []struct {
		reads, gives float64
		flagged      bool
	}{
		{0, 0, false}, {-5, 0, false}, {-8, 0, false}, {-10, 0, false}, {5, 0, false},
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

// One that is far past straight from the first picture is flagged before its
// own zero is known.
func TestFarPastStraightFromTheStart(t *testing.T) {
	m := movement(t, "straight-finger-hold")
	pose := func(time.Duration) exercise.Pose {
		p := m.EndPose()
		p.Fingers[0].PIP = -18
		return p
	}
	for seed := range uint64(20) {
		s, _ := judge(t, coach.Config{Movement: m, Hold: sec(3)}, film{pose: pose, long: sec(4), sd: 2, seed: seed}.samples())
		require.Len(t, s.Flags, 1)
		require.Equal(t, "index.pip", s.Flags[0].Subject())
		require.InDelta(t, -18, s.Flags[0].PeakDeg, 3)
	}
}
