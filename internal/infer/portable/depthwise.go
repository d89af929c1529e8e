package portable

// depthwise convolves each channel with a kernel of its own.
type depthwise struct {
	window
	finish
	in         *value
	c          int
	taps, bias []float32 // taps: kh×kw×c
	lo, hi     float32
}

func (k *depthwise) run(c *crew) error { return c.split(k, k.oh, max(1, k.oh/8)) }

func (k *depthwise) part(from, to, _ int) {
	for row := from; row < to; row++ {
		if k.simd && k.c%lanes == 0 {
			k.vectors(row)
		} else {
			k.plain(row)
			bound(k.out.data[row*k.ow*k.c:(row+1)*k.ow*k.c], k.lo, k.hi)
		}
		k.pixels(row*k.ow, (row+1)*k.ow)
	}
}

// plain computes a row of the result.
func (k *depthwise) plain(row int) {
	c := k.c
	y := row*k.sh - k.top
	y0, y1 := clipRange(y, k.kh, k.h)
	for col := range k.ow {
		x := col*k.sw - k.left
		x0, x1 := clipRange(x, k.kw, k.w)
		out := k.out.data[(row*k.ow+col)*c:][:c]
		copy(out, k.bias)
		for t := y0; t < y1; t++ {
			in := k.in.data[((y+t)*k.w+x+x0)*c:][:(x1-x0)*c]
			taps := k.taps[(t*k.kw+x0)*c:][:(x1-x0)*c]
			for ; len(in) > 0; in, taps = in[c:], taps[c:] {
				multiplyAdd(out, in[:c], taps[:c])
			}
		}
	}
}

// multiplyAdd computes y += a·b, element by element.
func multiplyAdd(y, a, b []float32) {
	a, b = a[:len(y)], b[:len(y)]
	for len(y) >= 4 && len(a) >= 4 && len(b) >= 4 { // without bounds checks
		y[0] += a[0] * b[0]
		y[1] += a[1] * b[1]
		y[2] += a[2] * b[2]
		y[3] += a[3] * b[3]
		y, a, b = y[4:], a[4:], b[4:]
	}
	for i := range y {
		y[i] += a[i] * b[i]
	}
}

// vectors computes a row of the result, four pixels at a time where all their
// kernels lie inside of the picture from left to right, else one.
func (k *depthwise) vectors(row int) {
	c := k.c
	y := row*k.sh - k.top
	y0, y1 := clipRange(y, k.kh, k.h)
	for col := 0; col < k.ow; {
		x := col*k.sw - k.left
		x0, x1 := clipRange(x, k.kw, k.w)
		d := window8{
			x: &k.in.data[((y+y0)*k.w+x+x0)*c], xRow: 4 * k.w * c, xCol: 4 * c, xNext: 4 * c * k.sw,
			w: &k.taps[(y0*k.kw+x0)*c], wRow: 4 * k.kw * c,
			y: &k.out.data[(row*k.ow+col)*c], bias: &k.bias[0],
			rows: y1 - y0, cols: x1 - x0, vectors: c / lanes, lo: k.lo, hi: k.hi,
		}
		if x >= 0 && col+4 <= k.ow && x+3*k.sw+k.kw <= k.w {
			depthwise4(&d)
			col += 4
		} else {
			depthwise1(&d)
			col++
		}
	}
}

// window8 is what the assembly needs to know; its offsets are in simd_amd64.s.
// All distances are in bytes.
type window8 struct {
	x                 *float32 // first tap in the picture
	xRow, xCol, xNext int      // to the next row, column, and to the next pixel's first tap
	w                 *float32 // weight of the first tap
	wRow              int
	y, bias           *float32
	rows, cols        int // taps inside of the picture
	vectors           int // of eight channels
	lo, hi            float32
}
