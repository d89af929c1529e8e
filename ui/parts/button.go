package parts

import (
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"volar/ui/look"
)

// Kind says what a button is for, and so how it looks.
type Kind int8

// The kinds: Plain is any action, Lead the one that comes next, Stop is "it
// hurts".
const (
	Plain Kind = iota
	Lead
	Stop
)

func (k Kind) colours() (fill, ink, edge fyne.ThemeColorName) {
	switch k {
	case Lead:
		return look.Lead, look.OnLead, look.Lead
	case Stop:
		return look.Hurt, look.OnHurt, look.Hurt
	}
	return look.Card, look.Ink, look.Edge
}

const (
	ringWidth = 4
	// ringGap parts the focus ring from what it goes round, so that the two
	// colours need not contrast.
	ringGap    = 2
	ringRoom   = ringWidth + ringGap
	buttonPad  = 18
	cornerSize = 14
)

// Button is a large button with the name of the key that does the same.
type Button struct {
	widget.BaseWidget
	label, key string
	kind       Kind
	do         func()
	focused    bool
	// keys lets a screen give Space one meaning whatever has the focus: such
	// a button is worked with Enter.
	spaceGoesOn bool
	least       float32
	// others are what the button says at other times.
	others []string
}

// NewButton makes a button. key is the key that the screen takes for the same
// action, in words; empty where there is none.
func NewButton(kind Kind, label, key string, do func()) *Button {
	b := &Button{label: label, key: key, kind: kind, do: do}
	b.ExtendBaseWidget(b)
	return b
}

// LeaveSpace makes Enter the only key that works the button; Space goes on to
// the screen.
func (b *Button) LeaveSpace() *Button {
	b.spaceGoesOn = true
	return b
}

// AtLeast gives the button a least width.
func (b *Button) AtLeast(width float32) *Button {
	b.least = width
	return b
}

// Holding keeps room for what the button will say at other times, so that
// nothing moves when it changes.
func (b *Button) Holding(labels ...string) *Button {
	b.others = labels
	return b
}

// Label is what the button says.
func (b *Button) Label() string { return b.label }

// Set changes what the button says and does.
func (b *Button) Set(label string, do func()) {
	b.do = do
	if label != b.label {
		b.label = label
		b.Refresh()
	}
}

// SetLabel changes what the button says and leaves what it does.
func (b *Button) SetLabel(label string) { b.Set(label, b.do) }

// SetKind changes what the button is for.
func (b *Button) SetKind(k Kind) {
	if k != b.kind {
		b.kind = k
		b.Refresh()
	}
}

// Tapped is part of fyne.Tappable.
func (b *Button) Tapped(*fyne.PointEvent) {
	if b.do != nil {
		b.do()
	}
}

// FocusGained is part of fyne.Focusable.
func (b *Button) FocusGained() {
	b.focused = true
	b.Refresh()
	Reveal(b)
}

// FocusLost is part of fyne.Focusable.
func (b *Button) FocusLost() { b.focused = false; b.Refresh() }

// TypedRune is part of fyne.Focusable.
func (b *Button) TypedRune(rune) {}

// TypedKey is part of fyne.Focusable.
func (b *Button) TypedKey(ev *fyne.KeyEvent) {
	if works(ev.Name, b.spaceGoesOn) {
		b.Tapped(nil)
		return
	}
	Pass(b, ev)
}

// KeyDown is part of desktop.Keyable.
func (b *Button) KeyDown(ev *fyne.KeyEvent) { stir(b, ev) }

// KeyUp is part of desktop.Keyable.
func (b *Button) KeyUp(*fyne.KeyEvent) {}

// target is the least size of what is touched in the present look.
func target() float32 {
	if n := theme.Size(look.SizeTarget); n >= look.DeskTarget {
		return n
	}
	return look.Target
}

// stir tells the window that a key went down: fyne tells it only where nothing
// has the focus, and a window that locks when it lies idle has to know.
func stir(o Focused, ev *fyne.KeyEvent) {
	if c, ok := canvasOf(o).(desktop.Canvas); ok {
		if f := c.OnKeyDown(); f != nil {
			f(ev)
		}
	}
}

// works says whether a key works the widget that has the focus.
func works(k fyne.KeyName, spaceGoesOn bool) bool {
	return k == fyne.KeyReturn || k == fyne.KeyEnter || k == fyne.KeySpace && !spaceGoesOn
}

// Focused is an object that can have the focus.
type Focused interface {
	fyne.CanvasObject
	fyne.Focusable
}

