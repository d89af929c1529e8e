package goniometry

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
)

func TestSteadyView(t *testing.T) {
	at := func(i int) time.Duration { return time.Duration(i) * 40 * time.Millisecond }
	// Pictures that say 35 and 57 in turn are of a hand at 46.
	var s steadyView
	for i := range 50 {
		yaw := s.update(hand.View{YawDeg: 46 + 11*float64(1-2*(i%2))}, at(i))
		if i >= 10 {
			require.InDelta(t, 46, yaw, 3)
		}
	}
	// A hand that turns to the side is there within half a second.
	for i := range 13 {
		s.update(hand.View{YawDeg: 90}, at(50+i))
	}
	require.Greater(t, s.update(hand.View{YawDeg: 90}, at(63)), 85.0)
	// The mean of 170 and -170 is 180, not 0.
	s = steadyView{}
	s.update(hand.View{YawDeg: 170}, at(0))
	for i := range 30 {
		yaw := s.update(hand.View{YawDeg: 170 * float64(1-2*(i%2))}, at(i+1))
		require.InDelta(t, 180, max(yaw, -yaw), 11)
	}
}

// By the steady yaw a hand counts as seen from the side, as long as the
// picture itself does not say that it has turned away.
func TestExtensionGoesByTheSteadyView(t *testing.T) {
	for _, c := range []struct {
		steady, now float64
		want        bool
	}{{60, 50, true}, {60, 60, true}, {50, 60, false}, {60, 40, false}, {120, 130, true}, {120, 140, false}, {130, 120, false}} {
		j, _, e := bench(t, turn{yaw: c.now})
		e.view.YawDeg, j.steadyYaw = c.now, c.steady
		require.Equal(t, c.want, j.measurement(hand.IndexPIP).ExtensionJudged, "%+v", c)
	}
}

// A joint whose score jumps about the limit is hidden or not for good, and one
// that goes out of sight is called so within a quarter of a second.
func TestSteadySight(t *testing.T) {
	at := func(i int) time.Duration { return time.Duration(i) * 40 * time.Millisecond }
	var s steadySight
	for i := range 50 {
		v := [hand.NumJoints]float64{hand.IndexPIP: 0.7 - 0.4*float64(i%2), hand.LittleDIP: 0.9}
		s.update(&v, at(i))
		if i >= 10 {
			require.InDelta(t, 0.5, v[hand.IndexPIP], 0.06)
		}
		require.InDelta(t, 0.9, v[hand.LittleDIP], 1e-9)
	}
	var v [hand.NumJoints]float64
	for i := range 6 {
		v = [hand.NumJoints]float64{}
		s.update(&v, at(50+i))
	}
	require.Less(t, v[hand.LittleDIP], headHiddenBelow)
}
