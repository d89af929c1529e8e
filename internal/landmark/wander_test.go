package landmark

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/hand"
)

func TestWanderedRegions(t *testing.T) {
	r := hand.Region{CX: 300, CY: 200, Size: 100, Rotation: 0.3}
	var wide hand.Region
	for n := 0; n < 400; n += 2 {
		a, b := wandered(r, n), wandered(r, n+1)
		require.Equal(t, a, wandered(r, n), "the same picture of a track is shown the same region")
		for _, w := range []hand.Region{a, b} {
			require.InDelta(t, r.CX, w.CX, 3)
			require.InDelta(t, r.CY, w.CY, 3)
			require.InDelta(t, r.Size, w.Size, 6)
			require.InDelta(t, r.Rotation, w.Rotation, 6*math.Pi/180)
		}
		// Two in a row are displaced to opposite sides.
		require.InDelta(t, r.CX, (a.CX+b.CX)/2, 1e-9)
		require.InDelta(t, r.CY, (a.CY+b.CY)/2, 1e-9)
		require.InDelta(t, r.Size, (a.Size+b.Size)/2, 1e-9)
		require.InDelta(t, r.Rotation, (a.Rotation+b.Rotation)/2, 1e-9)
		wide.CX = max(wide.CX, math.Abs(a.CX-r.CX))
		wide.CY = max(wide.CY, math.Abs(a.CY-r.CY))
		wide.Size = max(wide.Size, math.Abs(a.Size-r.Size))
		wide.Rotation = max(wide.Rotation, math.Abs(a.Rotation-r.Rotation))
	}
	require.Greater(t, wide.CX, 2.8)
	require.Greater(t, wide.CY, 2.8)
	require.Greater(t, wide.Size, 5.6)
	require.Greater(t, wide.Rotation, 5.6*math.Pi/180)
}

// The region that a picture was read from is told, and is not the one before
// even while the hand stands still; the points are those of the hand.
func TestFollowedRegionWanders(t *testing.T) {
	s := newScene(t, rightHand())
	p := s.player(Options{})
	last := hand.Region{}
	for range 20 {
		list := p.next()
		require.Len(t, list, 1)
		require.NotEqual(t, last, list[0].Region)
		last = list[0].Region
		_, d := s.nearest(list[0])
		require.Less(t, d, tolerance)
	}
}

func TestCalm(t *testing.T) {
	at := func(i int) time.Duration { return time.Duration(i) * frameTime }
	palm := 100.0
	still := func(offset float64) *hand.Points {
		p := new(hand.Points)
		for i := range p {
			p[i] = hand.Point{X: 200 + palm*template[i].X + offset, Y: 300 + palm*template[i].Y}
		}
		return p
	}
	// A point that jumps from side to side by 4 % of the palm all but stands
	// still.
	var c calm
	var last, worst float64
	for i := range 60 {
		p := c.next(still(2-4*float64(i%2)), at(i))
		if i > 30 {
			worst = max(worst, math.Abs(p[8].X-last))
		}
		last = p[8].X
	}
	require.Less(t, worst, 2.0)
	// A hand that crosses the picture at two palm lengths a second is less than
	// a twentieth of a palm behind.
	c = calm{}
	var behind float64
	for i := range 60 {
		x := 2 * palm * at(i).Seconds()
		p := c.next(still(x), at(i))
		behind = max(behind, math.Abs(p[8].X-still(x)[8].X))
	}
	require.Less(t, behind, 0.05*palm)
}

// Whatever comes in, the calmed points lie between where they were and where
// they are read, and a leap is followed at once.
func TestCalmNeverOvershoots(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var c calm
		var before hand.Points
		at := time.Duration(0)
		for i := range rapid.IntRange(1, 30).Draw(rt, "pictures") {
			at += time.Duration(rapid.IntRange(5, 300).Draw(rt, "ms")) * time.Millisecond
			x := rapid.Float64Range(-300, 300).Draw(rt, "x")
			var p hand.Points
			for k := range p {
				p[k] = hand.Point{X: x + 50*template[k].X, Y: 50 * template[k].Y}
			}
			got := c.next(&p, at)
			for k := range got {
				lo, hi := p[k].X, p[k].X
				if i > 0 {
					lo, hi = min(lo, before[k].X), max(hi, before[k].X)
				}
				require.GreaterOrEqual(rt, got[k].X, lo-1e-9)
				require.LessOrEqual(rt, got[k].X, hi+1e-9)
				require.LessOrEqual(rt, math.Abs(got[k].X-p[k].X), leap*50+1e-9)
			}
			before = got
		}
	})
}
