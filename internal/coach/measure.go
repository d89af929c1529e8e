package coach

import (
	"math"

	"volar/internal/exercise"
	"volar/internal/hand"
)

const (
	// leastSeen is the share of the measure's whole way that judged joints
	// must cover. One finger of four is a little less than a quarter.
	leastSeen = 0.18
	// leastOwnTravel is the least way, in degrees, of a joint in the client's
	// own range that still tells the poses apart.
	leastOwnTravel = 10
	// surestSE is the standard error, in degrees, up to which a finger may
	// decide by itself that the pose is not reached, where the least finger
	// counts.
	surestSE = 9
	// cap on a finger's share where the least finger counts: a finger past
	// straight is no straighter.
	shareCap = 1.1
)

// closing turns joint angles into the share of the way from the start pose to
// the end pose.
type closing struct {
	combine exercise.Combine
	start   [hand.NumJoints]float64
	// travel is the signed way of each joint that takes part, else 0.
	travel [hand.NumJoints]float64
	weight [hand.NumJoints]float64
	// whole is the weighted way of all joints together.
	whole float64
	// joints lists those that take part, by digit.
	joints [5][]hand.Joint
}

func newClosing(m *exercise.Movement, own map[hand.Joint]Range) *closing {
	c := &closing{combine: m.Measure.Combine}
	from, to := m.StartPose().Flexion(), m.EndPose().Flexion()
	for j := hand.Joint(0); j < hand.NumJoints; j++ {
		w := m.Measure.Weights[j]
		if w == 0 {
			continue
		}
		a, b := from[j], to[j]
		if r, ok := own[j]; ok {
			a, b = r.Start, r.End
			if math.Abs(b-a) < leastOwnTravel {
				continue
			}
		}
		if a == b {
			continue
		}
		c.start[j], c.travel[j], c.weight[j] = a, b-a, w
		c.whole += w * math.Abs(b-a)
		f := j.Finger()
		c.joints[f] = append(c.joints[f], j)
	}
	return c
}

// digit is how far one digit is along.
type digit struct {
	// share of the way by weight, and plain share of the digit's composite
	// flexion, with its standard error.
	share, composite, compositeSE float64
	// se is the mean standard error of its joints in degrees.
	se float64
	ok bool
}

// along is what one sample says of the movement.
type along struct {
	share float64
	// mean is the share by all joints together, whatever the fingers are
	// combined to; it is the steadier one, for timing.
	mean   float64
	digits [5]digit
	ok     bool
	// why it is not ok.
	why hand.Reason
}

// read measures one sample. A digit is judged where at least half of its way,
// by weight, is.
func (c *closing) read(s *hand.Sample) (a along) {
	if !s.Found {
		a.why = hand.NoHand
		return a
	}
	var sum, seen float64
	var reasons [len(reasonOrder)]int
	least, leastSure := math.Inf(1), math.Inf(1)
	for f, joints := range c.joints {
		var done, way, all, plainDone, plainWay, variance, se float64
		n := 0
		for _, j := range joints {
			m := &s.Joints[j]
			w, t := c.weight[j], c.travel[j]
			all += w * math.Abs(t)
			if !judged(m) {
				reasons[reasonIndex(m.Why)]++
				continue
			}
			moved := (m.RawDeg - c.start[j]) * math.Copysign(1, t)
			done += w * moved
			way += w * math.Abs(t)
			plainDone += moved
			plainWay += math.Abs(t)
			variance += m.SEDeg * m.SEDeg
			se += m.SEDeg
			n++
		}
		sum += done
		seen += way
		if n == 0 || way < all/2 {
			continue
		}
		d := &a.digits[f]
		*d = digit{share: done / way, composite: plainDone / plainWay, compositeSE: math.Sqrt(variance) / plainWay, se: se / float64(n), ok: true}
		least = min(least, d.share)
		if d.se <= surestSE {
			leastSure = min(leastSure, d.share)
		}
	}
	switch {
	case c.combine == exercise.Least && !math.IsInf(least, 1):
		// Where no finger is sure the mean of all is the better guess.
		a.ok, a.share, a.mean = true, sum/seen, sum/seen
		if !math.IsInf(leastSure, 1) {
			a.share = leastSure
		}
		a.share = min(a.share, shareCap)
	case c.combine != exercise.Least && seen >= leastSeen*c.whole && seen > 0:
		a.ok, a.share, a.mean = true, sum/seen, sum/seen
	default:
		a.why = commonest(&reasons)
	}
	return a
}

// judged is true where the angle counts at all.
func judged(m *hand.Measurement) bool {
	return m.Judged && finite(m.RawDeg) && finite(m.SEDeg)
}

// reasonOrder lists the reasons, so that they can be counted without a map
// and ties are broken the same way always.
var reasonOrder = [...]hand.Reason{hand.Unsure, hand.WrongView, hand.Hidden, hand.TooSmall, hand.TooFast, hand.TooDark, hand.NoHand}

func reasonIndex(r hand.Reason) int {
	for i, k := range reasonOrder {
		if k == r {
			return i
		}
	}
	return 0
}

func commonest[N int | int64](counts *[len(reasonOrder)]N) hand.Reason {
	best := 0
	for i, n := range counts {
		if n > counts[best] {
			best = i
		}
	}
	return reasonOrder[best]
}
