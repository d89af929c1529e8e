// Package home is the window of a client who exercises at home: what there is
// to do today, how it goes, the exercise before the camera with its count and
// its warnings, the questions on pain and effort, and what came of it.
//
// One screen is shown at a time, and each has one action that comes next,
// which Space does. Escape is "It hurts" from the moment an exercise is chosen
// until it is over. Everything works by keyboard alone and with either hand;
// nothing is dragged, tapped twice or typed, but for a note that may be left
// out.
//
// There is no judging and no counting here: package today says what is to be
// done and how it went, package stage runs camera and coach, package session
// records. All of this package runs on fyne's goroutine, but for wake and the
// loading in the background, which come back to it with fyne.Do.
package home

import (
	"context"
	"sync"
	"sync/atomic"
	"time"

	"fyne.io/fyne/v2"

	"volar/internal/camera"
	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/infer"
	"volar/internal/program"
	"volar/internal/session"
	"volar/internal/sound"
	"volar/internal/stage"
	"volar/internal/today"
	"volar/ui/parts"
)

// Store is what is kept on this computer for the client.
type Store interface {
	// Program is what is prescribed for the moment; ok is false where there is
	// no program yet.
	Program(now time.Time) (r program.Resolved, ok bool, err error)
	// Past lists the exercises begun since a moment.
	Past(since time.Time) ([]today.Past, error)
	// Clean is how many clean sets in a row of an exercise came last, and
	// KeepClean keeps that.
	Clean(item string) (int, error)
	KeepClean(item string, n int) error
	// Own is what is recorded of the client's own hand.
	Own(side hand.Side) (today.Own, error)
	// Record begins a session.
	Record(program string, version int) (*session.Recorder, error)
	// Spare is how many bytes Free would make room with on a full disk; 0 where
	// nothing can be spared.
	Spare() (int64, error)
	Free() error
	// Consented is true once the client has confirmed that the clinician
	// agrees; Consent keeps that.
	Consented() (bool, error)
	Consent(now time.Time) error
}

// Options of the home side. App, Window, Open, Engine, Camera and Leave have to
// be set.
type Options struct {
	App    fyne.App
	Window fyne.Window
	// Open opens the store. It is called again where the client tries again.
	Open func() (Store, error)
	// Mend is a way to set an error of Open right; do is nil where there is
	// none. Mend may be nil.
	Mend func(err error) (label string, do func() error)
	// Engine opens the engine that runs the models; it is called once, on a
	// goroutine of its own.
	Engine  func() (infer.Engine, error)
	Threads int
	// Camera opens the camera.
	Camera func() (camera.Source, error)
	Sound  *sound.Player
	// Notice stands over today's list, such as that a video takes the camera's
	// place; empty is none.
	Notice string
	// Clock is the wall clock; nil is time.Now.
	Clock func() time.Time
	// Do runs a function on fyne's goroutine; nil is fyne.Do.
	Do func(func())
	// Post makes the screen on which a file from the therapist is taken in and
	// what was practised goes back, and back shows today's list again; nil offers
	// none.
	Post func(back func()) Titled
	// Kept is called when a session is over and all of it is kept; it must not
	// wait. It may be nil.
	Kept func()
	// Leave is called when the client is done.
	Leave func()
	// Words puts an error into a sentence for the client; nil is the error as it
	// is.
	Words func(error) string
}

// Home is the home side. New makes one, Run shows it, Close ends it.
type Home struct {
	opt      Options
	router   *parts.Router
	settings settings
	ctx      context.Context
	stop     context.CancelFunc
	work     sync.WaitGroup

	engine  infer.Engine
	failed  error // of the engine
	loaded  chan struct{}
	works   time.Duration                    // what a picture took in the last sitting
	mesh    func() (*handrender.Hand, error) // the hand of demonstrations, read once
	sitting *sitting
	store   Store
	pending atomic.Bool
	closed  atomic.Bool
	// trialSide is the hand that tries an exercise without a program.
	trialSide hand.Side
	// ended is why the day ended for pain, and on which: it holds even where
	// nothing could be kept.
	ended   coach.StopReason
	endedOn program.Date
}

// New prepares the home side and begins to load the models.
func New(o Options) *Home {
	if o.Clock == nil {
		o.Clock = time.Now
	}
	if o.Do == nil {
		o.Do = fyne.Do
	}
	if o.Words == nil {
		o.Words = func(err error) string { return err.Error() }
	}
	h := &Home{opt: o, router: parts.NewRouter(o.Window.Canvas()), loaded: make(chan struct{}), mesh: sync.OnceValues(handrender.Default), trialSide: hand.Right}
	do := o.Do
	h.opt.Do = func(f func()) {
		// Once fyne has ended it runs what is asked of it at once, wherever it is
		// asked.
		if !h.closed.Load() {
			do(f)
		}
	}
	h.ctx, h.stop = context.WithCancel(context.Background())
	h.settings = loadSettings(o.App.Preferences())
	h.settings.apply(o.App, o.Sound)
	h.background(func() {
		e, err := o.Engine()
		h.engine, h.failed = e, err
		close(h.loaded)
	})
	return h
}

