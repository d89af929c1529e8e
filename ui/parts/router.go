package parts

import "fyne.io/fyne/v2"

// Screen is one thing that fills the window.
type Screen interface {
	// Content is asked for once, as the screen is shown.
	Content() fyne.CanvasObject
	// First has the focus as the screen is shown; nil for none.
	First() fyne.Focusable
	// Key takes a key that no widget used.
	Key(fyne.KeyName)
	// Leave is called as another screen is shown, or the window closes.
	Leave()
}

// Router shows one screen at a time in a window.
type Router struct {
	canvas fyne.Canvas
	screen Screen
}

// NewRouter takes the window's content and keys over.
func NewRouter(c fyne.Canvas) *Router {
	r := &Router{canvas: c}
	c.SetOnTypedKey(func(ev *fyne.KeyEvent) {
		if r.screen != nil {
			r.screen.Key(ev.Name)
		}
	})
	return r
}

// Show leaves the screen that is shown and shows another.
func (r *Router) Show(s Screen) {
	r.Close()
	r.screen = s
	r.canvas.Unfocus()
	r.canvas.SetContent(s.Content())
	if f := s.First(); f != nil {
		r.canvas.Focus(f)
	}
}

// Screen is what is shown; nil before the first.
func (r *Router) Screen() Screen { return r.screen }

// Close leaves the screen that is shown.
func (r *Router) Close() {
	if r.screen != nil {
		r.screen.Leave()
		r.screen = nil
	}
}