// Pass gives a key that an object does not use to its screen.
func Pass(o Focused, ev *fyne.KeyEvent) {
	c := canvasOf(o)
	if c == nil {
		return
	}
	if f := c.OnTypedKey(); f != nil {
		f(ev)
	}
}

// canvasOf is the canvas that an object is on. Fyne knows that only once it has
// painted the object, and a key may come before.
func canvasOf(o Focused) fyne.Canvas {
	d := fyne.CurrentApp().Driver()
	if c := d.CanvasForObject(o); c != nil {
		return c
	}
	for _, w := range d.AllWindows() {
		if w.Canvas().Focused() == fyne.Focusable(o) {
			return w.Canvas()
		}
	}
	return nil
}

// CreateRenderer is part of fyne.Widget.
func (b *Button) CreateRenderer() fyne.WidgetRenderer {
	r := &buttonRenderer{
		b: b, ring: frame(), fill: frame(), cap: frame(),
		label: canvas.NewText("", color.Black), key: canvas.NewText("", color.Black),
	}
	r.label.TextStyle = fyne.TextStyle{Bold: true}
	r.Refresh()
	return r
}

// frame is a rectangle with round corners that Refresh colours.
func frame() *canvas.Rectangle {
	r := canvas.NewRectangle(color.Transparent)
	r.CornerRadius = cornerSize
	return r
}

type buttonRenderer struct {
	b               *Button
	ring, fill, cap *canvas.Rectangle
	label, key      *canvas.Text
}

func (r *buttonRenderer) capSize() fyne.Size {
	if r.b.key == "" {
		return fyne.Size{}
	}
	return r.key.MinSize().AddWidthHeight(16, 4)
}

func (r *buttonRenderer) MinSize() fyne.Size {
	r.apply()
	s := r.label.MinSize()
	for _, l := range r.b.others {
		s.Width = max(s.Width, fyne.MeasureText(l, r.label.TextSize, r.label.TextStyle).Width)
	}
	if c := r.capSize(); c.Width > 0 {
		s.Width += 12 + c.Width
	}
	s = s.AddWidthHeight(2*buttonPad, 2*10)
	s = s.Max(fyne.NewSquareSize(target()))
	s.Width = max(s.Width, r.b.least)
	return s.AddWidthHeight(2*ringRoom, 2*ringRoom)
}

func (r *buttonRenderer) Layout(size fyne.Size) {
	r.ring.Resize(size)
	inner := size.SubtractWidthHeight(2*ringRoom, 2*ringRoom)
	r.fill.Move(fyne.NewPos(ringRoom, ringRoom))
	r.fill.Resize(inner)
	l, c := r.label.MinSize(), r.capSize()
	w := l.Width
	if c.Width > 0 {
		w += 12 + c.Width
	}
	x := (size.Width - w) / 2
	r.label.Move(fyne.NewPos(x, (size.Height-l.Height)/2))
	r.label.Resize(l)
	x += l.Width + 12
	r.cap.Move(fyne.NewPos(x, (size.Height-c.Height)/2))
	r.cap.Resize(c)
	k := r.key.MinSize()
	r.key.Move(fyne.NewPos(x+(c.Width-k.Width)/2, (size.Height-k.Height)/2))
	r.key.Resize(k)
}

func (r *buttonRenderer) apply() {
	r.label.Text, r.label.TextSize = r.b.label, theme.TextSize()
	r.key.Text, r.key.TextSize = r.b.key, theme.CaptionTextSize()
}

func (r *buttonRenderer) Refresh() {
	r.apply()
	fill, ink, edge := r.b.kind.colours()
	r.fill.FillColor = theme.Color(fill)
	r.fill.StrokeColor, r.fill.StrokeWidth = theme.Color(edge), 2
	r.label.Color, r.key.Color = theme.Color(ink), theme.Color(ink)
	r.cap.StrokeColor, r.cap.StrokeWidth, r.cap.CornerRadius = theme.Color(ink), 1.5, 6
	r.cap.Hidden, r.key.Hidden = r.b.key == "", r.b.key == ""
	focus(r.ring, r.b.focused)
	r.Layout(r.b.Size())
	canvas.Refresh(r.b)
}

// focus shows or hides the ring of what has the focus.
func focus(ring *canvas.Rectangle, on bool) {
	ring.Hidden = !on
	ring.StrokeColor, ring.StrokeWidth = theme.Color(look.Ring), ringWidth
	ring.CornerRadius = cornerSize + ringRoom
}

func (r *buttonRenderer) Objects() []fyne.CanvasObject {
	return []fyne.CanvasObject{r.ring, r.fill, r.label, r.cap, r.key}
}

func (r *buttonRenderer) Destroy() {}
