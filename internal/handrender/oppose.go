package handrender

import "volar/internal/hand"

// Oppose returns the scene's pose with the thumb and one finger brought pad to
// pad, as in tip pinch and thumb opposition; the other fingers stay. It looks
// for the small change of the pose that closes the gap, on the scene's own hand
// and shape, so that hands of other proportions pinch too.
func (r *Renderer) Oppose(s Scene, f hand.Finger) Pose {
	if f < hand.Index || f > hand.Little {
		return s.Pose
	}
	h := r.pose(&s)
	p := s.Pose
	a, t := &p.Fingers[f-1], &p.Thumb
	// The thumb reaches further across for the ulnar fingers.
	reach := float64(f - hand.Index)
	*a = FingerPose{MCP: 46 + 4*reach, Abduction: a.Abduction * 0.4, PIP: 48 + 4*reach, DIP: 24}
	*t = ThumbPose{Palmar: 46 - 2*reach, Radial: 2 - 8*reach, Roll: 14 + 5*reach, MP: 20 + 6*reach, IP: 24 + 5*reach}
	// What may move, how far, and at what cost a degree.
	free := []struct {
		x      *float64
		lo, hi float64
		stiff  float64
	}{
		{&a.MCP, 20, 95, 1}, {&a.PIP, 15, 105, 1}, {&a.DIP, 5, 60, 2}, {&a.Abduction, -12, 12, 2},
		{&t.Palmar, 5, 70, 1}, {&t.Radial, -60, 30, 1}, {&t.MP, 0, 65, 1}, {&t.IP, -5, 75, 1.5},
	}
	var home [8]float64
	for i, v := range free {
		home[i] = *v.x
	}
	cost := func() float64 {
		h.solve(&p, &r.posed)
		gap := h.pad(&r.posed, f).sub(h.pad(&r.posed, hand.Thumb))
		c := gap.dot(gap) * 1e6 // square millimetres
		for i, v := range free {
			d := (*v.x - home[i]) * v.stiff
			c += 2e-4 * d * d
		}
		return c
	}
	// Coordinate search with shrinking steps.
	best := cost()
	for step := 8.0; step > 0.02; {
		better := false
		for _, v := range free {
			for _, d := range [2]float64{step, -step} {
				old := *v.x
				*v.x = clamp(old+d, v.lo, v.hi)
				if c := cost(); c < best {
					best, better = c, true
				} else {
					*v.x = old
				}
			}
		}
		if !better {
			step /= 2
		}
	}
	return p
}

// pad is the middle of the pad of a digit's end, in hand axes.
func (h *Hand) pad(ps *posed, d hand.Finger) vec {
	b := chainBone(d, 2)
	volar := ps.bone[b].apply(h.dorsal[b].orth(h.chainDir(d, 2))).mul(-1)
	tip := mix(ps.joints[b], ps.joints[chainBone(d, 3)], 0.85)
	return tip.addMul(volar, h.digits[d].flesh[2]-0.0008)
}
