package parts

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
)

// ringed is what keeps room around it for the ring of the focus. In a Column, a
// Page or a Scroller it stands flush with the words above it: the ring goes
// into the edge of the screen, or between two columns.
type ringed interface{ keepsRing() }

func (b *Button) keepsRing()  {}
func (t *Tick) keepsRing()    {}
func (c *Card) keepsRing()    {}
func (t *Table) keepsRing()   {}
func (m *HandMap) keepsRing() {}

// out is how far an object reaches out to both sides, so that what is seen of it
// is flush. Things side by side reach out where all of them keep that room.
func out(o fyne.CanvasObject) float32 {
	if _, ok := o.(ringed); ok {
		return ringRoom
	}
	c, ok := o.(*fyne.Container)
	if !ok || len(c.Objects) == 0 {
		return 0
	}
	switch c.Layout.(type) {
	case *flow, *row:
		for _, child := range c.Objects {
			if out(child) == 0 {
				return 0
			}
		}
		return ringRoom
	}
	return 0
}

// outHeight is the height of an object that stands flush in a width.
func outHeight(o fyne.CanvasObject, width float32) float32 { return HeightFor(o, width+2*out(o)) }

// outWidth is the least width in which an object stands flush.
func outWidth(o fyne.CanvasObject) float32 { return o.MinSize().Width - 2*out(o) }

// put places an object so that it stands flush.
func put(o fyne.CanvasObject, at fyne.Position, size fyne.Size) {
	n := out(o)
	o.Move(at.SubtractXY(n, 0))
	o.Resize(size.AddWidthHeight(2*n, 0))
}

// Flush does the same for one object in any other layout.
func Flush(o fyne.CanvasObject) *fyne.Container { return container.New(flush{}, o) }

type flush struct{}

func (flush) heightFor(objects []fyne.CanvasObject, width float32) float32 {
	return HeightFor(objects[0], width+2*ringRoom)
}

func (flush) MinSize(objects []fyne.CanvasObject) fyne.Size {
	return objects[0].MinSize().SubtractWidthHeight(2*ringRoom, 0)
}

func (flush) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	objects[0].Move(fyne.NewPos(-ringRoom, 0))
	objects[0].Resize(size.AddWidthHeight(2*ringRoom, 0))
}
