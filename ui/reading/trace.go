package reading

import (
	"image"
	"image/color"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"volar/internal/program"
	"volar/ui/look"
	"volar/ui/parts"
)

// trace shows the course of a joint with the present place as a line. A touch
// goes to the time that is touched.
type trace struct {
	widget.BaseWidget
	c     *curve
	at    time.Duration
	value string
	note  string
	seek  func(time.Duration)
	drawn *image.RGBA
	fresh bool
}

func newTrace(seek func(time.Duration)) *trace {
	t := &trace{seek: seek}
	t.ExtendBaseWidget(t)
	return t
}

// Draw shows another curve, or the same from another place.
func (t *trace) Draw(c *curve) {
	c.reach()
	t.c, t.fresh = c, false
	t.Refresh()
}

// Place moves the line, and says what the joint's angle is there and what is to
// be known with it.
func (t *trace) Place(at time.Duration, value, note string) {
	if at != t.at || value != t.value || note != t.note {
		t.at, t.value, t.note = at, value, note
		t.Refresh()
	}
}

// Tapped is part of fyne.Tappable.
func (t *trace) Tapped(ev *fyne.PointEvent) {
	if t.c == nil || t.seek == nil {
		return
	}
	left, w := t.axis(), t.Size().Width
	if ev.Position.X >= left && w > left {
		t.seek(t.c.lens.Time(float64((ev.Position.X - left) / (w - left))))
	}
}

// MinSize is part of fyne.CanvasObject.
func (t *trace) MinSize() fyne.Size {
	return fyne.NewSize(t.axis()+160, t.title()+60)
}

// name and limit are what stands above the curve.
func (t *trace) name() string {
	if t.c == nil {
		return ""
	}
	s := program.JointWords(t.c.trace.Joint)
	if t.value != "" {
		s += ": " + t.value
	}
	return s
}

func (t *trace) limit() string {
	if t.c == nil {
		return ""
	}
	l := limitWords(t.c.trace.Limit)
	switch {
	case t.note == "":
		return l
	case parts.Large():
		return t.note // the limit is drawn
	}
	return t.note + "; " + l
}

// lines is how many lines name and limit need: one where they fit side by side.
func (t *trace) lines() float32 {
	wide := fyne.MeasureText(t.name(), theme.TextSize(), fyne.TextStyle{Bold: true}).Width + fyne.MeasureText(t.limit(), theme.TextSize(), fyne.TextStyle{}).Width + 16
	if wide > t.Size().Width-t.axis() && t.Size().Width > 0 {
		return 2
	}
	return 1
}

// axis is the width of the scale's labels, title the height of what stands
// above.
func (t *trace) axis() float32 {
	return fyne.MeasureText("straight", theme.CaptionTextSize(), fyne.TextStyle{}).Width + 8
}

func (t *trace) title() float32 {
	return t.lines()*fyne.MeasureText("Mg", theme.TextSize(), fyne.TextStyle{Bold: true}).Height + 2
}

// CreateRenderer is part of fyne.Widget.
func (t *trace) CreateRenderer() fyne.WidgetRenderer {
	r := &traceRenderer{t: t, line: canvas.NewLine(color.Black), name: canvas.NewText("", color.Black), limit: canvas.NewText("", color.Black)}
	r.raster = canvas.NewRaster(t.paint)
	r.name.TextStyle.Bold = true
	for range marks {
		r.scale = append(r.scale, canvas.NewText("", color.Black))
	}
	r.Refresh()
	return r
}

// paint draws the curve once for a size.
func (t *trace) paint(w, h int) image.Image {
	if t.drawn == nil || t.drawn.Rect.Dx() != w || t.drawn.Rect.Dy() != h {
		t.drawn, t.fresh = image.NewRGBA(image.Rect(0, 0, w, h)), false
	}
	if !t.fresh && t.c != nil && w > 0 && h > 0 {
		unit := float32(1)
		if s := t.Size().Width - t.axis(); s > 0 {
			unit = float32(w) / s
		}
		t.c.draw(t.drawn, themed(), unit)
		t.fresh = true
	}
	return t.drawn
}

