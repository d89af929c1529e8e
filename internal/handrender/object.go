package handrender

import (
	"math"

	"volar/internal/hand"
)

// Pattern is how a surface's two colours are laid out.
type Pattern int8

// The patterns. Weave is one colour with the relief of cloth, Terry that of
// towelling.
const (
	Uniform Pattern = iota
	Stripes
	Dots
	Weave
	Terry
	spiral
)

// Fabric is the look of an object or a piece of clothing.
type Fabric struct {
	Colour, Second RGB // zero Colour = the object's usual colour
	Pattern        Pattern
	// Scale is the width of a stripe or the spacing of dots, metres; 0 = 0.012.
	Scale float64
	Seed  uint32
}

// ObjectKind names an object.
type ObjectKind int8

// The objects. Roll is a rolled towel, Lump a crumpled cloth, Sheet a sheet of
// paper or card, Band an elastic band around all five digits, Cloth a cloth
// that lies flat on a table under the hand, touching what reaches lowest.
const (
	NoObject ObjectKind = iota
	Ball
	Roll
	Lump
	Sheet
	Band
	Cloth
)

// Object is something in the hand. Places are in hand axes, metres.
type Object struct {
	Kind ObjectKind
	// Radius of a ball, lump or roll; half the width of a sheet; half the
	// width of a band. 0 = 0.030, 0.030, 0.022, 0.06, 0.003; 0.11 of a cloth.
	Radius float64
	// Length of a roll or sheet; 0 = 0.14, 0.26 of a cloth.
	Length float64
	// Beyond is how far a roll that is held at its end stands out past the index
	// finger, metres; 0 = it is held in its middle. Without effect where Centre
	// is given.
	Beyond float64
	// Shared is true of a roll whose other end another hand holds: from the
	// thumb side it bends and runs to the middle of the picture, at this hand's
	// height and distance, where the other half meets it.
	Shared bool
	// Centre of the object; the zero Centre lays it on the palm at the roots
	// of the fingers, a sheet on the fingertips. A band ignores it.
	Centre hand.Point
	// Axis of a roll, or the normal of a sheet; zero = across the palm, and
	// facing the pad.
	Axis   hand.Point
	Fabric Fabric
}

// Worn is what the hand wears besides a sleeve.
type Worn struct {
	// Rings on the proximal phalanx of each digit, thumb first, and their
	// colour; zero = gold.
	Rings      [5]bool
	RingColour RGB
	// Splint covers wrist and palm and leaves thumb and fingers free.
	Splint       bool
	SplintFabric Fabric
	// Tape is wound around the middle of a digit, thumb first.
	Tape       [5]bool
	TapeColour RGB // zero = off-white
}

// solid is an object with all choices made.
type solid struct {
	Object
	centre, axis vec
}

func (h *Hand) solid(o Object, ps *posed) solid {
	s := solid{Object: o, centre: vec(o.Centre), axis: vec(o.Axis)}
	switch o.Kind {
	case Ball, Lump:
		s.Radius = or(o.Radius, 0.030)
	case Roll:
		s.Radius = or(o.Radius, 0.022)
	case Sheet:
		s.Radius = or(o.Radius, 0.06)
	case Band:
		s.Radius = or(o.Radius, 0.003)
	case Cloth:
		s.Radius, s.Length = or(o.Radius, 0.11), or(o.Length, 0.26)
	}
	s.Length = or(s.Length, 0.14)
	if s.axis.norm() == 0 {
		s.axis = vec{1, 0, 0}
		if o.Kind == Sheet || o.Kind == Cloth {
			s.axis = vec{0, 0, 1}
		}
	}
	s.axis = s.axis.unit()
	if s.centre == (vec{}) {
		root := h.joints[chainBone(hand.Middle, 0)]
		switch o.Kind {
		case Sheet:
			// On the pad of the middle finger, wherever that is now.
			tip, last := ps.joints[chainBone(hand.Middle, 3)], ps.bone[chainBone(hand.Middle, 2)]
			pad := last.apply(h.dorsal[chainBone(hand.Middle, 2)]).mul(-1)
			s.centre = tip.addMul(pad, h.digits[hand.Middle].flesh[2]+0.001)
			if o.Axis == (hand.Point{}) {
				s.axis = pad
			}
		case Cloth:
			s.centre = vec{0, root.Y, h.lowest(ps)}
		default:
			s.centre = vec{-0.004, root.Y - 0.004, h.palmHeight() + s.Radius - 0.002}
			if o.Kind == Roll && o.Beyond != 0 {
				// A finger is about as thick to the side as to the front.
				edge := h.joints[chainBone(hand.Index, 0)].X + h.digits[hand.Index].flesh[0]
				s.centre.X = edge + o.Beyond - s.Length/2
			}
		}
	}
	return s
}

// lowest is how far the palm or a digit's end stands out of the hand's plane:
// where a table is under a hand that lies on it.
func (h *Hand) lowest(ps *posed) float64 {
	z := h.palmHeight()
	for d := hand.Thumb; d <= hand.Little; d++ {
		for k := 1; k <= 3; k++ {
			z = max(z, ps.joints[chainBone(d, k)].Z+h.digits[d].flesh[2])
		}
	}
	return z
}

