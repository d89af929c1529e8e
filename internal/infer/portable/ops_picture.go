package portable

import (
	"fmt"
	"math"
	"slices"
)

// Operators on pictures, which lie with their channels last.

// maxPool takes the largest of what a kernel sees, channel by channel.
func (b *builder) maxPool(c *call) error {
	in, err := b.channelsLast(c.in[0])
	if err != nil {
		return err
	}
	channels, h, w, _ := in.picture()
	g, err := c.window(h, w, nil)
	if err != nil {
		return err
	}
	if err := b.shape(c.out, 1, channels, g.oh, g.ow); err != nil {
		return err
	}
	c.out.last = true
	return b.emit(c.op, &largest{window: g, in: in, out: c.out, c: channels}, c.out, in)
}

type largest struct {
	window
	in, out *value
	c       int
}

func (k *largest) run(c *crew) error { return c.split(k, k.oh, max(1, k.oh/8)) }

func (k *largest) part(from, to, _ int) {
	c := k.c
	for p := from * k.ow; p < to*k.ow; p++ {
		y, x := p/k.ow*k.sh-k.top, p%k.ow*k.sw-k.left
		y0, y1 := clipRange(y, k.kh, k.h)
		x0, x1 := clipRange(x, k.kw, k.w)
		out := k.out.data[p*c:][:c]
		for t := y0; t < y1; t++ {
			for u := x0; u < x1; u++ {
				in := k.in.data[((y+t)*k.w+x+u)*c:][:len(out)]
				if t == y0 && u == x0 {
					copy(out, in)
					continue
				}
				for i, v := range in {
					if v > out[i] {
						out[i] = v
					}
				}
			}
		}
	}
}

// globalAveragePool takes the mean of each channel.
func (b *builder) globalAveragePool(c *call) error {
	in, err := b.channelsLast(c.in[0])
	if err != nil {
		return err
	}
	channels, h, w, _ := in.picture()
	if err := b.shape(c.out, 1, channels, 1, 1); err != nil {
		return err
	}
	return b.emit(c.op, &mean{in: in, out: c.out, pixels: h * w, simd: b.simd}, c.out, in)
}

type mean struct {
	in, out *value
	pixels  int
	simd    bool
}

func (k *mean) run(*crew) error {
	out, n := k.out.data, len(k.out.data)
	clear(out)
	for p := range k.pixels {
		add(k.simd, out, k.in.data[p*n:(p+1)*n])
	}
	for i := range out {
		out[i] /= float32(k.pixels)
	}
	return nil
}

// pad puts a constant around a picture and behind its channels, in the form of
// operator set 11: pads and the constant are inputs.
func (b *builder) pad(c *call) error {
	in, err := b.channelsLast(c.in[0])
	if err != nil {
		return err
	}
	if err := c.only("mode", "constant"); err != nil {
		return err
	}
	pads, ok := c.in[1].integers()
	if !ok || len(pads) != 8 || slices.Min(pads) < 0 || slices.Max(pads) > maxElements || pads[0] != 0 || pads[4] != 0 {
		return fmt.Errorf("pads %v are not supported", pads)
	}
	k := &frame{in: in, out: c.out}
	if len(c.in) > 2 && c.in[2] != nil {
		if !c.in[2].known || c.in[2].len() != 1 {
			return fmt.Errorf("what it is filled with is not a constant")
		}
		k.fill = c.in[2].data[0]
	}
	k.c, k.h, k.w, _ = in.picture()
	at := func(i int) int { return int(pads[i]) }
	k.front, k.top, k.left = at(1), at(2), at(3)
	if err := b.shape(c.out, 1, k.c+at(1)+at(5), k.h+at(2)+at(6), k.w+at(3)+at(7)); err != nil {
		return err
	}
	c.out.last = true
	return b.emit(c.op, k, c.out, in)
}

// frame copies a picture into a larger one with more channels.
type frame struct {
	in, out                   *value
	fill                      float32
	c, h, w, front, top, left int
}

