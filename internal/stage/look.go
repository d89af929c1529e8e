package stage

import (
	"time"

	"volar/internal/camera"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/live"
)

// LookOptions say what is looked at.
type LookOptions struct {
	// Side is the client's hand; UnknownSide takes the first one seen.
	Side hand.Side
	// Goniometry is how it is measured.
	Goniometry goniometry.Options
	// Seen is called on the stage goroutine with each picture and what it
	// showed, both only until it returns, and Unseen where no picture comes.
	// They must not wait.
	Seen   func(f *camera.Frame, s *live.Seen)
	Unseen func(at time.Duration)
}

// looking is the act of giving what is seen to somebody else.
type looking struct{ o LookOptions }

func (l *looking) seen(f *camera.Frame, s *live.Seen) { l.o.Seen(f, s) }
func (l *looking) unseen(at time.Duration)            { l.o.Unseen(at) }
func (l *looking) show(*View)                         {}

// Look shows the camera's picture and gives what it shows to the options'
// functions, until something else begins.
func (s *Stage) Look(o LookOptions) {
	s.do(func(time.Duration) {
		s.watcher.Watch(live.WatcherOptions{Side: o.Side, Goniometry: o.Goniometry})
		s.act, s.cue = &looking{o}, Cue{}
	})
}
