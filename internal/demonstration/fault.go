package demonstration

import (
	"errors"
	"fmt"
	"math"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
)

// Fault is one thing that goes wrong in a performance.
type Fault struct {
	Kind FaultKind
	// Repetition it happens in, from 0.
	Repetition int
	// Joints that bend backwards, for PastStraight; that stray, for Stray.
	Joints []hand.Joint
	// Deg is how far past straight they go, positive; how far past what is to
	// be kept they stray; how far fingers part; how far the hand wobbles.
	Deg float64
	// Pair of neighbouring fingers that part, 0 index and middle.
	Pair int
	// Start and Duration place a fault within the repetition's longest stay:
	// the hold of a straight pose, of the Step in a sequence, else the open
	// pose after it, for PastStraight; the hold for the others. Start 0 and
	// Duration 0 are the middle 60 % of it.
	Start, Duration time.Duration
	// Share of the way that Incomplete reaches, 0.55 where 0; of the hold
	// that ShortHold keeps, 0.4 where 0.
	Share float64
	// Finger that Incomplete leaves behind; hand.Thumb, the zero Finger,
	// means that the whole hand stops short.
	Finger hand.Finger
	// Step of a sequence, from 0, that is cut short, held too briefly, or
	// exchanged with the next.
	Step int
	// Palms is how far the hand moves as a whole, in palm lengths.
	Palms float64
}

// FaultKind names a fault.
type FaultKind string

// The faults. Stray lets joints leave the range that they are to keep, Part
// lets two fingers part, Wobble shakes the hold, ArmMoves moves the hand as a
// whole instead of the fingers alone, OutOfOrder exchanges two steps, Leaves
// takes the hand out of the picture and back.
const (
	PastStraight FaultKind = "past straight"
	Incomplete   FaultKind = "incomplete"
	ShortHold    FaultKind = "short hold"
	TooFast      FaultKind = "too fast"
	Stray        FaultKind = "stray"
	Part         FaultKind = "fingers part"
	Wobble       FaultKind = "wobble"
	ArmMoves     FaultKind = "arm moves"
	OutOfOrder   FaultKind = "out of order"
	Leaves       FaultKind = "leaves the picture"
)

// check refuses a fault that the movement cannot have.
func (f *Fault) check(m *exercise.Movement, repetitions int) error {
	if f.Repetition < 0 || f.Repetition >= repetitions {
		return fmt.Errorf("it is in repetition %d of %d", f.Repetition+1, repetitions)
	}
	if f.Step < 0 || f.Step > 0 && f.Step >= len(m.Steps) {
		return fmt.Errorf("there is no step %d", f.Step+1)
	}
	switch f.Kind {
	case PastStraight, Incomplete, ShortHold, TooFast, Wobble, ArmMoves, Leaves:
	case Stray:
		if len(f.Joints) == 0 {
			return errors.New("it wants joints")
		}
	case Part:
		if f.Pair < 0 || f.Pair > 2 {
			return fmt.Errorf("there is no pair %d of neighbouring fingers", f.Pair+1)
		}
	case OutOfOrder:
		if f.Step+1 >= len(m.Steps) {
			return fmt.Errorf("there is no step after step %d", f.Step+1)
		}
	default:
		return errors.New("it is not known")
	}
	return nil
}

// Deviation is a fault that lies over the movement for a time.
type Deviation struct {
	Span
	Kind FaultKind
	// Joint that strays, its range's end is passed by Deg, signed.
	Joint hand.Joint `json:",omitempty"`
	Pair  int        `json:",omitempty"`
	Deg   float64    `json:",omitempty"`
	Palms float64    `json:",omitempty"`
}

const (
	// ramp is how long a joint takes to give way and to come back; a lax joint
	// snaps over rather than glides.
	ramp = 120 * time.Millisecond
	// slowRamp is the same for what is done with the whole finger or the arm.
	slowRamp = 400 * time.Millisecond
	// wobbleHz is how fast a strained hand shakes: slow enough to be seen as
	// letting go and catching up again, not a tremor of 8 to 12 a second.
	wobbleHz = 1.5
	// awayPalms is how far a hand moves that leaves the picture.
	awayPalms = 7
)

func (d *Deviation) ramp() time.Duration {
	switch d.Kind {
	case ArmMoves, Leaves:
		return slowRamp
	case Stray, Part:
		return 2 * ramp
	}
	return ramp
}

// stays are where a repetition's faults may lie: the whole of it, its last hold
// away from the start pose, the stay at the start pose after it, and the holds
// of a sequence's steps by their number from 1.
type stays struct {
	whole, stay, open Span
	step              map[int]Span
}

