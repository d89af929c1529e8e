package reading

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"volar/internal/coach"
	"volar/internal/program"
	"volar/internal/review"
	"volar/ui/look"
)

// trend shows how far a joint went, week by week, with the error of a reading,
// and the baseline.
type trend struct {
	widget.BaseWidget
	from, to program.Date
	joint    string
	weeks    []review.Week
	base     *coach.Range
	low, top float64
	drawn    *image.RGBA
	fresh    bool
}

func newTrend(from, to program.Date) *trend {
	t := &trend{from: from, to: to, low: -20, top: 100}
	t.ExtendBaseWidget(t)
	return t
}

// Draw shows a joint, which is named.
func (t *trend) Draw(joint string, weeks []review.Week, base *coach.Range) {
	t.joint, t.weeks, t.base, t.fresh = joint, weeks, base, false
	t.low, t.top = -20, 100
	for _, w := range weeks {
		t.top = max(t.top, w.Reach.MaxDeg+5)
		if w.Reach.MinJudged {
			t.low = min(t.low, w.Reach.MinDeg-5)
		}
	}
	t.Refresh()
}

// MinSize is part of fyne.CanvasObject.
func (t *trend) MinSize() fyne.Size { return fyne.NewSize(240, 150) }

// x is a day's place, 0 to 1.
func (t *trend) x(d program.Date) float32 {
	return (float32(t.from.DaysUntil(d)) + 0.5) / float32(t.from.DaysUntil(t.to)+1)
}

func (t *trend) paint(w, h int) image.Image {
	if t.drawn == nil || t.drawn.Rect.Dx() != w || t.drawn.Rect.Dy() != h {
		t.drawn, t.fresh = image.NewRGBA(image.Rect(0, 0, w, h)), false
	}
	if !t.fresh && w > 0 && h > 0 {
		unit := float32(1)
		if s := t.plotSize().Width; s > 0 {
			unit = float32(w) / s
		}
		t.draw(&sheet{t.drawn, unit}, themed())
		t.fresh = true
	}
	return t.drawn
}

func (t *trend) draw(p *sheet, in inks) {
	draw.Draw(p.img, p.img.Rect, image.NewUniform(in.paper), image.Point{}, draw.Src)
	w, h := float32(p.img.Rect.Dx()), float32(p.img.Rect.Dy())
	y := func(deg float64) float32 { return h * float32((t.top-deg)/(t.top-t.low)) }
	for _, m := range marks {
		p.box(0, y(m.deg)-p.unit/2, w, y(m.deg)+p.unit/2, in.grid)
	}
	if t.base != nil {
		for _, deg := range []float64{t.base.Start, t.base.End} {
			for x := float32(0); x < w; x += 12 * p.unit {
				p.box(x, y(deg)-p.unit, x+7*p.unit, y(deg)+p.unit, in.hatch)
			}
		}
	}
	var high, low [][2]float32
	mark := func(x float32, deg, se float64, c color.NRGBA, wedge bool) {
		if !math.IsNaN(se) {
			p.box(x-p.unit, y(deg+se), x+p.unit, y(deg-se), c)
			for _, e := range []float64{deg + se, deg - se} {
				p.box(x-5*p.unit, y(e)-p.unit, x+5*p.unit, y(e)+p.unit, c)
			}
		}
		n, cy := 5*p.unit, y(deg)
		if wedge {
			p.fill([][2]float32{{x - n, cy + n}, {x + n, cy + n}, {x, cy - n}}, c)
			return
		}
		var disc [][2]float32
		for i := range 16 {
			s, k := math.Sincos(2 * math.Pi * float64(i) / 16)
			disc = append(disc, [2]float32{x + n*float32(k), cy + n*float32(s)})
		}
		p.fill(disc, c)
	}
	for _, k := range t.weeks {
		x := w * min(max(t.x(k.Monday.AddDays(3)), 0.01), 0.99)
		high = append(high, [2]float32{x, y(k.Reach.MaxDeg)})
		mark(x, k.Reach.MaxDeg, k.Reach.MaxSE, in.line, false)
		if k.Reach.MinJudged {
			low = append(low, [2]float32{x, y(k.Reach.MinDeg)})
			mark(x, k.Reach.MinDeg, k.Reach.MinSE, in.caution, true)
		}
	}
	p.strokes(high, 1.5*p.unit, in.line)
	p.strokes(low, 1.5*p.unit, in.caution)
}

// plotSize is the size of the drawing within the widget.
func (t *trend) plotSize() fyne.Size {
	left, top, bottom := trendRoom()
	return t.Size().SubtractWidthHeight(left, top+bottom)
}

// trendRoom is what the labels take at the left, above and below.
func trendRoom() (left, top, bottom float32) {
	c := fyne.MeasureText("straight", theme.CaptionTextSize(), fyne.TextStyle{})
	return c.Width + 8, c.Height + 4, c.Height + 4
}

// CreateRenderer is part of fyne.Widget.
func (t *trend) CreateRenderer() fyne.WidgetRenderer {
	r := &trendRenderer{t: t, raster: canvas.NewRaster(t.paint), name: canvas.NewText("", color.Black)}
	for range marks {
		r.scale = append(r.scale, canvas.NewText("", color.Black))
	}
	for range 2 {
		r.days = append(r.days, canvas.NewText("", color.Black))
	}
	r.Refresh()
	return r
}

type trendRenderer struct {
	t           *trend
	raster      *canvas.Raster
	name        *canvas.Text
	scale, days []*canvas.Text
}

func (r *trendRenderer) Layout(size fyne.Size) {
	t := r.t
	left, top, bottom := trendRoom()
	r.name.Resize(r.name.MinSize())
	inner := t.plotSize()
	r.raster.Move(fyne.NewPos(left, top))
	r.raster.Resize(inner)
	for i, m := range marks {
		n := r.scale[i].MinSize()
		r.scale[i].Resize(n)
		r.scale[i].Move(fyne.NewPos(left-8-n.Width, top+inner.Height*float32((t.top-m.deg)/(t.top-t.low))-n.Height/2))
	}
	for i, d := range r.days {
		n := d.MinSize()
		d.Resize(n)
		x := left
		if i == 1 {
			x = size.Width - n.Width
		}
		d.Move(fyne.NewPos(x, size.Height-bottom+2))
	}
}

func (r *trendRenderer) MinSize() fyne.Size { return r.t.MinSize() }

func (r *trendRenderer) Refresh() {
	t := r.t
	r.name.Text = trendLabel(t.joint)
	for i, d := range []program.Date{t.from, t.to} {
		r.days[i].Text = time.Date(d.Year, d.Month, d.Day, 12, 0, 0, 0, time.UTC).Format("2 Jan")
	}
	for i, m := range marks {
		r.scale[i].Text = m.text
	}
	for _, x := range append(append([]*canvas.Text{r.name}, r.scale...), r.days...) {
		x.TextSize, x.Color = theme.CaptionTextSize(), theme.Color(look.Quiet)
	}
	r.name.Color = theme.Color(look.Ink)
	r.Layout(t.Size())
	if !t.fresh {
		r.raster.Refresh()
	}
	canvas.Refresh(t)
}

func (r *trendRenderer) Objects() []fyne.CanvasObject {
	out := []fyne.CanvasObject{r.raster, r.name}
	for _, x := range append(append([]*canvas.Text{}, r.scale...), r.days...) {
		out = append(out, x)
	}
	return out
}

func (r *trendRenderer) Destroy() {}
