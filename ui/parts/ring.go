package parts

import (
	"fmt"
	"image/color"
	"math"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"volar/ui/look"
)

// Ring shows how much of a time has passed, and the seconds that are left.
type Ring struct {
	widget.BaseWidget
	passed, of time.Duration
	word       string
	quiet      bool
}

// NewRing makes a ring that shows nothing.
func NewRing() *Ring {
	r := &Ring{}
	r.ExtendBaseWidget(r)
	return r
}

// Set changes the time, and the word below the seconds. Once all of the time
// has passed the ring is closed and in the colour of what is done.
func (r *Ring) Set(passed, of time.Duration, word string) {
	// A tenth of a second is as fine as the eye follows.
	passed = min(passed, of).Truncate(100 * time.Millisecond)
	if passed != r.passed || of != r.of || word != r.word || r.quiet {
		r.passed, r.of, r.word, r.quiet = passed, of, word, false
		r.Refresh()
	}
}

// Clear shows an empty ring and only a word.
func (r *Ring) Clear(word string) {
	if !r.quiet || r.word != word {
		r.quiet, r.word = true, word
		r.Refresh()
	}
}

// CreateRenderer is part of fyne.Widget.
func (r *Ring) CreateRenderer() fyne.WidgetRenderer {
	x := &ringRenderer{
		r: r, track: canvas.NewArc(0, 360, 0.84, color.Black), arc: canvas.NewArc(0, 0, 0.84, color.Black),
		seconds: canvas.NewText("", color.Black), word: canvas.NewText("", color.Black),
	}
	x.seconds.TextStyle.Bold = true
	x.seconds.Alignment, x.word.Alignment = fyne.TextAlignCenter, fyne.TextAlignCenter
	x.Refresh()
	return x
}

type ringRenderer struct {
	r             *Ring
	track, arc    *canvas.Arc
	seconds, word *canvas.Text
}

func (x *ringRenderer) MinSize() fyne.Size { return fyne.NewSquareSize(90) }

func (x *ringRenderer) Layout(size fyne.Size) {
	n := min(size.Width, size.Height)
	at := fyne.NewPos((size.Width-n)/2, (size.Height-n)/2)
	for _, a := range []*canvas.Arc{x.track, x.arc} {
		a.Move(at)
		a.Resize(fyne.NewSquareSize(n))
	}
	// Both stand inside the ring, which may be small, and are the larger the
	// more room there is.
	x.seconds.TextSize = min(theme.Size(look.SizeCount), n*0.3)
	x.word.TextSize = min(theme.Size(look.SizeFigure), n*0.15)
	s, w := x.seconds.MinSize(), x.word.MinSize()
	top := (size.Height - s.Height - w.Height) / 2
	if x.seconds.Text == "" {
		top = (size.Height-w.Height)/2 - s.Height
	}
	x.seconds.Move(fyne.NewPos(0, top))
	x.seconds.Resize(fyne.NewSize(size.Width, s.Height))
	x.word.Move(fyne.NewPos(0, top+s.Height))
	x.word.Resize(fyne.NewSize(size.Width, w.Height))
}

func (x *ringRenderer) Refresh() {
	r := x.r
	share, colour := 0.0, look.Lead
	if !r.quiet && r.of > 0 {
		share = float64(r.passed) / float64(r.of)
		if share >= 1 {
			colour = look.Done
		}
	}
	x.track.FillColor = theme.Color(look.Track)
	x.arc.FillColor = theme.Color(colour)
	x.arc.EndAngle = float32(360 * share)
	x.arc.Hidden = share == 0
	x.seconds.Text = ""
	if !r.quiet && r.of > 0 {
		x.seconds.Text = fmt.Sprintf("%.0f", math.Ceil((r.of - r.passed).Seconds()))
	}
	x.seconds.Color = theme.Color(look.Ink)
	x.word.Text, x.word.Color = r.word, theme.Color(look.Quiet)
	x.Layout(r.Size())
	for _, o := range x.Objects() {
		canvas.Refresh(o)
	}
}

func (x *ringRenderer) Objects() []fyne.CanvasObject {
	return []fyne.CanvasObject{x.track, x.arc, x.seconds, x.word}
}

func (x *ringRenderer) Destroy() {}
