package exercise

import (
	"time"

	"volar/internal/hand"
)

// Way returns a channel's value in the start and in the end pose of a measure
// of this movement, the whole movement's or a step's.
func (m *Movement) Way(k *Measure, c hand.Channel) Way {
	if j, ok := c.Joint(); ok {
		return Way{m.Poses[k.From].Flexion()[j], m.Poses[k.To].Flexion()[j]}
	}
	return k.Ways[c]
}

// For returns the movement as one hand does it: where the hands work opposite
// to each other the left one turns and tilts the other way from the same
// start.
func (m *Movement) For(side hand.Side) *Movement {
	if !m.Opposite || side != hand.Left {
		return m
	}
	mirror := func(k Measure) Measure {
		ways := map[hand.Channel]Way{}
		for c, w := range k.Ways {
			if c == hand.HandTilt || c == hand.HandTurn {
				w.To = 2*w.From - w.To
			}
			ways[c] = w
		}
		k.Ways = ways
		return k
	}
	n := *m
	n.Measure = mirror(m.Measure)
	n.Steps = make([]Step, len(m.Steps))
	for i, s := range m.Steps {
		s.Measure = mirror(s.Measure)
		n.Steps[i] = s
	}
	return &n
}

// KeyPose is a pose at a moment of a repetition.
type KeyPose struct {
	At   time.Duration
	Pose Pose
	// Phase is the one that ends here; empty at the start.
	Phase PhaseName
	// Name of the pose, and the number of the sequence's step, 0 outside one.
	Name string
	Step int
}

// KeyPoses lays one repetition out in time, from the start pose on. Between
// key poses the hand moves as Ease says. A hold of 0 takes the movement's own;
// pace divides the time of every phase but holds, 0 is 1.
func (m *Movement) KeyPoses(hold time.Duration, pace float64) []KeyPose {
	if pace == 0 {
		pace = 1
	}
	if hold == 0 {
		hold = m.Dose.Hold()
	}
	keys := []KeyPose{{Pose: m.Poses[m.Measure.From], Name: m.Measure.From}}
	var at time.Duration
	for _, p := range m.Phases {
		d := seconds(p.Seconds / pace)
		if p.Name == HoldPhase {
			d = seconds(p.Seconds)
			if p.Seconds == 0 {
				d = hold
			}
		}
		at += d
		keys = append(keys, KeyPose{at, m.Poses[p.To], p.Name, p.To, p.Step})
	}
	return keys
}

// PoseAt returns the pose at a moment between the first and the last of the
// key poses, which must be in order of time.
func PoseAt(keys []KeyPose, at time.Duration) Pose {
	for i := 1; i < len(keys); i++ {
		if a, b := keys[i-1], keys[i]; at < b.At {
			return a.Pose.Blend(b.Pose, Ease(float64(at-a.At)/float64(b.At-a.At)))
		}
	}
	return keys[len(keys)-1].Pose
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
