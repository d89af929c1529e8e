package report

import (
	"bytes"
	"fmt"
	"image/color"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"

	"volar/internal/coach"
	"volar/internal/program"
	"volar/internal/review"
)

// trend plots a joint's greatest and least flexion over weeks, with the
// standard error of a reading, and the baseline as dashed lines. A week whose
// least flexion was not judged has no lower point.
func trend(title string, weeks []review.Week, base *coach.Range, from, to program.Date) ([]byte, error) {
	p := plot.New()
	p.Title.Text = title
	var high, low plotter.XYs
	var highErr, lowErr plotter.YErrors
	add := func(xy *plotter.XYs, e *plotter.YErrors, x, y, se float64) {
		*xy = append(*xy, plotter.XY{X: x, Y: y})
		if math.IsNaN(se) {
			se = 0
		}
		*e = append(*e, struct{ Low, High float64 }{se, se})
	}
	for _, w := range weeks {
		// The middle of the week.
		x := day(w.Monday) + 3
		add(&high, &highErr, x, w.Reach.MaxDeg, w.Reach.MaxSE)
		if w.Reach.MinJudged {
			add(&low, &lowErr, x, w.Reach.MinDeg, w.Reach.MinSE)
		}
	}
	if err := series(p, high, highErr, accent, draw.CircleGlyph{}); err != nil {
		return nil, err
	}
	if err := series(p, low, lowErr, warn, draw.TriangleGlyph{}); err != nil {
		return nil, err
	}
	left, right := day(from)-1, day(to)+8
	if base != nil {
		for _, y := range []float64{base.Start, base.End} {
			l, err := plotter.NewLine(plotter.XYs{{X: left, Y: y}, {X: right, Y: y}})
			if err != nil {
				return nil, fmt.Errorf("plotting: %w", err)
			}
			l.Color, l.Dashes = faint, []vg.Length{vg.Points(3), vg.Points(3)}
			p.Add(l)
		}
	}
	p.X.Min, p.X.Max = left, right
	p.Y.Min, p.Y.Max = math.Min(p.Y.Min, -5)-5, math.Max(p.Y.Max, 60)+5
	p.X.Tick.Marker = dates{}
	p.Y.Tick.Marker = degrees{}
	return plotted(p, 86*vg.Millimeter, 46*vg.Millimeter)
}

// series adds points with a line and error bars.
func series(p *plot.Plot, xy plotter.XYs, e plotter.YErrors, c color.RGBA, shape draw.GlyphDrawer) error {
	if len(xy) == 0 {
		return nil
	}
	line, dots, err := plotter.NewLinePoints(xy)
	if err != nil {
		return fmt.Errorf("plotting: %w", err)
	}
	line.Color, dots.Color, dots.Shape, dots.Radius = c, c, shape, vg.Points(2)
	bars, err := plotter.NewYErrorBars(struct {
		plotter.XYs
		plotter.YErrors
	}{xy, e})
	if err != nil {
		return fmt.Errorf("plotting: %w", err)
	}
	bars.Color = c
	p.Add(line, dots, bars)
	return nil
}

// doneByDay plots counted repetitions of each day, and the prescribed ones as
// a line.
func doneByDay(days []review.DayDone) ([]byte, error) {
	p := plot.New()
	var values plotter.Values
	var asked plotter.XYs
	top := 1.0
	for i, d := range days {
		values = append(values, float64(d.Done))
		asked = append(asked, plotter.XY{X: float64(i) - 0.5, Y: d.Prescribed}, plotter.XY{X: float64(i) + 0.5, Y: d.Prescribed})
		top = max(top, float64(d.Done), d.Prescribed)
	}
	width := vg.Length(math.Min(0.8*160/float64(len(days)), 10)) * vg.Millimeter
	bars, err := plotter.NewBarChart(values, width)
	if err != nil {
		return nil, fmt.Errorf("plotting: %w", err)
	}
	bars.Color, bars.LineStyle.Width = accent, 0
	line, err := plotter.NewLine(asked)
	if err != nil {
		return nil, fmt.Errorf("plotting: %w", err)
	}
	line.Color, line.Width, line.Dashes = ink, vg.Points(1), []vg.Length{vg.Points(4), vg.Points(2)}
	p.Add(bars, line)
	p.Y.Min, p.Y.Max = 0, top*1.1
	p.X.Min, p.X.Max = -0.7, float64(len(days))-0.3
	p.X.Tick.Marker = dates{first: day(days[0].Day)}
	p.Y.Label.Text = "repetitions"
	p.Y.Tick.Marker = counts{}
	return plotted(p, 178*vg.Millimeter, 40*vg.Millimeter)
}

