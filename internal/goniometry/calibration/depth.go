package calibration

// DepthCount is how many numbers speak for or against the depths of a hand's
// points being the right way round; package goniometry makes them.
const DepthCount = 5

// Depth weighs them: a logistic regression.
type Depth [DepthCount]float32

// LogOdds is the logarithm of the odds that the depths are right.
func (d *Depth) LogOdds(x *[DepthCount]float64) float64 {
	s := 0.0
	for i, v := range x {
		s += float64(d[i]) * v
	}
	return s
}
