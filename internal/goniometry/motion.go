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
}

// speedCutoffHz smooths the speeds: landmark jitter of 1 % of the palm at 30
// Hz alone would read as 0.4 palm lengths a second.
const speedCutoffHz = 4

// update takes the points in pixels and the palm's length, and estimates the
// speed of the palm as a whole and of each point in the picture, in palm
// lengths a second.
func (m *motion) update(p *hand.Points, palm float64, at time.Duration) {
	defer func() { m.last, m.at, m.started = *p, at, true }()
	dt := (at - m.at).Seconds()
	if !m.started || dt <= 0 {
		m.palms, m.points = 0, [hand.NumPoints]float64{}
		return
	}
	w := smoothing(speedCutoffHz, dt)
	var mean hand.Point
	for i := range p {
		d := p[i].Sub(m.last[i])
		m.points[i] = blend(m.points[i], math.Hypot(d.X, d.Y)/palm/dt, w)
	}
	rigid := [...]int{hand.Wrist, hand.Index.MCP(), hand.Middle.MCP(), hand.Ring.MCP(), hand.Little.MCP()}
	for _, i := range rigid {
		mean = mean.Add(p[i].Sub(m.last[i]).Scale(1.0 / float64(len(rigid))))
	}
	m.palms = blend(m.palms, math.Hypot(mean.X, mean.Y)/palm/dt, w)
}
