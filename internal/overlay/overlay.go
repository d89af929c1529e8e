// Package overlay draws what was found onto a picture: the hand's skeleton,
// the joint in question, and short lines of text. It draws into packed RGBA
// pictures so that a video file, a window and a test share one drawing.
//
// Positions are pixels of the picture. A marked joint differs by shape (a
// double ring with a bar) as well as by colour, since colour alone is lost on
// some eyes and on paper. Drawing outside the picture is clipped, never an
// error. A Painter keeps its buffers and is for one goroutine at a time.
package overlay

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"
	"strings"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gomedium"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"

	"volar/internal/hand"
)

// Bones are the pairs of points that the skeleton joins.
var Bones = [...][2]int{
	{0, 1}, {1, 2}, {2, 3}, {3, 4},
	{0, 5}, {5, 6}, {6, 7}, {7, 8},
	{5, 9}, {9, 10}, {10, 11}, {11, 12},
	{9, 13}, {13, 14}, {14, 15}, {15, 16},
	{13, 17}, {0, 17}, {17, 18}, {18, 19}, {19, 20},
}

// The colours are chosen to keep 3:1 contrast against their dark edge, which
// is drawn under every stroke so that light and dark pictures both work.
var (
	edge     = color.NRGBA{12, 20, 28, 255}
	bone     = color.NRGBA{240, 244, 236, 255}
	point    = color.NRGBA{88, 196, 190, 255}
	warning  = color.NRGBA{255, 176, 32, 255}
	panel    = color.NRGBA{12, 20, 28, 215}
	panelInk = color.NRGBA{250, 250, 245, 255}
)

// Painter draws; the zero value is not usable, make one with New.
type Painter struct {
	ras   vector.Rasterizer
	faces map[float64]font.Face
	font  *opentype.Font
}

// New prepares a Painter.
func New() (*Painter, error) {
	f, err := opentype.Parse(gomedium.TTF)
	if err != nil {
		return nil, fmt.Errorf("overlay: read the built-in font: %w", err)
	}
	return &Painter{font: f, faces: map[float64]font.Face{}}, nil
}

// Hand draws the skeleton of the image points. Joints for which marked is
// true get the warning mark.
func (p *Painter) Hand(dst *image.RGBA, pts hand.Points, marked [hand.NumJoints]bool) {
	u := unit(dst)
	for _, b := range Bones {
		p.line(dst, pts[b[0]], pts[b[1]], 4.2*u, edge)
	}
	for _, b := range Bones {
		p.line(dst, pts[b[0]], pts[b[1]], 2.2*u, bone)
	}
	for _, q := range pts {
		p.ring(dst, q, 0, 4.4*u, edge)
		p.ring(dst, q, 0, 3.2*u, point)
	}
	for j := range marked {
		if !marked[j] {
			continue
		}
		_, at, _ := hand.Joint(j).Triple()
		p.mark(dst, pts[at], u)
	}
}

// mark is the warning sign on a joint: two rings and a bar above them.
func (p *Painter) mark(dst *image.RGBA, q hand.Point, u float64) {
	p.ring(dst, q, 8.5*u, 14.5*u, edge)
	p.ring(dst, q, 9.5*u, 13.5*u, warning)
	p.ring(dst, q, 0, 4*u, warning)
	a, b := q.Add(hand.Point{Y: -17 * u}), q.Add(hand.Point{Y: -27 * u})
	p.line(dst, a, b, 6.5*u, edge)
	p.line(dst, a, b, 4.5*u, warning)
}

// Line is one line of text in a panel. Tabs part it into columns, which line
// up over all lines that have them.
type Line struct {
	Text string
	// Warn draws the line in the warning colour with a bar before it.
	Warn bool
}

// Panel draws lines of text on a dark panel, its corner at the given place,
// and returns the rectangle it covers.
func (p *Painter) Panel(dst *image.RGBA, at image.Point, lines []Line) image.Rectangle {
	if len(lines) == 0 {
		return image.Rectangle{Min: at, Max: at}
	}
	u := unit(dst)
	size := math.Max(11, math.Round(15*u))
	face := p.face(size)
	step := int(math.Ceil(size * 1.4))
	pad := int(math.Ceil(size * 0.5))
	// Columns are as wide as their widest cell, and a gap.
	gap := int(math.Ceil(size * 0.8))
	var columns []int
	width := 0
	for _, l := range lines {
		cells := strings.Split(l.Text, "\t")
		if len(cells) == 1 {
			w := font.MeasureString(face, l.Text).Ceil()
			if l.Warn {
				w += pad + pad/2
			}
			width = max(width, w)
			continue
		}
		for i, c := range cells {
			w := font.MeasureString(face, c).Ceil() + gap
			if i == len(columns) {
				columns = append(columns, w)
			}
			columns[i] = max(columns[i], w)
		}
	}
	table := -gap
	for _, w := range columns {
		table += w
	}
	width = max(width, table)
	r := image.Rect(at.X, at.Y, at.X+width+2*pad, at.Y+len(lines)*step+pad)
	draw.Draw(dst, r.Intersect(dst.Rect), image.NewUniform(panel), image.Point{}, draw.Over)
	d := font.Drawer{Dst: dst, Face: face}
	for i, l := range lines {
		x, y := at.X+pad, at.Y+pad/2+i*step+int(size*1.1)
		ink := panelInk
		if l.Warn {
			ink = warning
			bar := image.Rect(x, y-int(size*0.85), x+pad/2, y+int(size*0.15))
			draw.Draw(dst, bar.Intersect(dst.Rect), image.NewUniform(warning), image.Point{}, draw.Src)
			x += pad + pad/2
		}
		d.Src = image.NewUniform(ink)
		for i, cell := range strings.Split(l.Text, "\t") {
			d.Dot = fixed.P(x, y)
			d.DrawString(cell)
			if i < len(columns) {
				x += columns[i]
			}
		}
	}
	return r
}

