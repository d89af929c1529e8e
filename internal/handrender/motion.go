package handrender

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// Ease is how a pose changes between two keys.
type Ease int8

// The eases. MinimumJerk is the smoothest path of a free movement (Flash and
// Hogan 1985, J Neurosci 5:1688-1703); Smooth has a flatter middle; Linear has
// constant speed; Step waits and then jumps.
const (
	MinimumJerk Ease = iota
	Smooth
	Linear
	Step
)

func (e Ease) at(t float64) float64 {
	t = clamp(t, 0, 1)
	switch e {
	case MinimumJerk:
		return t * t * t * (10 + t*(6*t-15))
	case Smooth:
		return t * t * (3 - 2*t)
	case Step:
		return math.Floor(t)
	}
	return t
}

// Key is a pose at a moment. Ease is how the hand gets there from the key
// before.
type Key struct {
	At   time.Duration
	Pose Pose
	Ease Ease
}

// Motion is a hand's poses over time. Between two keys with the same pose the
// hand holds still. Before the first key and after the last it keeps theirs.
type Motion struct {
	Keys []Key
	// Tremor is the standard deviation of a small shaking of every joint,
	// degrees, at 7 to 11 Hz; it is part of the truth.
	Tremor float64
	Seed   uint32
}

// Check says what is wrong with the keys.
func (m *Motion) Check() error {
	if len(m.Keys) == 0 {
		return errors.New("motion has no keys")
	}
	for i := 1; i < len(m.Keys); i++ {
		if m.Keys[i].At <= m.Keys[i-1].At {
			return fmt.Errorf("motion key %d at %v is not after key %d at %v", i, m.Keys[i].At, i-1, m.Keys[i-1].At)
		}
	}
	return nil
}

// Duration is the time of the last key.
func (m *Motion) Duration() time.Duration {
	if len(m.Keys) == 0 {
		return 0
	}
	return m.Keys[len(m.Keys)-1].At
}

// At returns the pose at time t.
func (m *Motion) At(t time.Duration) Pose {
	if len(m.Keys) == 0 {
		return Pose{}
	}
	p := m.Keys[len(m.Keys)-1].Pose
	for i, k := range m.Keys {
		if t < k.At {
			p = k.Pose
			if i > 0 {
				a := m.Keys[i-1]
				p = a.Pose.Blend(k.Pose, k.Ease.at(float64(t-a.At)/float64(k.At-a.At)))
			}
			break
		}
	}
	if m.Tremor > 0 {
		a := p.Flexion()
		for j := range a {
			// Two sines of unlike rate look irregular and have the asked
			// standard deviation together.
			f1 := 7 + 2*hash01(int32(2*j), m.Seed)
			f2 := 9 + 2*hash01(int32(2*j+1), m.Seed)
			phase := 2 * math.Pi * hash01(int32(100+j), m.Seed)
			s := t.Seconds() * 2 * math.Pi
			a[j] += m.Tremor * (math.Sin(f1*s+phase) + math.Sin(f2*s+2*phase))
		}
		p = p.WithFlexion(a)
	}
	return p
}

// Event is something that happens in a clip, for the truth file.
type Event struct {
	// Kind is "repetition", "hold" or a word of the caller's own.
	Kind string
	// Start and End bound it.
	Start, End time.Duration
	// Label says more, such as which movement.
	Label string
}

// Repetitions describes a movement done several times.
type Repetitions struct {
	// From is the start and resting pose, To the pose to reach.
	From, To Pose
	Count    int
	// Move is the time from one to the other, Hold the time in To, Rest the
	// time in From before and after each repetition.
	Move, Hold, Rest time.Duration
	// Reach is how far towards To each repetition gets, 1 all the way; shorter
	// than Count means 1 for those after it. Partial repetitions are events of
	// kind "partial".
	Reach []float64
	Ease  Ease
}

// Motion returns the motion and its events: each repetition from the end of
// one rest to the start of the next, and each hold, which begins and ends
// where the hand stands still.
func (r Repetitions) Motion() (Motion, []Event) {
	m := Motion{Keys: []Key{{Pose: r.From}}}
	var ev []Event
	t := time.Duration(0)
	to := func(d time.Duration, p Pose) {
		if d > 0 {
			t += d
			m.Keys = append(m.Keys, Key{At: t, Pose: p, Ease: r.Ease})
		}
	}
	to(r.Rest, r.From)
	for i := range r.Count {
		reach := 1.0
		if i < len(r.Reach) {
			reach = r.Reach[i]
		}
		far := r.From.Blend(r.To, reach)
		start := t
		to(max(r.Move, time.Millisecond), far)
		held := t
		to(r.Hold, far)
		if r.Hold > 0 && reach >= 1 {
			ev = append(ev, Event{Kind: "hold", Start: held, End: t})
		}
		to(max(r.Move, time.Millisecond), r.From)
		kind := "repetition"
		if reach < 1 {
			kind = "partial"
		}
		ev = append(ev, Event{Kind: kind, Start: start, End: t})
		to(r.Rest, r.From)
	}
	return m, ev
}
