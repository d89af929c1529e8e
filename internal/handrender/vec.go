package handrender

import "math"

// vec is a point or direction in metres or without unit; the frame is named
// where it is used.
type vec struct{ X, Y, Z float64 }

func (a vec) add(b vec) vec               { return vec{a.X + b.X, a.Y + b.Y, a.Z + b.Z} }
func (a vec) sub(b vec) vec               { return vec{a.X - b.X, a.Y - b.Y, a.Z - b.Z} }
func (a vec) mul(s float64) vec           { return vec{a.X * s, a.Y * s, a.Z * s} }
func (a vec) addMul(b vec, s float64) vec { return vec{a.X + s*b.X, a.Y + s*b.Y, a.Z + s*b.Z} }
func (a vec) dot(b vec) float64           { return a.X*b.X + a.Y*b.Y + a.Z*b.Z }
func (a vec) cross(b vec) vec {
	return vec{a.Y*b.Z - a.Z*b.Y, a.Z*b.X - a.X*b.Z, a.X*b.Y - a.Y*b.X}
}
func (a vec) norm() float64 { return math.Sqrt(a.dot(a)) }

// unit returns a scaled to length 1; the zero vector stays as it is.
func (a vec) unit() vec {
	l := a.norm()
	if l == 0 {
		return a
	}
	return a.mul(1 / l)
}

// orth returns the unit vector along the part of a that is normal to the unit
// vector d.
func (a vec) orth(d vec) vec { return a.addMul(d, -a.dot(d)).unit() }

func (a vec) finite() bool {
	s := a.X + a.Y + a.Z
	return !math.IsNaN(s) && !math.IsInf(s, 0)
}

func mix(a, b vec, t float64) vec { return a.mul(1-t).addMul(b, t) }

// mat is a 3x3 matrix held as columns.
type mat [3]vec

func identity() mat { return mat{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}} }

func (m *mat) apply(v vec) vec {
	return vec{
		m[0].X*v.X + m[1].X*v.Y + m[2].X*v.Z,
		m[0].Y*v.X + m[1].Y*v.Y + m[2].Y*v.Z,
		m[0].Z*v.X + m[1].Z*v.Y + m[2].Z*v.Z,
	}
}

func (m mat) mul(n mat) mat { return mat{m.apply(n[0]), m.apply(n[1]), m.apply(n[2])} }

func (m mat) transpose() mat {
	return mat{{m[0].X, m[1].X, m[2].X}, {m[0].Y, m[1].Y, m[2].Y}, {m[0].Z, m[1].Z, m[2].Z}}
}

// frame is the orthonormal basis with the unit vector d first and the part of
// a normal to it second.
func frame(d, a vec) mat {
	b := a.orth(d)
	return mat{d, b, d.cross(b)}
}

// turn is a rotation as unit axis and angle, so that a share of it can be
// taken.
type turn struct {
	axis  vec
	angle float64 // radians
}

// about returns the rotation by deg degrees about an axis.
func about(axis vec, deg float64) mat {
	t := turn{axis.unit(), deg * math.Pi / 180}
	return t.matrix(1)
}

// turnOf reads axis and angle from a rotation matrix whose angle is below pi.
func turnOf(m mat) turn {
	a := vec{m[1].Z - m[2].Y, m[2].X - m[0].Z, m[0].Y - m[1].X}
	s, c := a.norm()/2, (m[0].X+m[1].Y+m[2].Z-1)/2
	if s < 1e-12 {
		return turn{vec{1, 0, 0}, 0}
	}
	return turn{a.mul(1 / (2 * s)), math.Atan2(s, c)}
}

// matrix returns the rotation by the given share of the angle.
func (t turn) matrix(share float64) mat {
	s, c := math.Sincos(t.angle * share)
	a, k := t.axis, 1-c
	return mat{
		{c + a.X*a.X*k, a.X*a.Y*k + a.Z*s, a.X*a.Z*k - a.Y*s},
		{a.X*a.Y*k - a.Z*s, c + a.Y*a.Y*k, a.Y*a.Z*k + a.X*s},
		{a.X*a.Z*k + a.Y*s, a.Y*a.Z*k - a.X*s, c + a.Z*a.Z*k},
	}
}

// inverse returns the inverse of a matrix; ok is false where it has none.
func (m mat) inverse() (inv mat, ok bool) {
	c0, c1, c2 := m[1].cross(m[2]), m[2].cross(m[0]), m[0].cross(m[1])
	det := m[0].dot(c0)
	if math.Abs(det) < 1e-12 || math.IsNaN(det) || math.IsInf(det, 0) {
		return mat{}, false
	}
	return mat{c0.mul(1 / det), c1.mul(1 / det), c2.mul(1 / det)}.transpose(), true
}

func clamp(x, lo, hi float64) float64 { return max(lo, min(hi, x)) }

// smoothstep rises from 0 at a to 1 at b with zero slope at both ends.
func smoothstep(a, b, x float64) float64 {
	t := clamp((x-a)/(b-a), 0, 1)
	return t * t * (3 - 2*t)
}

// bump is 1 at 0 and falls smoothly to 0 at +-1: a bell without an
// exponential, whose last bits differ between processors.
func bump(x float64) float64 {
	x *= x
	if x >= 1 {
		return 0
	}
	x = 1 - x
	return x * x * x
}
