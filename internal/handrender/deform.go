package handrender

import (
	"math"

	"volar/internal/hand"
)

// deform moves the rest surface to a solved pose, in hand axes.
//
// Plain linear skinning averages positions and so pinches a bent finger. Here
// every vertex goes through its digit's joints one after the other and turns
// about each by its own share of the angle: its distance from the joint stays
// what it was, the back of a knuckle becomes an arc, and the volar skin on
// both sides meets in a crease.
func (h *Hand) deform(dst []vec, rest []vec, s *posed) {
	// Whole turns are shared by most vertices.
	var full [5][3]mat
	for d := range full {
		for k := range full[d] {
			full[d][k] = s.bend[d][k].matrix(1)
		}
	}
	var folds [5][3]fold
	for d := hand.Thumb; d <= hand.Little; d++ {
		for k := 1; k <= 2; k++ {
			folds[d][k] = h.fold(d, k, s, &full[d][k])
		}
	}
	arm := s.forearm.matrix(1)
	for i, p := range rest {
		f := &h.inf[i]
		total := 0.0
		for _, w := range f.share {
			total += float64(w)
		}
		out := p
		if total > 0 {
			out = vec{}
			for d, w := range f.share {
				if w == 0 {
					continue
				}
				q := p
				if int8(d) == f.main {
					q = h.bulge(hand.Finger(d), f, q, s)
					for k := 2; k >= 1; k-- {
						b := float64(f.bend[k-1])
						if b > 0 {
							q = turnPart(q, s.pivot[d][k], &s.bend[d][k], &full[d][k], b)
						}
						if c := &folds[d][k]; c.on {
							q = c.press(q, b > 0.5)
						}
					}
				}
				q = turnPart(q, s.pivot[d][0], &s.bend[d][0], &full[d][0], min(total, 1))
				out = out.addMul(q, float64(w)/total)
			}
		}
		if a := float64(f.forearm); a > 0 {
			out = turnPart(out, vec{}, &s.forearm, &arm, a)
		}
		dst[i] = out
	}
}

// fold is the plane in which the volar skin on both sides of a bent joint
// meets: through the joint and halfway between its bones, in the rest space of
// the bone before it.
type fold struct {
	on      bool
	at      vec
	inward  vec // from the joint into the angle between the bones
	distal  vec // normal of the plane, to the side of the bone after the joint
	release float64
}

func (h *Hand) fold(d hand.Finger, k int, s *posed, full *mat) fold {
	if s.flexion[d][k] < 25 {
		return fold{}
	}
	before, after := h.chainDir(d, k-1), full.apply(h.chainDir(d, k))
	return fold{true, s.pivot[d][k], after.sub(before).unit(), after.add(before).unit(), 0.3 * h.digits[d].radius[k]}
}

// press moves a vertex that has come through the plane of a fold back onto it,
// so that neither side shows through the other.
func (f *fold) press(q vec, distal bool) vec {
	r := q.sub(f.at)
	depth := r.dot(f.inward)
	if depth <= 0 {
		return q
	}
	over := r.dot(f.distal)
	if distal {
		over = -over
	}
	if over <= 0 {
		return q
	}
	over *= smoothstep(0, f.release, depth)
	if distal {
		return q.addMul(f.distal, over)
	}
	return q.addMul(f.distal, -over)
}

// turnPart turns q about a pivot by a share of a turn.
func turnPart(q, pivot vec, t *turn, full *mat, share float64) vec {
	if t.angle == 0 {
		return q
	}
	r := q.sub(pivot)
	if share >= 1 {
		return pivot.add(full.apply(r))
	}
	// Rodrigues' formula.
	s, c := math.Sincos(t.angle * share)
	a := t.axis
	return pivot.add(r.mul(c).addMul(a.cross(r), s).addMul(a, a.dot(r)*(1-c)))
}

// bulge displaces a rest-space vertex near the joints of its digit for the
// tissue that a bend presses aside: on the volar side next to the crease in
// flexion, at the volar plate in hyperextension.
func (h *Hand) bulge(d hand.Finger, f *influence, p vec, s *posed) vec {
	g := &h.digits[d]
	for k := 1; k <= 2; k++ {
		deg := s.flexion[d][k]
		if math.Abs(deg) < 1 {
			continue
		}
		r := g.radius[k]
		a, u, w := h.local(d, k, p)
		if math.Abs(a) > 2.2*r {
			continue
		}
		dors, lat := h.sites[d][k].back, h.sites[d][k].side
		volar := clamp(0.5-u/r*0.7, 0, 1)
		if deg < 0 {
			// Skin and volar plate stand out under the joint; the back dips.
			t := min(-deg/20, 1.5)
			p = p.addMul(dors, -0.11*r*t*volar*bump(a/(1.7*r)))
			p = p.addMul(dors, -0.05*r*t*(1-volar)*bump(a/(1.2*r)))
			continue
		}
		t := smoothstep(10, 110, deg)
		p = p.addMul(lat, w*0.07*t*volar*(bump((a-1.3*r)/(1.1*r))+bump((a+1.3*r)/(1.1*r))))
		p = p.addMul(dors, -0.10*r*t*volar*(bump((a-1.3*r)/(1.1*r))+bump((a+1.3*r)/(1.1*r))))
		p = p.addMul(dors, -0.07*r*t*(1-volar)*bump(a/(1.4*r)))
	}
	return p
}
