package parts

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"volar/ui/look"
)

// TableColumn is a column: its title and its share of the width.
type TableColumn struct {
	Title  string
	Weight float32
	// Right sets numbers against the right edge, so that they stand in a
	// column.
	Right bool
}

// TableRow is one row.
type TableRow struct {
	Cells []string
	// Sign stands before the first cell.
	Sign Sign
	// Strong sets the row in bold.
	Strong bool
}

// Table shows rows of text in columns, of which one row is chosen. Only the
// rows in view are drawn, so that there may be thousands. Up, Down, Page Up,
// Page Down, Home and End move; Enter or Space opens, as does a touch on the row
// that was chosen already.
type Table struct {
	widget.BaseWidget
	columns []TableColumn
	rows    []TableRow
	empty   string
	least   int
	at, top int
	focused bool
	// needs are the columns' widths at which nothing is cut, at the size of text
	// that measured them.
	needs    []float32
	measured float32
	chosen   func(i int)
	open     func(i int)
}

// NewTable makes a table without rows that says empty. chosen, which may be
// nil, is told which row is chosen, and open which is opened; without open the
// keys that open go on to the screen.
func NewTable(columns []TableColumn, empty string, chosen, open func(i int)) *Table {
	t := &Table{columns: columns, empty: empty, chosen: chosen, open: open, least: 3}
	t.ExtendBaseWidget(t)
	return t
}

// AtLeast sets how many rows are always in view.
func (t *Table) AtLeast(rows int) *Table {
	t.least = rows
	return t
}

// SetRows shows other rows; the chosen row stays by its number.
func (t *Table) SetRows(rows []TableRow) {
	t.rows = rows
	t.at = max(0, min(t.at, len(rows)-1))
	t.needs = nil
	t.show()
	t.Refresh()
}

// Rows are what is shown.
func (t *Table) Rows() []TableRow { return t.rows }

// At is the chosen row; -1 without rows.
func (t *Table) At() int {
	if len(t.rows) == 0 {
		return -1
	}
	return t.at
}

// Choose chooses a row, and tells so.
func (t *Table) Choose(i int) {
	if len(t.rows) == 0 {
		return
	}
	t.at = max(0, min(i, len(t.rows)-1))
	t.show()
	t.Refresh()
	if t.chosen != nil {
		t.chosen(t.at)
	}
}

// show scrolls to the chosen row.
func (t *Table) show() {
	n := t.visible()
	t.top = max(min(t.top, t.at), t.at-n+1, 0)
	t.top = min(t.top, max(0, len(t.rows)-n))
}

const tableEdge = ringRoom + 2

func (t *Table) rowHeight() float32 {
	return max(fyne.MeasureText("Mg", theme.TextSize(), fyne.TextStyle{}).Height+8, target())
}

func (t *Table) headHeight() float32 {
	return fyne.MeasureText("Mg", theme.CaptionTextSize(), fyne.TextStyle{Bold: true}).Height + 8
}

const (
	cellPad = 8
	// looked is in how many rows the widest cell is looked for.
	looked = 200
)

// widths shares the width out: a column that needs less than its share gets
// what it needs, and the others get the rest by weight.
func (t *Table) widths(width float32) []float32 {
	if t.needs == nil || t.measured != theme.TextSize() {
		t.measure()
	}
	w := make([]float32, len(t.columns))
	left, sum := width, float32(0)
	for _, c := range t.columns {
		sum += c.Weight
	}
	for again := true; again && sum > 0; {
		again = false
		for i, c := range t.columns {
			if w[i] == 0 && t.needs[i] < left*c.Weight/sum {
				w[i], again = t.needs[i], true
				left -= w[i]
				sum -= c.Weight
				break
			}
		}
	}
	if sum > 0 {
		for i, c := range t.columns {
			if w[i] == 0 {
				w[i] = left * c.Weight / sum
			}
		}
		return w
	}
	// Nothing is cut, and what is over goes by weight.
	for _, c := range t.columns {
		sum += c.Weight
	}
	for i, c := range t.columns {
		w[i] += left * c.Weight / sum
	}
	return w
}

func (t *Table) measure() {
	t.measured = theme.TextSize()
	t.needs = make([]float32, len(t.columns))
	bold := fyne.TextStyle{Bold: true}
	for k, c := range t.columns {
		t.needs[k] = fyne.MeasureText(c.Title, theme.CaptionTextSize(), bold).Width
		for _, r := range t.rows[:min(len(t.rows), looked)] {
			if k >= len(r.Cells) {
				continue
			}
			w := fyne.MeasureText(r.Cells[k], theme.TextSize(), fyne.TextStyle{Bold: r.Strong}).Width
			if k == 0 && r.Sign != NoSign {
				w += theme.TextSize() + cellPad
			}
			t.needs[k] = max(t.needs[k], w)
		}
		t.needs[k] += 2*cellPad + 2
	}
}

