package goniometry

import (
	"math"

	"volar/internal/hand"
)

const degree = math.Pi / 180

// bend returns the signed angle in degrees from u to v about the axis n:
// atan2(n·(u×v), u·v). Only the part of the turn about n counts, so what a
// joint does sideways does not add to its flexion. A zero vector gives 0.
func bend(u, v, n hand.Point) float64 {
	n = unit(n.Sub(along(n, u)))
	s, c := n.Dot(u.Cross(v)), u.Dot(v)
	if s == 0 && c == 0 {
		return 0
	}
	return math.Atan2(s, c) / degree
}

// bend2 is the bend as it shows in the plane of the picture, for a right hand:
// facing is positive where the radial side faces the camera, so that the
// flexion axis points at it, and negative for the ulnar side.
func bend2(u, v hand.Point, facing float64) float64 {
	s, c := u.X*v.Y-u.Y*v.X, u.X*v.X+u.Y*v.Y
	if s == 0 && c == 0 {
		return 0
	}
	a := math.Atan2(s, c) / degree
	if facing > 0 {
		return -a
	}
	return a
}

// unit returns p scaled to length 1, or zero where p has no direction.
func unit(p hand.Point) hand.Point {
	n := p.Norm()
	if n < 1e-12 {
		return hand.Point{}
	}
	return p.Scale(1 / n)
}

// along returns the part of p that lies along u.
func along(p, u hand.Point) hand.Point {
	q := u.Dot(u)
	if q < 1e-24 {
		return hand.Point{}
	}
	return u.Scale(p.Dot(u) / q)
}

// frame is the hand's own set of axes, unit vectors at right angles, in the
// axes that its points were given in: radial from the little finger's knuckle
// to the index's, distal from the wrist to the knuckles, palmar out of the
// palm. Radial is also the flexion axis of the long fingers: a right-handed
// turn about it closes the hand.
type frame struct {
	radial, distal, palmar hand.Point
}

// frameOf builds the frame of a right hand from its wrist and knuckles. It
// reports false where the points have collapsed so that there is none.
func frameOf(p *hand.Points) (frame, bool) {
	w := p[hand.Wrist]
	// The mean of the inner knuckles is steadier than the middle one alone.
	mid := p[hand.Middle.MCP()].Scale(0.5).Add(p[hand.Index.MCP()].Add(p[hand.Ring.MCP()]).Scale(0.25))
	var f frame
	f.distal = unit(mid.Sub(w))
	row := p[hand.Index.MCP()].Sub(p[hand.Little.MCP()])
	f.radial = unit(row.Sub(along(row, f.distal)))
	f.palmar = f.radial.Cross(f.distal)
	return f, f.palmar.Norm() > 0.5
}

// in expresses the vector p in the frame: X radial, Y distal, Z palmar.
func (f frame) in(p hand.Point) hand.Point {
	return hand.Point{X: p.Dot(f.radial), Y: p.Dot(f.distal), Z: p.Dot(f.palmar)}
}

// thumbAxis is the flexion axis of the thumb's MP and IP joints. The thumb
// stands turned against the fingers, so that it bends across the palm; the
// direction is the mean over ten rendered hands, from the thumb beside the
// index finger to the thumb in full palmar abduction, and each is within about 22
// degrees of it.
func (f frame) thumbAxis() hand.Point {
	return unit(f.palmar.Scale(0.80).Sub(f.distal.Scale(0.59)).Sub(f.radial.Scale(0.06)))
}

// axis returns the flexion axis for a joint, before it is made orthogonal to
// the bone.
func (f frame) axis(j hand.Joint) hand.Point {
	if j.Finger() == hand.Thumb {
		return f.thumbAxis()
	}
	return f.radial
}

// flexion returns the signed bend of every joint as the points have it. The
// MCP joints are taken against the palm's own direction: the line from the
// wrist to a knuckle is not the metacarpal of the ring and little finger.
func (f frame) flexion(p *hand.Points) [hand.NumJoints]float64 {
	var out [hand.NumJoints]float64
	for j := range hand.Joint(hand.NumJoints) {
		a, b, c := j.Triple()
		u, v := p[b].Sub(p[a]), p[c].Sub(p[b])
		if j.Kind() == hand.MCP && j.Finger() != hand.Thumb {
			u = f.distal
		}
		out[j] = bend(u, v, f.axis(j))
	}
	return out
}

// mirrored returns the points with x turned round.
func mirrored(p hand.Points) hand.Points {
	for i := range p {
		p[i].X = -p[i].X
	}
	return p
}

// finite reports whether every coordinate is an ordinary number.
func finite(p *hand.Points) bool {
	for _, q := range p {
		if s := q.X + q.Y + q.Z; math.IsNaN(s) || math.IsInf(s, 0) {
			return false
		}
	}
	return true
}