// palmHeight is how far the palm's skin stands out before the middle MCP joint.
func (h *Hand) palmHeight() float64 {
	root := h.joints[chainBone(hand.Middle, 0)]
	z := 0.0
	for i, p := range h.pos {
		if h.inf[i].main != int8(hand.Thumb) && math.Abs(p.X) < 0.012 && math.Abs(p.Y-root.Y+0.008) < 0.006 {
			z = max(z, p.Z)
		}
	}
	return z
}

// distance is the signed distance of p from the object's surface, negative
// inside; +Inf for objects that are not gripped.
func (s *solid) distance(p vec) float64 {
	q := p.sub(s.centre)
	switch s.Kind {
	case Ball, Lump:
		return q.norm() - s.Radius
	case Roll:
		a := q.dot(s.axis)
		r := q.addMul(s.axis, -a).norm() - s.Radius
		e := math.Abs(a) - s.Length/2
		if r > 0 && e > 0 {
			return math.Sqrt(r*r + e*e)
		}
		return max(r, e)
	}
	return math.Inf(1)
}

// Grip closes the fingers and the thumb of a scene's pose on its object and
// returns the pose. Each digit bends in its natural proportions until a bone
// touches; the joints before that bone stop and the rest goes on, until
// everything touches or is bent as far as it goes. A bone touches where the
// object's surface comes nearer to the bone's line than the flesh on its volar
// side is thick. Contact is found to a hundredth of a degree. Abduction and
// wrist stay as they are; without an object that can be gripped the pose comes
// back unchanged.
func (r *Renderer) Grip(s Scene) Pose {
	p := s.Pose
	h := r.pose(&s)
	o := h.solid(s.Object, &r.posed)
	if math.IsInf(o.distance(vec{}), 1) {
		return p
	}
	for i, f := range hand.Fingers {
		a := &p.Fingers[i]
		limit := [3]float64{92, 108, 72}
		joint := [3]*float64{&a.MCP, &a.PIP, &a.DIP}
		for _, j := range joint {
			*j = 0
		}
		r.close(h, &p, &o, f, joint[:], limit[:])
	}
	t := &p.Thumb
	t.MP, t.IP = 0, 0
	// The thumb swings in from the side, then bends.
	t.Palmar, t.Radial = 62, max(t.Radial, 6)
	swing := 0.0
	r.march(h, &p, &o, hand.Thumb, 1, func(x float64) { t.Palmar = 62 - 50*x }, &swing)
	r.close(h, &p, &o, hand.Thumb, []*float64{nil, &t.MP, &t.IP}, []float64{0, 50, 70})
	return p
}

// close bends the joints of one digit onto an object.
func (r *Renderer) close(h *Hand, p *Pose, o *solid, d hand.Finger, joint []*float64, limit []float64) {
	first, x := 0, 0.0
	for first < 3 {
		start := [3]float64{}
		for k, j := range joint {
			if j != nil {
				start[k] = *j
			}
		}
		from := x
		hit := r.march(h, p, o, d, first, func(t float64) {
			for k := first; k < 3; k++ {
				if joint[k] != nil {
					*joint[k] = start[k] + (limit[k]-start[k])*(t-from)/(1-from)
				}
			}
		}, &x)
		if hit < 0 {
			return
		}
		first = hit + 1
		if x >= 1 {
			return
		}
	}
}

// march raises a digit's bend from *x to 1 until a bone from number first on
// touches, sets *x there and returns that bone, or -1.
func (r *Renderer) march(h *Hand, p *Pose, o *solid, d hand.Finger, first int, set func(x float64), x *float64) int {
	touch := func(v float64) int {
		set(v)
		h.solve(p, &r.posed)
		return h.touches(&r.posed, o, d, first)
	}
	if b := touch(*x); b >= 0 {
		return b
	}
	const step = 1.0 / 48
	for lo := *x; lo < 1; lo += step {
		hi := min(lo+step, 1)
		b := touch(hi)
		if b < 0 {
			continue
		}
		for range 14 {
			mid := (lo + hi) / 2
			if c := touch(mid); c >= 0 {
				hi, b = mid, c
			} else {
				lo = mid
			}
		}
		touch(hi)
		*x = hi
		return b
	}
	*x = 1
	return -1
}

// touches returns the last bone of a digit, from number first on, that touches
// an object, or -1.
func (h *Hand) touches(ps *posed, o *solid, d hand.Finger, first int) int {
	for k := 2; k >= first; k-- {
		a, b := ps.joints[chainBone(d, k)], ps.joints[chainBone(d, k+1)]
		from := 0.45
		if d == hand.Thumb && k == 0 {
			continue // the ball of the thumb is soft and always near
		}
		for i := range 5 {
			t := from + (1-from)*float64(i)/4
			if o.distance(mix(a, b, t)) <= h.digits[d].flesh[k]-0.0008 {
				return k
			}
		}
	}
	return -1
}
