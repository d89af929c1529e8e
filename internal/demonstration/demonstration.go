// Package demonstration turns a movement of the catalogue into a moving hand:
// the demonstration that a client sees, and clips of known truth that the
// judge is tested on. The key poses of the catalogue are the only definition
// of a movement; this package adds repetitions, tempo and, for clips, faults.
//
// Angles are in degrees, flexion positive. Times count from the start of the
// performance. A Performance is data: the same plan gives the same hand at the
// same time, whatever the rate at which it is asked.
package demonstration

import (
	"fmt"
	"math"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
)

// Plan says what is performed. The zero Plan but for Movement is one
// repetition as the catalogue has it, on the usual object.
type Plan struct {
	Movement *exercise.Movement
	// Object is the ID of the movement's object; empty is the usual one.
	Object string
	// Repetitions; 0 is one.
	Repetitions int
	// Hold is the time in the end pose; 0 is the movement's own dose.
	Hold time.Duration
	// Pace divides the time of the ways between poses; 0 is 1.
	Pace float64
	// Rest is the time in the start pose before the first repetition and
	// after the last; 0 is 0.8 s.
	Rest time.Duration
	// Faults are what goes wrong.
	Faults []Fault
}

// Fault is one thing that goes wrong in a performance.
type Fault struct {
	Kind FaultKind
	// Repetition it happens in, from 0.
	Repetition int
	// Joints that bend backwards, for PastStraight.
	Joints []hand.Joint
	// Deg is how far past straight they go, positive.
	Deg float64
	// Start and Duration place PastStraight within the repetition's longest
	// stay: the hold of a straight pose, else the open pose after it. Start 0
	// and Duration 0 are the middle 60 % of it.
	Start, Duration time.Duration
	// Share of the way that Incomplete reaches, 0.55 where 0; of the hold
	// that ShortHold keeps, 0.4 where 0.
	Share float64
	// Finger that Incomplete leaves behind; hand.Thumb, the zero Finger,
	// means that the whole hand stops short.
	Finger hand.Finger
}

// FaultKind names a fault.
type FaultKind string

// The faults.
const (
	PastStraight FaultKind = "past straight"
	Incomplete   FaultKind = "incomplete"
	ShortHold    FaultKind = "short hold"
	TooFast      FaultKind = "too fast"
)

// Span is a stretch of time.
type Span struct{ Start, End time.Duration }

// Excursion is a joint past straight: the span in which it is below zero, and
// its least angle in degrees.
type Excursion struct {
	Span
	Joint   hand.Joint
	PeakDeg float64
}

// Performance is a planned movement and what is true of it.
type Performance struct {
	// Duration of the whole.
	Duration time.Duration
	// Repetitions that are complete, and those that stop short.
	Repetitions, Partial []Span
	// Holds are the stays in the end pose of complete repetitions.
	Holds []Span
	// Excursions past straight.
	Excursions []Excursion

	keys []exercise.KeyPose
}

// fastest is the time of one way in a repetition done too fast.
const fastest = 150 * time.Millisecond

// New plans a performance. It refuses a plan that names no movement, an
// object the movement does not have, or a fault outside its repetitions.
func New(p Plan) (*Performance, error) {
	if p.Movement == nil {
		return nil, fmt.Errorf("demonstration: no movement is named")
	}
	m, err := p.Movement.With(p.Object)
	if err != nil {
		return nil, fmt.Errorf("demonstration: %w", err)
	}
	if p.Repetitions == 0 {
		p.Repetitions = 1
	}
	if p.Rest == 0 {
		p.Rest = 800 * time.Millisecond
	}
	if p.Pace == 0 {
		p.Pace = 1
	}
	if p.Hold == 0 {
		p.Hold = m.Dose.Hold()
	}
	for _, f := range p.Faults {
		if f.Repetition < 0 || f.Repetition >= p.Repetitions {
			return nil, fmt.Errorf("demonstration: fault %q is in repetition %d of %d", f.Kind, f.Repetition+1, p.Repetitions)
		}
	}
	var perf Performance
	start := m.StartPose()
	perf.add(0, start, "")
	perf.add(p.Rest, start, exercise.HoldPhase)
	for r := range p.Repetitions {
		perf.repetition(m, p, r)
	}
	last := perf.keys[len(perf.keys)-1]
	perf.add(last.At+p.Rest, last.Pose, exercise.HoldPhase)
	perf.Duration = last.At + p.Rest
	return &perf, nil
}

func (p *Performance) add(at time.Duration, pose exercise.Pose, phase exercise.PhaseName) {
	p.keys = append(p.keys, exercise.KeyPose{At: at, Pose: pose, Phase: phase})
}

