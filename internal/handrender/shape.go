package handrender

import (
	"volar/internal/hand"
)

// Shape changes the bones and the flesh of a mesh. Every number is a share of
// what the mesh has: 0 leaves it, 0.1 adds a tenth, -0.1 takes one away. Joint
// angles stay exact whatever the shape.
type Shape struct {
	// Size scales the whole hand.
	Size float64
	// PalmLength, PalmWidth and PalmDepth scale the palm.
	PalmLength, PalmWidth, PalmDepth float64
	// FingerLength and FingerThickness scale each digit, thumb first.
	FingerLength, FingerThickness [5]float64
	// Phalanx scales each of the three moving bones of each digit besides.
	Phalanx [5][3]float64
	// JointBulk widens all PIP, DIP, MP and IP joints; Swelling does it for
	// one joint (0.2 is a clearly swollen joint).
	JointBulk float64
	Swelling  [hand.NumJoints]float64
	// ForearmWidth scales the forearm's thickness.
	ForearmWidth float64
}

// affine maps rest-space points of one bone.
type affine struct {
	m mat
	t vec
}

func (a *affine) apply(p vec) vec { return a.m.apply(p).add(a.t) }

// stretch scales by the given factors along the columns of an orthonormal
// basis.
func stretch(b mat, x, y, z float64) mat {
	return mat{b[0].mul(x), b[1].mul(y), b[2].mul(z)}.mul(b.transpose())
}

// shaped returns h with a shape. The result shares what does not change.
func (h *Hand) shaped(s *Shape) *Hand {
	if *s == (Shape{}) {
		return h
	}
	o := *h
	o.texture = h.skin()
	size := 1 + s.Size
	palm := affine{m: mat{{X: size * (1 + s.PalmWidth)}, {Y: size * (1 + s.PalmLength)}, {Z: size * (1 + s.PalmDepth)}}}
	for b := range o.joints {
		o.joints[b] = palm.apply(h.joints[b])
	}
	var chain [5][3]affine
	var axis, back [5][3]vec
	for d := hand.Thumb; d <= hand.Little; d++ {
		p := o.joints[chainBone(d, 0)]
		for k := range 3 {
			dir := h.chainDir(d, k)
			long := size * (1 + s.FingerLength[d]) * (1 + s.Phalanx[d][k])
			thick := size * (1 + s.FingerThickness[d])
			f := frame(dir, h.dorsal[chainBone(d, k)])
			axis[d][k], back[d][k] = f[0], f[1]
			a := affine{m: stretch(f, long, thick, thick)}
			a.t = p.sub(a.m.apply(h.joints[chainBone(d, k)]))
			chain[d][k] = a
			p = a.apply(h.joints[chainBone(d, k+1)])
			o.joints[chainBone(d, k+1)] = p
		}
	}
	o.pos = make([]vec, len(h.pos))
	for i, p := range h.pos {
		f := &h.inf[i]
		q, total := vec{}, 0.0
		for d, w := range f.share {
			if w == 0 {
				continue
			}
			total += float64(w)
			b1, b2 := 0.0, 0.0
			if int8(d) == f.main {
				b1, b2 = float64(f.bend[0]), float64(f.bend[1])
			}
			r := chain[d][0].apply(p).mul((1 - b1) * (1 - b2))
			r = r.addMul(chain[d][1].apply(p), b1*(1-b2))
			r = r.addMul(chain[d][2].apply(p), b2)
			if int8(d) == f.main {
				r = h.swell(hand.Finger(d), p, r, s)
			}
			q = q.addMul(r, float64(w))
		}
		if total < 1 {
			r := palm.apply(p)
			if a := float64(f.forearm) * s.ForearmWidth; a != 0 {
				r.X, r.Z = r.X*(1+a), r.Z*(1+a)
			}
			q = q.addMul(r, 1-total)
		}
		o.pos[i] = q
	}
	o.measure()
	return &o
}

// swell pushes a shaped vertex r, at p in the unshaped mesh, away from the
// joints that are bulky.
func (h *Hand) swell(d hand.Finger, p, r vec, s *Shape) vec {
	for k := 1; k <= 2; k++ {
		j := hand.JointOf(d, hand.Kind(k))
		if d == hand.Thumb {
			j = hand.ThumbMP + hand.Joint(k-1)
		}
		b := s.JointBulk + s.Swelling[j]
		if b == 0 {
			continue
		}
		a, u, w := h.local(d, k, p)
		g := bump(a / (1.9 * h.digits[d].radius[k]))
		if g == 0 {
			continue
		}
		r = r.addMul(h.sites[d][k].back, u*b*g*.8).addMul(h.sites[d][k].side, w*b*g)
	}
	return r
}

// skin is the hand in whose rest space the texture lives: a change of shape
// takes the creases and nails along.
func (h *Hand) skin() *Hand {
	if h.texture != nil {
		return h.texture
	}
	return h
}
