package portable

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Operators on single numbers.

// bounds reads a Clip or Relu. Up to operator set 10 the bounds of Clip are
// attributes, then inputs.
func (c *call) bounds() (lo, hi float32, err error) {
	lo, hi = minusInf, plusInf
	if c.op == "Relu" {
		return 0, hi, nil
	}
	lo, err1 := c.float("min", lo)
	hi, err2 := c.float("max", hi)
	if err := errors.Join(err1, err2); err != nil {
		return 0, 0, err
	}
	for i, p := range []*float32{&lo, &hi} {
		if len(c.in) > i+1 && c.in[i+1] != nil {
			v := c.in[i+1]
			if !v.known || v.whole || v.len() != 1 {
				return 0, 0, fmt.Errorf("a bound that is not a constant")
			}
			*p = v.data[0]
		}
	}
	if !(lo <= hi) {
		return 0, 0, fmt.Errorf("bounds %v to %v", lo, hi)
	}
	return lo, hi, nil
}

func (b *builder) clip(c *call) error {
	lo, hi, err := c.bounds()
	if err != nil {
		return err
	}
	return b.single(c, func(x float32) float32 {
		if x < lo {
			return lo
		}
		if x > hi {
			return hi
		}
		return x
	})
}

var unaries = map[string]func(x float32) float32{
	"Exp":   func(x float32) float32 { return float32(math.Exp(float64(x))) },
	"Floor": func(x float32) float32 { return float32(math.Floor(float64(x))) },
	"Log":   func(x float32) float32 { return float32(math.Log(float64(x))) },
	"Relu": func(x float32) float32 {
		if x < 0 {
			return 0
		}
		return x
	},
	"Sigmoid": func(x float32) float32 { return float32(1 / (1 + math.Exp(-float64(x)))) },
	"Sqrt":    func(x float32) float32 { return float32(math.Sqrt(float64(x))) },
}

func (b *builder) unary(c *call) error { return b.single(c, unaries[c.op]) }

// single applies a function to every number. The order in memory stays.
func (b *builder) single(c *call, f func(float32) float32) error {
	in := c.in[0]
	if in.whole {
		return errWhole
	}
	if err := b.shape(c.out, in.shape...); err != nil {
		return err
	}
	c.out.last = in.last
	return b.emit(c.op, &each{in: in, out: c.out, f: f}, c.out, in)
}

var errWhole = errors.New("whole numbers are not supported here")

type each struct {
	in, out *value
	f       func(float32) float32
}

func (k *each) run(*crew) error {
	out := k.out.data
	for i, x := range k.in.data {
		out[i] = k.f(x)
	}
	return nil
}

// cast goes between float32 and int64: the latter is cut off towards zero.
func (b *builder) cast(c *call) error {
	to, err := c.int("to", 0)
	if err != nil {
		return err
	}
	const toFloat, toWhole = 1, 7
	if to != toFloat && to != toWhole {
		return fmt.Errorf("numbers of type %d are not supported", to)
	}
	in := c.in[0]
	if err := b.shape(c.out, in.shape...); err != nil {
		return err
	}
	c.out.last, c.out.whole = in.last, to == toWhole
	f := func(x float32) float32 { return x }
	if to == toWhole {
		f = func(x float32) float32 { return float32(math.Trunc(float64(x))) }
	}
	return b.emit(c.op, &each{in: in, out: c.out, f: f}, c.out, in)
}

var binaries = map[string]func(x, y float32) float32{
	"Add": func(x, y float32) float32 { return x + y },
	"Sub": func(x, y float32) float32 { return x - y },
	"Mul": func(x, y float32) float32 { return x * y },
	"Div": func(x, y float32) float32 { return x / y },
	"Max": func(x, y float32) float32 { return max(x, y) },
	"Min": func(x, y float32) float32 { return min(x, y) },
	"Pow": func(x, y float32) float32 {
		if y == 2 {
			return x * x
		}
		return float32(math.Pow(float64(x), float64(y)))
	},
}

// binary combines two tensors; a dimension of one is repeated as needed.
func (b *builder) binary(c *call) error {
	x, y := c.in[0], c.in[1]
	if x.whole != y.whole || x.whole && c.op == "Div" {
		// Integer division rounds, which nothing here needs.
		return errWhole
	}
	if !slices.Equal(x.shape, y.shape) || x.last != y.last {
		x, y = b.plain(x), b.plain(y)
	}
	shape, err := broadcast(x.shape, y.shape)
	if err != nil {
		return err
	}
	if err := b.shape(c.out, shape...); err != nil {
		return err
	}
	c.out.last, c.out.whole = x.last && y.last, x.whole
	k := &pairs{x: x, y: y, out: c.out, f: binaries[c.op], simd: b.simd, adds: c.op == "Add"}
	if !slices.Equal(x.shape, shape) {
		k.ix = spread(x.shape, shape)
	}
	if !slices.Equal(y.shape, shape) {
		k.iy = spread(y.shape, shape)
	}
	return b.emit(c.op, k, c.out, x, y)
}

