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

const (
	// scrollRoom keeps the bar off the content.
	scrollRoom = 20
	// clipRoom is how far the view reaches out to the left, so that the ring of
	// what stands flush in it is not cut off: a ring and the half of its line.
	clipRoom = ringRoom + ringWidth/2
)

// NewScroller scrolls the content up and down.
func NewScroller(content fyne.CanvasObject) *Scroller {
	s := &Scroller{content: content, held: &sized{}}
	s.inner = container.NewVScroll(container.New(s.held, content))
	s.inner.OnScrolled = func(fyne.Position) { s.tell() }
	s.ExtendBaseWidget(s)
	return s
}

// NewFiller is a Scroller whose content is never less tall than the view: what
// grows with the window, such as a table, does so until there is too little
// room.
func NewFiller(content fyne.CanvasObject) *Scroller {
	s := NewScroller(content)
	s.held.fill = true
	return s
}

// sized gives the content the width of the view and the height it needs there.
type sized struct {
	width float32
	// room is that of the bar, which what fills the view and fits does without.
	room float32
	fill bool
}

func (l *sized) MinSize(objects []fyne.CanvasObject) fyne.Size {
	return fyne.NewSize(0, outHeight(objects[0], l.width))
}

func (l *sized) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	l.width = size.Width - clipRoom - l.room
	h := outHeight(objects[0], l.width)
	if l.fill {
		h = max(h, size.Height)
	}
	put(objects[0], fyne.NewPos(clipRoom, 0), fyne.NewSize(l.width, h))
}

// Resize is part of fyne.CanvasObject.
func (s *Scroller) Resize(size fyne.Size) {
	s.held.room = scrollRoom
	if s.held.fill && outHeight(s.content, size.Width) <= size.Height {
		s.held.room = 0
	}
	s.held.width = size.Width - s.held.room
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
	return outHeight(s.content, s.held.width) - s.Size().Height
}

// Over is true where not all of the content is in view.
func (s *Scroller) Over() bool { return s.over() > 1 }

// AtEnd is true where the end of the content is in view.
func (s *Scroller) AtEnd() bool { return s.inner.Offset.Y >= s.over()-1 }

// MinSize is small: that is what scrolling is for.
func (s *Scroller) MinSize() fyne.Size {
	return fyne.NewSize(outWidth(s.content)+scrollRoom, 80)
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
func (s *Scroller) CreateRenderer() fyne.WidgetRenderer { return &scrollRenderer{s} }

// scrollRenderer lets the view reach out.
type scrollRenderer struct{ s *Scroller }

func (r *scrollRenderer) Layout(size fyne.Size) {
	r.s.inner.Move(fyne.NewPos(-clipRoom, 0))
	r.s.inner.Resize(size.AddWidthHeight(clipRoom, 0))
}

func (r *scrollRenderer) MinSize() fyne.Size           { return r.s.inner.MinSize() }
func (r *scrollRenderer) Refresh()                     { r.s.inner.Refresh() }
func (r *scrollRenderer) Objects() []fyne.CanvasObject { return []fyne.CanvasObject{r.s.inner} }
func (r *scrollRenderer) Destroy()                     {}

// Reveal brings an object into the view of the scrollers it is in, if any.
func Reveal(o fyne.CanvasObject) {
	c := fyne.CurrentApp().Driver().CanvasForObject(o)
	if c == nil {
		return
	}
	for _, s := range scrollersOf(c.Content(), o) {
		s.reveal(o)
	}
}

func (s *Scroller) reveal(o fyne.CanvasObject) {
	d := fyne.CurrentApp().Driver()
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

// scrollersOf finds the scrollers whose content holds an object, the innermost
// first.
func scrollersOf(in, o fyne.CanvasObject) []*Scroller {
	switch in := in.(type) {
	case *fyne.Container:
		for _, child := range in.Objects {
			if s := scrollersOf(child, o); s != nil {
				return s
			}
		}
	case *Scroller:
		if holds(in.content, o) {
			return append(scrollersOf(in.content, o), in)
		}
	}
	return nil
}

func holds(in, o fyne.CanvasObject) bool {
	if in == o {
		return true
	}
	switch in := in.(type) {
	case *fyne.Container:
		for _, child := range in.Objects {
			if holds(child, o) {
				return true
			}
		}
	case *Scroller:
		return holds(in.content, o)
	}
	return false
}
