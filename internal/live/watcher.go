package live

import (
	"fmt"
	"image"
	"time"

	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/infer"
	"volar/internal/landmark"
)

// WatcherOptions say what is watched. The zero value follows whichever hand is
// seen first.
type WatcherOptions struct {
	// Side is the client's hand that exercises; UnknownSide takes the hand
	// that is surest in the first picture that shows one, and stays with it.
	Side hand.Side
	// Both measures the client's other hand too, for a movement of two hands.
	Both bool
	// Threads for the models; 0 is the engine's default.
	Threads int
	// Goniometry is how the hand that exercises is measured, OtherGoniometry
	// the other.
	Goniometry, OtherGoniometry goniometry.Options
}

// Watched is one hand in one picture.
type Watched struct {
	// Hand is nil where it was not found; Sample.Found is then false.
	Hand   *hand.Observation
	Sample hand.Sample
}

// Seen is what one picture showed.
type Seen struct {
	Watched
	// Other is the client's other hand. Its sample is measured only where both
	// hands are watched.
	Other Watched
}

// Watcher sees and measures, and judges nothing: what a practice with its sets
// and rests, or a check of the camera, is given. It is for one goroutine at a
// time, and Close frees the models.
type Watcher struct {
	tracker      *landmark.Tracker
	gonio, other *goniometry.Goniometer
	side         hand.Side
	both         bool
	// track and otherTrack are the hands that are followed; 0 before any was.
	track, otherTrack int
	guess             guess
	last              time.Duration
	started           bool
}

// NewWatcher loads the models into the engine.
func NewWatcher(e infer.Engine, o WatcherOptions) (*Watcher, error) {
	t, err := landmark.New(e, landmark.Options{MaxHands: 2, Threads: o.Threads})
	if err != nil {
		return nil, err
	}
	w := &Watcher{tracker: t}
	w.Watch(o)
	return w, nil
}

// Watch changes what is watched, and keeps the models. Threads stay as they
// are.
func (w *Watcher) Watch(o WatcherOptions) {
	w.side, w.both = o.Side, o.Both
	w.gonio, w.other = goniometry.New(o.Goniometry), goniometry.New(o.OtherGoniometry)
	w.track, w.otherTrack, w.guess = 0, 0, guess{}
	w.tracker.Expect(1)
	if o.Both {
		w.tracker.Expect(2)
	}
}

// Frame looks at one picture captured at the given time, which must not go
// back.
func (w *Watcher) Frame(img *image.RGBA, at time.Duration) (Seen, error) {
	if w.started && at < w.last {
		return Seen{}, fmt.Errorf("live: picture at %v comes before the last one at %v", at, w.last)
	}
	w.started, w.last = true, at
	found, err := w.tracker.Track(img, at)
	if err != nil {
		return Seen{}, err
	}
	var s Seen
	s.Hand = pick(found, w.side, &w.track)
	if !w.both {
		if h := w.guess.take(s.Hand, found, w.side, &w.track, at); h != s.Hand {
			s.Hand, found = h, nil
		}
	}
	if s.Hand != nil && w.side == hand.UnknownSide {
		w.side = s.Hand.Side
	}
	if w.side != hand.UnknownSide {
		s.Other.Hand = pick(found, w.side.Other(), &w.otherTrack)
	}
	s.Sample = measured(w.gonio, s.Hand, at)
	s.Other.Sample = hand.Sample{Time: at}
	if w.both {
		s.Other.Sample = measured(w.other, s.Other.Hand, at)
	}
	return s, nil
}

func measured(g *goniometry.Goniometer, o *hand.Observation, at time.Duration) hand.Sample {
	if o == nil {
		return g.Lost(at)
	}
	return g.Measure(*o)
}

// pick chooses the hand of a side: the followed track while it lasts, else the
// surest.
func pick(found []hand.Observation, side hand.Side, track *int) *hand.Observation {
	var best *hand.Observation
	for i := range found {
		o := &found[i]
		if side != hand.UnknownSide && o.Side != side {
			continue
		}
		if o.Track == *track {
			return o
		}
		if best == nil || o.Presence > best.Presence {
			best = o
		}
	}
	if best != nil {
		*track = best.Track
	}
	return best
}

// Side is the hand that is watched; UnknownSide until one was seen.
func (w *Watcher) Side() hand.Side { return w.side }

// Close frees the models.
func (w *Watcher) Close() error { return w.tracker.Close() }
