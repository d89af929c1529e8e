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
	changed func()
}

// scrollRoom keeps the bar off the content.
const scrollRoom = 20

// NewScroller scrolls the content up and down.
func NewScroller(content fyne.CanvasObject) *Scroller {
	s := &Scroller{content: content, held: &sized{}}
	s.inner = container.NewVScroll(container.New(s.held, content))
	s.inner.OnScrolled = func(fyne.Position) { s.tell() }
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
	s.tell()
}

// OnChanged has a function called when Over or AtEnd may have changed.
func (s *Scroller) OnChanged(f func()) { s.changed = f }

func (s *Scroller) tell() {
	if s.changed != nil {
		s.changed()
	}
}

// over is by how much the content is taller than the room for it.
func (s *Scroller) over() float32 {
	return HeightFor(s.content, s.held.width) - s.Size().Height
}

// Over is true where not all of the content is in view.
func (s *Scroller) Over() bool { return s.Size().Height > 0 && s.over() > 1 }

// AtEnd is true where the end of the content is in view.
func (s *Scroller) AtEnd() bool { return s.inner.Offset.Y >= s.over()-1 }

// MinSize is small: that is what scrolling is for.
func (s *Scroller) MinSize() fyne.Size {
	return fyne.NewSize(s.content.MinSize().Width+scrollRoom, 120)
}

// By moves the view down by a share of its height, up where negative.
func (s *Scroller) By(share float32) {
	s.inner.ScrollToOffset(fyne.NewPos(0, s.inner.Offset.Y+share*s.Size().Height))
	s.tell()
}

// Top moves the view to the beginning.
func (s *Scroller) Top() {
	s.inner.ScrollToOffset(fyne.Position{})
	s.tell()
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
	case top < 0, bottom-top > h:
		// What is taller than the view is read from its beginning.
		s.inner.ScrollToOffset(fyne.NewPos(0, s.inner.Offset.Y+top))
	case bottom > h:
		s.inner.ScrollToOffset(fyne.NewPos(0, s.inner.Offset.Y+bottom-h))
	}
	s.tell()
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