// unit scales strokes so that a skeleton looks the same in small and large
// pictures: 1 at 640 by 480.
func unit(dst *image.RGBA) float64 {
	return math.Max(0.5, math.Min(4, float64(dst.Rect.Dy())/480))
}

func (p *Painter) face(size float64) font.Face {
	if f := p.faces[size]; f != nil {
		return f
	}
	// NewFace fails only for a nil font, which New has ruled out.
	f, err := opentype.NewFace(p.font, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingFull})
	if err != nil {
		return nil
	}
	p.faces[size] = f
	return f
}

// line draws a stroke with round ends.
func (p *Painter) line(dst *image.RGBA, a, b hand.Point, width float64, c color.NRGBA) {
	if !finite(a) || !finite(b) {
		return
	}
	dx, dy := b.X-a.X, b.Y-a.Y
	l := math.Hypot(dx, dy)
	if l < 1e-6 {
		return
	}
	h := width / 2
	nx, ny := -dy/l*h, dx/l*h
	p.fill(dst, bounds(a, b, h+1), c, func(z *vector.Rasterizer, ox, oy float64) {
		m := func(x, y float64) (float32, float32) { return float32(x - ox), float32(y - oy) }
		z.MoveTo(m(a.X+nx, a.Y+ny))
		z.LineTo(m(b.X+nx, b.Y+ny))
		z.LineTo(m(b.X-nx, b.Y-ny))
		z.LineTo(m(a.X-nx, a.Y-ny))
		z.ClosePath()
	})
}

// ring fills the band between two radii; inner 0 gives a disc.
func (p *Painter) ring(dst *image.RGBA, q hand.Point, inner, outer float64, c color.NRGBA) {
	if !finite(q) {
		return
	}
	p.fill(dst, bounds(q, q, outer+1), c, func(z *vector.Rasterizer, ox, oy float64) {
		circle(z, q.X-ox, q.Y-oy, outer, false)
		if inner > 0 {
			// The rasteriser fills by winding number, so the hole runs the
			// other way round.
			circle(z, q.X-ox, q.Y-oy, inner, true)
		}
	})
}

func circle(z *vector.Rasterizer, x, y, r float64, back bool) {
	const n = 20
	for i := 0; i <= n; i++ {
		a := 2 * math.Pi * float64(i) / n
		if back {
			a = -a
		}
		px, py := float32(x+r*math.Cos(a)), float32(y+r*math.Sin(a))
		if i == 0 {
			z.MoveTo(px, py)
		} else {
			z.LineTo(px, py)
		}
	}
	z.ClosePath()
}

// fill rasterises a path over its own bounds only, which keeps a skeleton
// cheap in a large picture.
func (p *Painter) fill(dst *image.RGBA, r image.Rectangle, c color.NRGBA, path func(z *vector.Rasterizer, ox, oy float64)) {
	// The rasteriser clips a path to its own bounds but does not clip itself
	// to the picture, so the bounds are cut here.
	if r = r.Intersect(dst.Rect); r.Empty() {
		return
	}
	p.ras.Reset(r.Dx(), r.Dy())
	path(&p.ras, float64(r.Min.X), float64(r.Min.Y))
	p.ras.Draw(dst, r, image.NewUniform(c), image.Point{})
}

func bounds(a, b hand.Point, pad float64) image.Rectangle {
	return image.Rect(
		int(math.Floor(math.Min(a.X, b.X)-pad)), int(math.Floor(math.Min(a.Y, b.Y)-pad)),
		int(math.Ceil(math.Max(a.X, b.X)+pad)), int(math.Ceil(math.Max(a.Y, b.Y)+pad)))
}

func finite(p hand.Point) bool {
	return math.Abs(p.X) < 1e5 && math.Abs(p.Y) < 1e5
}
