package goniometry

import (
	"errors"
	"fmt"
	"image"
	"math"
	"time"

	"volar/internal/hand"
)

// CaptureStep is one pose to be held in one view.
type CaptureStep struct {
	Pose   BaselinePose
	YawDeg float64
}

// CaptureOptions say what is recorded. The zero value takes the side of the
// first hand seen and the usual three steps.
type CaptureOptions struct {
	Side hand.Side
	// Steps in order; nil = straight hand with the palm to the camera, full
	// fist in the same view, straight hand with the thumb side to the camera:
	// one turn of the hand.
	Steps []CaptureStep
	// Hold is how long each pose is held still; 0 = 1.5 s, some 30 to 45
	// pictures.
	Hold time.Duration
	// Still takes each pose from a single picture: there is nothing to hold.
	Still bool
	// Picture is the size of the pictures in pixels; where it is given, a hand
	// that reaches over the edge is refused.
	Picture image.Point
	// At, Estimator and PalmMM go into the baseline; At is required for one.
	At        time.Time
	Estimator string
	PalmMM    float64
}

// usualSteps are what a baseline needs at least.
var usualSteps = [...]CaptureStep{{StraightHand, 0}, {FullFist, 0}, {StraightHand, 90}}

// Trouble is what keeps a pose from being recorded.
type Trouble string

// The troubles, in the order in which they are looked for. The empty Trouble
// goes with a pose that is being recorded.
const (
	NoTrouble     Trouble = ""
	NoHandSeen    Trouble = "no hand"
	OtherHand     Trouble = "other hand"
	TooLittle     Trouble = "too dark"
	TooBright     Trouble = "too bright"
	TooFar        Trouble = "too far"
	CutOff        Trouble = "cut off"
	Moving        Trouble = "moving"
	Turned        Trouble = "turned"
	WristCovered  Trouble = "wrist covered"
	FingersParted Trouble = "fingers parted"
	NotThePose    Trouble = "not the pose"
	NotSeen       Trouble = "not seen"
)

// CaptureStatus is what a Capture says after each sample.
type CaptureStatus struct {
	// Step counts from 0; Steps is how many there are.
	Step, Steps int
	// Trouble says what is wrong, and Say what to do now: one instruction in
	// plain words.
	Trouble Trouble
	Say     string
	// Held is how long the pose has been recorded, of Hold.
	Held, Hold time.Duration
	Done       bool
}

// Capture leads through the recording of a baseline: samples in, the next
// instruction out. It has no clock; time comes with the samples. They must come
// from a Goniometer without a baseline of its own.
type Capture struct {
	opts CaptureOptions
	step int
	// taken has one view a step, nil where it was left out.
	taken []*BaselineView
	take  take
	// open is the mean PIP flexion of the last straight hand.
	open   float64
	opened bool
	status CaptureStatus
}

// take gathers one pose.
type take struct {
	started     bool
	from, last  time.Duration
	held        time.Duration
	n           int
	sin, cos    float64
	pitch, mean float64
	joints      [hand.NumJoints]tally
}

// tally sums one joint's readings.
type tally struct {
	n, past int
	sum, sq float64
	se      float64
}

// NewCapture checks the options and waits for the first sample.
func NewCapture(o CaptureOptions) (*Capture, error) {
	if o.Hold < 0 || o.Hold > 30*time.Second {
		return nil, fmt.Errorf("capture: a hold of %v makes no sense; at most 30 s", o.Hold)
	}
	switch {
	case o.Still:
		o.Hold = 0
	case o.Hold == 0:
		o.Hold = 1500 * time.Millisecond
	}
	if o.Steps == nil {
		o.Steps = usualSteps[:]
	}
	if len(o.Steps) == 0 || len(o.Steps) > maxBaselineViews {
		return nil, fmt.Errorf("capture: %d steps; 1 to %d", len(o.Steps), maxBaselineViews)
	}
	for _, s := range o.Steps {
		if s.Pose != StraightHand && s.Pose != FullFist || !(math.Abs(s.YawDeg) <= 180) {
			return nil, fmt.Errorf("capture: no step shows pose %q at yaw %g", s.Pose, s.YawDeg)
		}
	}
	c := &Capture{opts: o, taken: make([]*BaselineView, len(o.Steps))}
	c.say(NoHandSeen, c.wanted())
	return c, nil
}

// Status is what the last Push returned.
func (c *Capture) Status() CaptureStatus { return c.status }

// Skip leaves the present step out, for a hand that cannot do it.
func (c *Capture) Skip() CaptureStatus {
	if !c.status.Done {
		c.next()
	}
	return c.status
}

// Again records the present step, or once done the last one, from its start.
func (c *Capture) Again() CaptureStatus {
	if c.status.Done {
		c.step--
		c.taken[c.step] = nil
	}
	c.take = take{}
	c.say(NoTrouble, c.wanted())
	return c.status
}

