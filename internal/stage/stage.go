package stage

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"volar/internal/camera"
	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/infer"
	"volar/internal/live"
	"volar/internal/overlay"
)

// Options of a Stage. Engine and Open have to be set.
type Options struct {
	Engine infer.Engine
	// Threads for the models; 0 is the engine's default.
	Threads int
	// Open opens the camera. It is called on a goroutine of the stage's own,
	// and again whenever the camera was lost.
	Open func() (camera.Source, error)
	// Wake is called on the stage goroutine when there is a new View to Take;
	// it must not wait. It may be nil.
	Wake func()
	// Events is called on the stage goroutine with what the coach had to say,
	// for sounds. It must not wait. It may be nil.
	Events func([]coach.Event)
}

// Stage runs a camera and what is done before it. Open makes one; its methods
// may be called from any goroutine and do not wait, except Close.
type Stage struct {
	opt     Options
	started time.Time
	swap    *swap
	present *presenter
	frames  chan frame
	states  chan Camera
	wake    chan struct{}
	stop    context.CancelFunc
	fed     chan struct{} // closed as the feed goroutine ends
	played  chan struct{} // closed as the stage goroutine ends
	dropped atomic.Int64
	meter   meter

	mu     sync.Mutex
	queue  []func(at time.Duration)
	closed bool

	// What follows belongs to the stage goroutine.
	watcher *live.Watcher
	camera  Camera
	last    time.Duration // of the last picture or input
	seenAt  time.Duration // arrival of the last picture, then the end of the work on it
	act     act
	cue     Cue
	failed  error
}

// act is what is done with each picture.
type act interface {
	// seen takes what a picture showed.
	seen(f *camera.Frame, s *live.Seen)
	// unseen says that no picture comes.
	unseen(at time.Duration)
	show(*View)
}

// Open starts the camera; it returns before the first picture. The models are
// loaded here, so that what is wrong with them is known at once.
func Open(o Options) (*Stage, error) {
	if o.Engine == nil || o.Open == nil {
		return nil, errors.New("stage: it needs an engine and a camera")
	}
	w, err := live.NewWatcher(o.Engine, live.WatcherOptions{Threads: o.Threads})
	if err != nil {
		return nil, err
	}
	paint, err := overlay.New()
	if err != nil {
		w.Close()
		return nil, err
	}
	ctx, stop := context.WithCancel(context.Background())
	s := &Stage{
		opt: o, started: time.Now(), swap: newSwap(), watcher: w, stop: stop,
		frames: make(chan frame), states: make(chan Camera), wake: make(chan struct{}, 1),
		fed: make(chan struct{}), played: make(chan struct{}), camera: Camera{State: Opening},
	}
	s.present = &presenter{paint, s.swap}
	go s.feed(ctx)
	go s.play(ctx)
	return s, nil
}

func (s *Stage) now() time.Duration { return time.Since(s.started) }

// Take returns the newest view where there is one that was not taken yet. It
// is for one viewer, who may keep the picture until the next Take.
func (s *Stage) Take() (View, bool) {
	v, ok := s.swap.take()
	if ok && v.Picture != nil {
		s.meter.shown(s.now() - v.At)
	}
	return v, ok
}

// Close finishes the running exercise, stops everything and waits for it. A
// second call does nothing.
func (s *Stage) Close() error {
	s.mu.Lock()
	again := s.closed
	s.closed = true
	s.mu.Unlock()
	s.stop()
	<-s.played
	<-s.fed
	if again {
		return nil
	}
	return s.watcher.Close()
}

// do has a function run on the stage goroutine.
func (s *Stage) do(f func(at time.Duration)) {
	s.mu.Lock()
	s.queue = append(s.queue, f)
	s.mu.Unlock()
	select {
	case s.wake <- struct{}{}:
	default:
	}
}

// tick is how often the stage looks whether pictures still come, and absent
// how long none may have come before the hand counts as not seen.
const (
	tick   = 250 * time.Millisecond
	absent = 500 * time.Millisecond
)

// play is the stage goroutine.
func (s *Stage) play(ctx context.Context) {
	defer close(s.played)
	ticker := time.NewTicker(tick)
	defer ticker.Stop()
	for {
		select {
		case <-ctx.Done():
			s.drain()
			if a, ok := s.act.(*performing); ok {
				a.finish(s.last)
			}
			return
		case <-s.wake:
			s.drain()
		case c := <-s.states:
			s.camera = c
			s.publish(nil)
		case f := <-s.frames:
			s.frame(&f.Frame)
			// While it was at work no picture could come: on a slow computer that
			// must not look as though the camera had stopped.
			s.seenAt = s.now()
			f.done <- struct{}{}
		case <-ticker.C:
			if s.now()-s.seenAt > absent {
				s.last = max(s.last, s.now())
				if s.act != nil {
					s.act.unseen(s.last)
				}
				s.publish(nil)
			}
		}
	}
}

// drain carries out what was asked for.
func (s *Stage) drain() {
	for {
		s.mu.Lock()
		queue := s.queue
		s.queue = nil
		s.mu.Unlock()
		if len(queue) == 0 {
			return
		}
		if s.now()-s.seenAt > absent {
			s.last = max(s.last, s.now())
		}
		for _, f := range queue {
			f(s.last)
		}
		s.publish(nil)
	}
}

// frame measures one picture and shows it.
func (s *Stage) frame(f *camera.Frame) {
	s.seenAt = s.now()
	if s.camera.State != Sending {
		s.camera = Camera{State: Sending}
	}
	if f.Time <= s.last {
		f.Time = s.last + time.Microsecond
	}
	s.last = f.Time
	s.meter.judged()
	if s.failed != nil {
		return
	}
	seen, err := s.watcher.Frame(f.Image, f.Time)
	if err != nil {
		s.failed = fmt.Errorf("look for a hand: %w", err)
		s.publish(nil)
		return
	}
	if s.act != nil {
		s.act.seen(f, &seen)
	}
	s.publish(func(v *View) {
		v.Picture = s.present.draw(f.Image, s.drawn(&seen), func(side hand.Side) [hand.NumJoints]bool { return marks(v.Practice, side) })
		s.meter.judgedIn(s.now() - s.seenAt)
	})
}

// publish puts a view where the viewer takes it.
func (s *Stage) publish(draw func(*View)) {
	v := View{At: s.last, Camera: s.camera, Failed: s.failed}
	if s.act != nil {
		s.act.show(&v)
	}
	s.cue.expire(s.last, v.Practice)
	v.Cue = s.cue
	if draw != nil {
		draw(&v)
	}
	s.swap.post(v)
	if s.opt.Wake != nil {
		s.opt.Wake()
	}
}

// A cue stays for some seconds, a warning at least as long as its flag.
const cueStays = 5 * time.Second

func (c *Cue) expire(at time.Duration, st *coach.PracticeStatus) {
	if c.Text == "" || at-c.At < cueStays {
		return
	}
	if c.Warning && st != nil && len(st.Coach.Flags) > 0 {
		return
	}
	*c = Cue{}
}
