package clinic

import (
	"image/color"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/widget"

	"volar/internal/clinicstore"
	"volar/ui/parts"
)

// idleLook is how often the window looks whether it lies idle.
const idleLook = time.Second

// stir notes that somebody is there.
func (c *Clinic) stir() { c.stirred.Store(c.opt.Clock().UnixNano()) }

// idle locks the window once nobody was there for long enough.
func (c *Clinic) idle() {
	tick := time.NewTicker(idleLook)
	defer tick.Stop()
	for {
		select {
		case <-c.ctx.Done():
			return
		case <-tick.C:
			c.opt.Do(c.lockIfIdle)
		}
	}
}

// lockIfIdle locks where nobody was there for the time that is set. A clock
// that was set back counts as idle: it cannot be told from a long time.
func (c *Clinic) lockIfIdle() {
	if c.store == nil || c.router.Covered() {
		return
	}
	since := time.Duration(c.opt.Clock().UnixNano() - c.stirred.Load())
	if since >= c.set.LockAfter() || since < -time.Minute {
		c.lock()
	}
}

// lock covers the window until the passphrase is typed.
func (c *Clinic) lock() {
	if c.store == nil || c.router.Covered() || c.leaving {
		return
	}
	c.covering = newLocked(c)
	c.router.Cover(c.covering)
	c.name(c.covering)
	if s, ok := c.router.Screen().(Watching); ok {
		s.Covered(true)
	}
}

// Watching is a screen that holds a camera: Covered tells it that the window is
// locked, so that nobody is filmed by a window that shows nothing of it, and
// that it is unlocked again.
type Watching interface{ Covered(yes bool) }

// locked is what covers the window.
type locked struct {
	base
	field *parts.Field
	row   *parts.FormRow
	open  *parts.Button
	// busy is true while a passphrase is tried, and again where Enter came
	// meanwhile: what is typed next is tried then.
	busy, again bool
	// warned is true once it was said that leaving loses a draft.
	warned bool
}

func newLocked(c *Clinic) *locked { return &locked{base: base{c: c}} }

// Content is part of parts.Screen.
func (s *locked) Content() fyne.CanvasObject {
	s.field = parts.NewSecretField()
	s.field.OnEnter = s.unlock
	s.row = parts.NewFormRow("Passphrase", s.field)
	s.first = s.field
	s.open = parts.NewButton(parts.Lead, "Unlock", "Enter", s.unlock)
	s.Add(s.open)
	body := parts.Column(gap, text("What was open is as you left it."), s.row.Content())
	return s.page("Locked", parts.Heading("Locked"), s.Scroll(parts.Measure(body)), s.open, parts.NewButton(parts.Plain, "Leave", "Ctrl Q", s.c.Quit))
}

// warn says what leaving would lose; leaving once more does.
func (s *locked) warn() {
	s.warned = true
	s.row.Problem("Something that was written or measured is not saved. Unlock to save it, or leave once more to throw it away.")
}

func (s *locked) unlock() {
	if s.busy {
		s.again = true
		return
	}
	s.busy, s.again = true, false
	s.row.Problem("")
	phrase := s.field.Text
	s.field.SetText("")
	s.c.background(func() {
		err := s.c.store.Unlocks(s.c.ctx, phrase)
		s.c.opt.Do(func() {
			s.busy = false
			if err != nil {
				s.row.Problem(clinicstore.Words(err))
				if s.again {
					s.unlock()
				}
				return
			}
			s.c.stir()
			s.c.router.Uncover()
			if w, ok := s.c.router.Screen().(Watching); ok {
				w.Covered(false)
			}
			s.c.name(s.c.router.Screen())
		})
	})
}

// watch lies behind a screen and notes that the pointer moves.
type watch struct {
	widget.BaseWidget
	stir func()
}

func newWatch(stir func()) *watch {
	w := &watch{stir: stir}
	w.ExtendBaseWidget(w)
	return w
}

// CreateRenderer is part of fyne.Widget.
func (w *watch) CreateRenderer() fyne.WidgetRenderer {
	return widget.NewSimpleRenderer(canvas.NewRectangle(color.Transparent))
}

// MouseIn is part of desktop.Hoverable.
func (w *watch) MouseIn(*desktop.MouseEvent) { w.stir() }

// MouseMoved is part of desktop.Hoverable.
func (w *watch) MouseMoved(*desktop.MouseEvent) { w.stir() }

// MouseOut is part of desktop.Hoverable.
func (w *watch) MouseOut() {}
