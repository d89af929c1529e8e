package parts

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"volar/ui/look"
)

// Sign is a small drawing that says a state by its shape as well as its
// colour.
type Sign int8

// The signs: a tick for done, an empty ring for still to do, a bar across a
// ring for left out, a bar over a dot in a triangle's place for a fault.
const (
	NoSign Sign = iota
	ToDo
	DoneSign
	LeftOut
	CautionSign
	// Point stands before one of several sentences.
	Point
)

func (s Sign) colour() fyne.ThemeColorName {
	switch s {
	case DoneSign:
		return look.Done
	case CautionSign:
		return look.Caution
	case LeftOut:
		return look.Quiet
	}
	return look.Lead
}

// Badge draws a sign.
type Badge struct {
	widget.BaseWidget
	sign Sign
	size float32
}

// Signed is words with a sign before them, as large as they are.
func Signed(s Sign, words *Words) *fyne.Container {
	return Row(8, []float32{0, 1}, NewBadge(s, 1.25*theme.TextSize()), words)
}

// NewBadge draws a sign in a square of the given size.
func NewBadge(s Sign, size float32) *Badge {
	b := &Badge{sign: s, size: size}
	b.ExtendBaseWidget(b)
	return b
}

// Set changes the sign.
func (b *Badge) Set(s Sign) {
	if s != b.sign {
		b.sign = s
		b.Refresh()
	}
}

// MinSize is the badge's square.
func (b *Badge) MinSize() fyne.Size { return fyne.NewSquareSize(b.size) }

// CreateRenderer is part of fyne.Widget.
func (b *Badge) CreateRenderer() fyne.WidgetRenderer {
	r := &badgeRenderer{b: b}
	r.Refresh()
	return r
}

type badgeRenderer struct {
	b       *Badge
	objects []fyne.CanvasObject
}

func (r *badgeRenderer) Layout(size fyne.Size) {
	r.objects = nil
	n := min(size.Width, size.Height, r.b.size)
	at := func(x, y float32) fyne.Position {
		return fyne.NewPos((size.Width-n)/2+x*n, (size.Height-n)/2+y*n)
	}
	colour := theme.Color(r.b.sign.colour())
	disc := func(x, y, radius float32, filled bool) {
		c := canvas.NewCircle(colour)
		if !filled {
			c.FillColor, c.StrokeColor, c.StrokeWidth = nil, colour, n*0.09
		}
		c.Move(at(x-radius, y-radius))
		c.Resize(fyne.NewSquareSize(2 * radius * n))
		r.objects = append(r.objects, c)
	}
	line := func(x0, y0, x1, y1, width float32, ink fyne.ThemeColorName) {
		l := canvas.NewLine(theme.Color(ink))
		l.StrokeWidth = width * n
		l.Position1, l.Position2 = at(x0, y0), at(x1, y1)
		r.objects = append(r.objects, l)
	}
	switch r.b.sign {
	case ToDo:
		disc(0.5, 0.5, 0.42, false)
	case Point:
		disc(0.5, 0.5, 0.2, true)
	case DoneSign:
		disc(0.5, 0.5, 0.46, true)
		line(0.28, 0.52, 0.44, 0.68, 0.11, look.OnDone)
		line(0.43, 0.68, 0.74, 0.34, 0.11, look.OnDone)
	case LeftOut:
		disc(0.5, 0.5, 0.42, false)
		line(0.28, 0.5, 0.72, 0.5, 0.11, look.Quiet)
	case CautionSign:
		line(0.5, 0.04, 0.04, 0.92, 0.1, look.Caution)
		line(0.5, 0.04, 0.96, 0.92, 0.1, look.Caution)
		line(0.04, 0.92, 0.96, 0.92, 0.1, look.Caution)
		line(0.5, 0.34, 0.5, 0.62, 0.12, look.Caution)
		disc(0.5, 0.76, 0.07, true)
	}
}

func (r *badgeRenderer) MinSize() fyne.Size { return r.b.MinSize() }
func (r *badgeRenderer) Refresh() {
	r.Layout(r.b.Size())
	canvas.Refresh(r.b)
}
func (r *badgeRenderer) Objects() []fyne.CanvasObject { return r.objects }
func (r *badgeRenderer) Destroy()                     {}
