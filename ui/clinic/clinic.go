// Package clinic is the window of a hand therapist: the clients, and of each
// the versions of the program, the recorded hands and the sessions; the editor
// in which a program is written; and the clinic's settings. The store behind it
// opens with a passphrase, and the window locks when it lies idle.
//
// One screen is shown at a time. Everything works by keyboard alone: Tab goes
// on, the arrows move in a list, Enter opens or does what comes next, Escape
// goes back, and a letter beside an action does it wherever no text is typed.
// Control with S saves, with L locks, with Q leaves.
//
// There is no judging here and no rule of a program: package draft edits and
// validates, package clinicstore keeps, package report writes. Screens of other
// packages are given in Options: see Visit.
//
// While locked, the store stays open, so that the screen below, with what was
// typed there, is as it was; but nothing of it is drawn and no key reaches it.
//
// All of this package runs on fyne's goroutine, but for what it does in the
// background, which comes back to it with Options.Do.
package clinic

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"

	"volar/internal/clinicstore"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/session"
	"volar/internal/vault"
	"volar/ui/look"
	"volar/ui/parts"
)

// Visit is what a screen of another package is made with.
type Visit struct {
	Store *clinicstore.Store
	// Client is whose it is; the zero Client for what is of the whole clinic.
	Client clinicstore.Client
	Window fyne.Window
	// Now is the wall clock.
	Now func() time.Time
	// Do runs a function on fyne's goroutine; after the window was closed it
	// does nothing.
	Do func(func())
	// Back shows the screen that this one was opened from. It, and all that
	// follows, are called on fyne's goroutine.
	Back func()
	// Edit opens the editor with a new version of a client's program, at the
	// exercise with the ID where one is named and with the limits of a hand; an
	// unknown side is the program's. nil where the store only reads.
	Edit func(code, exercise string, side hand.Side)
	// Stir tells that somebody is there though no key is pressed, so that the
	// window does not lock; a camera screen in use calls it.
	Stir func()
	// Words put an error into a sentence.
	Words func(error) string
}

// Screen makes a screen of another package. Where the screen has a method
// Title() string, the window is called so.
type Screen func(v Visit) parts.Screen

// Options of the clinic's window. App, Window, Dir and Leave have to be set.
type Options struct {
	App    fyne.App
	Window fyne.Window
	// Dir is the folder of the store.
	Dir string
	// Screens of other packages. What is nil is not offered.
	//
	// Baseline records a client's hand, Measure reads the angles now, Sessions
	// lists a client's sessions and Progress their weeks, Invite gives the
	// client the first file, Report writes their weeks into a file: each opens
	// from the client's page. Queue lists the
	// sessions of all clients that need eyes, Post sends and fetches: both open
	// from the list of clients.
	Baseline, Measure, Sessions, Progress, Report, Invite, Queue, Post Screen
	// Session opens one session.
	Session func(v Visit, id session.ID) parts.Screen
	// Clock is the wall clock; nil is time.Now.
	Clock func() time.Time
	// Do runs a function on fyne's goroutine; nil is fyne.Do.
	Do func(func())
	// Leave is called when the therapist is done and the store is closed.
	Leave func()
	// KDF are the costs of a new passphrase; the zero value is vault's.
	KDF vault.KDF
}

// Clinic is the clinic's window. New makes one, Run shows it, Close ends it.
type Clinic struct {
	opt    Options
	router *parts.Router
	ctx    context.Context
	stop   context.CancelFunc
	work   sync.WaitGroup
	closed atomic.Bool
	store  *clinicstore.Store
	ready  atomic.Pointer[clinicstore.Store] // open, and not yet shown
	set    clinicstore.Settings
	// stirred is when somebody was last there, in Unix nanoseconds of the wall
	// clock: a computer that slept locks as it wakes.
	stirred atomic.Int64
	filter  string // of the list of clients
	chosen  string // the client chosen there
	leaving bool
	// covering is the screen that locked the window last.
	covering *locked
}

// New prepares the window.
func New(o Options) *Clinic {
	if o.Clock == nil {
		o.Clock = time.Now
	}
	if o.Do == nil {
		o.Do = fyne.Do
	}
	c := &Clinic{opt: o, router: parts.NewRouter(o.Window.Canvas())}
	do := o.Do
	c.opt.Do = func(f func()) {
		if !c.closed.Load() {
			do(func() {
				if !c.closed.Load() {
					f()
				}
			})
		}
	}
	c.ctx, c.stop = context.WithCancel(context.Background())
	c.dress()
	if d, ok := o.Window.Canvas().(desktop.Canvas); ok {
		d.SetOnKeyDown(func(*fyne.KeyEvent) { c.stir() })
	}
	c.shortcut(fyne.KeyL, c.lock)
	c.shortcut(fyne.KeyQ, c.Quit)
	for _, k := range []fyne.KeyName{fyne.KeyS, fyne.KeyN, fyne.KeyF, fyne.KeyP, fyne.Key1, fyne.Key2, fyne.Key3, fyne.Key4, fyne.Key5} {
		c.shortcut(k, func() {
			if s, ok := c.router.Screen().(interface{ Control(fyne.KeyName) }); ok && !c.router.Covered() {
				s.Control(k)
			}
		})
	}
	c.stir()
	c.background(c.idle)
	return c
}

