package landmark

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/hand"
)

func TestUpright(t *testing.T) {
	for _, c := range []struct {
		name   string
		dx, dy float64
		want   float64
	}{
		{"fingers up", 0, -1, 0},
		{"fingers to the right", 1, 0, math.Pi / 2},
		{"fingers to the left", -1, 0, -math.Pi / 2},
		{"fingers down", 0, 1, -math.Pi},
		{"up and right", 1, -1, math.Pi / 4},
	} {
		require.InDelta(t, c.want, upright(c.dx, c.dy), 1e-12, c.name)
	}
}

// testPalm is a palm with the given box and a direction of its middle finger.
func testPalm(x, y, w, h float64, wrist, middle hand.Point) palm {
	p := palm{score: 1, x0: x, y0: y, x1: x + w, y1: y + h}
	p.points[palmWrist], p.points[palmMiddleMCP] = wrist, middle
	return p
}

func TestPalmRegionWorkedValue(t *testing.T) {
	// The published rules worked by hand for a picture of 640 by 480: box at
	// (0.40, 0.50) of 0.15 by 0.20, wrist (0.47, 0.70), middle MCP (0.49, 0.52).
	p := testPalm(0.40*640, 0.50*480, 0.15*640, 0.20*480,
		hand.Point{X: 0.47 * 640, Y: 0.70 * 480}, hand.Point{X: 0.49 * 640, Y: 0.52 * 480})
	r := palmRegion(p)
	require.InDelta(t, 0.147078, r.Rotation, 1e-6)
	require.InDelta(t, 0.485991*640, r.CX, 1e-3)
	require.InDelta(t, 0.501080*480, r.CY, 1e-3)
	require.InDelta(t, 249.6, r.Size, 1e-9)
}

func TestPalmRegionOfPublishedHands(t *testing.T) {
	// Source: MediaPipe, tasks/testdata/vision: palms and hand rectangles of
	// left_hands.jpg (Apache-2.0). The picture has the aspect 720:382, as the
	// sides of the rectangles say; of the palms' points the data give only
	// the direction, in the rotation of the rectangle.
	const w, h = 720.0, 382.0
	for _, c := range []struct{ x, y, w, h, cx, cy, rw, rh, rotation float64 }{
		{.64567286, .04196969, .22876495, .43088135, .6807422, .41254658, .59478885, 1.121068, -2.374725},
		{.1332045, .53324974, .22739677, .42832413, .32884726, .5990523, .5912316, 1.1143632, .80550915},
	} {
		sin, cos := math.Sincos(c.rotation)
		wrist := hand.Point{X: 300, Y: 200}
		r := palmRegion(testPalm(c.x*w, c.y*h, c.w*w, c.h*h, wrist, wrist.Add(hand.Point{X: 50 * sin, Y: -50 * cos})))
		require.InDelta(t, c.cx, r.CX/w, 1e-4)
		require.InDelta(t, c.cy, r.CY/h, 1e-4)
		require.InDelta(t, c.rw, r.Size/w, 1e-4)
		require.InDelta(t, c.rh, r.Size/h, 1e-4)
		require.InDelta(t, c.rotation, r.Rotation, 1e-6)
	}
}

func TestPointsRegionWorkedValue(t *testing.T) {
	// An upright hand of palm length 100 with its wrist at (300, 400). Over
	// the twelve points x runs from -0.50 (little PIP) to 0.70 (thumb IP) and
	// y from -1.47 (middle PIP) to 0 (wrist) in palm lengths. The knuckles
	// lie at x (0.28-0.22)/4 and y -(0.97+0.93)/4 - 0.5 = -0.975.
	h := fakeHand{x: 300, y: 400, palm: 100, side: hand.Right}
	p := h.points()
	r := pointsRegion(&p)
	rotation := math.Atan2((0.28-0.22)/4, 0.975)
	require.InDelta(t, rotation, r.Rotation, 1e-12)

	// The hand turned so that the rotation vanishes: now the box is the plain
	// minimum and maximum of the points, worked by hand.
	h.turn = -rotation
	p = h.points()
	r = pointsRegion(&p)
	require.InDelta(t, 0, r.Rotation, 1e-12)
	x0, x1, y0, y1 := 1e9, -1e9, 1e9, -1e9
	for _, i := range []int{0, 1, 2, 3, 5, 6, 9, 10, 13, 14, 17, 18} {
		x0, x1 = min(x0, p[i].X), max(x1, p[i].X)
		y0, y1 = min(y0, p[i].Y), max(y1, p[i].Y)
	}
	require.Greater(t, y1-y0, x1-x0)
	require.InDelta(t, (x0+x1)/2, r.CX, 1e-9)
	require.InDelta(t, (y0+y1)/2-0.1*(y1-y0), r.CY, 1e-9)
	require.InDelta(t, 2*(y1-y0), r.Size, 1e-9)
}

