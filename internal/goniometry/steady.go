package goniometry

import (
	"math"
	"time"

	"volar/internal/hand"
)

// steadyView is the turn of the hand smoothed over time, by which it is judged
// whether a joint shows if it is past straight: the yaw of one picture is off
// by 7 degrees, and a hand held at 45 must not be taken for one from the side
// whenever a picture says 55. Joining the head's yaw with that of the
// landmarks, 11 degrees off and in part for the same reasons (correlation
// 0.44), would have brought 7.1 to 7.0; time takes away what scatters.
// The zero value has seen nothing.
type steadyView struct {
	// x and y are the smoothed cosine and sine of the yaw.
	x, y    float64
	at      time.Duration
	started bool
}

// steadySight is the probability that each joint is in sight, smoothed over
// time in the same way: a joint half hidden must not come and go from picture
// to picture. The zero value has seen nothing.
type steadySight struct {
	visible [hand.NumJoints]float64
	at      time.Duration
	started bool
}

// update takes the probabilities of one picture and smooths them in place.
func (s *steadySight) update(visible *[hand.NumJoints]float64, at time.Duration) {
	dt := (at - s.at).Seconds()
	switch {
	case !s.started:
		s.visible, s.started = *visible, true
	case dt > 0:
		w := smoothing(steadyCutoffHz, dt)
		for k, v := range visible {
			s.visible[k] = blend(s.visible[k], v, w)
		}
	}
	s.at, *visible = at, s.visible
}

const (
	// steadyCutoffHz lags by a sixth of a second behind a hand that turns.
	steadyCutoffHz = 1
	// steadyReach is how far beyond the bounds of a side view the picture's own
	// yaw may lie, in degrees: a hand that has turned away is not judged by
	// where it was.
	steadyReach = 12
)

// update takes the view of one picture and returns the smoothed yaw.
func (s *steadyView) update(v hand.View, at time.Duration) (yawDeg float64) {
	sin, cos := math.Sincos(v.YawDeg * degree)
	dt := (at - s.at).Seconds()
	switch {
	case !s.started:
		s.x, s.y, s.started = cos, sin, true
	case dt > 0:
		w := smoothing(steadyCutoffHz, dt)
		s.x, s.y = blend(s.x, cos, w), blend(s.y, sin, w)
	}
	s.at = at
	return math.Atan2(s.y, s.x) / degree
}
