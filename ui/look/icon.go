package look

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"

	"fyne.io/fyne/v2"
	"golang.org/x/image/vector"
)

// Icon is the program's icon as a resource for the window.
func Icon() fyne.Resource {
	var b bytes.Buffer
	if err := png.Encode(&b, IconImage(256)); err != nil {
		return nil // a picture in memory always encodes
	}
	return fyne.NewStaticResource("volar.png", b.Bytes())
}

// IconImage draws the icon, n pixels a side: a palm with its four fingers on a
// disc, and the arc through which a finger bends.
func IconImage(n int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, n, n))
	d := drawing{img: img, k: float64(n) / 64}
	d.ellipse(32, 32, 31, 31, light[Lead])
	hand := rgb(0xfffefa)
	d.bar(24, 40, 20, 18, 3.4, hand)
	d.bar(30, 38, 29, 12, 3.4, hand)
	d.bar(36, 38, 38, 14, 3.4, hand)
	d.bar(42, 41, 46, 22, 3.0, hand)
	d.bar(25, 47, 14, 38, 3.4, hand)
	d.ellipse(33, 44, 11.5, 10.5, hand)
	d.bar(26, 53, 40, 53, 4, hand)
	// The arc of motion, and its end.
	for a := 200.0; a < 330; a += 4 {
		x, y := 32+25.5*math.Cos(a*math.Pi/180), 32+25.5*math.Sin(a*math.Pi/180)
		d.ellipse(x, y, 1.5, 1.5, dark[Caution])
	}
	d.ellipse(32+25.5*math.Cos(330*math.Pi/180), 32+25.5*math.Sin(330*math.Pi/180), 3.4, 3.4, dark[Caution])
	return img
}

// drawing fills shapes on a grid of 64 by 64.
type drawing struct {
	img *image.RGBA
	k   float64
}

func (d *drawing) fill(pts [][2]float64, c color.NRGBA) {
	z := vector.NewRasterizer(d.img.Rect.Dx(), d.img.Rect.Dy())
	for i, p := range pts {
		x, y := float32(p[0]*d.k), float32(p[1]*d.k)
		if i == 0 {
			z.MoveTo(x, y)
		} else {
			z.LineTo(x, y)
		}
	}
	z.ClosePath()
	z.Draw(d.img, d.img.Rect, image.NewUniform(c), image.Point{})
}

func (d *drawing) ellipse(x, y, rx, ry float64, c color.NRGBA) {
	const n = 48
	pts := make([][2]float64, n)
	for i := range pts {
		s, co := math.Sincos(2 * math.Pi * float64(i) / n)
		pts[i] = [2]float64{x + rx*co, y + ry*s}
	}
	d.fill(pts, c)
}

// bar is a stroke with round ends.
func (d *drawing) bar(x0, y0, x1, y1, r float64, c color.NRGBA) {
	a := math.Atan2(y1-y0, x1-x0)
	const n = 16
	var pts [][2]float64
	for i := 0; i <= n; i++ {
		s, co := math.Sincos(a + math.Pi/2 + math.Pi*float64(i)/n)
		pts = append(pts, [2]float64{x0 + r*co, y0 + r*s})
	}
	for i := 0; i <= n; i++ {
		s, co := math.Sincos(a - math.Pi/2 + math.Pi*float64(i)/n)
		pts = append(pts, [2]float64{x1 + r*co, y1 + r*s})
	}
	d.fill(pts, c)
}
