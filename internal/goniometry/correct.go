package goniometry

import (
	"math"

	"volar/internal/hand"
)

// # What a baseline takes away
//
// Part of a reading's error is the client's own: the same from day to day in
// one view at one angle. It is taken for a random function of view and angle,
// alike where both are alike and unknown elsewhere. What was read for a
// baseline beside what was known at that moment is that function, seen with an
// error of its own, at a few places; what it is elsewhere, and how surely,
// follows by regression with a Gaussian process (Rasmussen and Williams 2006,
// ch. 2). So a correction is fullest near a baseline's view and angle, fades to
// nothing away from them, and what it does not know stays in the stated error.
//
// On rendered hands of shapes that the angle head never saw the client's own
// part is small around straight, 0 to 7 % of the mean square error: light,
// place, clothes and a few degrees of tilt change the error as much as another
// client does. The error of a straight finger says next to nothing of that of
// one past straight (correlation -0.2 to 0.2, within one sitting too), so a
// straight hand alone moves readings by less than a degree and finds no more
// joints past straight. In deep bends the own part is about a fifth, at the DIP two fifths; there
// an angle measured with a goniometer in the fist is worth entering.
//
// A correction must not hide a joint past straight. The straight hand stands
// for zero only where it did not itself read past straight, and a reading is
// never lifted by more than mostLift unless a goniometer said so.

const (
	// ownStraight and ownBent are the client's own parts of the stated
	// variance, up to ownFrom degrees and from ownTo.
	ownStraight, ownBent, ownFrom, ownTo = 0.05, 0.2, 20.0, 60.0
	// yawReach, pitchReach and angleReach are the differences, in degrees,
	// over which the errors of two readings grow unlike.
	yawReach, pitchReach, angleReach = 25.0, 30.0, 35.0
	// goniometerSD is a goniometer's own error: repeats by one rater lie within
	// 4 to 5 degrees in 95 of 100 (Ellis and Bruton 2002, Clin Rehabil).
	goniometerSD = 2.3
	// mostPastZero and mostShortZero bound the reading of a joint, in degrees,
	// that may stand for straight without having been measured.
	mostPastZero, mostShortZero = 5.0, 15.0
	// mostLift and mostKnownLift bound how far a reading is moved, in degrees,
	// by a straight hand and by measured angles.
	mostLift, mostKnownLift = 5.0, 15.0
)

// ownShare is the client's own part of a reading's stated variance.
func ownShare(deg float64) float64 {
	return blend(ownStraight, ownBent, clamp((deg-ownFrom)/(ownTo-ownFrom), 0, 1))
}

// zeroSD is how far a joint that looks straight and is held straight may be
// from zero, as a standard deviation in degrees; 0 where straight means
// nothing. Extension of the PIP ends 6 to 9 degrees past straight in the mean
// and that of the DIP at about 6, of the MCP at about 20 (Mallon, Brown and
// Nunley 1991, J Hand Surg Am 16:882-887), and a hand held straight without
// force stays well short of that. The thumb's MP ends anywhere from 32 short
// of straight to 58 past it.
func zeroSD(j hand.Joint) float64 {
	switch {
	case j.Finger() == hand.Thumb:
		return 0
	case j.Kind() == hand.MCP:
		return 5
	}
	return 3
}

// evidence is one place at which the lasting error of a joint was seen.
type evidence struct {
	yaw, pitch, angle float64
	// off is the reading less the truth, and variance the error of that.
	off, variance float64
	// prior is the variance of the lasting error there.
	prior float64
	known bool
}

// corrector holds what a baseline says of each joint, made ready. The zero
// value corrects nothing.
type corrector struct {
	joints [hand.NumJoints]jointCorrector
}

type jointCorrector struct {
	seen []evidence
	// factor is the lower Cholesky factor of the evidence's covariance, row by
	// row, and weights that covariance's inverse times the offsets.
	factor  []float64
	weights []float64
	lift    float64
}

