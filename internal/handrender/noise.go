package handrender

import "math"

// hash3 mixes three whole numbers and a seed to 32 well-spread bits.
func hash3(x, y, z int32, seed uint32) uint32 {
	h := uint32(x)*0x8da6b343 ^ uint32(y)*0xd8163841 ^ uint32(z)*0xcb1ab31f ^ seed*0x9e3779b9
	h ^= h >> 15
	h *= 0x2c1b3c6d
	h ^= h >> 12
	h *= 0x297a2d39
	h ^= h >> 15
	return h
}

// hash01 is a number in [0,1) that depends on i and the seed alone.
func hash01(i int32, seed uint32) float64 { return float64(hash3(i, 77, 0, seed)) / (1 << 32) }

// lattice is a table of random values in [-1,1] that repeats every 32 steps.
const latticeBits = 5

type lattice [1 << (3 * latticeBits)]float32

func newLattice() *lattice {
	l := &lattice{}
	for i := range l {
		l[i] = float32(hash3(int32(i), 0, 0, 12345))/(1<<31) - 1
	}
	return l
}

// at is smooth noise in [-1,1] with features one unit wide; the seed moves to
// another part of the table.
func (l *lattice) at(p vec, seed uint32) float64 {
	const m = 1<<latticeBits - 1
	fx, fy, fz := math.Floor(p.X), math.Floor(p.Y), math.Floor(p.Z)
	s := int(seed * 0x9e3779b1 >> 8)
	x0, y0, z0 := (int(fx)+s)&m, (int(fy)+s>>5)&m, (int(fz)+s>>10)&m
	x1, y1, z1 := (x0+1)&m, ((y0+1)&m)<<latticeBits, ((z0+1)&m)<<(2*latticeBits)
	y0, z0 = y0<<latticeBits, z0<<(2*latticeBits)
	u, v, w := float32(p.X-fx), float32(p.Y-fy), float32(p.Z-fz)
	u, v, w = u*u*(3-2*u), v*v*(3-2*v), w*w*(3-2*w)
	a := l[x0|y0|z0] + (l[x1|y0|z0]-l[x0|y0|z0])*u
	b := l[x0|y1|z0] + (l[x1|y1|z0]-l[x0|y1|z0])*u
	c := l[x0|y0|z1] + (l[x1|y0|z1]-l[x0|y0|z1])*u
	d := l[x0|y1|z1] + (l[x1|y1|z1]-l[x0|y1|z1])*u
	a += (b - a) * v
	c += (d - c) * v
	return float64(a + (c-a)*w)
}

// rough adds three octaves of at.
func (l *lattice) rough(p vec, seed uint32) float64 {
	return l.at(p, seed)*.57 + l.at(p.mul(2.1), seed+1)*.29 + l.at(p.mul(4.3), seed+2)*.14
}
