package goniometry

import (
	"math"

	"volar/internal/goniometry/calibration"
	"volar/internal/hand"
)

// posture is a hand made ready for measuring: a right hand, the wrist at the
// origin, image points in units of the palm's length.
type posture struct {
	image, world   hand.Points
	imageF, worldF frame
	// palm is the palm's length in pixels, foreshortening taken out.
	palm float64
	view hand.View
	// depthOdds is the logarithm of the odds that the depths are right.
	depthOdds float64
}

// postureOf reports false where the points have collapsed or are not numbers.
func postureOf(o *hand.Observation) (posture, bool) {
	var p posture
	if !finite(&o.Image) || !finite(&o.World) {
		return p, false
	}
	p.image, p.world = o.Image, o.World
	side := o.Side
	if side == hand.UnknownSide {
		side = o.SeenSide
	}
	if side == hand.Left {
		p.image, p.world = mirrored(p.image), mirrored(p.world)
	}
	if p.palm = palmLength(&p.image); p.palm < 1e-6 {
		return p, false
	}
	w := palmLength(&p.world)
	if w < 1e-9 {
		return p, false
	}
	p.image, p.world = centred(p.image, 1/p.palm), centred(p.world, 1/w)
	return p, p.frames()
}

// frames finds the hand's axes and the view.
func (p *posture) frames() bool {
	var ok, okw bool
	p.imageF, ok = frameOf(&p.image)
	p.worldF, okw = frameOf(&p.world)
	p.view = viewOf(p.imageF)
	return ok && okw
}

// palmLength is the distance from the wrist to the middle finger's knuckle.
func palmLength(p *hand.Points) float64 {
	return p[hand.Middle.MCP()].Sub(p[hand.Wrist]).Norm()
}

// centred moves the wrist to the origin and scales by s.
func centred(p hand.Points, s float64) hand.Points {
	w := p[hand.Wrist]
	for i := range p {
		p[i] = p[i].Sub(w).Scale(s)
	}
	return p
}

// bends are what the points say of every joint, in degrees.
type bends struct {
	image, world       [hand.NumJoints]float64 // signed, in space
	imageAbs, worldAbs [hand.NumJoints]float64 // whole angle between the bones
}

func (p *posture) bends() bends {
	return bends{
		image: p.imageF.flexion(&p.image), world: p.worldF.flexion(&p.world),
		imageAbs: turns(&p.image), worldAbs: turns(&p.world),
	}
}

// whole is the mean of the whole bends in image and world points.
func (b *bends) whole(j hand.Joint) float64 { return (b.imageAbs[j] + b.worldAbs[j]) / 2 }

// digitFeatures describes one digit so that neither place, size nor roll in
// the picture matter: its bends in space and in the picture, the other fingers'
// bends, the view, and its bones in the hand's own frame and in the picture
// turned upright.
func (p *posture) digitFeatures(f hand.Finger, b *bends) [calibration.FeatureCount]float64 {
	var out [calibration.FeatureCount]float64
	n := 0
	put := func(v ...float64) { n += copy(out[n:], v) }

	facing := math.Sin(p.view.YawDeg * degree)
	first := 4*int(f) + 1
	joints := []hand.Joint{hand.JointOf(f, hand.MCP), hand.JointOf(f, hand.PIP), hand.JointOf(f, hand.DIP)}
	if f == hand.Thumb {
		joints = []hand.Joint{hand.ThumbMP, hand.ThumbIP, hand.ThumbIP}
	}
	for _, j := range joints {
		put(b.image[j], b.world[j], b.imageAbs[j], b.worldAbs[j])
		// In the picture the bend counts as far as a side faces the camera and
		// the bones are long enough there to have a direction.
		i, k, l := j.Triple()
		u, v := p.image[k].Sub(p.image[i]), p.image[l].Sub(p.image[k])
		long := math.Hypot(u.X, u.Y) * math.Hypot(v.X, v.Y)
		put(bend2(u, v, facing)*math.Abs(facing)*long/(long+0.02), (u.X*v.X+u.Y*v.Y)/(long+0.02))
	}
	for _, o := range hand.Fingers {
		mine := 0.0
		if o == f {
			mine = 1
		}
		put(mine)
	}
	// The neighbour on either side, or the digit's own values at the edge.
	for _, o := range [...]hand.Finger{f - 1, f + 1} {
		if o < hand.Index || o > hand.Little {
			o = max(hand.Index, min(f, hand.Little))
		}
		for _, k := range [...]hand.Kind{hand.MCP, hand.PIP, hand.DIP} {
			put(b.image[hand.JointOf(o, k)], b.world[hand.JointOf(o, k)])
		}
	}
	for _, f := range [...]frame{p.imageF, p.worldF} {
		put(f.palmar.Z, f.radial.Z, f.distal.Z)
	}
	put(facing, math.Cos(p.view.YawDeg*degree))
	put(math.Hypot(p.imageF.distal.X, p.imageF.distal.Y))

	// Upright: the wrist's way to the knuckles points up in the picture.
	up := unit(hand.Point{X: p.imageF.distal.X, Y: p.imageF.distal.Y})
	if up.Norm() == 0 {
		up = hand.Point{Y: -1}
	}
	prev := hand.Wrist
	for i := first; i < first+4; i++ {
		q, w := p.image[i].Sub(p.image[prev]), p.world[i].Sub(p.world[prev])
		a, c := p.imageF.in(q), p.worldF.in(w)
		put(a.X, a.Y, a.Z, c.X, c.Y, c.Z)
		put(q.X*-up.Y+q.Y*up.X, q.X*up.X+q.Y*up.Y)
		prev = i
	}
	return out
}

// viewFeatures describes the whole hand for the view: its axes in the picture
// turned upright, in both sets of points, the knuckles' own shape, and how far
// the digits are bent, since bent fingers draw the knuckles' points with them.
func (p *posture) viewFeatures(b *bends) [calibration.ViewFeatureCount]float64 {
	var out [calibration.ViewFeatureCount]float64
	n := 0
	put := func(v ...float64) { n += copy(out[n:], v) }
	put(math.Sin(p.view.YawDeg*degree), math.Cos(p.view.YawDeg*degree))
	put(p.imageF.distal.Z, p.imageF.radial.Z, p.imageF.palmar.Z, p.worldF.distal.Z, p.worldF.radial.Z, p.worldF.palmar.Z)
	row, wrow := p.image[hand.Index.MCP()].Sub(p.image[hand.Little.MCP()]), p.world[hand.Index.MCP()].Sub(p.world[hand.Little.MCP()])
	a, c := p.imageF.in(row), p.worldF.in(wrow)
	put(a.X, a.Y, c.X, c.Y, row.Z, wrow.Z)
	for _, i := range [...]int{hand.ThumbMCP, hand.ThumbTip} {
		a, c := p.imageF.in(p.image[i]), p.worldF.in(p.world[i])
		put(a.X, a.Y, a.Z, c.X, c.Y, c.Z)
	}
	for _, f := range hand.Fingers {
		put(b.image[hand.JointOf(f, hand.MCP)], b.image[hand.JointOf(f, hand.PIP)])
	}
	return out
}

// turns returns the whole angle between the bones on either side of every
// joint, 0 to 180 degrees.
func turns(p *hand.Points) [hand.NumJoints]float64 {
	var out [hand.NumJoints]float64
	for j := range out {
		a, b, c := hand.Joint(j).Triple()
		u, v := p[b].Sub(p[a]), p[c].Sub(p[b])
		out[j] = math.Atan2(u.Cross(v).Norm(), u.Dot(v)) / degree
	}
	return out
}
