package parts

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"volar/ui/look"
)

// Tick is a choice that is on or off: a square with a hook in it, or, as one of
// several of which one holds, a ring with a dot in it.
type Tick struct {
	widget.BaseWidget
	label   string
	on      bool
	round   bool
	focused bool
	// wrap lets a long label break into lines at the width that it gets.
	wrap    bool
	words   *Words
	changed func(on bool)
}

// NewTick makes a choice; changed is told when the person changes it.
func NewTick(label string, on bool, changed func(on bool)) *Tick {
	t := &Tick{label: label, on: on, changed: changed, words: NewWords(label, Style{})}
	t.ExtendBaseWidget(t)
	return t
}

// Wrapped lets a long label break into lines, in a Column.
func (t *Tick) Wrapped() *Tick {
	t.wrap = true
	return t
}

// On says whether it is on.
func (t *Tick) On() bool { return t.on }

// Label is what it says.
func (t *Tick) Label() string { return t.label }

// Set turns it on or off, and tells nobody.
func (t *Tick) Set(on bool) {
	if on != t.on {
		t.on = on
		t.Refresh()
	}
}

// Tapped is part of fyne.Tappable.
func (t *Tick) Tapped(*fyne.PointEvent) {
	if t.round && t.on {
		return
	}
	t.Set(!t.on)
	if t.changed != nil {
		t.changed(t.on)
	}
}

// FocusGained is part of fyne.Focusable.
func (t *Tick) FocusGained() {
	t.focused = true
	t.Refresh()
	Reveal(t)
}

// FocusLost is part of fyne.Focusable.
func (t *Tick) FocusLost() { t.focused = false; t.Refresh() }

// TypedRune is part of fyne.Focusable.
func (t *Tick) TypedRune(rune) {}

// TypedKey is part of fyne.Focusable.
func (t *Tick) TypedKey(ev *fyne.KeyEvent) {
	if works(ev.Name, false) {
		t.Tapped(nil)
		return
	}
	Pass(t, ev)
}

// KeyDown is part of desktop.Keyable.
func (t *Tick) KeyDown(ev *fyne.KeyEvent) { stir(t, ev) }

// KeyUp is part of desktop.Keyable.
func (t *Tick) KeyUp(*fyne.KeyEvent) {}

// Picks are ticks of which one is on; the arrow keys move between them.
type Picks struct {
	box   *fyne.Container
	ticks []*Tick
}

// NewPicks makes a choice of one of several; chosen is the one that is on, -1
// none, and pick is told when the person picks another.
func NewPicks(labels []string, chosen int, pick func(i int)) *Picks {
	p := &Picks{}
	var objects []fyne.CanvasObject
	long := false
	for _, l := range labels {
		long = long || len(l) > longLabel
	}
	for i, l := range labels {
		t := NewTick(l, i == chosen, nil)
		t.round, t.wrap = true, long
		t.changed = func(bool) {
			for k, other := range p.ticks {
				other.Set(k == i)
			}
			pick(i)
		}
		p.ticks, objects = append(p.ticks, t), append(objects, t)
	}
	p.box = Flow(4, objects...)
	if long {
		p.box = Column(0, objects...)
	}
	return p
}

// longLabel is from how many bytes on a label stands on a line of its own.
const longLabel = 28

// Content is what to show.
func (p *Picks) Content() fyne.CanvasObject { return p.box }

// First is the one that is on, or the first.
func (p *Picks) First() fyne.Focusable {
	for _, t := range p.ticks {
		if t.on {
			return t
		}
	}
	return p.ticks[0]
}

// Set turns one on, and tells nobody.
func (p *Picks) Set(i int) {
	for k, t := range p.ticks {
		t.Set(k == i)
	}
}

const (
	markGap = 10 // between the mark and the label
	tickPad = 8  // behind the label
)

// markSize is the mark's size beside the text.
func markSize() float32 { return theme.TextSize() * 1.15 }

