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
	// cover, where not nil, is shown over screen, whose content waits.
	cover   Screen
	content fyne.CanvasObject
	focus   fyne.Focusable
}

// NewRouter takes the window's content and keys over.
func NewRouter(c fyne.Canvas) *Router {
	r := &Router{canvas: c}
	c.SetOnTypedKey(func(ev *fyne.KeyEvent) {
		switch {
		case r.cover != nil:
			r.cover.Key(ev.Name)
		case r.screen != nil:
			r.screen.Key(ev.Name)
		}
	})
	return r
}

// Show leaves the screen that is shown and shows another, under the cover where
// there is one.
func (r *Router) Show(s Screen) {
	r.leave()
	r.screen = s
	if r.cover != nil {
		r.content, r.focus = s.Content(), s.First()
		return
	}
	r.put(s.Content(), s.First())
}

func (r *Router) put(content fyne.CanvasObject, focus fyne.Focusable) {
	r.canvas.Unfocus()
	r.canvas.SetContent(content)
	if focus != nil {
		r.canvas.Focus(focus)
	}
}

// Cover shows a screen in place of the present one, which is not left: nothing
// of it is drawn and no key reaches it until Uncover.
func (r *Router) Cover(s Screen) {
	if r.cover == nil {
		r.content, r.focus = r.canvas.Content(), r.canvas.Focused()
		for _, o := range r.canvas.Overlays().List() {
			r.canvas.Overlays().Remove(o)
		}
	} else {
		r.cover.Leave()
	}
	r.cover = s
	r.put(s.Content(), s.First())
}

// Uncover shows again what was covered.
func (r *Router) Uncover() {
	if r.cover == nil {
		return
	}
	r.cover.Leave()
	content, focus := r.content, r.focus
	r.cover, r.content, r.focus = nil, nil, nil
	r.put(content, focus)
}

// Covered says whether a cover is shown.
func (r *Router) Covered() bool { return r.cover != nil }

// Screen is what is shown, or covered; nil before the first.
func (r *Router) Screen() Screen { return r.screen }

// Close leaves the screens that are shown.
func (r *Router) Close() {
	if r.cover != nil {
		r.cover.Leave()
		r.cover = nil
	}
	r.leave()
}

func (r *Router) leave() {
	if r.screen != nil {
		r.screen.Leave()
		r.screen = nil
	}
}