// repetition appends one repetition, with its faults.
func (p *Performance) repetition(m *exercise.Movement, plan Plan, number int) {
	hold, pace := plan.Hold, plan.Pace
	var cut *Fault
	for i := range plan.Faults {
		f := &plan.Faults[i]
		if f.Repetition != number {
			continue
		}
		switch f.Kind {
		case ShortHold:
			hold = time.Duration(float64(hold) * orElse(f.Share, 0.4))
		case TooFast:
			pace = float64(longestWay(m)) / float64(fastest)
		case Incomplete:
			cut = f
		}
	}
	from := p.keys[len(p.keys)-1]
	begin := from.At
	var stay, openStay Span
	prev := begin
	for _, k := range m.KeyPoses(hold, pace) {
		if k.At == 0 {
			continue // the hand is there already
		}
		pose := k.Pose
		if cut != nil && k.Phase != exercise.Return {
			pose = shortOf(m, pose, *cut)
		}
		at := begin + k.At
		p.add(at, pose, k.Phase)
		if k.Phase == exercise.HoldPhase {
			if k.Pose == m.EndPose() {
				stay = Span{prev, at}
			} else {
				openStay = Span{prev, at}
			}
		}
		prev = at
	}
	whole := Span{begin, prev}
	if cut != nil {
		p.Partial = append(p.Partial, whole)
	} else {
		p.Repetitions = append(p.Repetitions, whole)
		if stay.End > stay.Start {
			p.Holds = append(p.Holds, stay)
		}
	}
	for _, f := range plan.Faults {
		if f.Repetition == number && f.Kind == PastStraight {
			where := openStay
			if straight(m.EndPose(), f.Joints) || where.End == where.Start {
				where = stay
			}
			p.bendBack(f, where)
		}
	}
}

// bendBack lets joints go past straight within a stay.
func (p *Performance) bendBack(f Fault, stay Span) {
	long := stay.End - stay.Start
	s := Span{stay.Start + long/5, stay.End - long/5}
	if f.Duration > 0 {
		s = Span{stay.Start + f.Start, stay.Start + f.Start + f.Duration}
	}
	for _, j := range f.Joints {
		p.Excursions = append(p.Excursions, Excursion{Span: s, Joint: j, PeakDeg: -f.Deg})
	}
}

// ramp is how long a joint takes to give way and to come back; a lax joint
// snaps over rather than glides.
const ramp = 120 * time.Millisecond

// PoseAt is the hand at a moment; before the start and after the end it stays
// as it is there.
func (p *Performance) PoseAt(at time.Duration) exercise.Pose {
	at = min(max(at, 0), p.Duration)
	pose := exercise.PoseAt(p.keys, at)
	for _, x := range p.Excursions {
		share := 0.0
		switch {
		case at <= x.Start-ramp || at >= x.End+ramp:
			continue
		case at < x.Start:
			share = float64(at-(x.Start-ramp)) / float64(ramp)
		case at > x.End:
			share = float64(x.End+ramp-at) / float64(ramp)
		default:
			share = 1
		}
		share = exercise.Ease(share)
		a := pose.Flexion()
		a[x.Joint] += (x.PeakDeg - a[x.Joint]) * share
		if x.Joint.Kind() == hand.PIP {
			// A middle knuckle past straight goes with a bent end joint: the
			// tendons there are drawn tight (swan-neck posture, common
			// practice).
			d := hand.JointOf(x.Joint.Finger(), hand.DIP)
			a[d] += 0.6 * -x.PeakDeg * share
		}
		pose = pose.WithFlexion(a)
	}
	return pose
}

// shortOf is a pose reached only in part, by all fingers or by one.
func shortOf(m *exercise.Movement, pose exercise.Pose, f Fault) exercise.Pose {
	short := m.StartPose().Blend(pose, orElse(f.Share, 0.55))
	if f.Finger == hand.Thumb {
		return short
	}
	i := int(f.Finger - hand.Index)
	pose.Fingers[i] = short.Fingers[i]
	return pose
}

// longestWay is the longest phase that is not a stay.
func longestWay(m *exercise.Movement) time.Duration {
	keys := m.KeyPoses(0, 1)
	var longest time.Duration
	for i := 1; i < len(keys); i++ {
		if keys[i].Phase != exercise.HoldPhase {
			longest = max(longest, keys[i].At-keys[i-1].At)
		}
	}
	return longest
}

// straight says whether all the joints are near straight in the pose.
func straight(p exercise.Pose, joints []hand.Joint) bool {
	a := p.Flexion()
	for _, j := range joints {
		if math.Abs(a[j]) > 12 {
			return false
		}
	}
	return true
}

func orElse(v, otherwise float64) float64 {
	if v == 0 {
		return otherwise
	}
	return v
}