// overlay adds the faults of a repetition that lie over its movement.
func (b *builder) overlay(number int, at stays) {
	stay := at.stay
	if stay.End == stay.Start {
		// A movement without a hold turns round in its end pose.
		mid := (at.whole.Start + at.whole.End) / 2
		stay = Span{mid - 300*time.Millisecond, mid + 300*time.Millisecond}
	}
	for _, f := range b.faults(number, PastStraight) {
		where := at.open
		step, held := at.step[f.Step+1]
		switch {
		case b.m.Kind == exercise.Sequence && held && straight(b.m.Poses[b.m.Steps[f.Step].To], f.Joints):
			where = step
		case b.m.Kind != exercise.Sequence && straight(b.m.EndPose(), f.Joints), where.End == where.Start:
			where = stay
		}
		s := f.within(where)
		for _, j := range f.Joints {
			b.Excursions = append(b.Excursions, Excursion{Span: s, Joint: j, PeakDeg: -f.Deg})
		}
	}
	for _, f := range b.faults(number, Stray) {
		for _, j := range f.Joints {
			b.Deviations = append(b.Deviations, Deviation{Span: f.within(stay), Kind: Stray, Joint: j, Deg: f.Deg})
		}
	}
	for _, f := range b.faults(number, Part, Wobble) {
		b.Deviations = append(b.Deviations, Deviation{Span: f.within(stay), Kind: f.Kind, Pair: f.Pair, Deg: f.Deg})
	}
	for _, f := range b.faults(number, ArmMoves) {
		// The arm moves with the approach and comes back with the return.
		b.Deviations = append(b.Deviations, Deviation{Span: Span{stay.Start - slowRamp, stay.End}, Kind: ArmMoves, Palms: orElse(f.Palms, 1.5)})
	}
	for _, f := range b.faults(number, Leaves) {
		s := f.within(stay)
		b.Deviations = append(b.Deviations, Deviation{Span: s, Kind: Leaves, Palms: awayPalms})
	}
}

// within places a fault in a stay.
func (f *Fault) within(stay Span) Span {
	if f.Duration > 0 {
		return Span{stay.Start + f.Start, stay.Start + f.Start + f.Duration}
	}
	long := stay.End - stay.Start
	return Span{stay.Start + long/5, stay.End - long/5}
}

// shortOf is a pose reached only in part from another, by all fingers or by
// one.
func shortOf(start, pose exercise.Pose, f Fault) exercise.Pose {
	short := start.Blend(pose, orElse(f.Share, 0.55))
	if f.Finger == hand.Thumb {
		return short
	}
	i := int(f.Finger - hand.Index)
	pose.Fingers[i] = short.Fingers[i]
	return pose
}

// share is how much of something that lasts a span is there at a moment, with
// a ramp on both sides.
func share(s Span, ramp, at time.Duration) float64 {
	switch {
	case at <= s.Start-ramp || at >= s.End+ramp:
		return 0
	case at < s.Start:
		return exercise.Ease(float64(at-(s.Start-ramp)) / float64(ramp))
	case at > s.End:
		return exercise.Ease(float64(s.End+ramp-at) / float64(ramp))
	}
	return 1
}

// lay puts a deviation over a moment.
func (d *Deviation) lay(m *Moment, at time.Duration) {
	x := share(d.Span, d.ramp(), at)
	if x == 0 {
		return
	}
	a := m.Pose.Flexion()
	switch d.Kind {
	case Stray:
		a[d.Joint] += (d.Deg - a[d.Joint]) * x
	case Wobble:
		s := math.Sin(2 * math.Pi * wobbleHz * (at - d.Start).Seconds())
		for j := range a {
			if k := hand.Joint(j).Kind(); hand.Joint(j).Finger() != hand.Thumb && (k == hand.MCP || k == hand.PIP) {
				// A straight joint that wavers gives in; it does not bend backwards.
				a[j] = max(a[j]+d.Deg*x*s, min(a[j], 0))
			}
		}
	case Part:
		// The gap opens on both sides of it, and the fingers beyond go along.
		half := d.Deg * x / 2
		for i := range m.Pose.Fingers {
			turn := half // towards the thumb
			if i > d.Pair {
				turn = -half
			}
			if i >= 2 { // ring and little count the other way
				turn = -turn
			}
			m.Pose.Fingers[i].Abduction += turn
		}
		return
	case ArmMoves, Leaves:
		m.Shift += d.Palms * x
		return
	}
	m.Pose = m.Pose.WithFlexion(a)
}
