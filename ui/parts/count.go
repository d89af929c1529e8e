package parts

import (
	"fmt"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"volar/ui/look"
)

// Count is the number of repetitions, large enough to be read across a room,
// and how many are wanted.
type Count struct {
	widget.BaseWidget
	n, of int
}

// NewCount makes a count that stands at 0.
func NewCount() *Count {
	c := &Count{}
	c.ExtendBaseWidget(c)
	return c
}

// Set changes the figures; of 0 shows no goal.
func (c *Count) Set(n, of int) {
	if n != c.n || of != c.of {
		c.n, c.of = n, of
		c.Refresh()
	}
}

// CreateRenderer is part of fyne.Widget.
func (c *Count) CreateRenderer() fyne.WidgetRenderer {
	r := &countRenderer{c: c, n: canvas.NewText("", nil), of: canvas.NewText("", nil)}
	r.n.TextStyle.Bold = true
	r.n.Alignment, r.of.Alignment = fyne.TextAlignCenter, fyne.TextAlignCenter
	r.Refresh()
	return r
}

type countRenderer struct {
	c     *Count
	n, of *canvas.Text
}

// figure is the size of the digits in some room: they take what there is.
func (r *countRenderer) figure(room fyne.Size) float32 {
	least := theme.Size(look.SizeCount)
	// The line of a figure is about 1.4 of its size, and takes 0.76 of that.
	tall := (room.Height - r.of.MinSize().Height) / (1.4 * 0.76)
	return max(least, min(room.Width*0.4, tall, 2*least))
}

func (r *countRenderer) Layout(size fyne.Size) {
	r.n.TextSize = r.figure(size)
	top, below := r.n.MinSize().Height, r.of.MinSize().Height
	// The figure's line is taller than its digits; what is below moves up.
	up := top * 0.12
	y := (size.Height - top - below + 2*up) / 2
	r.n.Move(fyne.NewPos(0, y-up))
	r.n.Resize(fyne.NewSize(size.Width, top))
	r.of.Move(fyne.NewPos(0, y+top-2*up))
	r.of.Resize(fyne.NewSize(size.Width, below))
}

func (r *countRenderer) MinSize() fyne.Size {
	digits, of := fyne.MeasureText("00", r.figure(fyne.Size{}), r.n.TextStyle), r.of.MinSize()
	return fyne.NewSize(max(digits.Width, of.Width), digits.Height*0.76+of.Height)
}

func (r *countRenderer) Refresh() {
	r.n.Text, r.n.Color = fmt.Sprint(r.c.n), theme.Color(look.Ink)
	r.of.Text, r.of.TextSize, r.of.Color = "", theme.Size(look.SizeFigure), theme.Color(look.Quiet)
	if r.c.of > 0 {
		r.of.Text = fmt.Sprintf("of %d", r.c.of)
	}
	r.Layout(r.c.Size())
	canvas.Refresh(r.n)
	canvas.Refresh(r.of)
}

func (r *countRenderer) Objects() []fyne.CanvasObject { return []fyne.CanvasObject{r.n, r.of} }
func (r *countRenderer) Destroy()                     {}
