package session

import (
	"errors"
	"fmt"
	"image"
	"strings"
	"sync"
	"time"

	"volar/internal/coach"
	"volar/internal/hand"
)

// Sink keeps what a Recorder hands it. Each call returns when what it was
// given is kept for good. Calls come one at a time, from one goroutine; a
// batch that failed comes again, with more in it, under the same number.
type Sink interface {
	Begin(h Header) error
	Append(id ID, b *Batch) error
	Finish(id ID, state State, ended time.Duration) error
}

// Options of a Recorder. Sink and Header.Client have to be set.
type Options struct {
	Header Header
	Sink   Sink
	// Interval is the longest time between two batches; 0 = 0.6 s, so that with
	// the time of the commit no more than a second is ever at stake.
	Interval time.Duration
	// Pictures says what is kept of the camera's pictures; the zero value keeps
	// none.
	Pictures PictureOptions
	// Resume goes on with an interrupted session; nil begins a new one.
	Resume *Resume
	// Clock is the wall clock in UTC; nil = time.Now. It dates the beginning
	// of each stretch and is used for nothing else.
	Clock func() time.Time
}

// Resume says where an interrupted session stands.
type Resume struct {
	// NextSeq is the number of the next batch, Ended the last time recorded.
	NextSeq int
	Ended   time.Duration
	// Exercises, Flags and Pictures are how many there are so far.
	Exercises, Flags, Pictures int
}

// Frame is what one picture gave.
type Frame struct {
	Sample hand.Sample
	// Hand is the hand that was found, nil where there is none.
	Hand *hand.Observation
	// Width and Height are those of the camera's picture in pixels.
	Width, Height int
	// Picture is read during the call only; nil where none is at hand.
	Picture *image.RGBA
	Events  []coach.Event
}

// Status says how the recording fares.
type Status struct {
	// Saved is the time up to which everything is kept for good.
	Saved time.Duration
	// Waiting counts samples that are not yet kept.
	Waiting int
	// Err is the Sink's last error; nil once it works again.
	Err error
	// Full is true where so much waits that no more is taken: the recording
	// has to end.
	Full bool
	// PicturesShed counts pictures that were given up to make room.
	PicturesShed int
}

// waitingSamples is how many samples may wait for a Sink that fails: half an
// hour of one hand.
const waitingSamples = 30 * 60 * 30

// waitingPictures is how many pictures may wait.
const waitingPictures = 64

// errClosed is what a Recorder says once it was closed.
var errClosed = errors.New("the recording has ended")

// A Recorder collects what happens and hands it to its Sink about once a
// second. Its methods never wait for the Sink, except Flush and Close, and may
// be called from any goroutine. Times given to it are those of this stretch of
// recording, from 0; a continued session moves them behind what is there.
type Recorder struct {
	opts   Options
	id     ID
	offset time.Duration

	mu        sync.Mutex
	pending   Batch
	stills    []still
	exercises map[int]*Exercise
	changed   map[int]bool
	current   int
	count     int
	flags     int
	open      map[flagKey]int
	album     album
	status    Status
	last      time.Duration
	closed    bool
	state     State

	wake    chan struct{}
	flush   chan chan error
	stop    chan struct{}
	stopped chan struct{}
}

type flagKey struct {
	exercise            int
	kind, subject, side string
}

// NewRecorder begins a session, or goes on with one, and starts recording.
func NewRecorder(o Options) (*Recorder, error) {
	if o.Sink == nil || o.Header.Client == "" {
		return nil, errors.New("session: a recorder needs a client and a sink")
	}
	if o.Interval <= 0 {
		o.Interval = 600 * time.Millisecond
	}
	if o.Clock == nil {
		o.Clock = time.Now
	}
	now := o.Clock().UTC()
	r := &Recorder{
		opts: o, exercises: map[int]*Exercise{}, changed: map[int]bool{}, open: map[flagKey]int{},
		pending: Batch{Seq: 1}, state: Closed, album: newAlbum(o.Pictures),
		wake: make(chan struct{}, 1), flush: make(chan chan error), stop: make(chan struct{}), stopped: make(chan struct{}),
	}
	if p := o.Resume; p != nil {
		if o.Header.ID.IsZero() {
			return nil, errors.New("session: a session to be continued needs its id")
		}
		r.offset, r.pending.Seq = p.Ended, max(1, p.NextSeq)
		r.count, r.flags, r.album.count = p.Exercises, p.Flags, p.Pictures
		r.last = p.Ended
	} else {
		if r.opts.Header.ID.IsZero() {
			r.opts.Header.ID = NewID(now)
		}
		if r.opts.Header.Started.IsZero() {
			r.opts.Header.Started = now
		}
		r.opts.Header.Pictures = o.Pictures.agreed()
		if err := o.Sink.Begin(r.opts.Header); err != nil {
			return nil, fmt.Errorf("begin a session of client %s: %w", o.Header.Client, err)
		}
	}
	r.id = r.opts.Header.ID
	r.pending.Segments = []Segment{{Start: r.offset, Clock: now}}
	go r.run()
	return r, nil
}

// ID names the session.
func (r *Recorder) ID() ID { return r.id }

