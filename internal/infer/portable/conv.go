package portable

import (
	"errors"
	"fmt"
	"slices"
)

// window is how a kernel goes over a picture, in pixels: of convolutions and
// of pools.
type window struct {
	h, w, oh, ow   int // sizes of the picture and of the result
	kh, kw, sh, sw int
	top, left      int // filled up before the first row and column
}

// window reads the attributes that Conv and MaxPool share.
func (c *call) window(h, w int, kernel []int) (window, error) {
	var g window
	shape, err1 := c.ints("kernel_shape")
	stride, err2 := c.ints("strides")
	dilation, err3 := c.ints("dilations")
	pads, err4 := c.ints("pads")
	if err := errors.Join(err1, err2, err3, err4, c.only("auto_pad", "NOTSET"), c.only("ceil_mode", int64(0)), c.only("storage_order", int64(0))); err != nil {
		return g, err
	}
	if kernel == nil {
		kernel = shape
	}
	if stride == nil {
		stride = []int{1, 1}
	}
	if pads == nil {
		pads = []int{0, 0, 0, 0}
	}
	switch {
	case len(kernel) != 2 || shape != nil && !slices.Equal(shape, kernel):
		return g, fmt.Errorf("kernel of shape %v, want %v", shape, kernel)
	case dilation != nil && !slices.Equal(dilation, []int{1, 1}):
		return g, fmt.Errorf("dilations %v are not supported", dilation)
	case len(stride) != 2 || min(stride[0], stride[1]) < 1:
		return g, fmt.Errorf("strides %v", stride)
	case len(pads) != 4 || min(pads[0], pads[1], pads[2], pads[3]) < 0:
		return g, fmt.Errorf("pads %v", pads)
	case kernel[0] < 1 || kernel[1] < 1 || pads[0] >= kernel[0] || pads[2] >= kernel[0] || pads[1] >= kernel[1] || pads[3] >= kernel[1]:
		return g, fmt.Errorf("pads %v of a kernel %v", pads, kernel)
	}
	g = window{h: h, w: w, kh: kernel[0], kw: kernel[1], sh: stride[0], sw: stride[1], top: pads[0], left: pads[1]}
	dh, dw := h+pads[0]+pads[2]-g.kh, w+pads[1]+pads[3]-g.kw
	if dh < 0 || dw < 0 {
		return g, fmt.Errorf("a kernel %v is larger than the picture of %d×%d", kernel, h, w)
	}
	g.oh, g.ow = dh/g.sh+1, dw/g.sw+1
	return g, nil
}

// clipRange returns the taps of a kernel that lie inside of the picture.
func clipRange(origin, kernel, size int) (from, to int) {
	return max(0, -origin), min(kernel, size-origin)
}

// conv is y = w∗x + bias over a picture, then what follows it. The ways to do
// it: pointwise, where a pixel is a row of a matrix product; depthwise, each
// channel for itself; general, by gathering what each kernel sees into a row.
func (b *builder) conv(c *call) error {
	in, err := b.channelsLast(c.in[0])
	if err != nil {
		return err
	}
	channels, h, w, _ := in.picture()
	k := c.in[1]
	if !k.known || k.whole || len(k.shape) != 4 {
		return errors.New("its weights are not a constant of four dimensions")
	}
	out, each := k.shape[0], k.shape[1]
	group, err := c.int("group", 1)
	if err != nil {
		return err
	}
	g, err := c.window(h, w, k.shape[2:])
	if err != nil {
		return err
	}
	var bias []float32
	if len(c.in) > 2 && c.in[2] != nil {
		v := c.in[2]
		if !v.known || v.len() != out {
			return fmt.Errorf("its bias is not a constant of %d numbers", out)
		}
		bias = v.data
	}
	if err := b.shape(c.out, 1, out, g.oh, g.ow); err != nil {
		return err
	}
	c.out.last = true
	f := finish{simd: b.simd, out: c.out, n: out}
	lo, hi, err := b.tail(c, &f, g.oh*g.ow)
	if err != nil {
		return err
	}
	reads := []*value{in}
	if f.add != nil {
		reads = append(reads, f.add)
	}
	var kern kernel
	switch taps := g.kh * g.kw; {
	case group == channels && each == 1 && out == channels && group > 1:
		d := &depthwise{window: g, finish: f, in: in, c: channels, lo: lo, hi: hi, bias: make([]float32, channels)}
		copy(d.bias, bias)
		d.taps = make([]float32, taps*channels)
		for ch := range channels {
			for t := range taps {
				d.taps[t*channels+ch] = k.data[ch*taps+t]
			}
		}
		kern = d
	case group == 1 && each == channels:
		// A row holds the taps of a kernel one behind the other, each with all
		// its channels.
		wt := newWeights(b.simd, taps*channels, out, func(row, col int) float32 {
			return k.data[(col*channels+row%channels)*taps+row/channels]
		}, bias)
		wt.lo, wt.hi = lo, hi
		if taps == 1 && g.sh == 1 && g.sw == 1 && g.oh == h && g.ow == w {
			kern = &pointwise{weights: wt, finish: f, in: in, m: h * w}
			break
		}
		p := &patches{weights: wt, window: g, finish: f, in: in, c: channels}
		for range b.threads {
			p.seen = append(p.seen, make([]float32, patchRows*wt.k))
		}
		kern = p
	default:
		return fmt.Errorf("%d groups of %d channels are not supported", group, each)
	}
	return b.emit(c.op, kern, c.out, reads...)
}