// visible is how many whole rows are in view.
func (t *Table) visible() int {
	return max(1, int((t.Size().Height-t.headHeight()-2*tableEdge)/t.rowHeight()))
}

// MinSize has room for the least number of rows.
func (t *Table) MinSize() fyne.Size {
	w := float32(0)
	for _, c := range t.columns {
		w += fyne.MeasureText(c.Title, theme.CaptionTextSize(), fyne.TextStyle{Bold: true}).Width + 16
	}
	return fyne.NewSize(w+2*tableEdge, t.headHeight()+float32(t.least)*t.rowHeight()+2*tableEdge)
}

// Resize is part of fyne.CanvasObject.
func (t *Table) Resize(s fyne.Size) {
	t.BaseWidget.Resize(s)
	t.show()
}

// Tapped is part of fyne.Tappable.
func (t *Table) Tapped(ev *fyne.PointEvent) {
	if c := canvasOf(t); c != nil {
		c.Focus(t)
	}
	i := t.top + int((ev.Position.Y-t.headHeight()-tableEdge)/t.rowHeight())
	if ev.Position.Y < t.headHeight()+tableEdge || i >= len(t.rows) {
		return
	}
	if again := i == t.at; !again {
		t.Choose(i)
	} else if t.open != nil {
		t.open(i)
	}
}

// Scrolled is part of fyne.Scrollable.
func (t *Table) Scrolled(ev *fyne.ScrollEvent) {
	step := -int(ev.Scrolled.DY / 10)
	if step == 0 && ev.Scrolled.DY != 0 {
		step = map[bool]int{true: -1, false: 1}[ev.Scrolled.DY > 0]
	}
	t.top = max(0, min(t.top+step, len(t.rows)-t.visible()))
	t.Refresh()
}

// FocusGained is part of fyne.Focusable.
func (t *Table) FocusGained() {
	t.focused = true
	t.Refresh()
	Reveal(t)
}

// FocusLost is part of fyne.Focusable.
func (t *Table) FocusLost() { t.focused = false; t.Refresh() }

// TypedRune is part of fyne.Focusable.
func (t *Table) TypedRune(rune) {}

// TypedKey is part of fyne.Focusable.
func (t *Table) TypedKey(ev *fyne.KeyEvent) {
	if !t.Key(ev.Name) {
		Pass(t, ev)
	}
}

// Key takes a key, also for a screen whose focus is elsewhere; false where it
// means nothing here.
func (t *Table) Key(k fyne.KeyName) bool {
	switch k {
	case fyne.KeyUp:
		t.Choose(t.at - 1)
	case fyne.KeyDown:
		t.Choose(t.at + 1)
	case fyne.KeyPageUp:
		t.Choose(t.at - t.visible())
	case fyne.KeyPageDown:
		t.Choose(t.at + t.visible())
	case fyne.KeyHome:
		t.Choose(0)
	case fyne.KeyEnd:
		t.Choose(len(t.rows) - 1)
	case fyne.KeyReturn, fyne.KeyEnter, fyne.KeySpace:
		if t.open == nil {
			return false
		}
		if len(t.rows) > 0 {
			t.open(t.at)
		}
	default:
		return false
	}
	return true
}

// KeyDown is part of desktop.Keyable.
func (t *Table) KeyDown(ev *fyne.KeyEvent) { stir(t, ev) }

// KeyUp is part of desktop.Keyable.
func (t *Table) KeyUp(*fyne.KeyEvent) {}

// CreateRenderer is part of fyne.Widget.
func (t *Table) CreateRenderer() fyne.WidgetRenderer {
	r := &tableRenderer{t: t, ring: frame(), ground: frame(), line: canvas.NewLine(nil), mark: frame(), bar: frame()}
	r.Refresh()
	return r
}

type tableRenderer struct {
	t                       *Table
	ring, ground, mark, bar *canvas.Rectangle
	line                    *canvas.Line
	objects                 []fyne.CanvasObject
}

func (r *tableRenderer) MinSize() fyne.Size { return r.t.MinSize() }