// background runs something beside the window; Close waits for it.
func (h *Home) background(f func()) { h.work.Go(f) }

// Run shows the first screen.
func (h *Home) Run() {
	if h.store == nil {
		s, err := h.opt.Open()
		if err != nil {
			h.show(newUnopened(h, err))
			return
		}
		h.store = s
	}
	ok, err := h.store.Consented()
	switch {
	case err != nil:
		h.trouble("The store cannot be read", err, h.Run)
	case !ok:
		h.show(newCaution(h))
	default:
		h.today()
	}
}

// Close ends what runs and waits for it. It is called on fyne's goroutine
// before the program leaves, or once fyne has ended. A second call does nothing.
func (h *Home) Close() error {
	if h.closed.Swap(true) {
		return nil
	}
	h.router.Close()
	h.stop()
	err := h.endSitting()
	if h.sitting != nil {
		err = h.sitting.close()
		h.sitting = nil
	}
	h.work.Wait()
	<-h.loaded
	if h.engine != nil {
		h.engine.Close()
	}
	return err
}

// Leave is for a window that is being closed: what is not kept is told first, and
// closing again gives it up.
func (h *Home) Leave() {
	if _, told := h.router.Screen().(*unkept); !told {
		if err := h.endSitting(); err != nil {
			h.show(newUnkept(h, err))
			return
		}
	}
	h.opt.Leave()
}

// show shows a screen, and names the window after it.
func (h *Home) show(s titled) {
	h.router.Show(s)
	h.opt.Window.SetTitle(s.Title() + " – volar")
}

// Titled is a screen that the window is named after.
type Titled interface {
	parts.Screen
	Title() string
}

type titled = Titled

// post adds what leads to the screen of Options.Post, where there is one.
func (b *base) post(actions []fyne.CanvasObject) []fyne.CanvasObject {
	if b.h.opt.Post == nil {
		return actions
	}
	return append(actions, b.action(parts.Plain, "Therapist", fyne.KeyT, func() { b.h.show(b.h.opt.Post(b.h.today)) }))
}

// today shows today's list; a sitting ends here.
func (h *Home) today() {
	if err := h.endSitting(); err != nil {
		h.show(newUnkept(h, err))
		return
	}
	d, err := h.day()
	if err != nil {
		h.trouble("The program cannot be read", err, h.today)
		return
	}
	h.show(newToday(h, d))
}

// wake is called by the stage when there is something new to show. At most one
// update waits, however slow the window is.
func (h *Home) wake() {
	if !h.pending.CompareAndSwap(false, true) {
		return
	}
	h.opt.Do(func() {
		h.pending.Store(false)
		if h.sitting == nil {
			return
		}
		if v, ok := h.sitting.stage.Take(); ok {
			if s, ok := h.router.Screen().(viewer); ok {
				s.Seen(&v)
			}
		}
	})
}

// Measures say how well the camera's pictures are kept up with; all are 0
// while no exercise is done.
type Measures = stage.Measures

// Measures may be called from any goroutine but fyne's.
func (h *Home) Measures() (m Measures) {
	fyne.DoAndWait(func() {
		if h.sitting != nil {
			m = h.sitting.stage.Measures()
		}
	})
	return m
}

// viewer is a screen that shows what the stage sees.
type viewer interface{ Seen(*stage.View) }

// sounds plays what the coach had to say; it runs on the stage's goroutine.
func (h *Home) sounds(events []coach.Event) {
	p := h.opt.Sound
	if p == nil {
		return
	}
	for _, e := range events {
		switch e := e.(type) {
		case coach.RepetitionCounted, coach.PairCounted:
			p.Tone(sound.Counted)
		case coach.HoldMet:
			p.Tone(sound.HoldMet)
		case coach.FlagRaised:
			if e.Flag.Kind == coach.Hyperextension || e.Flag.Kind == coach.OverFlexion {
				p.Tone(sound.Warning)
			}
		case coach.Cue:
			p.Say(e.Text, e.Urgent)
		}
	}
}

// trouble says what is wrong and offers to try again.
func (h *Home) trouble(title string, err error, again func()) {
	h.show(newTrouble(h, title, h.opt.Words(err), again))
}
