package reading

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"time"

	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/review"
)

// curve is what is drawn of a joint: its trace with error band, the limit that
// was in force, and what happened meanwhile.
type curve struct {
	trace review.Trace
	// side is whose joint it is.
	side hand.Side
	// from and to are the exercise's own time; outside it nothing is hatched.
	from, to time.Duration
	spans    []review.Span
	moments  []review.Moment
	lens     review.Lens
	low, top float64 // degrees at the lower and upper edge
}

// inks are the colours of a plot.
type inks struct {
	paper, line, band, limit, grid, hatch, caution, done color.NRGBA
}

// height of the two bars below the curve, as a share of the plot's height.
const barShare = 0.055

// reach sets the degrees at the edges so that all of the trace, its limits and
// the usual range of a finger joint lie within.
func (c *curve) reach() {
	c.low, c.top = -20, 100
	for _, run := range c.trace.Runs {
		for _, p := range run {
			c.low, c.top = min(c.low, p.Deg-p.SE-5), max(c.top, p.Deg+p.SE+5)
		}
	}
	for _, l := range []*float64{c.trace.Limit.Lower, c.trace.Limit.Upper} {
		if l != nil {
			c.low, c.top = min(c.low, *l-10), max(c.top, *l+10)
		}
	}
	c.low, c.top = max(c.low, -90), min(c.top, 150)
}

// plot draws curves into a picture.
type plot struct {
	sheet
	c    *curve
	in   inks
	base float32 // where the curve's part ends and the bars begin
}

func (c *curve) draw(img *image.RGBA, in inks, unit float32) {
	h := float32(img.Rect.Dy())
	p := &plot{sheet: sheet{img, unit}, c: c, in: in, base: h - 2*float32(math.Round(float64(h*barShare))) - 4*unit}
	draw.Draw(img, img.Rect, image.NewUniform(in.paper), image.Point{}, draw.Src)
	p.flags()
	p.beyond()
	for _, deg := range []float64{0, 45, 90} {
		p.level(deg, in.grid, false)
	}
	p.gaps()
	for _, run := range c.trace.Runs {
		p.band(run)
	}
	for _, l := range []*float64{c.trace.Limit.Lower, c.trace.Limit.Upper} {
		if l != nil {
			p.level(*l, in.limit, true)
		}
	}
	for _, run := range c.trace.Runs {
		p.course(run)
	}
	p.bars()
}

func (p *plot) x(t time.Duration) float32 {
	return float32(p.c.lens.Share(t)) * float32(p.img.Rect.Dx())
}

func (p *plot) y(deg float64) float32 {
	deg = max(p.c.low, min(deg, p.c.top))
	return p.base * float32((p.c.top-deg)/(p.c.top-p.c.low))
}

// visible cuts a run to what is seen, with a point to either side.
func (p *plot) visible(run []review.Point) []review.Point {
	from, to := p.c.lens.From, p.c.lens.From+p.c.lens.Span
	i, k := 0, len(run)
	for i+1 < k && run[i+1].At < from {
		i++
	}
	for k-1 > i && run[k-2].At > to {
		k--
	}
	return run[i:k]
}

// level draws a horizontal line, dashed for a limit.
func (p *plot) level(deg float64, c color.NRGBA, dashed bool) {
	if deg < p.c.low || deg > p.c.top {
		return
	}
	y, wide := p.y(deg), float32(p.img.Rect.Dx())
	if !dashed {
		p.box(0, y-0.5*p.unit, wide, y+0.5*p.unit, c)
		return
	}
	for x := float32(0); x < wide; x += 12 * p.unit {
		p.box(x, y-p.unit, x+7*p.unit, y+p.unit, c)
	}
}

// beyond tints what lies past a limit.
func (p *plot) beyond() {
	tint := p.in.limit
	tint.A = 28
	wide := float32(p.img.Rect.Dx())
	if l := p.c.trace.Limit.Lower; l != nil {
		p.box(0, p.y(*l), wide, p.base, tint)
	}
	if l := p.c.trace.Limit.Upper; l != nil {
		p.box(0, 0, wide, p.y(*l), tint)
	}
}

// flags tints the flagged moments of this joint, and marks the others at the
// top.
func (p *plot) flags() {
	tint := p.in.caution
	tint.A = 60
	for i := range p.c.moments {
		m := &p.c.moments[i]
		x0, x1 := p.x(m.Start), p.x(max(m.End, m.Start))
		x1 = max(x1, x0+3*p.unit)
		if m.Subject == p.c.trace.Joint.String() && of(m, p.c.side) {
			p.box(x0, 0, x1, p.base, tint)
		}
		mid, n := (x0+x1)/2, 6*p.unit
		p.fill([][2]float32{{mid - n, 0}, {mid + n, 0}, {mid, 1.6 * n}}, p.in.caution)
	}
}

