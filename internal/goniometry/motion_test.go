package goniometry

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
)

// speeds follows points that lie where the function puts them, in pixels of a
// palm of 100, at 30 pictures a second, for a second.
func speeds(at func(t float64, picture int) hand.Point) *motion {
	m := new(motion)
	for i := range 31 {
		t := float64(i) / 30
		var p hand.Points
		for k := range p {
			p[k] = at(t, i)
		}
		m.update(&p, 100, time.Duration(t*float64(time.Second)))
	}
	return m
}

func TestSpeedOfAWay(t *testing.T) {
	m := speeds(func(t float64, _ int) hand.Point { return hand.Point{X: 300 * t, Y: 400 * t} })
	require.InDelta(t, 5, m.palms, 0.01)
	require.InDelta(t, 5, m.points[hand.Index.Tip()], 0.01)
}

// A hand that is held still is read from a region that moves, mirrored every
// second time: its points go to and fro, and the hand is not moving fast.
func TestPointsThatGoToAndFroAreNotFast(t *testing.T) {
	m := speeds(func(_ float64, i int) hand.Point { return hand.Point{X: 6.5 * float64(1-2*(i%2))} })
	require.Less(t, m.points[hand.Index.PIP()], 1.3, "the way from picture to picture alone would be 3.9 palms a second")
	require.Less(t, m.palms, 1.3)
}

// A real swing to and fro, three times a second, still counts.
func TestSwingIsFast(t *testing.T) {
	most := 0.0
	m := new(motion)
	for i := range 60 {
		t := float64(i) / 30
		var p hand.Points
		for k := range p {
			p[k] = hand.Point{X: 50 * math.Sin(2*math.Pi*3*t)}
		}
		m.update(&p, 100, time.Duration(t*float64(time.Second)))
		most = math.Max(most, m.points[hand.Index.PIP()])
	}
	require.Greater(t, most, 4.0, "9.4 palms a second at its fastest")
}

func TestTimeThatStandsStillStartsTheSpeedAnew(t *testing.T) {
	m := new(motion)
	var p hand.Points
	m.update(&p, 100, time.Second)
	p[0].X = 50
	m.update(&p, 100, time.Second)
	require.Zero(t, m.palms)
	m.update(&p, 100, 1100*time.Millisecond)
	require.Zero(t, m.points[0], "the step at the same time is no way")
}
