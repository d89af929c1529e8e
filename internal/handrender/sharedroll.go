package handrender

import (
	"math"

	"volar/internal/hand"
)

// How a cloth leaves the hand that holds one of its ends, metres (chosen by eye
// after a rolled hand towel): it stands out a little past the little finger, is
// straight to a little past the index finger, and bends there.
const (
	sharedStub = 0.02
	sharedLead = 0.004
	// sharedBend is how far the ends of the bend pull, sharedRun how far the
	// run to the other hand does.
	sharedBend, sharedRun = 0.045, 0.05
)

// addSharedRoll adds the half of a roll that this hand holds.
func (r *Renderer) addSharedRoll(hd *Hand, o *solid, pl *place) {
	const around, straight, bent = 36, 8, 24
	index, little := hd.joints[chainBone(hand.Index, 0)], hd.joints[chainBone(hand.Little, 0)]
	flesh := hd.digits[hand.Index].flesh[0]
	from := o.centre.addMul(o.axis, little.sub(o.centre).dot(o.axis)-flesh-sharedStub)
	exit := o.centre.addMul(o.axis, index.sub(o.centre).dot(o.axis)+flesh+sharedLead)

	// The middle of the picture, and the way there, in hand axes.
	back := pl.m.transpose()
	to := pl.at(hd.joints[chainBone(hand.Middle, 0)])
	way := vec{1, 0, 0}
	if to.X > 0 {
		way.X = -1
	}
	to.X = 0
	end, run := back.apply(to.sub(pl.t)), back.apply(way)
	a, b := exit.addMul(o.axis, sharedBend), end.addMul(run, -sharedRun)

	start := int32(len(r.model.pos))
	side, length, before := vec{0.3, 0.2, 1}.orth(o.axis), 0.0, from
	ring := func(p, along vec, in float64, end bool) {
		side = side.orth(along)
		across := along.cross(side)
		length += p.sub(before).norm()
		before = p
		for j := range around {
			turn := 2 * math.Pi * float64(j) / around
			s, c := math.Sincos(turn)
			n := side.mul(c).addMul(across, s)
			rad := o.Radius * in * (1 - 0.06*turn/(2*math.Pi) + 0.03*r.noise.at(vec{2 * c, 2 * s, length * 40}, o.Fabric.Seed+5))
			tex := vec{o.Radius * c, o.Radius * s, length}
			if end {
				tex, n = vec{rad * c, rad * s, 0}, mix(along.mul(-1), n, max(0, in-0.7)).unit()
			}
			r.vertex(pl, p.addMul(side, rad*c).addMul(across, rad*s), n, tex)
		}
	}
	for i := range straight + 1 {
		ring(mix(from, exit, float64(i)/straight), o.axis, 1, false)
	}
	for i := 1; i <= bent; i++ {
		t := float64(i) / bent
		p, q, s := mix(exit, a, t), mix(a, b, t), mix(b, end, t)
		p, q = mix(p, q, t), mix(q, s, t)
		ring(mix(p, q, t), q.sub(p).unit(), 1, false)
	}
	r.stitch(start, straight+bent, around, partObject)

	start = int32(len(r.model.pos))
	side = vec{0.3, 0.2, 1}.orth(o.axis)
	for _, in := range [4]float64{0, 0.5, 0.9, 1} {
		ring(from, o.axis, in, true)
	}
	r.stitch(start, 3, around, partSpiral)
}