// around is the width of a tick without its label.
func around() float32 { return markSize() + markGap + tickPad + 2*ringRoom }

// HeightFor is the height at a width.
func (t *Tick) HeightFor(width float32) float32 {
	h := t.words.lineHeight()
	if t.wrap {
		h = t.words.HeightFor(width - around())
	}
	return max(h+8, target()) + 2*ringRoom
}

// MinSize is as wide as the label, or as its longest word where it wraps.
func (t *Tick) MinSize() fyne.Size {
	w := fyne.MeasureText(t.label, theme.TextSize(), fyne.TextStyle{Bold: true}).Width
	if t.wrap {
		w = t.words.MinSize().Width
	}
	w = max(w+around(), target()+2*ringRoom)
	return fyne.NewSize(w, t.HeightFor(laid(w, t.Size().Width)))
}

// CreateRenderer is part of fyne.Widget.
func (t *Tick) CreateRenderer() fyne.WidgetRenderer {
	r := &tickRenderer{
		t: t, ring: frame(), square: frame(), circle: canvas.NewCircle(nil), dot: canvas.NewCircle(nil),
		down: canvas.NewLine(nil), up: canvas.NewLine(nil),
	}
	r.Refresh()
	return r
}

type tickRenderer struct {
	t            *Tick
	ring, square *canvas.Rectangle
	circle, dot  *canvas.Circle
	down, up     *canvas.Line
}

func (r *tickRenderer) MinSize() fyne.Size { return r.t.MinSize() }

func (r *tickRenderer) Layout(size fyne.Size) {
	r.ring.Resize(size)
	n := markSize()
	width := size.Width - around()
	h := r.t.words.HeightFor(width)
	top := (size.Height - h) / 2
	at := fyne.NewPos(ringRoom, top+(r.t.words.lineHeight()-n)/2)
	r.square.Move(at)
	r.square.Resize(fyne.NewSquareSize(n))
	r.circle.Move(at)
	r.circle.Resize(fyne.NewSquareSize(n))
	r.dot.Move(at.AddXY(n*0.25, n*0.25))
	r.dot.Resize(fyne.NewSquareSize(n * 0.5))
	r.down.Position1, r.down.Position2 = at.AddXY(n*0.2, n*0.52), at.AddXY(n*0.43, n*0.76)
	r.up.Position1, r.up.Position2 = at.AddXY(n*0.41, n*0.76), at.AddXY(n*0.82, n*0.26)
	r.t.words.Move(fyne.NewPos(at.X+n+markGap, top))
	r.t.words.Resize(fyne.NewSize(width, h))
}

func (r *tickRenderer) Refresh() {
	t := r.t
	t.words.style.Bold = t.on && !t.wrap
	t.words.Refresh()
	lead, edge := theme.Color(look.Lead), theme.Color(look.Edge)
	r.square.FillColor, r.square.StrokeColor, r.square.StrokeWidth, r.square.CornerRadius = theme.Color(look.Card), edge, 2, 4
	r.circle.FillColor, r.circle.StrokeColor, r.circle.StrokeWidth = theme.Color(look.Card), edge, 2
	if t.on {
		r.square.FillColor, r.square.StrokeColor, r.circle.StrokeColor = lead, lead, lead
	}
	r.dot.FillColor = lead
	for _, l := range []*canvas.Line{r.down, r.up} {
		l.StrokeColor, l.StrokeWidth, l.Hidden = theme.Color(look.OnLead), 3, t.round || !t.on
	}
	r.square.Hidden, r.circle.Hidden, r.dot.Hidden = t.round, !t.round, !t.round || !t.on
	focus(r.ring, t.focused)
	r.Layout(t.Size())
	canvas.Refresh(t)
}

func (r *tickRenderer) Objects() []fyne.CanvasObject {
	return []fyne.CanvasObject{r.ring, r.square, r.circle, r.dot, r.down, r.up, r.t.words}
}

func (r *tickRenderer) Destroy() {}