// themed takes the colours of a plot from the look.
func themed() inks {
	c := func(n fyne.ThemeColorName) color.NRGBA { return color.NRGBAModel.Convert(theme.Color(n)).(color.NRGBA) }
	in := inks{paper: c(look.Card), line: c(look.Lead), limit: c(look.Hurt), grid: c(look.Track), hatch: c(look.Edge), caution: c(look.Caution), done: c(look.Done)}
	in.band = in.line
	in.band.A = 60
	return in
}

// marks are the degrees that the scale names.
var marks = []struct {
	deg  float64
	text string
}{{0, "straight"}, {45, "45°"}, {90, "90°"}}

type traceRenderer struct {
	t           *trace
	raster      *canvas.Raster
	line        *canvas.Line
	name, limit *canvas.Text
	scale       []*canvas.Text
}

func (r *traceRenderer) Layout(size fyne.Size) {
	t := r.t
	top, left := t.title(), t.axis()
	n, l := r.name.MinSize(), r.limit.MinSize()
	r.name.Move(fyne.NewPos(left, 0))
	r.name.Resize(n)
	r.limit.Move(fyne.NewPos(size.Width-l.Width, 0))
	if t.lines() > 1 {
		r.limit.Move(fyne.NewPos(left, n.Height))
	}
	r.limit.Resize(l)
	r.raster.Move(fyne.NewPos(left, top))
	r.raster.Resize(fyne.NewSize(size.Width-left, size.Height-top))
	r.place(size)
}

// place puts the line and the scale.
func (r *traceRenderer) place(size fyne.Size) {
	t := r.t
	if t.c == nil {
		r.line.Hidden = true
		return
	}
	top, left := t.title(), t.axis()
	x := t.c.lens.Share(t.at)
	r.line.Hidden = x < 0 || x > 1
	px := left + float32(x)*(size.Width-left)
	r.line.Position1, r.line.Position2 = fyne.NewPos(px, top), fyne.NewPos(px, size.Height)
	h := size.Height - top
	base := h - 2*h*barShare - 4
	for i, m := range marks {
		s := r.scale[i]
		s.Hidden = m.deg < t.c.low || m.deg > t.c.top
		n := s.MinSize()
		s.Resize(n)
		y := top + base*float32((t.c.top-m.deg)/(t.c.top-t.c.low))
		s.Move(fyne.NewPos(left-8-n.Width, y-n.Height/2))
	}
}

func (r *traceRenderer) MinSize() fyne.Size { return r.t.MinSize() }

func (r *traceRenderer) Refresh() {
	t := r.t
	r.name.Text, r.limit.Text = t.name(), t.limit()
	r.name.TextSize, r.name.Color = theme.TextSize(), theme.Color(look.Ink)
	r.limit.TextSize, r.limit.Color = theme.TextSize(), theme.Color(look.Quiet)
	for i, m := range marks {
		r.scale[i].Text, r.scale[i].TextSize, r.scale[i].Color = m.text, theme.CaptionTextSize(), theme.Color(look.Quiet)
	}
	r.line.StrokeColor, r.line.StrokeWidth = theme.Color(look.Ink), 2
	r.Layout(t.Size())
	if !t.fresh {
		r.raster.Refresh()
	}
	canvas.Refresh(r.name)
	canvas.Refresh(r.limit)
	canvas.Refresh(r.line)
}

func (r *traceRenderer) Objects() []fyne.CanvasObject {
	out := []fyne.CanvasObject{r.raster, r.line, r.name, r.limit}
	for _, s := range r.scale {
		out = append(out, s)
	}
	return out
}

func (r *traceRenderer) Destroy() {}
