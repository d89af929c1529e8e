package demonstration

import (
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/handrender"
)

// Moment is the hand at one time.
type Moment struct {
	Pose exercise.Pose
	// TurnDeg is how far the hand has turned about its long axis from how it is
	// held in the start pose, as the yaw of the view counts.
	TurnDeg float64
	// Shift is how far the hand has moved as a whole to its side of the
	// picture, in palm lengths.
	Shift float64
}

// PoseAt is the hand's pose at a moment.
func (p *Performance) PoseAt(at time.Duration) exercise.Pose { return p.At(at).Pose }

// At is the hand at a moment; before the start and after the end it stays as
// it is there.
func (p *Performance) At(at time.Duration) Moment {
	at = min(max(at, 0), p.Duration)
	m := p.between(at)
	for _, x := range p.Excursions {
		s := share(x.Span, ramp, at)
		if s == 0 {
			continue
		}
		a := m.Pose.Flexion()
		a[x.Joint] += (x.PeakDeg - a[x.Joint]) * s
		if x.Joint.Kind() == hand.PIP {
			// A middle knuckle past straight goes with a bent end joint: the
			// tendons there are drawn tight (swan-neck posture, common
			// practice).
			d := hand.JointOf(x.Joint.Finger(), hand.DIP)
			a[d] += 0.6 * -x.PeakDeg * s
		}
		m.Pose = m.Pose.WithFlexion(a)
	}
	for i := range p.Deviations {
		p.Deviations[i].lay(&m, at)
	}
	return m
}

// between is the hand on its way between key poses.
func (p *Performance) between(at time.Duration) Moment {
	for i := 1; i < len(p.keys); i++ {
		if a, b := p.keys[i-1], p.keys[i]; at < b.At {
			t := exercise.Ease(float64(at-a.At) / float64(b.At-a.At))
			return Moment{Pose: a.Pose.Blend(b.Pose, t), TurnDeg: a.turn + (b.turn-a.turn)*t}
		}
	}
	last := p.keys[len(p.keys)-1]
	return Moment{Pose: last.Pose, TurnDeg: last.turn}
}

// palmShare is about how much of a picture's width a palm takes in the scenes
// of this package: 9 cm at 38 cm before a camera of 62 degrees.
const palmShare = 0.2

// Dress puts the hand of a moment into a scene that shows the start pose: its
// pose, turn and place.
func (p *Performance) Dress(s *handrender.Scene, at time.Duration) {
	m := p.At(at)
	s.Pose = m.Pose
	s.ForearmStill = p.ForearmStill
	s.View.Yaw += m.TurnDeg
	side := 1.0
	if s.Side == hand.Left {
		side = -1
	}
	s.Camera.OffsetX -= side * m.Shift * palmShare
}

// Turned is a view of the catalogue as the renderer wants it, for a side.
func Turned(v exercise.View, side hand.Side) handrender.View {
	roll := v.RollDeg
	if side == hand.Left {
		roll = -roll
	}
	return handrender.View{Yaw: v.YawDeg, Roll: roll}
}
