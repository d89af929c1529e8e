package handrender

// refinement is one more step of subdivision for close views, made when high
// quality first asks for it. Everything but the pose's positions belongs to the
// texture and stays while the hand does.
type refinement struct {
	of       *Hand
	step     *stencil
	tex      []vec
	volar    []float32
	digit    []int8
	pos, nrm []vec
	mottle   []vec
}

// prepare makes the refinement of an unshaped hand; inf is the same for every
// shape of it.
func (f *refinement) prepare(h *Hand) {
	if f.of == h {
		return
	}
	f.of, f.step = h, subdivide(len(h.pos), h.tris)
	n := f.step.len()
	f.tex, f.volar, f.digit = grow(f.tex, n), grow(f.volar, n), grow(f.digit, n)
	f.pos, f.nrm, f.mottle = grow(f.pos, n), grow(f.nrm, n), grow(f.mottle, n)
	f.step.apply(f.tex, h.pos)
	for i := range f.volar {
		v := 0.0
		for k := f.step.start[i]; k < f.step.start[i+1]; k++ {
			v += float64(h.volar[f.step.from[k]]) * f.step.weight[k]
		}
		f.volar[i] = float32(v)
		// The first vertex of a stencil has the largest weight.
		f.digit[i] = h.inf[f.step.from[f.step.start[i]]].main
	}
}