// day counts days, for an axis.
func day(d program.Date) float64 {
	return float64(program.Date{Year: 2000, Month: 1, Day: 1}.DaysUntil(d))
}

// dates marks an axis of days with a handful of dates.
type dates struct{ first float64 }

// Ticks returns about six round dates.
func (t dates) Ticks(low, high float64) []plot.Tick {
	step := 1.0
	for _, s := range []float64{1, 2, 7, 14, 28, 56, 112} {
		if step = s; (high-low)/s <= 7 {
			break
		}
	}
	var ticks []plot.Tick
	for x := math.Ceil(low/step) * step; x <= high; x += step {
		d := program.Date{Year: 2000, Month: 1, Day: 1}.AddDays(int(math.Round(x + t.first)))
		ticks = append(ticks, plot.Tick{Value: x, Label: fmt.Sprintf("%d %s", d.Day, d.Month.String()[:3])})
	}
	return ticks
}

// degrees marks an axis of angles every 30.
type degrees struct{}

// Ticks returns multiples of 30 degrees.
func (degrees) Ticks(low, high float64) []plot.Tick {
	var ticks []plot.Tick
	for y := math.Ceil(low/30)*30 + 0; y <= high; y += 30 { // + 0: no minus zero
		label := fmt.Sprintf("%.0f°", y)
		if y < 0 {
			label = fmt.Sprintf("%.0f° past straight", -y)
		}
		ticks = append(ticks, plot.Tick{Value: y, Label: label})
	}
	return ticks
}

// counts marks an axis with about four whole numbers.
type counts struct{}

// Ticks returns round multiples.
func (counts) Ticks(low, high float64) []plot.Tick {
	step := 1.0
	for _, s := range []float64{1, 2, 5, 10, 20, 50, 100, 200, 500, 1000} {
		if step = s; high/s <= 5 {
			break
		}
	}
	var ticks []plot.Tick
	for y := 0.0; y <= high; y += step {
		ticks = append(ticks, plot.Tick{Value: y, Label: fmt.Sprintf("%.0f", y)})
	}
	return ticks
}

// plotted draws a plot as a PNG file at 300 dots to the inch.
func plotted(p *plot.Plot, w, h vg.Length) ([]byte, error) {
	small := font.Length(7.5)
	p.Title.TextStyle.Font.Size, p.Title.TextStyle.Color = 9, ink
	p.X.Tick.Label.Font.Size, p.Y.Tick.Label.Font.Size, p.Y.Label.TextStyle.Font.Size = small, small, small
	for _, s := range []*font.Font{&p.Title.TextStyle.Font, &p.X.Tick.Label.Font, &p.Y.Tick.Label.Font, &p.Y.Label.TextStyle.Font} {
		s.Variant = "Sans"
	}
	c := vgimg.NewWith(vgimg.UseWH(w, h), vgimg.UseDPI(300))
	p.Draw(draw.New(c))
	var b bytes.Buffer
	if _, err := (vgimg.PngCanvas{Canvas: c}).WriteTo(&b); err != nil {
		return nil, fmt.Errorf("plotting: %w", err)
	}
	return b.Bytes(), nil
}
