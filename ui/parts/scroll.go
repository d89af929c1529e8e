package parts

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"
)

// Scroller shows content that may be taller than the room for it. The focus
// moves it: what gets the focus is brought into view.
type Scroller struct {
	widget.BaseWidget
	content fyne.CanvasObject
	inner   *container.Scroll
	held    *sized
}

// scrollRoom keeps the bar off the content.
const scrollRoom = 20

// NewScroller scrolls the content up and down.
func NewScroller(content fyne.CanvasObject) *Scroller {
	s := &Scroller{content: content, held: &sized{}}
	s.inner = container.NewVScroll(container.New(s.held, content))
	s.ExtendBaseWidget(s)
	return s
}

// sized gives the content the width of the view and the height it needs there.
type sized struct{ width float32 }

func (l *sized) MinSize(objects []fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(0, HeightFor(objects[0], l.width))
}

func (l *sized) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	l.width = size.Width - scrollRoom
	objects[0].Move(fyne.Position{})
	objects[0].Resize(fyne.NewSize(l.width, HeightFor(objects[0], l.width)))
}

// Resize is part of fyne.CanvasObject.
func (s *Scroller) Resize(size fyne.Size) {
	s.held.width = size.Width - scrollRoom
	s.BaseWidget.Resize(size)
	s.inner.Refresh()
}

// MinSize is small: that is what scrolling is for.
func (s *Scroller) MinSize() fyne.Size {
	return fyne.NewSize(s.content.MinSize().Width+scrollRoom, 120)
}

// By moves the view down by a share of its height, up where negative.
func (s *Scroller) By(share float32) {
	s.inner.ScrollToOffset(fyne.NewPos(0, s.inner.Offset.Y+share*s.Size().Height))
}

// CreateRenderer is part of fyne.Widget.
func (s *Scroller) CreateRenderer() fyne.WidgetRenderer { return widget.NewSimpleRenderer(s.inner) }

// Reveal brings an object into the view of the scroller it is in, if any.
func Reveal(o fyne.CanvasObject) {
	d := fyne.CurrentApp().Driver()
	c := d.CanvasForObject(o)
	if c == nil {
		return
	}
	s := scrollerOf(c.Content(), o)
	if s == nil {
		return
	}
	top := d.AbsolutePositionForObject(o).Y - d.AbsolutePositionForObject(s).Y
	bottom := top + o.Size().Height
	switch h := s.Size().Height; {
	case top < 0:
		s.inner.ScrollToOffset(fyne.NewPos(0, s.inner.Offset.Y+top))
	case bottom > h:
		s.inner.ScrollToOffset(fyne.NewPos(0, s.inner.Offset.Y+bottom-h))
	}
}

// scrollerOf finds the scroller whose content holds an object.
func scrollerOf(in, o fyne.CanvasObject) *Scroller {
	switch in := in.(type) {
	case *fyne.Container:
		for _, child := range in.Objects {
			if s := scrollerOf(child, o); s != nil {
				return s
			}
		}
	case *Scroller:
		if holds(in.content, o) {
			return in
		}
	}
	return nil
}

func holds(in, o fyne.CanvasObject) bool {
	if in == o {
		return true
	}
	if c, ok := in.(*fyne.Container); ok {
		for _, child := range c.Objects {
			if holds(child, o) {
				return true
			}
		}
	}
	return false
}