// tail works out what follows a convolution whose result has some pixels.
func (b *builder) tail(c *call, f *finish, pixels int) (lo, hi float32, err error) {
	lo, hi = minusInf, plusInf
	if c.then.add != nil {
		if !slices.Equal(c.then.add.shape, c.out.shape) {
			return 0, 0, fmt.Errorf("%q of shape %v cannot be added to %v", c.then.add.name, c.then.add.shape, c.out.shape)
		}
		if f.add, err = b.channelsLast(c.then.add); err != nil {
			return 0, 0, err
		}
	}
	if s := c.then.slope; s != nil {
		if s.len() != f.n || len(s.shape) != 3 || s.shape[0] != f.n {
			return 0, 0, fmt.Errorf("a slope of shape %v for %d channels", s.shape, f.n)
		}
		f.slope = s.data
	}
	if c.then.clip != nil {
		cl := call{node: *c.then.clip}
		if lo, hi, err = cl.bounds(); err != nil {
			return 0, 0, err
		}
		if f.add != nil {
			f.lo, f.hi = lo, hi
			lo, hi = minusInf, plusInf
			f.bounded = true
		}
	}
	return lo, hi, nil
}

// finish is done with pixels that were just computed.
type finish struct {
	simd     bool
	out, add *value // add may be nil
	n        int    // channels
	slope    []float32
	lo, hi   float32
	bounded  bool
}

// pixels finishes those from and to.
func (f *finish) pixels(from, to int) {
	y := f.out.data[from*f.n : to*f.n]
	if f.add != nil {
		add(f.simd, y, f.add.data[from*f.n:to*f.n])
	}
	if f.slope != nil {
		rectify(f.simd, y, f.slope)
	}
	if f.bounded {
		bound(y, f.lo, f.hi)
	}
}

// pixelGrain is how many pixels of a matrix product a thread takes at a time:
// a multiple of the tile, few enough to stay in the nearer caches.
func pixelGrain(pixels int) int {
	return max(4*tileRows, min(16*tileRows, (pixels/4+tileRows-1)/tileRows*tileRows))
}

type pointwise struct {
	*weights
	finish
	in *value
	m  int
}

func (k *pointwise) run(c *crew) error { return c.split(k, k.m, pixelGrain(k.m)) }

func (k *pointwise) part(from, to, _ int) {
	const few = 16 * tileRows // pixels to be finished while in the cache
	for ; from < to; from += few {
		n := min(few, to-from)
		k.rows(k.in.data[from*k.k:][:n*k.k], k.out.data[from*k.weights.n:][:n*k.weights.n], n)
		k.pixels(from, from+n)
	}
}

// patchRows is how many kernels' views are gathered at a time.
const patchRows = 8 * tileRows

type patches struct {
	*weights
	window
	finish
	in   *value
	c    int
	seen [][]float32 // of each thread
}

func (k *patches) run(c *crew) error { return c.split(k, k.oh*k.ow, patchRows) }

func (k *patches) part(from, to, who int) {
	seen := k.seen[who]
	for ; from < to; from += patchRows {
		n := min(patchRows, to-from)
		for i := range n {
			k.gather(seen[i*k.k:(i+1)*k.k], from+i)
		}
		k.rows(seen, k.out.data[from*k.weights.n:][:n*k.weights.n], n)
		k.pixels(from, from+n)
	}
}

// gather puts what the kernel sees at a pixel of the result into a row.
func (k *patches) gather(row []float32, pixel int) {
	y, x := pixel/k.ow*k.sh-k.top, pixel%k.ow*k.sw-k.left
	y0, y1 := clipRange(y, k.kh, k.h)
	x0, x1 := clipRange(x, k.kw, k.w)
	if y0 > 0 || y1 < k.kh || x0 > 0 || x1 < k.kw {
		clear(row)
	}
	for t := y0; t < y1; t++ {
		src := k.in.data[((y+t)*k.w+x+x0)*k.c:]
		copy(row[(t*k.kw+x0)*k.c:(t*k.kw+x1)*k.c], src)
	}
}
