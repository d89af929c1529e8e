package reading

import (
	"image/color"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"volar/internal/review"
	"volar/ui/look"
)

// strip is the whole session in one line: its exercises as blocks, its flagged
// moments as bars that stand out of it, what is drawn below as a frame, and the
// present place. A touch goes there.
type strip struct {
	widget.BaseWidget
	f    *file
	lens review.Lens
	at   time.Duration
	seek func(time.Duration)
}

func newStrip(f *file, seek func(time.Duration)) *strip {
	s := &strip{f: f, seek: seek}
	s.ExtendBaseWidget(s)
	return s
}

// Place moves the present place and the frame.
func (s *strip) Place(at time.Duration, l review.Lens) {
	s.at, s.lens = at, l
	s.Refresh()
}

// Tapped is part of fyne.Tappable.
func (s *strip) Tapped(ev *fyne.PointEvent) {
	if w := s.Size().Width; w > 0 {
		s.seek(time.Duration(float64(ev.Position.X/w) * float64(s.f.s.Ended)))
	}
}

// MinSize is part of fyne.CanvasObject.
func (s *strip) MinSize() fyne.Size { return fyne.NewSize(200, 44) }

// CreateRenderer is part of fyne.Widget.
func (s *strip) CreateRenderer() fyne.WidgetRenderer {
	r := &stripRenderer{s: s, frame: canvas.NewRectangle(color.Transparent), line: canvas.NewLine(color.Black)}
	for range s.f.s.Exercises {
		r.blocks = append(r.blocks, canvas.NewRectangle(color.Black))
	}
	for range s.f.moments {
		r.bars = append(r.bars, canvas.NewRectangle(color.Black))
	}
	r.Refresh()
	return r
}

type stripRenderer struct {
	s            *strip
	blocks, bars []*canvas.Rectangle
	frame        *canvas.Rectangle
	line         *canvas.Line
}

func (r *stripRenderer) Layout(size fyne.Size) {
	s := r.s
	end := max(s.f.s.Ended, time.Millisecond)
	x := func(t time.Duration) float32 { return size.Width * float32(t) / float32(end) }
	for i, b := range r.blocks {
		e := &s.f.s.Exercises[i]
		to := e.End
		if to <= e.Start {
			to = end
		}
		b.Move(fyne.NewPos(x(e.Start), 12))
		b.Resize(fyne.NewSize(max(2, x(to)-x(e.Start)-2), size.Height-22))
	}
	for i, b := range r.bars {
		m := &s.f.moments[i]
		b.Move(fyne.NewPos(x(m.Start), 4))
		b.Resize(fyne.NewSize(max(4, x(m.End)-x(m.Start)), size.Height-6))
	}
	r.frame.Move(fyne.NewPos(x(s.lens.From), 8))
	r.frame.Resize(fyne.NewSize(max(6, x(s.lens.Span)), size.Height-14))
	r.line.Position1, r.line.Position2 = fyne.NewPos(x(s.at), 0), fyne.NewPos(x(s.at), size.Height)
}

func (r *stripRenderer) MinSize() fyne.Size { return r.s.MinSize() }

func (r *stripRenderer) Refresh() {
	for _, b := range r.blocks {
		b.FillColor, b.StrokeColor, b.StrokeWidth, b.CornerRadius = theme.Color(look.Track), theme.Color(look.Edge), 1, 4
	}
	for _, b := range r.bars {
		b.FillColor = theme.Color(look.Caution)
	}
	r.frame.StrokeColor, r.frame.StrokeWidth, r.frame.CornerRadius = theme.Color(look.Lead), 2, 4
	r.line.StrokeColor, r.line.StrokeWidth = theme.Color(look.Ink), 3
	r.Layout(r.s.Size())
	canvas.Refresh(r.s)
}

func (r *stripRenderer) Objects() []fyne.CanvasObject {
	var out []fyne.CanvasObject
	for _, b := range r.blocks {
		out = append(out, b)
	}
	for _, b := range r.bars {
		out = append(out, b)
	}
	return append(out, r.frame, r.line)
}

func (r *stripRenderer) Destroy() {}
