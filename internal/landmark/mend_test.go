package landmark

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
)

// The angle head puts the fingers elsewhere than the network: the next region is
// laid around where they are, thumb and wrist as they were.
func TestFingersAreMended(t *testing.T) {
	where := hand.Region{CX: 300, CY: 200, Size: 2 * handSide, Rotation: math.Pi / 2}
	to := place(where)
	l := landmarker{landmarks: make([]float32, 3*hand.NumPoints), fingers: make([]float32, 32)}
	var network hand.Points
	for i := range network {
		x, y := 40+5*float64(i), 100-2*float64(i)
		l.landmarks[3*i], l.landmarks[3*i+1] = float32(x), float32(y)
		network[i].X, network[i].Y = to.picture(x/handSide, y/handSide)
		network[i].Z = float64(i)
	}
	for i, f := range hand.Fingers {
		for k, at := range [4]int{f.MCP(), f.PIP(), f.DIP(), f.Tip()} {
			l.fingers[8*i+2*k], l.fingers[8*i+2*k+1] = l.landmarks[3*at]+6, l.landmarks[3*at+1]-8
		}
	}
	p := network
	require.InDelta(t, 10, l.mend(to, &p), 1e-4, "samples of the crop")
	for i := range p {
		// 6 to the right and 8 up in a crop that is turned by a quarter clockwise
		// and shows two pixels a sample.
		want := network[i]
		if i >= hand.Index.MCP() {
			want.X, want.Y = want.X+16, want.Y+12
		}
		require.InDelta(t, want.X, p[i].X, 1e-3, "point %d", i)
		require.InDelta(t, want.Y, p[i].Y, 1e-3, "point %d", i)
		require.Equal(t, want.Z, p[i].Z)
	}

	l.fingers[3] = float32(math.NaN())
	p = network
	require.Zero(t, l.mend(to, &p))
	require.Equal(t, network, p, "numbers that are none move nothing")
	l.fingers = nil
	require.Zero(t, l.mend(to, &p))
	require.Equal(t, network, p)
}
