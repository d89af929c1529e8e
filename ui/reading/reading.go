// Package reading is where a therapist reads what was done at home: the list of
// sessions that need eyes, one session with its flagged moments, the replay of a
// moment, a note, the weeks of a client and their report as a file, and two
// sessions side by side. There is
// no judging here: package review says what is in a session, package report
// what is in weeks of them.
//
// A Reader is one parts.Screen that shows its screens one after the other, so
// that the way back leads to where one came from. Everything is worked by keys:
// a letter beside an action does it, Escape goes back. In the replay Left and
// Right go by a picture, with Shift or as Page Up and Page Down by a second, N
// and P to the next and previous flagged moment, Home and End to the ends.
//
// Angles on the screens are in words, times within a session are minutes and
// seconds from its beginning, days are the client's own. What could not be
// judged is hatched and said.
//
// All of this runs on fyne's goroutine, but for reading the store and drawing
// the hand, which have goroutines of their own; Leave ends them and waits.
package reading

import (
	"context"
	"sync"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"

	"volar/internal/clinicstore"
	"volar/internal/hand"
	"volar/internal/review"
	"volar/internal/session"
	"volar/ui/parts"
)

// Options of a Reader. Store and Window have to be set.
type Options struct {
	Store  *clinicstore.Store
	Window fyne.Window
	// Client is the code of the one client whose sessions are listed; empty
	// lists those of all.
	Client string
	// By is the reader's own sign, kept with what is written; it may be empty.
	By string
	// Now is the wall clock; nil is time.Now.
	Now func() time.Time
	// Do runs a function on fyne's goroutine; nil is fyne.Do.
	Do func(func())
	// Back leads out of the Reader.
	Back func()
	// Edit opens the editor of a client's program at an exercise, to change
	// limit or dose, with the limits of a hand; an unknown side is the program's
	// hand. nil is not offered.
	Edit func(code, exercise string, side hand.Side)
	// Stir is told that somebody is there while a replay runs by itself; it may
	// be nil.
	Stir func()
	// Words put an error into a sentence; nil is the store's.
	Words func(error) string
	// Software names program and version for the weeks' report.
	Software string
	// Folder is where reports go; empty is the user's documents.
	Folder string
}

// screen is one of the Reader's screens.
type screen interface {
	parts.Screen
	Title() string
}

// Reader shows the screens. Queue, Session and Progress make one.
type Reader struct {
	opt   Options
	ctx   context.Context
	stop  context.CancelFunc
	work  sync.WaitGroup
	root  *fyne.Container
	now   screen
	begin func(r *Reader) screen
	// asked counts the loads, so that one that comes late is not shown.
	asked int
	left  bool
	// file is the session that is read; nil between sessions.
	file *file
}

func newReader(o Options, begin func(r *Reader) screen) *Reader {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Do == nil {
		o.Do = fyne.Do
	}
	if o.Words == nil {
		o.Words = clinicstore.Words
	}
	r := &Reader{opt: o, root: container.NewStack(), begin: begin}
	r.ctx, r.stop = context.WithCancel(context.Background())
	return r
}

// Queue lists sessions, what needs eyes first.
func Queue(o Options) *Reader {
	return newReader(o, func(r *Reader) screen { return newQueue(r) })
}

// Session opens one session.
func Session(o Options, id session.ID) *Reader {
	return newReader(o, func(r *Reader) screen { return newLoading(r, id, o.Back) })
}

// Progress shows the weeks of Options.Client.
func Progress(o Options) *Reader {
	return newReader(o, func(r *Reader) screen { return newWeeks(r, o.Client, o.Back) })
}

// Report writes the weeks of Options.Client into a file.
func Report(o Options) *Reader {
	return newReader(o, func(r *Reader) screen { return newPaper(r, o.Client, 0, o.Back) })
}

// Content is part of parts.Screen.
func (r *Reader) Content() fyne.CanvasObject {
	r.now = r.begin(r)
	r.root.Objects = []fyne.CanvasObject{r.now.Content()}
	return r.root
}

// First is part of parts.Screen.
func (r *Reader) First() fyne.Focusable { return r.now.First() }

// Key is part of parts.Screen.
func (r *Reader) Key(k fyne.KeyName) { r.now.Key(k) }

// Control takes a key pressed with Control.
func (r *Reader) Control(k fyne.KeyName) {
	if s, ok := r.now.(interface{ Control(fyne.KeyName) }); ok {
		s.Control(k)
	}
}

// Title is what the window is called.
func (r *Reader) Title() string {
	if r.now == nil {
		return "Sessions"
	}
	return r.now.Title()
}

// Leave is part of parts.Screen: it ends what runs and waits for it.
func (r *Reader) Leave() {
	r.left = true
	r.reads(nil)
	if r.now != nil {
		r.now.Leave()
	}
	r.stop()
	r.work.Wait()
}

// show leaves the screen that is shown and shows another.
func (r *Reader) show(s screen) {
	if r.left {
		return
	}
	r.asked++
	r.now.Leave()
	r.now = s
	r.put(s.Content(), s.First())
}

// put shows the content of the present screen, first or anew.
func (r *Reader) put(content fyne.CanvasObject, first fyne.Focusable) {
	c := r.opt.Window.Canvas()
	// A window that is covered by its lock shows nothing of this: the focus is
	// the lock's.
	mine := c.Content() == fyne.CanvasObject(r.root)
	if mine {
		c.Unfocus()
	}
	r.root.Objects = []fyne.CanvasObject{content}
	content.Resize(r.root.Size())
	r.root.Refresh()
	if mine {
		r.opt.Window.SetTitle(r.Title() + " – volar")
		if first != nil {
			c.Focus(first)
		}
	}
}

// reads notes which session is read from now on, and keeps the time that the one
// before was looked at.
func (r *Reader) reads(f *file) {
	if r.file != nil && r.file != f {
		r.file.closeUp()
	}
	r.file = f
}

// load reads something off fyne's goroutine and hands it to then, unless
// another screen is shown by then.
func load[T any](r *Reader, read func(ctx context.Context) (T, error), then func(T, error)) {
	asked := r.asked
	r.work.Go(func() {
		x, err := read(r.ctx)
		if r.ctx.Err() != nil {
			return
		}
		r.opt.Do(func() {
			if !r.left && r.asked == asked {
				then(x, err)
			}
		})
	})
}

// leave puts a review of a session into the store.
func (r *Reader) leave(v review.Review) error {
	v.Format, v.By, v.At = 1, r.opt.By, r.opt.Now().UTC().Truncate(time.Microsecond)
	return r.opt.Store.PutReview(r.ctx, v)
}