// broadcast is the shape of two that are combined, by the rule of the ONNX
// specification ("Broadcasting in ONNX", multidirectional).
func broadcast(x, y []int) ([]int, error) {
	r := make([]int, max(len(x), len(y)))
	for i := range r {
		at := func(s []int) int {
			if j := i - len(r) + len(s); j >= 0 {
				return s[j]
			}
			return 1
		}
		a, b := at(x), at(y)
		if a != b && a != 1 && b != 1 {
			return nil, fmt.Errorf("shapes %v and %v do not go together", x, y)
		}
		r[i] = max(a, b)
	}
	return r, nil
}

// spread lists, for each element of a shape, the element of a smaller one that
// is repeated there.
func spread(small, shape []int) []int32 {
	step := make([]int, len(shape))
	s := strides(small)
	for i, d := range small {
		if d > 1 {
			step[len(shape)-len(small)+i] = s[i]
		}
	}
	return walk(shape, 0, step)
}

// walk lists the places of the elements of a shape that lie some steps apart,
// the last axis fastest.
func walk(shape []int, start int, step []int) []int32 {
	r := make([]int32, 0, product(shape))
	at := make([]int, len(shape))
	place := start
	for range cap(r) {
		r = append(r, int32(place))
		for a := len(shape) - 1; a >= 0; a-- {
			at[a]++
			place += step[a]
			if at[a] < shape[a] {
				break
			}
			place -= at[a] * step[a]
			at[a] = 0
		}
	}
	return r
}

type pairs struct {
	x, y, out  *value
	ix, iy     []int32 // nil: element by element
	f          func(x, y float32) float32
	simd, adds bool
}

func (k *pairs) run(*crew) error {
	x, y, out := k.x.data, k.y.data, k.out.data
	switch {
	case k.adds && k.ix == nil && k.iy == nil:
		copy(out, x)
		add(k.simd, out, y)
	case k.ix == nil && k.iy == nil:
		for i := range out {
			out[i] = k.f(x[i], y[i])
		}
	default:
		for i := range out {
			a, b := i, i
			if k.ix != nil {
				a = int(k.ix[i])
			}
			if k.iy != nil {
				b = int(k.iy[i])
			}
			out[i] = k.f(x[a], y[b])
		}
	}
	return nil
}

// batchNormalization is a scale and an offset for each element of the second
// axis.
func (b *builder) batchNormalization(c *call) error {
	in := b.plain(c.in[0])
	if in.whole || len(in.shape) < 2 {
		return fmt.Errorf("an input of shape %v", in.shape)
	}
	epsilon, err := c.float("epsilon", 1e-5)
	if err != nil {
		return err
	}
	channels := in.shape[1]
	for _, v := range c.in[1:] {
		if v == nil || !v.known || v.whole || v.len() != channels {
			return fmt.Errorf("its parameters are not constants of %d numbers", channels)
		}
	}
	k := &scale{in: in, out: c.out, inner: product(in.shape[2:]), by: make([]float32, channels), plus: make([]float32, channels)}
	factor, offset, middle, variance := c.in[1].data, c.in[2].data, c.in[3].data, c.in[4].data
	for i := range channels {
		k.by[i] = float32(float64(factor[i]) / math.Sqrt(float64(variance[i])+float64(epsilon)))
		k.plus[i] = offset[i] - middle[i]*k.by[i]
	}
	if err := b.shape(c.out, in.shape...); err != nil {
		return err
	}
	return b.emit(c.op, k, c.out, in)
}

type scale struct {
	in, out  *value
	inner    int
	by, plus []float32
}

func (k *scale) run(*crew) error {
	i := 0
	for i < len(k.in.data) {
		for c, by := range k.by {
			for range k.inner {
				k.out.data[i] = k.in.data[i]*by + k.plus[c]
				i++
			}
		}
	}
	return nil
}

// reduce adds up, or takes the mean, over some axes.
func (b *builder) reduce(c *call) error {
	in := b.plain(c.in[0])
	list, err1 := c.ints("axes")
	keep, err2 := c.int("keepdims", 1)
	over, err3 := axes(list, len(in.shape))
	if err := errors.Join(err1, err2, err3); err != nil {
		return err
	}
	if in.whole {
		return errWhole
	}
	kept, shape, n := slices.Clone(in.shape), []int{}, 1
	for i, d := range in.shape {
		if over[i] {
			kept[i] = 1
			n *= d
		} else {
			shape = append(shape, d)
		}
	}
	if keep != 0 {
		shape = kept
	}
	if err := b.shape(c.out, shape...); err != nil {
		return err
	}
	k := &sums{in: in, out: c.out, to: spread(kept, in.shape), by: 1}
	if c.op == "ReduceMean" {
		k.by = 1 / float32(n)
	}
	return b.emit(c.op, k, c.out, in)
}

type sums struct {
	in, out *value
	to      []int32
	by      float32
}

func (k *sums) run(*crew) error {
	clear(k.out.data)
	for i, x := range k.in.data {
		k.out.data[k.to[i]] += x
	}
	for i := range k.out.data {
		k.out.data[i] *= k.by
	}
	return nil
}