// newCorrector makes a baseline ready. Without one, with one that is not sound,
// or with one that another estimator read, nothing is corrected.
func newCorrector(b *Baseline, estimator string) *corrector {
	c := new(corrector)
	if b == nil || b.Check() != nil || estimator != "" && b.Estimator != "" && b.Estimator != estimator {
		return c
	}
	doubtful := map[hand.Joint]bool{}
	for _, d := range b.Doubts() {
		doubtful[d.Joint] = true
	}
	for j := range hand.Joint(hand.NumJoints) {
		var seen []evidence
		lift := mostLift
		for i := range b.Views {
			v := &b.Views[i]
			r, ok := v.Joints[j.String()]
			if !ok {
				continue
			}
			e := evidence{yaw: v.YawDeg, pitch: v.PitchDeg, angle: r.ReadDeg, prior: ownShare(r.ReadDeg) * r.SEDeg * r.SEDeg}
			// The rest of what lasts belongs to that day's light and place.
			e.variance = (lastingShare-ownShare(r.ReadDeg))*r.SEDeg*r.SEDeg + r.ScatterDeg*r.ScatterDeg/float64(v.Pictures)
			switch {
			case r.KnownDeg != nil:
				e.off, e.known = r.ReadDeg-*r.KnownDeg, true
				e.variance += goniometerSD * goniometerSD
				lift = mostKnownLift
			case v.Pose == StraightHand && zeroSD(j) > 0 && !doubtful[j]:
				e.off = r.ReadDeg
				e.variance += zeroSD(j) * zeroSD(j)
			default:
				continue
			}
			seen = append(seen, e)
		}
		c.joints[j] = newJointCorrector(seen, lift)
	}
	return c
}

func newJointCorrector(seen []evidence, lift float64) jointCorrector {
	n := len(seen)
	c := jointCorrector{seen: seen, lift: lift, factor: make([]float64, n*n), weights: make([]float64, n)}
	for i := range seen {
		for k := 0; k <= i; k++ {
			s := covariance(&seen[i], &seen[k])
			if i == k {
				s += seen[i].variance
			}
			for m := range k {
				s -= c.factor[i*n+m] * c.factor[k*n+m]
			}
			if i == k {
				// The evidence's own variance keeps this well above 0.
				c.factor[i*n+i] = math.Sqrt(s)
			} else {
				c.factor[i*n+k] = s / c.factor[k*n+k]
			}
		}
		c.weights[i] = seen[i].off
	}
	c.solve(c.weights)
	for i := n - 1; i >= 0; i-- { // back through the transposed factor
		for k := i + 1; k < n; k++ {
			c.weights[i] -= c.factor[k*n+i] * c.weights[k]
		}
		c.weights[i] /= c.factor[i*n+i]
	}
	return c
}

// solve replaces x by the factor's inverse times x.
func (c *jointCorrector) solve(x []float64) {
	n := len(x)
	for i := range x {
		for k := range i {
			x[i] -= c.factor[i*n+k] * x[k]
		}
		x[i] /= c.factor[i*n+i]
	}
}

// covariance of the lasting errors at two places. Yaw goes round, so it counts
// by the chord.
func covariance(a, b *evidence) float64 {
	yaw := 2 * math.Sin((a.yaw-b.yaw)*degree/2) / degree / yawReach
	pitch := (a.pitch - b.pitch) / pitchReach
	angle := (a.angle - b.angle) / angleReach
	return math.Sqrt(a.prior*b.prior) * math.Exp(-(yaw*yaw+pitch*pitch+angle*angle)/2)
}

// correct takes away what the baseline says of a reading's error, and returns
// the standard error that is left.
func (c *jointCorrector) correct(deg, se float64, v hand.View) (float64, float64) {
	n := len(c.seen)
	if n == 0 {
		return deg, se
	}
	here := evidence{yaw: v.YawDeg, pitch: v.PitchDeg, angle: deg, prior: ownShare(deg) * se * se}
	var room [maxBaselineViews]float64
	k := room[:n]
	off := 0.0
	for i := range c.seen {
		k[i] = covariance(&here, &c.seen[i])
		off += k[i] * c.weights[i]
	}
	c.solve(k)
	explained := 0.0
	for _, x := range k {
		explained += x * x
	}
	off = clamp(off, -c.lift, c.lift)
	return clamp(deg-off, minFlexion, maxFlexion), math.Sqrt(math.Max(se*se-explained, 0))
}

// apply corrects every joint of an estimate.
func (c *corrector) apply(e *estimate) {
	for j := range c.joints {
		e.flexion[j], e.se[j] = c.joints[j].correct(e.flexion[j], e.se[j], e.view)
	}
}
