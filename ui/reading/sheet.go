package reading

import (
	"image"
	"image/color"
	"image/draw"
	"math"

	"golang.org/x/image/vector"
)

// sheet is a picture that is drawn into; unit is a pixel of the screen in its
// own.
type sheet struct {
	img  *image.RGBA
	unit float32
}

func (p *sheet) fill(pts [][2]float32, c color.NRGBA) {
	if len(pts) < 3 {
		return
	}
	z := vector.NewRasterizer(p.img.Rect.Dx(), p.img.Rect.Dy())
	z.MoveTo(pts[0][0], pts[0][1])
	for _, q := range pts[1:] {
		z.LineTo(q[0], q[1])
	}
	z.ClosePath()
	z.Draw(p.img, p.img.Rect, image.NewUniform(c), image.Point{})
}

func (p *sheet) box(x0, y0, x1, y1 float32, c color.NRGBA) {
	r := image.Rect(int(x0+0.5), int(y0+0.5), int(x1+0.5), int(y1+0.5)).Intersect(p.img.Rect)
	draw.Draw(p.img, r, image.NewUniform(c), image.Point{}, draw.Over)
}

func (p *sheet) frame(x0, y0, x1, y1 float32, c color.NRGBA) {
	u := p.unit
	p.box(x0, y0, x1, y0+u, c)
	p.box(x0, y1-u, x1, y1, c)
	p.box(x0, y0, x0+u, y1, c)
	p.box(x1-u, y0, x1, y1, c)
}

// strokes draws lines through points. All their pieces turn the same way round,
// so that where they overlap nothing cancels.
func (p *sheet) strokes(pts [][2]float32, width float32, c color.NRGBA) {
	z := vector.NewRasterizer(p.img.Rect.Dx(), p.img.Rect.Dy())
	for i := 1; i < len(pts); i++ {
		x0, y0, x1, y1 := pts[i-1][0], pts[i-1][1], pts[i][0], pts[i][1]
		n := float32(math.Hypot(float64(x1-x0), float64(y1-y0)))
		if n == 0 {
			continue
		}
		ux, uy := (x1-x0)/n*width/2, (y1-y0)/n*width/2
		// A little longer at both ends, so that corners are closed.
		x0, y0, x1, y1 = x0-ux/2, y0-uy/2, x1+ux/2, y1+uy/2
		z.MoveTo(x0-uy, y0+ux)
		z.LineTo(x1-uy, y1+ux)
		z.LineTo(x1+uy, y1-ux)
		z.LineTo(x0+uy, y0-ux)
		z.ClosePath()
	}
	z.Draw(p.img, p.img.Rect, image.NewUniform(c), image.Point{})
}
