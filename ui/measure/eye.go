package measure

import (
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"volar/internal/arom"
	"volar/internal/camera"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/infer"
	"volar/internal/live"
	"volar/internal/stage"
)

// eye owns the engine and the stage of a screen. Open begins to load them,
// close ends them and waits; both are called on fyne's goroutine. One that was
// closed stays so: a screen whose window was locked makes another.
type eye struct {
	opt     *Options
	seen    func(v *stage.View) // on fyne's goroutine
	ready   func()              // on fyne's goroutine, once the stage is there
	failed  func(error)
	loaded  chan struct{} // nil before open
	closed  atomic.Bool
	pending atomic.Bool
	// hold leaves what is new with the stage, so that the picture that is shown
	// stays.
	hold   atomic.Bool
	engine infer.Engine
	stage  *stage.Stage
}

func (e *eye) open() {
	e.loaded = make(chan struct{})
	go func() {
		err := e.load()
		close(e.loaded)
		e.opt.Do(func() {
			switch {
			case e.closed.Load():
			case err != nil:
				e.failed(err)
			default:
				e.ready()
			}
		})
	}()
}

func (e *eye) load() (err error) {
	if e.engine, err = e.opt.Engine(); err != nil {
		return err
	}
	e.stage, err = stage.Open(stage.Options{Engine: e.engine, Threads: e.opt.Threads, Open: e.opt.Camera, Wake: e.wake})
	return err
}

// wake is called on the stage goroutine. At most one update waits, however slow
// the window is.
func (e *eye) wake() {
	if !e.pending.CompareAndSwap(false, true) {
		return
	}
	e.opt.Do(func() {
		e.pending.Store(false)
		// The first pictures may come before ready was called.
		select {
		case <-e.loaded:
		default:
			return
		}
		if e.closed.Load() || e.hold.Load() || e.stage == nil {
			return
		}
		if v, ok := e.stage.Take(); ok {
			e.seen(&v)
		}
	})
}

// up says whether there is a stage.
func (e *eye) up() bool {
	select {
	case <-e.loaded:
		return e.stage != nil && !e.closed.Load()
	default:
		return false
	}
}

func (e *eye) close() {
	if e.closed.Swap(true) || e.loaded == nil {
		return
	}
	<-e.loaded
	if e.stage != nil {
		e.stage.Close()
	}
	if e.engine != nil {
		e.engine.Close()
	}
}

// glance is what a picture showed, for fyne's goroutine.
type glance struct {
	mu     sync.Mutex
	latest [8]hand.Sample // the newest of them at n-1
	n      int
	other  bool // only the other hand was seen
}

// put is called on the stage goroutine.
func (g *glance) put(s hand.Sample, other bool) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.latest[g.n%len(g.latest)] = s
	g.n++
	g.other = other
}

// at is what the picture of a time showed, or else the newest one.
func (g *glance) at(t time.Duration) (s hand.Sample, other bool) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.n == 0 {
		return hand.Sample{}, false
	}
	for _, s := range g.latest[:min(g.n, len(g.latest))] {
		if s.Time == t {
			return s, g.other
		}
	}
	return g.latest[(g.n-1)%len(g.latest)], g.other
}

// look begins to measure a hand; push, which may be nil, takes each sample on
// the stage goroutine.
func (e *eye) look(side hand.Side, g goniometry.Options, to *glance, push func(hand.Sample, *hand.Observation, *camera.Frame)) {
	e.stage.Look(stage.LookOptions{
		Side: side, Goniometry: g,
		Seen: func(f *camera.Frame, s *live.Seen) {
			other := s.Hand == nil && s.Other.Hand != nil
			to.put(s.Sample, other)
			if push == nil {
				return
			}
			sample := s.Sample
			if other {
				sample = arom.Other(f.Time, s.Other.Hand.Side)
			}
			push(sample, s.Hand, f)
		},
		Unseen: func(at time.Duration) {
			to.put(hand.Sample{Time: at}, false)
			if push != nil {
				push(hand.Sample{Time: at}, nil, nil)
			}
		},
	})
}

// cameraWords say what is wrong with the camera; empty where nothing is.
func cameraWords(v *stage.View) string {
	switch {
	case v.Failed != nil:
		return fmt.Sprintf("The hand model has failed: %v. Go back and try again.", v.Failed)
	case v.Camera.State == stage.Opening:
		return "The camera is being opened."
	}
	return stage.CameraWords(v.Camera)
}