// StartExercise notes that an exercise begins at e.Start and returns its
// number. What follows belongs to it until the next one begins.
func (r *Recorder) StartExercise(e Exercise) (int, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return 0, errClosed
	}
	e.Number = r.count + 1
	if e.Outcome == "" {
		e.Outcome = Running
	}
	e.Start = at(e.Start + r.offset)
	e.End = e.Start
	if err := e.valid(); err != nil {
		return 0, err
	}
	r.count++
	r.current, r.exercises[e.Number], r.changed[e.Number] = e.Number, &e, true
	r.seen(e.Start)
	return e.Number, nil
}

// FinishExercise notes what became of an exercise and when it ended: fill
// changes the record as it stands, and sets its Outcome.
func (r *Recorder) FinishExercise(number int, ended time.Duration, fill func(*Exercise)) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return errClosed
	}
	e := r.exercises[number]
	if e == nil {
		return fmt.Errorf("session: exercise %d was not begun in this recording", number)
	}
	done := *e
	fill(&done)
	// The recorder owns the place and the times of the exercise.
	done.Number, done.Start, done.End = number, e.Start, max(e.Start, at(ended+r.offset))
	if err := done.valid(); err != nil {
		return err
	}
	*e = done
	r.changed[number] = true
	if r.current == number {
		r.current = 0
	}
	r.seen(e.End)
	return nil
}

// Frame takes what one picture gave.
func (r *Recorder) Frame(f Frame) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return errClosed
	}
	if r.status.Full {
		return fmt.Errorf("session: nothing more is recorded, because what is waiting cannot be saved: %w", r.status.Err)
	}
	s := Sample{Sample: f.Sample}
	s.Time = at(f.Sample.Time + r.offset)
	if f.Hand != nil && f.Width > 0 && f.Height > 0 {
		// The points that were measured, not those drawn: the palm's place in the
		// sample is theirs.
		for i, p := range f.Hand.Image {
			s.Points[i] = [2]float64{p.X / float64(f.Width), p.Y / float64(f.Height)}
		}
	}
	r.pending.Samples = append(r.pending.Samples, s)
	r.status.Waiting++
	r.seen(s.Time)
	r.album.show(s.Time, r.current, f)
	for _, e := range f.Events {
		r.event(e)
	}
	r.keep(r.album.take())
	return nil
}

// Event takes a coach's event that came without a picture.
func (r *Recorder) Event(e coach.Event) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return errClosed
	}
	r.event(e)
	return nil
}

func (r *Recorder) event(c coach.Event) {
	e := Flatten(c, r.offset)
	e.At = at(e.At)
	e.Exercise = r.current
	if e.Kind == FlagRaised || e.Kind == FlagEnded {
		key := flagKey{r.current, e.Words["kind"], e.Subject, e.Words["side"]}
		number := r.open[key]
		if number == 0 {
			r.flags++
			number = r.flags
			r.open[key] = number
		}
		if e.Kind == FlagEnded {
			delete(r.open, key)
		} else {
			r.album.want(max(e.At, r.last), number)
		}
		e.Flag = number
	}
	r.pending.Events = append(r.pending.Events, e)
	r.seen(e.At)
}

// Answer takes what the client said; a zero Exercise is the running one.
func (r *Recorder) Answer(a Answer) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return errClosed
	}
	if !score(a.Value) {
		return fmt.Errorf("session: %s is %d, not 0 to 10", a.Kind, *a.Value)
	}
	if len(a.Text) > maxText {
		return fmt.Errorf("session: a note of %d bytes is too long; %d is the most", len(a.Text), maxText)
	}
	a.Text = strings.ToValidUTF8(a.Text, "\uFFFD")
	a.At = at(a.At + r.offset)
	if a.Exercise == 0 {
		a.Exercise = r.current
	}
	r.pending.Answers = append(r.pending.Answers, a)
	r.seen(a.At)
	// What a client says of pain is worth a commit of its own.
	r.poke()
	return nil
}

// keep queues pictures to be written; the oldest give way to the newest where
// the Sink does not keep up, because pictures are what may be shed.
func (r *Recorder) keep(s []still) {
	r.stills = append(r.stills, s...)
	if n := len(r.stills) - waitingPictures; n > 0 {
		r.stills = append([]still(nil), r.stills[n:]...)
		r.status.PicturesShed += n
	}
}

func (r *Recorder) seen(t time.Duration) { r.last = max(r.last, t) }

func (r *Recorder) poke() {
	select {
	case r.wake <- struct{}{}:
	default:
	}
}

// Status says how the recording fares.
func (r *Recorder) Status() Status {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.status
}

// Flush waits until everything given so far is kept, or returns why not.
func (r *Recorder) Flush() error {
	done := make(chan error, 1)
	select {
	case r.flush <- done:
		return <-done
	case <-r.stopped:
		return errClosed
	}
}

// Close ends the session as closed, waits until all of it is kept, and
// returns why not where it is not. A second call returns the same.
func (r *Recorder) Close() error { return r.end(Closed) }

// Interrupt ends the recording and leaves the session to be continued.
func (r *Recorder) Interrupt() error { return r.end(Interrupted) }

func (r *Recorder) end(s State) error {
	r.mu.Lock()
	if !r.closed {
		r.closed, r.state = true, s
		r.keep(r.album.take())
		close(r.stop)
	}
	r.mu.Unlock()
	<-r.stopped
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.status.Err
}

// at keeps a time within the session: never before it began, to a microsecond.
func at(t time.Duration) time.Duration { return max(0, t.Round(time.Microsecond)) }
