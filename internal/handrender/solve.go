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

// arch is how far the flexion plane of each finger leans, degrees: the heads
// of the metacarpals lie on an arch, so that bent fingers close towards each
// other and point at the scaphoid (common practice; sizes chosen by eye).
var arch = [4]float64{7, 1, -6, -13}

func (h *Hand) solveFinger(f hand.Finger, a *FingerPose, out *posed) {
	s, c := math.Sincos(radialSign(f) * a.Abduction * math.Pi / 180)
	straight := vec{s, c, 0} // proximal phalanx at MCP 0
	s, c = math.Sincos(arch[f-1] * math.Pi / 180)
	palmar := vec{-s, 0, c}.orth(straight)
	axis := straight.cross(palmar)
	pos := h.joints[chainBone(f, 0)]
	total := 0.0
	prev := identity()
	for k, bend := range [3]float64{a.MCP, a.PIP, a.DIP} {
		total += bend
		s, c := math.Sincos(total * math.Pi / 180)
		dir := straight.mul(c).addMul(palmar, s)
		g := frame(dir, dir.cross(axis)).mul(frame(h.chainDir(f, k), h.dorsal[chainBone(f, k)]).transpose())
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

// The thumb beside the index finger, from where abduction counts: the
// metacarpal's angle in the plane of the palm and out of it, and the direction
// in which its back then looks. The built-in hand and hands derived from the
// CC0 MakeHuman base mesh agree on that direction within 6 degrees.
const thumbHomeRadial, thumbHomePalmar, thumbHomeRoll = 20.0, 12.0, 24.0

var thumbBack = vec{0.86, 0, -0.5}

func thumbDir(palmar, radial float64) vec {
	sp, cp := math.Sincos((thumbHomePalmar + palmar) * math.Pi / 180)
	sr, cr := math.Sincos((thumbHomeRadial + radial) * math.Pi / 180)
	return vec{sr * cp, cr * cp, sp}
}

func (h *Hand) solveThumb(a *ThumbPose, out *posed) {
	d := hand.Thumb
	dir := thumbDir(a.Palmar, a.Radial)
	// The back of the thumb goes along with the metacarpal on the shortest
	// way from a fixed posture, whatever the rest pose of the mesh.
	home := thumbDir(0, 0)
	over := home.cross(dir)
	swing := turn{over.unit(), math.Atan2(over.norm(), home.dot(dir))}
	m := swing.matrix(1)
	back := m.apply(thumbBack.orth(home))
	m = about(dir, -thumbHomeRoll-a.Roll)
	back = m.apply(back)
	g := frame(dir, back).mul(frame(h.chainDir(d, 0), h.dorsal[chainBone(d, 0)]).transpose())
	pos := h.joints[chainBone(d, 0)]
	h.put(d, 0, g, identity(), pos, 0, out)
	pos = pos.add(g.apply(h.joints[chainBone(d, 1)].sub(pos)))
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
