package goniometry

import (
	"math"

	"volar/internal/hand"
)

// limb is a part of the hand that can stand in front of another: a rounded bar
// between two points, with its radius in palm lengths.
type limb struct {
	a, b   int
	radius float64
}

// limbs are the bars that the hand is made of for judging what hides what. The
// radii are half the breadths of an adult hand's parts over a palm of 90 mm:
// a finger about 16 mm broad, the thumb 20, a metacarpal with its share of the
// palm 22.
var limbs = func() []limb {
	var out []limb
	for _, f := range hand.Fingers {
		m := f.MCP()
		out = append(out, limb{hand.Wrist, m, 0.12}, limb{m, m + 1, 0.10}, limb{m + 1, m + 2, 0.09}, limb{m + 2, m + 3, 0.08})
	}
	return append(out, limb{hand.Wrist, 1, 0.14}, limb{1, 2, 0.13}, limb{2, 3, 0.11}, limb{3, 4, 0.10})
}()

// covered says for each point how far it lies behind another part of the hand
// as seen in the picture: 0 free, 1 well inside the outline of a part that is
// clearly nearer.
func (p *posture) covered() [hand.NumPoints]float64 {
	var out [hand.NumPoints]float64
	for i := range out {
		for _, l := range limbs {
			if touches(l, i) {
				continue
			}
			out[i] = math.Max(out[i], p.behind(i, l))
		}
	}
	return out
}

// touches reports whether the limb ends at the point or, for the knuckles,
// belongs to the palm as the point does: they cannot hide it.
func touches(l limb, i int) bool {
	if l.a == i || l.b == i {
		return true
	}
	knuckle := i == hand.Wrist || i == hand.ThumbCMC || i%4 == 1
	return knuckle && l.a == hand.Wrist
}

// behind is how far the point lies behind the limb, 0 to 1.
func (p *posture) behind(i int, l limb) float64 {
	q, a, d := p.image[i], p.image[l.a], p.image[l.b].Sub(p.image[l.a])
	t := 0.0
	if n := d.X*d.X + d.Y*d.Y; n > 1e-9 {
		t = clamp(((q.X-a.X)*d.X+(q.Y-a.Y)*d.Y)/n, 0, 1)
	}
	s := a.Add(d.Scale(t))
	inside := clamp(2*(1-math.Hypot(q.X-s.X, q.Y-s.Y)/l.radius), 0, 1)
	// Depth from landmarks is off by a finger's breadth at times: a part counts
	// as nearer in full only when it is by its own radius.
	nearer := clamp((q.Z-s.Z)/l.radius, 0, 1)
	return inside * nearer
}
