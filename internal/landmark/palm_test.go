package landmark

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
)

func TestAnchors(t *testing.T) {
	// Worked from the options of MediaPipe's SsdAnchorsCalculator in
	// palm_detection_cpu.pbtxt: strides 8, 16, 16, 16, two anchors a cell and
	// layer, offset 0.5.
	a := anchors()
	require.Len(t, a, 2016)
	for _, c := range []struct {
		i    int
		x, y float64
	}{
		{0, 0.0208333, 0.0208333}, {1, 0.0208333, 0.0208333}, {2, 0.0625, 0.0208333},
		{1151, 0.9791667, 0.9791667}, {1152, 0.0416667, 0.0416667}, {1158, 0.125, 0.0416667},
		{2015, 0.9583333, 0.9583333},
	} {
		require.InDelta(t, c.x, a[c.i][0], 1e-6, "anchor %d", c.i)
		require.InDelta(t, c.y, a[c.i][1], 1e-6, "anchor %d", c.i)
	}
}

func TestDecodePalms(t *testing.T) {
	// Anchor 2 lies at (0.0625, 0.0208333) = (12, 4) of 192.
	a := anchors()
	boxes, scores := make([]float32, 2016*18), make([]float32, 2016)
	for i := range scores {
		scores[i] = -1000 // beyond the clip
	}
	b := boxes[2*18:]
	copy(b, []float32{96, 48, 38.4, 19.2}) // centre (108, 52), 38.4 by 19.2
	for k := range 7 {
		b[4+2*k], b[5+2*k] = float32(k), float32(10*k)
	}
	scores[2] = 0
	got := decodePalms(nil, boxes, scores, a, 0.5)
	require.Len(t, got, 1)
	p := got[0]
	require.InDelta(t, 0.5, p.score, 1e-12)
	require.InDelta(t, (108-19.2)/192, p.x0, 1e-6)
	require.InDelta(t, (108+19.2)/192, p.x1, 1e-6)
	require.InDelta(t, (52-9.6)/192, p.y0, 1e-6)
	require.InDelta(t, (52+9.6)/192, p.y1, 1e-6)
	require.InDelta(t, (12+3.0)/192, p.points[3].X, 1e-6)
	require.InDelta(t, (4+30.0)/192, p.points[3].Y, 1e-6)

	require.Empty(t, decodePalms(nil, boxes, scores, a, 0.5001), "below the threshold")

	scores[2] = 1000
	require.InDelta(t, 1, decodePalms(nil, boxes, scores, a, 0.5)[0].score, 1e-12, "clipped, not overflowing")

	b[2] = -1
	require.Empty(t, decodePalms(nil, boxes, scores, a, 0.5), "a box turned inside out")
	b[2] = float32(math.NaN())
	require.Empty(t, decodePalms(nil, boxes, scores, a, 0.5), "a box that is not a number")
	b[2], scores[2] = 10, float32(math.NaN())
	require.Empty(t, decodePalms(nil, boxes, scores, a, 0.5), "a score that is not a number")
}

func TestMerge(t *testing.T) {
	square := func(score, x, y, side float64) palm {
		p := palm{score: score, x0: x, y0: y, x1: x + side, y1: y + side}
		for i := range p.points {
			p.points[i] = hand.Point{X: x, Y: y}
		}
		return p
	}
	for _, c := range []struct {
		name string
		in   []palm
		want []palm
	}{
		{name: "none"},
		{"one", []palm{square(0.7, 0, 0, 1)}, []palm{square(0.7, 0, 0, 1)}},
		{"two apart, best first", []palm{square(0.6, 0, 0, 1), square(0.9, 3, 0, 1)},
			[]palm{square(0.9, 3, 0, 1), square(0.6, 0, 0, 1)}},
		// IoU 0.9/1.1: merged to (0.8*0 + 0.4*0.1)/1.2, with the best score.
		{"two on one palm", []palm{square(0.4, 0.1, 0, 1), square(0.8, 0, 0, 1)},
			[]palm{square(0.8, 0.1/3, 0, 1)}},
		// IoU 0.4/1.6 = 0.25 is under 0.3.
		{"two that overlap a little", []palm{square(0.8, 0, 0, 1), square(0.7, 0.6, 0, 1)},
			[]palm{square(0.8, 0, 0, 1), square(0.7, 0.6, 0, 1)}},
		// The third overlaps only the second, which is gone with the first.
		{"a chain", []palm{square(0.9, 0, 0, 1), square(0.3, 0.5, 0, 1), square(0.6, 1, 0, 1)},
			[]palm{square(0.9, 0.125, 0, 1), square(0.6, 1, 0, 1)}},
		{"a box without area is kept alone", []palm{square(0.9, 0, 0, 0)}, []palm{square(0.9, 0, 0, 0)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := palmDetector{candidates: c.in}
			d.merge()
			require.Len(t, d.kept, len(c.want))
			for i, w := range c.want {
				g := d.kept[i]
				require.InDelta(t, w.score, g.score, 1e-9)
				require.InDelta(t, w.x0, g.x0, 1e-9)
				require.InDelta(t, w.y0, g.y0, 1e-9)
				require.InDelta(t, w.x1, g.x1, 1e-9)
				require.InDelta(t, w.y1, g.y1, 1e-9)
				require.InDelta(t, w.points[6].X, g.points[6].X, 1e-9)
			}
		})
	}
}

func TestPalmToPicture(t *testing.T) {
	// A letterbox of 640 by 480: the square of 640 starts 80 above the
	// picture, so v = 0.125 is the picture's first row.
	p := palm{x0: 0.5, y0: 0.125, x1: 0.75, y1: 0.375}
	p.points[0] = hand.Point{X: 1, Y: 0.875}
	p.toPicture(place(wholePicture(640, 480)))
	require.InDeltaSlice(t, []float64{320, 0, 480, 160}, []float64{p.x0, p.y0, p.x1, p.y1}, 1e-9)
	require.InDelta(t, 640, p.points[0].X, 1e-9)
	require.InDelta(t, 480, p.points[0].Y, 1e-9)
}
