// Package live puts the parts together: a picture and its capture time go in,
// and out come the hand that was found, its joints' angles, and what the coach
// says of them. The command line, a window and a test all run this one path.
//
// A Judge follows one hand through one exercise. It has no clock of its own
// and starts no goroutine; time comes in with each picture and must not go
// back. It is for one goroutine at a time, and Close frees the models.
//
// Errors are those of the landmark model. A picture without the wanted hand is
// not an error: the coach is told that it cannot see.
package live

import (
	"errors"
	"fmt"
	"image"
	"time"

	"volar/internal/coach"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/infer"
	"volar/internal/landmark"
)

// Options of a Judge. The zero value follows whichever hand is seen first,
// with the coach's own defaults.
type Options struct {
	// Side is the client's hand that exercises; UnknownSide takes the hand
	// that is surest in the first picture that shows one, and stays with it.
	Side hand.Side
	// Threads for the models; 0 is the engine's default.
	Threads int
	// Coach says what is judged: movement, limits, dose.
	Coach coach.Config
	// Other, where it is not nil, says what is judged of the client's other
	// hand, which does the same: its limits and own range. Side must be known.
	Other *coach.Config
	// Baseline is the client's own hand as it was recorded, nil without one. It
	// corrects what is read, and where Coach has no own range it gives one:
	// key poses that this hand does not reach end where it does.
	Baseline *goniometry.Baseline
	// Estimator names what reads the angles; see goniometry.Options.
	Estimator string
}

// Result is what one picture gave.
type Result struct {
	// Hand is the judged hand, nil where it was not found.
	Hand *hand.Observation
	// Sample is its measurement; Sample.Found is false where Hand is nil.
	Sample hand.Sample
	// Events are what the coach had to say, oldest first.
	Events []coach.Event
	// Other is the client's other hand where it is judged too.
	Other Watched
	// Others counts further hands in the picture.
	Others int
}

// Judge judges one hand doing one exercise, or two that do it together.
type Judge struct {
	tracker *landmark.Tracker // nil where observations come in
	gonio   *goniometry.Goniometer
	coach   *coach.Coach // nil where pair is not
	side    hand.Side
	track   int
	guess   guess
	// other and pair are there where both hands are judged.
	other      *goniometry.Goniometer
	otherTrack int
	pair       *coach.Pair
	last       time.Duration
	started    bool
}

// New loads the models into the engine and prepares the coach.
func New(e infer.Engine, o Options) (*Judge, error) {
	j, err := Of(o)
	if err != nil {
		return nil, err
	}
	// The second hand is always looked for: the other hand often steadies the
	// towel and must not be taken for this one, and a caller that named no
	// side has to know that there are two.
	expect := 1
	if o.Other != nil {
		expect = 2
	}
	j.tracker, err = landmark.New(e, landmark.Options{MaxHands: 2, Expect: expect, Threads: o.Threads})
	if err != nil {
		return nil, err
	}
	return j, nil
}

// Of returns a Judge of hands that something else finds: it takes observations
// by Observed, and no pictures.
func Of(o Options) (*Judge, error) {
	o.Coach.Side = o.Side
	if err := o.own(); err != nil {
		return nil, err
	}
	j := &Judge{gonio: goniometry.New(goniometry.Options{Baseline: o.Baseline, Estimator: o.Estimator}), side: o.Side}
	var err error
	if o.Other == nil {
		j.coach, err = coach.New(o.Coach)
		return j, err
	}
	both := coach.PairConfig{Left: o.Coach, Right: *o.Other}
	switch o.Side {
	case hand.UnknownSide:
		return nil, errors.New("live: two hands are judged, and it is not said which is which; name the hand that exercises")
	case hand.Right:
		both.Left, both.Right = *o.Other, o.Coach
		both.Left.Movement, both.Left.Object, both.Left.Hold, both.Left.Repetitions = o.Coach.Movement, o.Coach.Object, o.Coach.Hold, o.Coach.Repetitions
	}
	j.other = goniometry.New(goniometry.Options{Estimator: o.Estimator})
	j.pair, err = coach.NewPair(both)
	return j, err
}

