package arom

import (
	"errors"
	"fmt"
	"image"
	"strings"
	"sync"
	"time"

	"volar/internal/goniometry"
	"volar/internal/hand"
)

// sayFor is how long an instruction stays at least, so that it can be read.
const sayFor = 700 * time.Millisecond

// Recording leads through the recording of a hand and remembers what stood in
// the way. It may be pushed to on one goroutine and looked at from another.
type Recording struct {
	mu      sync.Mutex
	opts    goniometry.CaptureOptions
	capture *goniometry.Capture
	shown   Progress
	since   time.Duration
	last    time.Duration
	begun   bool
	// trouble is how long each step was kept from being recorded, and by what.
	trouble []map[goniometry.Trouble]*obstacle
}

type obstacle struct {
	lasted time.Duration
	say    string
}

// Progress is how a recording stands.
type Progress struct {
	goniometry.CaptureStatus
	// Pose and YawDeg are what is wanted now; of the last step once done.
	Pose   goniometry.BaselinePose
	YawDeg float64
}

// NewRecording checks the options and waits for the first sample. The size of
// the pictures comes with them.
func NewRecording(o goniometry.CaptureOptions) (*Recording, error) {
	if o.Steps == nil {
		o.Steps = UsualSteps()
	}
	c, err := goniometry.NewCapture(o)
	if err != nil {
		return nil, err
	}
	r := &Recording{opts: o, capture: c, trouble: make([]map[goniometry.Trouble]*obstacle, len(o.Steps))}
	r.put(c.Status())
	return r, nil
}

// UsualSteps are the straight hand with the palm to the camera, the full fist in
// the same view, and the straight hand from the thumb side.
func UsualSteps() []goniometry.CaptureStep {
	return []goniometry.CaptureStep{{Pose: goniometry.StraightHand}, {Pose: goniometry.FullFist}, {Pose: goniometry.StraightHand, YawDeg: 90}}
}

// Push takes the next sample and the observation that it came from, nil where
// no hand was found, of a picture of a size.
func (r *Recording) Push(s hand.Sample, o *hand.Observation, size image.Point) Progress {
	r.mu.Lock()
	defer r.mu.Unlock()
	if !r.begun && size != (image.Point{}) {
		r.opts.Picture = size
		// The options were sound without it, and a size cannot spoil them.
		if c, err := goniometry.NewCapture(r.opts); err == nil {
			r.capture = c
		}
		r.begun = true
	}
	st := r.capture.Push(s, o)
	passed := s.Time - r.last
	r.last = s.Time
	if st.Trouble != goniometry.NoTrouble && passed > 0 {
		r.note(st, passed)
	}
	switch {
	case st.Done, st.Step != r.shown.Step, s.Time-r.since >= sayFor, s.Time < r.since:
		if st.Say != r.shown.Say {
			r.since = s.Time
		}
		r.put(st)
	default:
		r.shown.Held, r.shown.Hold = st.Held, st.Hold
	}
	return r.shown
}

// Other is the sample that stands for a picture in which only a hand of the
// other side was seen.
func Other(at time.Duration, side hand.Side) hand.Sample {
	return hand.Sample{Time: at, Found: true, Side: side}
}

func (r *Recording) note(st goniometry.CaptureStatus, passed time.Duration) {
	m := r.trouble[st.Step]
	if m == nil {
		m = map[goniometry.Trouble]*obstacle{}
		r.trouble[st.Step] = m
	}
	if m[st.Trouble] == nil {
		m[st.Trouble] = &obstacle{}
	}
	m[st.Trouble].lasted += passed
	m[st.Trouble].say = st.Say
}

func (r *Recording) put(st goniometry.CaptureStatus) {
	st.Say = Sentence(st.Say)
	step := r.opts.Steps[min(st.Step, len(r.opts.Steps)-1)]
	r.shown = Progress{st, step.Pose, step.YawDeg}
}

// Sentence makes a sentence of an instruction.
func Sentence(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:] + "."
}

// Now is what the last Push returned.
func (r *Recording) Now() Progress {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.shown
}

// Skip leaves the present step out, for a hand that cannot do it.
func (r *Recording) Skip() Progress { return r.act((*goniometry.Capture).Skip) }

// Again records the present step from its start, or once done the last one.
func (r *Recording) Again() Progress { return r.act((*goniometry.Capture).Again) }

func (r *Recording) act(f func(*goniometry.Capture) goniometry.CaptureStatus) Progress {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.put(f(r.capture))
	return r.shown
}

// Baseline returns what was recorded once all is done.
func (r *Recording) Baseline() (*goniometry.Baseline, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.capture.Baseline()
}

// ErrIncomplete says that a recording ended before all its poses were taken.
var ErrIncomplete = errors.New("the hand is not recorded")

// Missing says why a recording is not done: which pose it stands at, and what
// kept that from being recorded the longest. It is nil once all is done.
func (r *Recording) Missing() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	st := r.capture.Status()
	if st.Done {
		return nil
	}
	step := r.opts.Steps[st.Step]
	var worst *obstacle
	var what goniometry.Trouble
	for t, o := range r.trouble[st.Step] {
		if worst == nil || o.lasted > worst.lasted || o.lasted == worst.lasted && t < what {
			worst, what = o, t
		}
	}
	pose := fmt.Sprintf("%s (%s, %s view)", ordinal(st.Step, st.Steps), poseWords[step.Pose], hand.View{YawDeg: step.YawDeg}.Name())
	switch {
	case worst == nil:
		return fmt.Errorf("%w: %s was not held for %g s; %s", ErrIncomplete, pose, st.Hold.Seconds(), st.Say)
	case what == goniometry.NoHandSeen:
		return fmt.Errorf("%w: at %s no hand was seen; %s", ErrIncomplete, pose, worst.say)
	}
	return fmt.Errorf("%w: %s was refused: %s; %s", ErrIncomplete, pose, troubleWords[what], worst.say)
}

func ordinal(step, of int) string { return fmt.Sprintf("pose %d of %d", step+1, of) }

// troubleWords say why a pose was refused.
var troubleWords = map[goniometry.Trouble]string{
	goniometry.OtherHand: "it was the other hand", goniometry.TooLittle: "it was too dark", goniometry.TooBright: "it was too bright",
	goniometry.TooFar: "the hand was too far away", goniometry.CutOff: "the hand was cut off by the picture's edge",
	goniometry.Moving: "the hand moved", goniometry.Turned: "the hand was turned another way",
	goniometry.WristCovered: "the wrist was covered", goniometry.FingersParted: "the fingers were parted",
	goniometry.NotThePose: "it was another pose", goniometry.NotSeen: "too little of the hand was seen",
}