// Push takes the next sample, with the observation it was measured from where
// there is one, and says what to do.
func (c *Capture) Push(s hand.Sample, o *hand.Observation) CaptureStatus {
	if c.status.Done {
		return c.status
	}
	if s.Found && c.opts.Side == hand.UnknownSide {
		c.opts.Side = s.Side
	}
	trouble, say := c.look(&s, o)
	t := &c.take
	if trouble != NoTrouble {
		if t.started && s.Time-t.last > captureGap || s.Time < t.last {
			*t = take{}
		}
		c.say(trouble, say)
		return c.status
	}
	if t.started && (s.Time <= t.last || s.Time-t.last > captureGap) {
		*t = take{}
	}
	if t.started && math.Abs(meanFlexion(&s)-t.mean) > captureSwing {
		*t = take{}
		c.say(Moving, "hold your hand still")
		return c.status
	}
	t.add(&s)
	if t.held >= c.opts.Hold {
		c.keep()
		c.next()
		return c.status
	}
	c.say(NoTrouble, "hold it there")
	return c.status
}

// add takes a sample into the pose that is being held.
func (t *take) add(s *hand.Sample) {
	if !t.started {
		t.started, t.from, t.mean = true, s.Time, meanFlexion(s)
	} else {
		t.mean = blend(t.mean, meanFlexion(s), 1/float64(t.n+1))
	}
	t.last, t.held = s.Time, s.Time-t.from
	t.n++
	sin, cos := math.Sincos(s.View.YawDeg * degree)
	t.sin, t.cos, t.pitch = t.sin+sin, t.cos+cos, t.pitch+s.View.PitchDeg
	for j, m := range s.Joints {
		if !m.Judged {
			continue
		}
		k := &t.joints[j]
		k.n++
		k.sum += m.RawDeg
		k.sq += m.RawDeg * m.RawDeg
		k.se += m.SEDeg
		if m.ExtensionJudged {
			k.past++
		}
	}
}

// keep turns what was held into a view of the baseline. A joint counts where
// it was judged in most of the pictures.
func (c *Capture) keep() {
	t, step := &c.take, c.opts.Steps[c.step]
	v := BaselineView{
		Pose: step.Pose, Pictures: t.n, Joints: map[string]BaselineJoint{},
		YawDeg: round1(math.Atan2(t.sin, t.cos) / degree), PitchDeg: round1(t.pitch / float64(t.n)),
	}
	pip, pips := 0.0, 0.0
	for j := range t.joints {
		k := &t.joints[j]
		if 2*k.n <= t.n {
			continue
		}
		n := float64(k.n)
		mean := k.sum / n
		v.Joints[hand.Joint(j).String()] = BaselineJoint{
			ReadDeg: round1(mean), SEDeg: math.Max(round1(k.se/n), 0.1),
			ScatterDeg:        round1(math.Sqrt(math.Max(k.sq/n-mean*mean, 0))),
			ShowsPastStraight: 2*k.past > k.n,
		}
		if hand.Joint(j).Kind() == hand.PIP {
			pip, pips = pip+mean, pips+1
		}
	}
	c.taken[c.step] = &v
	if step.Pose == StraightHand && pips > 0 {
		c.open, c.opened = pip/pips, true
	}
}

// next goes on to the next step or ends.
func (c *Capture) next() {
	c.take = take{}
	if c.step++; c.step == len(c.opts.Steps) {
		c.status = CaptureStatus{Step: c.step, Steps: c.step, Hold: c.opts.Hold, Held: c.opts.Hold, Say: "done; you may rest your hand", Done: true}
		return
	}
	c.say(NoTrouble, c.wanted())
}

func (c *Capture) say(t Trouble, words string) {
	c.status = CaptureStatus{Step: c.step, Steps: len(c.opts.Steps), Trouble: t, Say: words, Held: c.take.held, Hold: c.opts.Hold}
}

// wanted is the instruction of the present step.
func (c *Capture) wanted() string {
	step := c.opts.Steps[c.step]
	if step.Pose == FullFist {
		return fmt.Sprintf("make a full fist, %s towards the camera", partAt(step.YawDeg))
	}
	return fmt.Sprintf("hold your hand straight, fingers side by side, %s towards the camera", partAt(step.YawDeg))
}

// partAt names the part of the hand that a view shows.
func partAt(yaw float64) string {
	switch y := wrap(yaw); {
	case math.Abs(y) <= 45:
		return "your palm"
	case math.Abs(y) >= 135:
		return "the back of your hand"
	case y > 0:
		return "your thumb"
	}
	return "your little finger"
}

// Baseline returns what was recorded, once done.
func (c *Capture) Baseline() (*Baseline, error) {
	if !c.status.Done {
		return nil, fmt.Errorf("capture: step %d of %d is not done", c.step+1, len(c.opts.Steps))
	}
	b := &Baseline{
		Version: BaselineVersion, Side: c.opts.Side.String(), CapturedAt: c.opts.At.UTC(),
		Estimator: c.opts.Estimator, PalmMM: c.opts.PalmMM,
	}
	for _, v := range c.taken {
		if v != nil {
			b.Views = append(b.Views, *v)
		}
	}
	if len(b.Views) == 0 {
		return nil, errors.New("capture: every step was left out; nothing is recorded")
	}
	return b, b.Check()
}

func round1(x float64) float64 { return math.Round(10*x) / 10 }
