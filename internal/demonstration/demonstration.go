// Package demonstration turns a movement of the catalogue into a moving hand:
// the demonstration that a client sees, and clips of known truth that the
// judge is tested on. The key poses of the catalogue are the only definition
// of a movement; this package adds repetitions, tempo and, for clips, faults.
//
// Angles are in degrees, flexion positive. Times count from the start of the
// performance; lengths in the picture are shares of the palm's length. A
// Performance is data: the same plan gives the same hand at the same time,
// whatever the rate at which it is asked.
//
// A performance is that of one hand. A movement of two hands is two
// performances, one for each side; a Shown has both, for the client to see.
package demonstration

import (
	"fmt"
	"math"
	"slices"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
)

// Plan says what is performed. The zero Plan but for Movement is one
// repetition of a right hand as the catalogue has it, on the usual object.
type Plan struct {
	Movement *exercise.Movement
	// Object is the ID of the movement's object; empty is the usual one.
	Object string
	// Side is the hand that performs. It matters where two hands work opposite
	// to each other, and where they alternate: the right hand goes first.
	Side hand.Side
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

// Span is a stretch of time.
type Span struct{ Start, End time.Duration }

// Excursion is a joint past straight: the span in which it is below zero, and
// its least angle in degrees.
type Excursion struct {
	Span
	Joint   hand.Joint
	PeakDeg float64
}

// StepDone is a step of a sequence: its number from 0, the time in which its
// pose is held, and whether it is reached in full.
type StepDone struct {
	Span
	Step int
	Full bool
}

// Performance is a planned movement and what is true of it.
type Performance struct {
	// Duration of the whole.
	Duration time.Duration
	// Repetitions that are complete, and those in which the whole hand stops
	// short or steps come out of order. One finger that is left behind is a
	// fault of a complete repetition, unless the least finger is what counts.
	Repetitions, Partial []Span
	// Holds are the stays in the end pose of complete repetitions; in a
	// sequence the stays in each step's pose.
	Holds []Span
	// Excursions past straight.
	Excursions []Excursion
	// Steps of a sequence, in the order in which they are done.
	Steps []StepDone `json:",omitempty"`
	// Deviations are the other faults that have a time of their own.
	Deviations []Deviation `json:",omitempty"`
	// ForearmStill is true where the wrist is what moves.
	ForearmStill bool `json:",omitempty"`

	keys []key
}

// key is a key pose with what is not in the pose: how far the hand has turned.
type key struct {
	exercise.KeyPose
	turn float64
}

// fastest is the time of one way in a repetition done too fast.
const fastest = 150 * time.Millisecond

// New plans a performance. It refuses a plan that names no movement, an
// object the movement does not have, or a fault that the movement cannot have
// or outside its repetitions.
func New(p Plan) (*Performance, error) {
	if p.Movement == nil {
		return nil, fmt.Errorf("demonstration: no movement is named")
	}
	m, err := p.Movement.With(p.Object)
	if err != nil {
		return nil, fmt.Errorf("demonstration: %w", err)
	}
	m = m.For(p.Side)
	p.Repetitions = max(p.Repetitions, 1)
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
		if err := f.check(m, p.Repetitions); err != nil {
			return nil, fmt.Errorf("demonstration: fault %q: %w", f.Kind, err)
		}
	}
	perf := Performance{ForearmStill: wristMoves(m)}
	b := builder{Performance: &perf, m: m, plan: p, turns: turns(m)}
	b.add(0, m.Measure.From, m.StartPose(), "", 0)
	b.stay(p.Rest)
	for r := range p.Repetitions {
		if m.Pair == exercise.Alternating && p.Side == hand.Left {
			b.stay(b.length())
		}
		b.repetition(r)
		if m.Pair == exercise.Alternating && p.Side != hand.Left {
			b.stay(b.length())
		}
	}
	b.stay(p.Rest)
	perf.Duration = perf.keys[len(perf.keys)-1].At
	return &perf, nil
}

// wristMoves says whether the wrist bends in the movement, so that it is the
// forearm that has to lie still in the picture.
func wristMoves(m *exercise.Movement) bool {
	for _, p := range m.Poses {
		if p.Wrist != m.StartPose().Wrist {
			return true
		}
	}
	return false
}

// turns is how far the hand has turned in each pose, from the start pose.
func turns(m *exercise.Movement) map[string]float64 {
	t := map[string]float64{}
	of := func(k *exercise.Measure) {
		if w, ok := k.Ways[hand.HandTurn]; ok {
			t[k.To] = t[k.From] + w.To - w.From
		}
	}
	of(&m.Measure)
	for i := range m.Steps {
		of(&m.Steps[i].Measure)
	}
	return t
}

// builder lays a performance out.
type builder struct {
	*Performance
	m     *exercise.Movement
	plan  Plan
	turns map[string]float64
}

func (b *builder) add(at time.Duration, name string, pose exercise.Pose, phase exercise.PhaseName, step int) {
	b.keys = append(b.keys, key{exercise.KeyPose{At: at, Pose: pose, Phase: phase, Name: name, Step: step}, b.turns[name]})
}

func (b *builder) now() key { return b.keys[len(b.keys)-1] }

// stay keeps the hand as it is.
func (b *builder) stay(d time.Duration) {
	k := b.now()
	k.At += d
	k.Phase, k.Step = exercise.HoldPhase, 0
	b.keys = append(b.keys, k)
}

