package calibration

import "math"

// Networks are all that were fitted: one that the four long fingers share, the
// thumb's, and that of the view.
type Networks struct {
	Finger, Thumb, View Network
}

// unitDeg scales the networks' angles: an output of 1 is 30 degrees.
const unitDeg = 30

// Reading is what a network says of one joint.
type Reading struct {
	// FlexionDeg is the angle and SpreadDeg the standard deviation that the
	// network states for it.
	FlexionDeg, SpreadDeg float64
	// Visible is the probability, 0 to 1, that the joint's surface and the bone
	// beyond it are in sight.
	Visible float64
}

// Joints returns how many joints a network that gives n outputs speaks of.
func Joints(n int) int { return n / 3 }

// Read turns outputs into readings, joint k from outputs k, k+n and k+2n:
// angle, logarithm of the Laplace scale, log-odds of being seen.
func Read(out []float64, k int) Reading {
	n := Joints(len(out))
	return Reading{
		FlexionDeg: unitDeg * out[k],
		// A Laplace density with scale b has the standard deviation b·√2.
		SpreadDeg: unitDeg * math.Sqrt2 * math.Exp(LimitLogScale(out[n+k])),
		Visible:   1 / (1 + math.Exp(-out[2*n+k])),
	}
}

// LimitLogScale keeps the stated scale between half a degree and 220.
func LimitLogScale(x float64) float64 { return math.Max(-4, math.Min(2, x)) }

// Target is the output that stands for an angle.
func Target(deg float64) float64 { return deg / unitDeg }

// Blended returns the reading with its angle drawn towards the whole bend that
// the points themselves show, the mean of image and world, as the joint bends:
// not at all up to 10 degrees, where that bend has no sign, half way from 30
// on.
//
// The half is not fitted. Networks that know only rendered hands read bent
// joints of photographed hands too straight, by 7 degrees at the PIP, while the
// points, which come from a model that has seen photographs, do not; on
// rendered hands the mean of the two is no better than the network alone.
func (r Reading) Blended(wholeDeg float64) Reading {
	w := 0.5 * math.Max(0, math.Min(1, (r.FlexionDeg-10)/20))
	r.FlexionDeg += w * (wholeDeg - r.FlexionDeg)
	return r
}