// shortcut does something on Control with a key, wherever the focus is.
func (c *Clinic) shortcut(k fyne.KeyName, do func()) {
	c.opt.Window.Canvas().AddShortcut(&desktop.CustomShortcut{KeyName: k, Modifier: fyne.KeyModifierShortcutDefault}, func(fyne.Shortcut) {
		c.stir()
		do()
	})
}

// background runs something beside the window; Close waits for it.
func (c *Clinic) background(f func()) { c.work.Go(f) }

// Run shows the first screen.
func (c *Clinic) Run() {
	if clinicstore.Exists(c.opt.Dir) {
		c.show(newOpening(c))
		return
	}
	c.show(newFirst(c))
}

// Close ends what runs, waits for it and closes the store. It is called on
// fyne's goroutine before the program leaves, or once fyne has ended. A second
// call does nothing.
func (c *Clinic) Close() error {
	if c.closed.Swap(true) {
		return nil
	}
	c.router.Close()
	c.stop()
	c.work.Wait()
	var err error
	for _, s := range []*clinicstore.Store{c.store, c.ready.Swap(nil)} {
		if s != nil {
			err = errors.Join(err, s.Close())
		}
	}
	return err
}

// Quit makes a backup where one is due, and leaves. Where something that was
// written would be lost it asks first.
func (c *Clinic) Quit() {
	if c.leaving || c.store == nil {
		c.leave()
		return
	}
	if s, ok := c.router.Screen().(Drafting); ok && s.Unsaved() {
		switch {
		case !c.router.Covered():
			s.Ask(c.Quit)
			return
		case !c.covering.warned:
			c.covering.warn()
			return
		}
	}
	c.leaving = true
	due, err := c.store.BackupDue(c.ctx)
	if err != nil || !due {
		c.leave()
		return
	}
	c.router.Uncover()
	c.show(newWait(c, "A backup is being made", "volar closes once it is done. To leave without it, close the window again."))
	c.background(func() {
		_, err := c.store.Backup(c.ctx, nil)
		c.opt.Do(func() {
			if err != nil && !errors.Is(err, context.Canceled) {
				c.trouble("The backup could not be made", err, c.Quit)
				return
			}
			c.leave()
		})
	})
}

func (c *Clinic) leave() {
	c.Close()
	c.opt.Leave()
}

// titled is a screen that names the window.
type titled interface {
	parts.Screen
	Title() string
}

// show shows a screen and names the window after it.
func (c *Clinic) show(s parts.Screen) {
	c.router.Show(s)
	if !c.router.Covered() {
		c.name(s)
	}
}

func (c *Clinic) name(s parts.Screen) {
	title := "volar"
	if t, ok := s.(titled); ok {
		title = t.Title() + " – volar"
	}
	c.opt.Window.SetTitle(title)
}

// visit is what another package's screen about a client gets.
func (c *Clinic) visit(client clinicstore.Client, back func()) Visit {
	v := Visit{Store: c.store, Client: client, Window: c.opt.Window, Now: c.opt.Clock, Do: c.opt.Do, Back: back, Stir: c.stir, Words: clinicstore.Words}
	if !c.store.ReadOnly() {
		v.Edit = func(code, exercise string, side hand.Side) { c.edit(code, exercise, side, back) }
	}
	return v
}

// trouble says what is wrong and offers to try again.
func (c *Clinic) trouble(title string, err error, again func()) {
	c.show(newTrouble(c, title, clinicstore.Words(err), again))
}

// day is the clinic's present day.
func (c *Clinic) day() program.Date { return c.store.Today() }

const (
	keyScale   = "clinic-text-percent"
	keyVariant = "clinic-look"
)

func (c *Clinic) scale() int { return c.opt.App.Preferences().IntWithFallback(keyScale, 100) }
func (c *Clinic) variant() look.Variant {
	return look.Variant(c.opt.App.Preferences().IntWithFallback(keyVariant, int(look.System)))
}

// dress puts the choices on look into effect.
func (c *Clinic) dress() {
	c.opt.App.Settings().SetTheme(look.Theme{Variant: c.variant(), Scale: float32(c.scale()) / 100, Desk: true})
}
