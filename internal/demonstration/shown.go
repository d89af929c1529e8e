package demonstration

import (
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/handrender"
)

// Shown is a movement as it is shown to a client: the hand of the plan, or both
// where the movement takes two.
type Shown struct {
	// Duration of the whole.
	Duration time.Duration

	view   exercise.View
	object handrender.Object
	// hands perform, that of the plan first, and sides are whose they are.
	hands [2]*Performance
	sides [2]hand.Side
	n     int
}

// Moments are the hands at one time; the second is the zero Moment where there
// is one hand.
type Moments [2]Moment

// Show plans a performance and how it is looked at. The plan's faults are those
// of its own hand.
func Show(p Plan, v exercise.View) (*Shown, error) {
	if p.Side == hand.UnknownSide {
		p.Side = hand.Right
	}
	one, err := New(p)
	if err != nil {
		return nil, err
	}
	s := &Shown{Duration: one.Duration, view: v, hands: [2]*Performance{one}, sides: [2]hand.Side{p.Side, p.Side.Other()}, n: 1}
	if o, err := p.Movement.Object(p.Object); err == nil {
		s.object = Held(p.Movement, o)
	}
	if p.Movement.Hands == 2 {
		p.Side, p.Faults = s.sides[1], nil
		if s.hands[1], err = New(p); err != nil {
			return nil, err
		}
		s.n, s.Duration = 2, max(s.Duration, s.hands[1].Duration)
	}
	return s, nil
}

// At are the hands at a moment.
func (s *Shown) At(at time.Duration) (m Moments) {
	for i, p := range s.hands[:s.n] {
		m[i] = p.At(at)
	}
	return m
}

// Two hands come in from both sides: so far from the middle, as a share of the
// picture's width, and from so far away that both have room.
const (
	apart         = 0.17
	pairDistanceM = 0.38
)

// Scene is the picture of a moment, not mirrored and before a plain background
// of the renderer's own: the client's right hand is on its left.
func (s *Shown) Scene(at time.Duration) handrender.Scene {
	var scenes [2]handrender.Scene
	for i, p := range s.hands[:s.n] {
		x := Scene(s.sides[i], s.view)
		x.Object = s.object
		if s.n == 2 {
			x.Camera = handrender.Camera{Distance: pairDistanceM, OffsetX: apart, OffsetY: 0.03}
			if s.sides[i] == hand.Right {
				x.Camera.OffsetX = -apart
			}
		}
		p.Dress(&x, at)
		scenes[i] = x
	}
	if s.n == 2 {
		scenes[0].Behind = &scenes[1]
	}
	return scenes[0]
}
