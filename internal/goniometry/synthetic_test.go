package goniometry

import (
	"math"

	"volar/internal/hand"
)

// turn describes how a synthetic hand stands before the camera.
type turn struct {
	yaw, pitch, roll float64
	side             hand.Side
	palm             float64 // pixels
	x, y             float64 // wrist
}

// synthetic builds the points of a hand with exact joint angles: bones as
// straight lines, knuckles in one plane, every finger joint a hinge about the
// radial axis and the thumb's joints hinges about the thumb's axis.
func synthetic(angles [hand.NumJoints]float64, t turn) hand.Points {
	f := frame{radial: hand.Point{X: 1}, distal: hand.Point{Y: 1}, palmar: hand.Point{Z: 1}}
	var p hand.Points // hand axes: X radial, Y distal, Z palmar
	for i, g := range hand.Fingers {
		// The knuckles are laid so that the frame comes out as X, Y, Z: the
		// weighted mean of the inner ones lies on the Y axis.
		at := hand.Point{X: 0.25 - 0.25*float64(i), Y: [4]float64{0.98, 1, 0.94, 0.86}[i]}
		p[g.MCP()] = at
		dir := f.distal
		for k := range 3 {
			dir = rotate(dir, f.radial, angles[hand.JointOf(g, hand.Kind(k))])
			at = at.Add(dir.Scale([3]float64{0.45, 0.27, 0.2}[k]))
			p[g.MCP()+1+k] = at
		}
	}
	at, dir := hand.Point{X: 0.25, Y: 0.2, Z: 0.1}, unit(hand.Point{X: 0.6, Y: 0.7, Z: 0.1})
	p[hand.ThumbCMC] = at
	axis := f.thumbAxis()
	for k, l := range []float64{0.45, 0.35, 0.28} {
		if k > 0 {
			dir = rotate(dir, unit(axis.Sub(along(axis, dir))), angles[hand.ThumbMP+hand.Joint(k-1)])
		}
		at = at.Add(dir.Scale(l))
		p[hand.ThumbMCP+k] = at
	}
	for i, q := range p {
		q = hand.Point{X: q.X, Y: -q.Y, Z: -q.Z} // yaw 0: palm to the camera, fingers up
		q = rotate(q, hand.Point{Y: 1}, t.yaw)
		q = rotate(q, hand.Point{X: 1}, t.pitch)
		if t.side == hand.Left {
			q.X = -q.X
		}
		q = rotate(q, hand.Point{Z: 1}, t.roll)
		p[i] = hand.Point{X: t.x + t.palm*q.X, Y: t.y + t.palm*q.Y, Z: t.palm * q.Z}
	}
	return p
}

// rotate turns p about the unit axis by degrees, right-handed.
func rotate(p, axis hand.Point, deg float64) hand.Point {
	s, c := math.Sincos(deg * degree)
	return p.Scale(c).Add(axis.Cross(p).Scale(s)).Add(axis.Scale(axis.Dot(p) * (1 - c)))
}

// seen makes an observation of points whose depths are as they are.
func seen(p hand.Points, side hand.Side) hand.Observation {
	o := hand.Observation{Side: side, SeenSide: side, SideScore: 1, Presence: 1, Image: p, Luma: 0.5, Contrast: 0.2}
	for i := range p {
		o.World[i] = p[i].Sub(p[9]).Scale(0.001)
	}
	return o
}