// own checks the baseline and hands its ranges to the coach.
func (o *Options) own() error {
	b := o.Baseline
	if b == nil {
		return nil
	}
	if err := b.Check(); err != nil {
		return fmt.Errorf("live: %w", err)
	}
	if o.Side != hand.UnknownSide && b.Side != o.Side.String() {
		return fmt.Errorf("live: the baseline is of the %s hand, and the %s hand exercises; take the one of this hand", b.Side, o.Side)
	}
	if o.Coach.Own != nil || o.Coach.Movement == nil {
		return nil
	}
	m, err := o.Coach.Movement.With(o.Coach.Object)
	if err != nil {
		return fmt.Errorf("live: %w", err)
	}
	from, to := m.StartPose().Flexion(), m.EndPose().Flexion()
	o.Coach.Own = map[hand.Joint]coach.Range{}
	for j := range hand.Joint(hand.NumJoints) {
		if own, ok := b.Own(j); ok && m.Measure.Weights[j] != 0 {
			low, high := min(own.StartDeg, own.EndDeg), max(own.StartDeg, own.EndDeg)
			o.Coach.Own[j] = coach.Range{Start: min(max(from[j], low), high), End: min(max(to[j], low), high)}
		}
	}
	return nil
}

// Frame judges one picture captured at the given time.
func (j *Judge) Frame(img *image.RGBA, at time.Duration) (Result, error) {
	if j.tracker == nil {
		return Result{}, errors.New("live: this judge takes observations, not pictures; make it with New")
	}
	if err := j.order(at); err != nil {
		return Result{}, err
	}
	seen, err := j.tracker.Track(img, at)
	if err != nil {
		return Result{}, err
	}
	return j.Observed(seen, at)
}

// order refuses a time that goes back.
func (j *Judge) order(at time.Duration) error {
	if j.started && at < j.last {
		return fmt.Errorf("live: picture at %v comes before the last one at %v", at, j.last)
	}
	return nil
}

// Observed judges what was found in one picture captured at the given time.
func (j *Judge) Observed(seen []hand.Observation, at time.Duration) (Result, error) {
	if err := j.order(at); err != nil {
		return Result{}, err
	}
	j.started, j.last = true, at
	var r Result
	if o := j.choose(seen, at); o != nil {
		r.Hand, r.Others = o, len(seen)-1
		r.Sample = j.gonio.Measure(*o)
	} else {
		r.Others = len(seen)
		r.Sample = j.gonio.Lost(at)
	}
	if j.pair == nil {
		r.Events = j.coach.Push(r.Sample)
		return r, nil
	}
	if r.Other.Hand = pick(seen, j.side.Other(), &j.otherTrack); r.Other.Hand != nil {
		r.Others--
	}
	r.Other.Sample = measured(j.other, r.Other.Hand, at)
	left, right := r.Sample, r.Other.Sample
	if j.side == hand.Right {
		left, right = right, left
	}
	r.Events = j.pair.PushPair(left, right)
	return r, nil
}

// choose picks the hand that is judged: the followed track while it lasts,
// else the surest hand of the wanted side.
func (j *Judge) choose(seen []hand.Observation, at time.Duration) *hand.Observation {
	best := pick(seen, j.side, &j.track)
	if j.pair == nil {
		best = j.guess.take(best, seen, j.side, &j.track, at)
	}
	if best != nil && j.side == hand.UnknownSide {
		j.side = best.Side
	}
	return best
}

// Side is the hand that is judged; UnknownSide until one was seen.
func (j *Judge) Side() hand.Side { return j.side }

// Finish ends the exercise at the given time and returns what came of it: of
// two hands, what came of the one that exercises.
func (j *Judge) Finish(at time.Duration) coach.Summary {
	if j.pair == nil {
		return j.coach.Finish(at)
	}
	both := j.pair.Finish(at)
	if j.side == hand.Right {
		return both.Right
	}
	return both.Left
}

// FinishBoth ends the exercise of two hands; ok is false where one is judged.
func (j *Judge) FinishBoth(at time.Duration) (both coach.PairSummary, ok bool) {
	if j.pair == nil {
		return both, false
	}
	return j.pair.Finish(at), true
}

// Close frees the models, where there are any.
func (j *Judge) Close() error {
	if j.tracker == nil {
		return nil
	}
	return j.tracker.Close()
}
