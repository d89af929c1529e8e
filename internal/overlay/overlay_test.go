package overlay

import (
	"image"
	"image/color"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
)

func spread() hand.Points {
	var p hand.Points
	for i := range p {
		p[i] = hand.Point{X: 100 + float64(i%5)*60, Y: 380 - float64(i/5)*70}
	}
	return p
}

func grey() *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, 640, 480))
	for i := range m.Pix {
		m.Pix[i] = 128
	}
	return m
}

func TestHandDrawsBonesAndPoints(t *testing.T) {
	p, err := New()
	require.NoError(t, err)
	m, pts := grey(), spread()
	p.Hand(m, pts, [hand.NumJoints]bool{})
	for i, q := range pts {
		require.Equal(t, color.RGBA{88, 196, 190, 255}, m.RGBAAt(int(q.X), int(q.Y)), "point %d", i)
	}
	require.Equal(t, color.RGBA{128, 128, 128, 128}, m.RGBAAt(5, 5), "far from the hand nothing changes")
}

func TestMarkedJointDiffersByShapeAndColour(t *testing.T) {
	p, err := New()
	require.NoError(t, err)
	pts := spread()
	plain, marked := grey(), grey()
	p.Hand(plain, pts, [hand.NumJoints]bool{})
	var on [hand.NumJoints]bool
	on[hand.IndexPIP] = true
	p.Hand(marked, pts, on)
	q := pts[hand.Index.PIP()]
	// The bar above the joint and the ring around it are the shape.
	for _, d := range []image.Point{{0, -22}, {11, 0}, {0, 11}} {
		at := image.Pt(int(q.X), int(q.Y)).Add(d)
		require.Equal(t, color.RGBA{255, 176, 32, 255}, marked.RGBAAt(at.X, at.Y), "offset %v", d)
		require.NotEqual(t, plain.RGBAAt(at.X, at.Y), marked.RGBAAt(at.X, at.Y))
	}
}

func TestDrawingOutsideIsClipped(t *testing.T) {
	p, err := New()
	require.NoError(t, err)
	m := grey()
	pts := spread()
	pts[8] = hand.Point{X: -900, Y: 1e9}
	pts[12] = hand.Point{X: math.NaN(), Y: math.Inf(1)}
	pts[16] = hand.Point{X: 700, Y: 500}
	require.NotPanics(t, func() { p.Hand(m, pts, [hand.NumJoints]bool{}) })
}

func TestPanelHoldsItsText(t *testing.T) {
	p, err := New()
	require.NoError(t, err)
	for _, size := range []image.Point{{160, 120}, {640, 480}, {1920, 1080}} {
		m := image.NewRGBA(image.Rectangle{Max: size})
		r := p.Panel(m, image.Pt(4, 4), []Line{{Text: "3 repetitions"}, {Text: "index\tMCP 52°\tPIP 61°"}, {Text: "a longer name\tMCP 52°\tPIP 61°"}, {Text: "index PIP 14° past straight", Warn: true}})
		require.False(t, r.Empty())
		ink := 0
		for y := 0; y < size.Y; y++ {
			for x := 0; x < size.X; x++ {
				c := m.RGBAAt(x, y)
				if c.A == 0 {
					continue
				}
				require.True(t, image.Pt(x, y).In(r), "text stays on its panel at %d,%d of %v", x, y, size)
				if c.R > 200 {
					ink++
				}
			}
		}
		require.Greater(t, ink, 50)
	}
}

func BenchmarkHand(b *testing.B) {
	p, err := New()
	require.NoError(b, err)
	m, pts := grey(), spread()
	for b.Loop() {
		p.Hand(m, pts, [hand.NumJoints]bool{})
	}
}