func (k *frame) run(*crew) error {
	c, _, w, _ := k.out.picture()
	out := k.out.data
	for i := range out {
		out[i] = k.fill
	}
	for y := range k.h {
		for x := range k.w {
			copy(out[((y+k.top)*w+x+k.left)*c+k.front:], k.in.data[(y*k.w+x)*k.c:][:k.c])
		}
	}
	return nil
}

// resize enlarges or shrinks a picture linearly, pixel centres at halves.
func (b *builder) resize(c *call) error {
	in, err := b.channelsLast(c.in[0])
	if err != nil {
		return err
	}
	for name, want := range map[string]string{"mode": "linear", "coordinate_transformation_mode": "half_pixel"} {
		if c.attrs[name] != want && (name == "mode" || c.attrs[name] != nil) {
			return fmt.Errorf("%s %v is not supported", name, c.attrs[name])
		}
	}
	scales := c.in[2]
	if len(c.in) > 3 && c.in[3] != nil || !scales.known || scales.whole || scales.len() != 4 || scales.data[0] != 1 || scales.data[1] != 1 {
		return fmt.Errorf("only scales of height and width are supported")
	}
	channels, h, w, _ := in.picture()
	to := func(n int, scale float32) int {
		if !(scale > 0 && scale <= 1024) {
			return 0
		}
		return int(math.Floor(float64(n) * float64(scale)))
	}
	oh, ow := to(h, scales.data[2]), to(w, scales.data[3])
	if err := b.shape(c.out, 1, channels, oh, ow); err != nil {
		return err
	}
	c.out.last = true
	k := &linear{in: in, out: c.out, c: channels, w: w, ys: between(oh, h, scales.data[2]), xs: between(ow, w, scales.data[3])}
	return b.emit(c.op, k, c.out, in)
}

// blend is a place between two rows or columns.
type blend struct {
	a, b int
	f    float32 // share of b
}

// between works out where the n pixels of the result lie among those there
// are: (i + ½)/scale − ½.
func between(n, have int, scale float32) []blend {
	r := make([]blend, n)
	for i := range r {
		at := min(max((float64(i)+0.5)/float64(scale)-0.5, 0), float64(have-1))
		a := int(at)
		r[i] = blend{a, min(a+1, have-1), float32(at - float64(a))}
	}
	return r
}

type linear struct {
	in, out *value
	c, w    int
	ys, xs  []blend
}

func (k *linear) run(c *crew) error { return c.split(k, len(k.ys), max(1, len(k.ys)/8)) }

func (k *linear) part(from, to, _ int) {
	c := k.c
	for y := from; y < to; y++ {
		v := k.ys[y]
		for x, h := range k.xs {
			out := k.out.data[(y*len(k.xs)+x)*c:][:c]
			in := func(row, col int) []float32 { return k.in.data[(row*k.w+col)*c:][:len(out)] }
			p, q, r, s := in(v.a, h.a), in(v.a, h.b), in(v.b, h.a), in(v.b, h.b)
			for i := range out {
				above := p[i] + h.f*(q[i]-p[i])
				below := r[i] + h.f*(s[i]-r[i])
				out[i] = above + v.f*(below-above)
			}
		}
	}
}

// pRelu has a slope for each channel where the numbers are negative.
func (b *builder) pRelu(c *call) error {
	in, err := b.channelsLast(c.in[0])
	if err != nil {
		return err
	}
	channels, h, w, _ := in.picture()
	s := c.in[1]
	if !s.known || s.len() != channels || len(s.shape) != 3 || s.shape[0] != channels {
		return fmt.Errorf("a slope of shape %v for %d channels", s.shape, channels)
	}
	if err := b.shape(c.out, 1, channels, h, w); err != nil {
		return err
	}
	c.out.last = true
	return b.emit(c.op, &slopes{in: in, out: c.out, slope: s.data, simd: b.simd}, c.out, in)
}

type slopes struct {
	in, out *value
	slope   []float32
	simd    bool
}

func (k *slopes) run(*crew) error {
	copy(k.out.data, k.in.data)
	rectify(k.simd, k.out.data, k.slope)
	return nil
}
