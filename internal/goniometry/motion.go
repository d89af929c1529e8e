package goniometry

import (
	"math"
	"time"

	"volar/internal/hand"
)

// motion follows how fast the hand and its points move.
type motion struct {
	last    hand.Points
	at      time.Duration
	started bool
	palms   float64
	points  [hand.NumPoints]float64

	velocity [hand.NumPoints]hand.Point // the same with directions
}

// speedCutoffHz smooths the velocities. They are smoothed with their direction:
// a hand is read from another region in every picture, so that its points go to
// and fro, in side views by up to an eighth of the palm from one picture to the
// next, which at 30 Hz alone would read as 4 palm lengths a second in a hand that
// is held still. To and fro adds up to little; a way goes on.
const speedCutoffHz = 4

// update takes the points in pixels and the palm's length, and estimates the
// speed of the palm as a whole and of each point in the picture, in palm
// lengths a second.
func (m *motion) update(p *hand.Points, palm float64, at time.Duration) {
	defer func() { m.last, m.at, m.started = *p, at, true }()
	dt := (at - m.at).Seconds()
	if !m.started || dt <= 0 {
		*m = motion{}
		return
	}
	w := smoothing(speedCutoffHz, dt)
	for i := range p {
		v := &m.velocity[i]
		*v = v.Add(p[i].Sub(m.last[i]).Scale(1 / palm / dt).Sub(*v).Scale(w))
		m.points[i] = math.Hypot(v.X, v.Y)
	}
	var whole hand.Point
	rigid := [...]int{hand.Wrist, hand.Index.MCP(), hand.Middle.MCP(), hand.Ring.MCP(), hand.Little.MCP()}
	for _, i := range rigid {
		whole = whole.Add(m.velocity[i].Scale(1.0 / float64(len(rigid))))
	}
	m.palms = math.Hypot(whole.X, whole.Y)
}
