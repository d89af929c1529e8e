package handrender

import (
	"math"

	"volar/internal/hand"
)

// posed is a skeleton at given angles, in hand axes.
type posed struct {
	joints  [numBones]vec
	bone    [numBones]mat // rotation of each moving bone from rest
	bend    [5][3]turn    // rotation added at each joint of each digit
	pivot   [5][3]vec     // rest position of those joints
	flexion [5][3]float64 // bend past the rest pose is in bend; this is the pose's own angle, degrees
	forearm turn
}

// solve places the bones. Angles are exact by construction: each bone's
// direction is computed from the angles alone, and its rest direction, which
// is never quite straight in a mesh, is turned onto it.
func (h *Hand) solve(p *Pose, out *posed) {
	out.joints = h.joints
	for i := range out.bone {
		out.bone[i] = identity()
	}
	for i, f := range hand.Fingers {
		h.solveFinger(f, &p.Fingers[i], out)
	}
	h.solveThumb(&p.Thumb, out)
	w := about(vec{1, 0, 0}, -p.Wrist.Flexion).mul(about(vec{0, 0, 1}, -p.Wrist.Deviation))
	out.forearm = turnOf(w)
}

// radialSign is the sign with which abduction turns a finger about the palm's
// normal: positive turns towards the thumb.
func radialSign(f hand.Finger) float64 {
	if f >= hand.Ring {
		return -1
	}
	return 1
}

func (h *Hand) solveFinger(f hand.Finger, a *FingerPose, out *posed) {
	s, c := math.Sincos(radialSign(f) * a.Abduction * math.Pi / 180)
	straight := vec{s, c, 0} // proximal phalanx at MCP 0
	palmar := vec{0, 0, 1}
	axis := straight.cross(palmar)
	// A finger's own roll about its length stays as the mesh has it.
	rest := h.chainDir(f, 0)
	flat := vec{rest.X, rest.Y, 0}.unit()
	dors := h.dorsal[chainBone(f, 0)].orth(rest)
	restAxis := flat.cross(palmar)
	roll := math.Atan2(dors.dot(restAxis.orth(rest)), -dors.dot(restAxis.orth(rest).cross(rest)))
	pos := h.joints[chainBone(f, 0)]
	total := 0.0
	prev := identity()
	for k, bend := range [3]float64{a.MCP, a.PIP, a.DIP} {
		total += bend
		s, c := math.Sincos(total * math.Pi / 180)
		dir := straight.mul(c).addMul(palmar, s)
		// Dorsal direction of the posed bone, rolled as at rest.
		back := dir.cross(axis)
		sr, cr := math.Sincos(roll)
		back = back.mul(cr).addMul(axis, sr)
		g := frame(dir, back).mul(frame(h.chainDir(f, k), h.dorsal[chainBone(f, k)]).transpose())
		h.put(f, k, g, prev, pos, bend, out)
		pos = pos.add(g.apply(h.joints[chainBone(f, k+1)].sub(h.joints[chainBone(f, k)])))
		out.joints[chainBone(f, k+1)] = pos
		prev = g
	}
}

// put records bone k of a digit with rotation g at posed position pos.
func (h *Hand) put(d hand.Finger, k int, g, prev mat, pos vec, deg float64, out *posed) {
	b := chainBone(d, k)
	out.bone[b], out.joints[b] = g, pos
	out.bend[d][k] = turnOf(prev.transpose().mul(g))
	out.pivot[d][k] = h.joints[b]
	out.flexion[d][k] = deg
}

func (h *Hand) solveThumb(a *ThumbPose, out *posed) {
	d := hand.Thumb
	meta := h.chainDir(d, 0)
	// Palmar abduction turns about the hand's length, radial abduction about
	// the palm's normal, pronation about the metacarpal itself.
	g := about(vec{0, 1, 0}, -a.Palmar).mul(about(vec{0, 0, 1}, -a.Radial)).mul(about(meta, a.Roll))
	pos := h.joints[chainBone(d, 0)]
	h.put(d, 0, g, identity(), pos, 0, out)
	pos = pos.add(g.apply(h.joints[chainBone(d, 1)].sub(pos)))
	dir, back := g.apply(meta), g.apply(h.dorsal[chainBone(d, 1)])
	prev := g
	for k, bend := range [2]float64{a.MP, a.IP} {
		k++
		// The bend turns the bone before it away from its back.
		back = back.orth(dir)
		s, c := math.Sincos(bend * math.Pi / 180)
		dir, back = dir.mul(c).addMul(back, -s), back.mul(c).addMul(dir, s)
		g := frame(dir, back).mul(frame(h.chainDir(d, k), h.dorsal[chainBone(d, k)]).transpose())
		h.put(d, k, g, prev, pos, bend, out)
		pos = pos.add(g.apply(h.joints[chainBone(d, k+1)].sub(h.joints[chainBone(d, k)])))
		out.joints[chainBone(d, k+1)] = pos
		prev = g
	}
}

// points lists the 21 landmarks of a posed skeleton, in hand axes.
func (p *posed) points() (o [hand.NumPoints]vec) {
	o[hand.Wrist] = p.joints[boneWrist]
	for d := hand.Thumb; d <= hand.Little; d++ {
		for k := range 4 {
			o[1+4*int(d)+k] = p.joints[chainBone(d, k)]
		}
	}
	return o
}