func (r *tableRenderer) Layout(size fyne.Size) {
	t := r.t
	ink, quiet := theme.Color(look.Ink), theme.Color(look.Quiet)
	// The ring lies wholly inside, for a table may fill what it is clipped to.
	r.ring.Move(fyne.NewSquareOffsetPos(ringWidth / 2))
	r.ring.Resize(size.SubtractWidthHeight(ringWidth, ringWidth))
	r.ground.Move(fyne.NewPos(ringRoom, ringRoom))
	r.ground.Resize(size.SubtractWidthHeight(2*ringRoom, 2*ringRoom))
	head, row := t.headHeight(), t.rowHeight()
	r.line.Position1, r.line.Position2 = fyne.NewPos(tableEdge, tableEdge+head), fyne.NewPos(size.Width-tableEdge, tableEdge+head)
	r.objects = []fyne.CanvasObject{r.ring, r.ground, r.mark, r.bar, r.line}
	left := size.Width - 2*tableEdge - scrollRoom
	widths := t.widths(left)
	put := func(s string, x, y, w, h float32, right bool, size float32, style fyne.TextStyle, quietly bool) {
		c := canvas.NewText(fitted(s, w, size, style), ink)
		if quietly {
			c.Color = quiet
		}
		c.TextSize, c.TextStyle = size, style
		m := c.MinSize()
		if right {
			x += w - m.Width
		}
		c.Move(fyne.NewPos(x, y+(h-m.Height)/2))
		c.Resize(m)
		r.objects = append(r.objects, c)
	}
	const pad = cellPad
	x := float32(tableEdge)
	bold := fyne.TextStyle{Bold: true}
	for k, c := range t.columns {
		w := widths[k]
		put(c.Title, x+pad, tableEdge, w-2*pad, head, c.Right, theme.CaptionTextSize(), bold, true)
		x += w
	}
	n := t.visible()
	r.mark.Hidden = true
	for i := t.top; i < min(t.top+n, len(t.rows)); i++ {
		y := tableEdge + head + float32(i-t.top)*row
		if i == t.at {
			r.mark.Hidden = false
			r.mark.Move(fyne.NewPos(tableEdge, y+1))
			r.mark.Resize(fyne.NewSize(left, row-2))
		}
		x := float32(tableEdge)
		for k, c := range t.columns {
			if k >= len(t.rows[i].Cells) {
				break
			}
			w, room := widths[k], float32(0)
			if k == 0 && t.rows[i].Sign != NoSign {
				b := NewBadge(t.rows[i].Sign, theme.TextSize())
				b.Move(fyne.NewPos(x+pad, y+(row-theme.TextSize())/2))
				b.Resize(fyne.NewSquareSize(theme.TextSize()))
				r.objects = append(r.objects, b)
				room = theme.TextSize() + pad
			}
			put(t.rows[i].Cells[k], x+pad+room, y, w-2*pad-room, row, c.Right, theme.TextSize(), fyne.TextStyle{Bold: t.rows[i].Strong}, false)
			x += w
		}
	}
	if len(t.rows) == 0 {
		put(t.empty, tableEdge+pad, tableEdge+head, left-2*pad, row, false, theme.TextSize(), fyne.TextStyle{}, true)
	}
	r.bar.Hidden = len(t.rows) <= n
	if !r.bar.Hidden {
		room := size.Height - head - 2*tableEdge - 8
		tall := max(20, room*float32(n)/float32(len(t.rows)))
		y := (room - tall) * float32(t.top) / float32(len(t.rows)-n)
		r.bar.Move(fyne.NewPos(size.Width-tableEdge-14, tableEdge+head+4+y))
		r.bar.Resize(fyne.NewSize(8, tall))
	}
}

// fitted cuts a text that is wider than the room, and shows that.
func fitted(s string, width, size float32, style fyne.TextStyle) string {
	if fyne.MeasureText(s, size, style).Width <= width {
		return s
	}
	r := []rune(s)
	for n := len(r) - 1; n > 0; n-- {
		if cut := string(r[:n]) + "…"; fyne.MeasureText(cut, size, style).Width <= width {
			return cut
		}
	}
	return ""
}

func (r *tableRenderer) Refresh() {
	r.ground.FillColor, r.ground.StrokeColor, r.ground.StrokeWidth = theme.Color(look.Card), theme.Color(look.Edge), 1.5
	r.line.StrokeColor, r.line.StrokeWidth = theme.Color(look.Edge), 1
	r.mark.FillColor, r.mark.CornerRadius = theme.Color(look.Track), 6
	r.mark.StrokeWidth = 0
	if r.t.focused {
		r.mark.StrokeColor, r.mark.StrokeWidth = theme.Color(look.Lead), 2
	}
	r.bar.FillColor, r.bar.CornerRadius = theme.Color(look.Edge), 4
	focus(r.ring, r.t.focused)
	r.Layout(r.t.Size())
	canvas.Refresh(r.t)
}

func (r *tableRenderer) Objects() []fyne.CanvasObject { return r.objects }
func (r *tableRenderer) Destroy()                     {}