// gaps hatches where the joint was not judged.
func (p *plot) gaps() {
	at := p.c.from
	for _, run := range p.c.trace.Runs {
		p.hatch(at, run[0].At, 0, p.base)
		at = run[len(run)-1].At
	}
	p.hatch(at, p.c.to, 0, p.base)
}

// hatch draws slanted lines over a stretch of time.
func (p *plot) hatch(from, to time.Duration, top, bottom float32) {
	x0, x1 := max(p.x(from), 0), min(p.x(to), float32(p.img.Rect.Dx()))
	if x1-x0 < 2*p.unit {
		return
	}
	step, wide := int(9*p.unit), int(max(1.2*p.unit, 1))
	for y := int(top); y < int(bottom); y++ {
		for x := int(x0); x < int(x1); x++ {
			if (x+y)%max(step, 2) < wide {
				p.img.Set(x, y, p.in.hatch)
			}
		}
	}
}

// band is the standard error to either side.
func (p *plot) band(run []review.Point) {
	run = p.visible(run)
	pts := make([][2]float32, 0, 2*len(run))
	for _, q := range run {
		pts = append(pts, [2]float32{p.x(q.At), p.y(q.Deg + q.SE)})
	}
	for i := len(run) - 1; i >= 0; i-- {
		pts = append(pts, [2]float32{p.x(run[i].At), p.y(run[i].Deg - run[i].SE)})
	}
	p.fill(pts, p.in.band)
}

// course is the line of the angle.
func (p *plot) course(run []review.Point) {
	run = p.visible(run)
	pts := make([][2]float32, len(run))
	for i, q := range run {
		pts[i] = [2]float32{p.x(q.At), p.y(q.Deg)}
	}
	p.strokes(pts, 2.2*p.unit, p.in.line)
	if len(run) == 1 {
		w := 1.1 * p.unit
		p.box(pts[0][0]-w, pts[0][1]-w, pts[0][0]+w, pts[0][1]+w, p.in.line)
	}
}

// bars draws the repetitions and below them the holds: full where they counted,
// hollow where they fell short, hatched where they could not be judged.
func (p *plot) bars() {
	h := float32(math.Round(float64(float32(p.img.Rect.Dy()) * barShare)))
	for _, s := range p.c.spans {
		y, ink := p.base+2*p.unit, p.in.line
		full := s.Kind == review.Repetition || s.Kind == review.HoldMet
		if s.Kind == review.HoldMet || s.Kind == review.HoldShort || s.Kind == review.HoldUnsure {
			y, ink = y+h+2*p.unit, p.in.done
		}
		if !full {
			ink = p.in.caution
		}
		x0, x1 := p.x(s.Start)+p.unit, max(p.x(s.End)-p.unit, p.x(s.Start)+2*p.unit)
		switch {
		case full:
			p.box(x0, y, x1, y+h, ink)
		case s.Kind == review.NotJudged || s.Kind == review.HoldUnsure:
			p.hatch(s.Start, s.End, y, y+h)
			p.frame(x0, y, x1, y+h, p.in.hatch)
		default:
			p.frame(x0, y, x1, y+h, ink)
		}
	}
}

// limitWords says what the limit of a joint was.
func limitWords(l coach.Limit) string {
	switch {
	case l.Lower != nil && l.Upper != nil:
		return "limits " + review.AngleWords(*l.Lower) + " and " + review.AngleWords(*l.Upper)
	case l.Lower != nil:
		return "limit: not past " + review.AngleWords(*l.Lower)
	case l.Upper != nil:
		return "limit: not bent beyond " + review.AngleWords(*l.Upper)
	}
	return "no limit"
}

// reading is what a sample says of a joint, in words, and what is to be known
// with it.
func reading(m *hand.Measurement) (value, note string) {
	switch {
	case !m.Judged && m.Why != "":
		return "not judged: " + string(m.Why), ""
	case !m.Judged:
		return "not judged", ""
	}
	if !m.ExtensionJudged && math.Round(m.FlexionDeg) <= 5 {
		note = "past straight is not judged"
	}
	return review.AngleWords(m.FlexionDeg) + " ± " + angleNumber(max(1, math.Round(m.SEDeg))), note
}
