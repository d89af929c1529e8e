package parts

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"volar/ui/look"
)

// Card is a large area that shows one thing and opens it. With a nil action it
// only shows, and takes no focus.
type Card struct {
	widget.BaseWidget
	content fyne.CanvasObject
	do      func()
	focused bool
	strong  bool
}

const cardPad = 16

// Choice is a card that can be chosen.
type Choice struct{ Card }

// NewCard shows content on a card.
func NewCard(content fyne.CanvasObject) *Card {
	c := &Card{content: content}
	c.ExtendBaseWidget(c)
	return c
}

// NewChoice shows content on a card that do opens. A strong one is the next
// in line.
func NewChoice(content fyne.CanvasObject, strong bool, do func()) *Choice {
	c := &Choice{Card{content: content, do: do, strong: strong}}
	c.ExtendBaseWidget(c)
	return c
}

// Tapped is part of fyne.Tappable.
func (c *Choice) Tapped(*fyne.PointEvent) { c.do() }

// FocusGained is part of fyne.Focusable.
func (c *Choice) FocusGained() {
	c.focused = true
	c.Refresh()
	Reveal(c)
}

// FocusLost is part of fyne.Focusable.
func (c *Choice) FocusLost() { c.focused = false; c.Refresh() }

// TypedRune is part of fyne.Focusable.
func (c *Choice) TypedRune(rune) {}

// TypedKey is part of fyne.Focusable.
func (c *Choice) TypedKey(ev *fyne.KeyEvent) {
	if works(ev.Name, false) {
		c.do()
		return
	}
	Pass(c, ev)
}

// KeyDown is part of desktop.Keyable.
func (c *Choice) KeyDown(ev *fyne.KeyEvent) { stir(c, ev) }

// KeyUp is part of desktop.Keyable.
func (c *Choice) KeyUp(*fyne.KeyEvent) {}

// HeightFor is the height at a width.
func (c *Card) HeightFor(width float32) float32 {
	const around = 2*cardPad + 2*ringRoom
	return max(HeightFor(c.content, width-around)+around, target()+2*ringRoom)
}

// MinSize leaves room for the content at the width that the card has.
func (c *Card) MinSize() fyne.Size {
	const around = 2*cardPad + 2*ringRoom
	w := max(c.content.MinSize().Width+around, target())
	return fyne.NewSize(w, c.HeightFor(laid(w, c.Size().Width)))
}

// CreateRenderer is part of fyne.Widget.
func (c *Card) CreateRenderer() fyne.WidgetRenderer {
	r := &cardRenderer{c: c, ring: frame(), fill: frame()}
	r.Refresh()
	return r
}

type cardRenderer struct {
	c          *Card
	ring, fill *canvas.Rectangle
}

func (r *cardRenderer) Layout(size fyne.Size) {
	r.ring.Resize(size)
	r.fill.Move(fyne.NewPos(ringRoom, ringRoom))
	r.fill.Resize(size.SubtractWidthHeight(2*ringRoom, 2*ringRoom))
	const around = cardPad + ringRoom
	r.c.content.Move(fyne.NewPos(around, around))
	r.c.content.Resize(size.SubtractWidthHeight(2*around, 2*around))
}

func (r *cardRenderer) MinSize() fyne.Size { return r.c.MinSize() }

func (r *cardRenderer) Refresh() {
	edge, width := look.Edge, float32(1.5)
	if r.c.strong {
		edge, width = look.Lead, 4
	}
	r.fill.FillColor, r.fill.StrokeColor, r.fill.StrokeWidth = theme.Color(look.Card), theme.Color(edge), width
	focus(r.ring, r.c.focused)
	r.Layout(r.c.Size())
	canvas.Refresh(r.ring)
	canvas.Refresh(r.fill)
}

func (r *cardRenderer) Objects() []fyne.CanvasObject {
	return []fyne.CanvasObject{r.ring, r.fill, r.c.content}
}

func (r *cardRenderer) Destroy() {}
