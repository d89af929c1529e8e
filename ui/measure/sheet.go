package measure

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"volar/ui/look"
	"volar/ui/parts"
)

// sheet sets cells in columns of the same width in every row, so that numbers
// that are compared stand below each other. It only shows.
type sheet struct {
	widget.BaseWidget
	weights []float32
	rows    [][]fyne.CanvasObject
	// rules has the rows above which a line stands.
	rules map[int]bool
}

const (
	cellGap = 12 // between columns
	rowGap  = 5
)

func newSheet(weights []float32, rules map[int]bool, rows ...[]fyne.CanvasObject) *sheet {
	s := &sheet{weights: weights, rows: rows, rules: rules}
	s.ExtendBaseWidget(s)
	return s
}

func (s *sheet) widths(width float32) []float32 {
	sum := float32(0)
	for _, w := range s.weights {
		sum += w
	}
	out := make([]float32, len(s.weights))
	for i, w := range s.weights {
		out[i] = max(1, (width-cellGap*float32(len(s.weights)-1))*w/sum)
	}
	return out
}

func (s *sheet) heights(width float32) []float32 {
	w := s.widths(width)
	out := make([]float32, len(s.rows))
	for i, r := range s.rows {
		for k, c := range r {
			out[i] = max(out[i], parts.HeightFor(c, w[k]))
		}
	}
	return out
}

// HeightFor is the height at a width.
func (s *sheet) HeightFor(width float32) float32 {
	h := float32(0)
	for _, x := range s.heights(width) {
		h += x + rowGap
	}
	return h
}

// MinSize is narrow: cells break into lines.
func (s *sheet) MinSize() fyne.Size {
	least := float32(60 * len(s.weights))
	return fyne.NewSize(least, s.HeightFor(max(s.Size().Width, least)))
}

// CreateRenderer is part of fyne.Widget.
func (s *sheet) CreateRenderer() fyne.WidgetRenderer {
	r := &sheetRenderer{s: s}
	for i, row := range s.rows {
		if s.rules[i] {
			line := canvas.NewRectangle(nil)
			r.lines, r.objects = append(r.lines, line), append(r.objects, line)
		}
		r.objects = append(r.objects, row...)
	}
	r.Refresh()
	return r
}

type sheetRenderer struct {
	s       *sheet
	lines   []*canvas.Rectangle
	objects []fyne.CanvasObject
}

func (r *sheetRenderer) Layout(size fyne.Size) {
	w := r.s.widths(size.Width)
	y, rule := float32(0), 0
	for i, h := range r.s.heights(size.Width) {
		if r.s.rules[i] {
			r.lines[rule].Move(fyne.NewPos(0, y-3))
			r.lines[rule].Resize(fyne.NewSize(size.Width, 1))
			rule++
		}
		x := float32(0)
		for k, c := range r.s.rows[i] {
			c.Move(fyne.NewPos(x, y))
			c.Resize(fyne.NewSize(w[k], h))
			x += w[k] + cellGap
		}
		y += h + rowGap
	}
}

func (r *sheetRenderer) MinSize() fyne.Size { return r.s.MinSize() }

func (r *sheetRenderer) Refresh() {
	for _, l := range r.lines {
		l.FillColor = theme.Color(look.Edge)
	}
	r.Layout(r.s.Size())
	canvas.Refresh(r.s)
}

func (r *sheetRenderer) Objects() []fyne.CanvasObject { return r.objects }
func (r *sheetRenderer) Destroy()                     {}

// cell is a cell of a sheet.
func cell(s string) *parts.Words { return text(s) }

// headCell is a cell of its head.
func headCell(s string) *parts.Words {
	return parts.NewWords(s, parts.Style{Size: theme.SizeNameCaptionText, Colour: look.Quiet, Bold: true})
}

// nameCell is the first cell of a row.
func nameCell(s string) *parts.Words { return parts.NewWords(s, parts.Style{Bold: true}) }