func TestPointsRegionIgnoresFingertips(t *testing.T) {
	h := fakeHand{x: 300, y: 400, palm: 100, side: hand.Left}
	p := h.points()
	want := pointsRegion(&p)
	for _, i := range []int{4, 7, 8, 11, 12, 15, 16, 19, 20} {
		p[i] = hand.Point{X: -1000, Y: 5000}
	}
	require.Equal(t, want, pointsRegion(&p))
}

func drawRegion(t *rapid.T) hand.Region {
	return hand.Region{
		CX:       rapid.Float64Range(-500, 5000).Draw(t, "cx"),
		CY:       rapid.Float64Range(-500, 5000).Draw(t, "cy"),
		Size:     rapid.Float64Range(4, 4000).Draw(t, "size"),
		Rotation: rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "rotation"),
	}
}

// unit is the inverse of picture, by the inverse matrix.
func (p placement) unit(x, y float64) (u, v float64) {
	dx, dy := (x-p.cx)/p.size, (y-p.cy)/p.size
	return p.cos*dx + p.sin*dy + 0.5, p.cos*dy - p.sin*dx + 0.5
}

func TestPlacementRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := place(drawRegion(t))
		u, v := rapid.Float64Range(-2, 3).Draw(t, "u"), rapid.Float64Range(-2, 3).Draw(t, "v")
		u2, v2 := p.unit(p.picture(u, v))
		require.InDelta(t, u, u2, 1e-9)
		require.InDelta(t, v, v2, 1e-9)
	})
}

func TestPlacementTurnsWithTheRegion(t *testing.T) {
	// In a region turned by 90° clockwise, up in the crop is right in the
	// picture, for points and for directions.
	p := place(hand.Region{CX: 100, CY: 100, Size: 50, Rotation: math.Pi / 2})
	x, y := p.picture(0.5, 0)
	require.InDelta(t, 125, x, 1e-9)
	require.InDelta(t, 100, y, 1e-9)
	d := p.turn(hand.Point{Y: -1, Z: 3})
	require.InDelta(t, 1, d.X, 1e-12)
	require.InDelta(t, 0, d.Y, 1e-12)
	require.Equal(t, 3.0, d.Z)
}

// A hand moved, scaled and turned has its region moved, scaled and turned.
func TestPointsRegionMovesWithTheHand(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var p hand.Points
		for i := range p {
			p[i] = template[i].Add(hand.Point{
				X: rapid.Float64Range(-0.1, 0.1).Draw(t, "x"),
				Y: rapid.Float64Range(-0.1, 0.1).Draw(t, "y"),
			})
		}
		a := pointsRegion(&p)
		to := drawRegion(t)
		m := place(to)
		var q hand.Points
		for i := range p {
			q[i].X, q[i].Y = m.picture(p[i].X, p[i].Y)
		}
		b := pointsRegion(&q)
		cx, cy := m.picture(a.CX, a.CY)
		require.InDelta(t, cx, b.CX, 1e-6*to.Size)
		require.InDelta(t, cy, b.CY, 1e-6*to.Size)
		require.InDelta(t, a.Size*to.Size, b.Size, 1e-6*to.Size)
		turned := math.Remainder(a.Rotation+to.Rotation-b.Rotation, 2*math.Pi)
		require.InDelta(t, 0, turned, 1e-9)
	})
}

func TestUsable(t *testing.T) {
	good := hand.Region{CX: 100, CY: 100, Size: 50}
	for _, c := range []struct {
		name   string
		change func(*hand.Region)
		want   bool
	}{
		{"inside", func(*hand.Region) {}, true},
		{"centre outside, corner inside", func(r *hand.Region) { r.CX = -20 }, true},
		{"outside", func(r *hand.Region) { r.CX = -40 }, false},
		{"below", func(r *hand.Region) { r.CY = 520 }, false},
		{"no size", func(r *hand.Region) { r.Size = 0 }, false},
		{"absurd size", func(r *hand.Region) { r.Size = 1e6 }, false},
		{"not a number", func(r *hand.Region) { r.Rotation = math.NaN() }, false},
		{"infinite", func(r *hand.Region) { r.Size = math.Inf(1) }, false},
	} {
		r := good
		c.change(&r)
		require.Equal(t, c.want, usable(r, 640, 480), c.name)
	}
}

func TestIOU(t *testing.T) {
	for _, c := range []struct {
		name string
		a, b box
		want float64
	}{
		{"same", box{0, 0, 2, 2}, box{0, 0, 2, 2}, 1},
		{"half", box{0, 0, 2, 2}, box{1, 0, 3, 2}, 1.0 / 3},
		{"quarter inside", box{0, 0, 2, 2}, box{0, 0, 1, 1}, 0.25},
		{"touching", box{0, 0, 1, 1}, box{1, 0, 2, 1}, 0},
		{"apart", box{0, 0, 1, 1}, box{5, 5, 6, 6}, 0},
		{"turned inside out", box{1, 1, 0, 0}, box{0, 0, 1, 1}, 0},
	} {
		require.InDelta(t, c.want, iou(c.a, c.b), 1e-12, c.name)
		require.InDelta(t, c.want, iou(c.b, c.a), 1e-12, c.name)
	}
}