// length is the time of one repetition without faults.
func (b *builder) length() time.Duration {
	keys := b.m.KeyPoses(b.plan.Hold, b.plan.Pace)
	return keys[len(keys)-1].At
}

// faults of a kind in a repetition.
func (b *builder) faults(number int, kinds ...FaultKind) (fs []Fault) {
	for _, f := range b.plan.Faults {
		if f.Repetition == number && slices.Contains(kinds, f.Kind) {
			fs = append(fs, f)
		}
	}
	return fs
}

// repetition appends one repetition, with its faults.
func (b *builder) repetition(number int) {
	m, hold, pace := b.m, b.plan.Hold, b.plan.Pace
	var cut *Fault
	if fs := b.faults(number, Incomplete); len(fs) > 0 {
		cut = &fs[0]
	}
	short := b.faults(number, ShortHold)
	for range b.faults(number, TooFast) {
		pace = float64(longestWay(m)) / float64(fastest)
	}
	keys := m.KeyPoses(hold, pace)
	for _, f := range b.faults(number, OutOfOrder) {
		// The whole dose was done: the repetition counts, and the flag says
		// which step came before its turn.
		keys = swap(keys, f.Step+1)
	}
	begin := b.now().At
	prev := begin
	var stay, openStay Span
	var holds []Span
	inStep := map[int]Span{}
	for i, k := range keys {
		if i == 0 {
			continue // the hand is there already
		}
		d := k.At - keys[i-1].At
		pose, name := k.Pose, k.Name
		full := true
		// Incomplete cuts the way there and the stay, not the way back.
		if cut != nil && k.Phase != exercise.Return && k.Name != m.Measure.From && (m.Kind != exercise.Sequence || k.Step == cut.Step+1) {
			pose, full = shortOf(m.Poses[from(keys, i)], pose, *cut), false
		}
		if k.Phase == exercise.HoldPhase && k.Name != m.Measure.From {
			for _, f := range short {
				if m.Kind != exercise.Sequence || k.Step == f.Step+1 {
					d = time.Duration(float64(d) * orElse(f.Share, 0.4))
				}
			}
		}
		at := prev + d
		b.add(at, name, pose, k.Phase, k.Step)
		if k.Phase == exercise.HoldPhase {
			switch span := (Span{prev, at}); {
			case k.Name == m.Measure.From:
				openStay = span
			case d > 0:
				stay = span
				holds = append(holds, span)
				inStep[k.Step] = span
			}
		}
		if k.Step > 0 && (k.Phase == exercise.Approach || k.Phase == exercise.HoldPhase) {
			if n := len(b.Steps); n > 0 && k.Phase == exercise.HoldPhase && b.Steps[n-1].Step == k.Step-1 {
				b.Steps[n-1].End = at
			} else {
				b.Steps = append(b.Steps, StepDone{Span{at, at}, k.Step - 1, full})
			}
		}
		prev = at
	}
	whole := Span{begin, prev}
	if cut != nil && (cut.Finger == hand.Thumb || m.Kind == exercise.Sequence || m.Measure.Combine == exercise.Least) {
		b.Partial = append(b.Partial, whole)
	} else {
		b.Repetitions = append(b.Repetitions, whole)
		b.Holds = append(b.Holds, holds...)
	}
	b.overlay(number, stays{whole, stay, openStay, inStep})
}

// from is the name of the pose that the hand came from to key i.
func from(keys []exercise.KeyPose, i int) string {
	for j := i - 1; j >= 0; j-- {
		if keys[j].Name != keys[i].Name {
			return keys[j].Name
		}
	}
	return keys[0].Name
}

// swap exchanges a step, numbered from 1, with the one after it. Where the hand
// goes straight from step to step that takes the other one's pose first.
func swap(keys []exercise.KeyPose, step int) []exercise.KeyPose {
	order := []exercise.KeyPose{}
	part := func(n int) {
		for _, k := range keys {
			if k.Step == n {
				order = append(order, k)
			}
		}
	}
	var took []time.Duration
	last := 0
	for i, k := range keys {
		if i > 0 {
			took = append(took, k.At-keys[i-1].At)
		}
		last = max(last, k.Step)
	}
	order = append(order, keys[0])
	for n := 1; n <= last; n++ {
		switch n {
		case step:
			part(step + 1)
		case step + 1:
			part(step)
		default:
			part(n)
		}
	}
	for _, k := range keys[1:] {
		if k.Step == 0 {
			order = append(order, k)
		}
	}
	for i := 1; i < len(order); i++ {
		order[i].At = order[i-1].At + took[i-1]
	}
	// The last step has no way back to the pose between.
	return closeGaps(order)
}

// closeGaps gives a way to a phase that would jump: a step moved from the end
// has no way back of its own.
func closeGaps(keys []exercise.KeyPose) []exercise.KeyPose {
	var shift time.Duration
	for i := 1; i < len(keys); i++ {
		keys[i].At += shift
		if d := keys[i].At - keys[i-1].At; d < 600*time.Millisecond && keys[i].Name != keys[i-1].Name {
			shift += 600*time.Millisecond - d
			keys[i].At = keys[i-1].At + 600*time.Millisecond
		}
	}
	return keys
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
