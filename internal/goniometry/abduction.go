package goniometry

import (
	"math"

	"volar/internal/hand"
)

// foldedDeg is the MCP flexion above which a finger has no abduction worth
// reading: its first bone no longer lies near the plane of the palm.
const foldedDeg = 45

// abduction returns the angles between neighbouring fingers, index-middle,
// middle-ring, ring-little, in the plane of the palm: positive where the
// fingers spread, NaN where one of the two is folded at the knuckle.
func (p *posture) abduction(flexion *[hand.NumJoints]float64) [3]float64 {
	var out [3]float64
	var dir [4]float64
	for i, f := range hand.Fingers {
		b := p.imageF.in(p.image[f.PIP()].Sub(p.image[f.MCP()]))
		dir[i] = math.Atan2(b.X, b.Y) / degree
		if flexion[hand.JointOf(f, hand.MCP)] > foldedDeg {
			dir[i] = math.NaN()
		}
	}
	for i := range out {
		out[i] = wrap(dir[i] - dir[i+1])
	}
	return out
}
