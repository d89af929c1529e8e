package portable

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gorgonia.org/tensor"
)

// Operators that move numbers and change shapes. Where what goes where is
// known when the graph is built, it is a list of places.

func (b *builder) constant(c *call) error {
	t, ok := c.attrs["value"].(tensor.Tensor)
	if !ok {
		return errors.New("only tensors are supported as constants")
	}
	v, err := constant(c.out.name, t)
	if err != nil {
		return err
	}
	*c.out = *v
	return b.shape(c.out, v.shape...)
}

func (b *builder) reshape(c *call) error {
	in := b.plain(c.in[0])
	want, ok := c.in[1].integers()
	if !ok {
		return errors.New("its shape is not a constant")
	}
	shape, rest := make([]int, len(want)), -1
	n := 1
	for i, d := range want {
		switch {
		case d == 0 && i < len(in.shape):
			shape[i] = in.shape[i]
		case d == -1 && rest < 0:
			rest, shape[i] = i, 1
		case d >= 1 && d <= maxElements:
			shape[i] = int(d)
		default:
			return fmt.Errorf("the shape %v", want)
		}
		if n *= shape[i]; n > maxElements {
			return fmt.Errorf("the shape %v", want)
		}
	}
	if rest >= 0 {
		shape[rest] = in.len() / n
	}
	return b.alias(c.out, in, shape...)
}

func (b *builder) flatten(c *call) error {
	in := b.plain(c.in[0])
	a, err := c.int("axis", 1)
	if err != nil {
		return err
	}
	if a < 0 {
		a += len(in.shape)
	}
	if a < 0 || a > len(in.shape) {
		return fmt.Errorf("axis %d of %d", a, len(in.shape))
	}
	return b.alias(c.out, in, product(in.shape[:a]), product(in.shape[a:]))
}

func (b *builder) squeeze(c *call) error {
	in := b.plain(c.in[0])
	list, err := c.ints("axes")
	if err != nil {
		return err
	}
	out, err := axes(list, len(in.shape))
	if err != nil {
		return err
	}
	var shape []int
	for i, d := range in.shape {
		switch {
		case !out[i] || list == nil && d > 1:
			shape = append(shape, d)
		case d > 1:
			return fmt.Errorf("axis %d has %d elements", i, d)
		}
	}
	return b.alias(c.out, in, shape...)
}

func (b *builder) unsqueeze(c *call) error {
	in := b.plain(c.in[0])
	list, err := c.ints("axes")
	if err != nil {
		return err
	}
	if len(list) == 0 || len(list)+len(in.shape) > maxRank {
		return fmt.Errorf("axes %v for a shape %v", list, in.shape)
	}
	added, err := axes(list, len(in.shape)+len(list))
	if err != nil {
		return err
	}
	var shape []int
	rest := in.shape
	for _, add := range added {
		if add {
			shape = append(shape, 1)
			continue
		}
		shape, rest = append(shape, rest[0]), rest[1:]
	}
	return b.alias(c.out, in, shape...)
}

func (b *builder) transpose(c *call) error {
	in := c.in[0]
	perm, err := c.ints("perm")
	if err != nil {
		return err
	}
	n := len(in.shape)
	if perm == nil {
		for i := range n {
			perm = append(perm, n-1-i)
		}
	}
	if _, err := axes(perm, n); err != nil || len(perm) != n || n > 0 && slices.Min(perm) < 0 {
		return fmt.Errorf("the order %v of %d axes", perm, n)
	}
	shape := make([]int, n)
	for i, p := range perm {
		shape[i] = in.shape[p]
	}
	if in.last && slices.Equal(perm, []int{0, 2, 3, 1}) {
		// It lies like that already.
		return b.alias(c.out, in, shape...)
	}
	in = b.plain(in)
	s, step := strides(in.shape), make([]int, n)
	for i, p := range perm {
		step[i] = s[p]
	}
	return b.pick(c, in, shape, func() []int32 { return walk(shape, 0, step) })
}

// pick makes a tensor of elements of another one.
func (b *builder) pick(c *call, in *value, shape []int, places func() []int32) error {
	if err := b.shape(c.out, shape...); err != nil {
		return err
	}
	c.out.whole = in.whole
	return b.emit(c.op, &picked{in: in, out: c.out, places: places()}, c.out, in)
}

type picked struct {
	in, out *value
	places  []int32
}

func (k *picked) run(*crew) error {
	in, out := k.in.data, k.out.data
	for i, p := range k.places {
		out[i] = in[p]
	}
	return nil
}

// slice takes parts of axes, in the form since operator set 10: all but the
// tensor are inputs and have to be constants.
func (b *builder) slice(c *call) error {
	in := b.plain(c.in[0])
	n := len(in.shape)
	var lists [4][]int64 // starts, ends, axes, steps
	for i := range lists {
		if len(c.in) <= i+1 || c.in[i+1] == nil {
			continue
		}
		l, ok := c.in[i+1].integers()
		if !ok || i > 0 && len(l) != len(lists[0]) {
			return errors.New("starts, ends, axes and steps have to be constants of one length")
		}
		lists[i] = l
	}
	shape, step, start := slices.Clone(in.shape), strides(in.shape), 0
	cut := make([]bool, n)
	for i := range lists[0] {
		a, by := int64(i), int64(1)
		if lists[2] != nil {
			a = lists[2][i]
		}
		if lists[3] != nil {
			by = lists[3][i]
		}
		if a < -maxRank || a > maxRank {
			return fmt.Errorf("axis %d", a)
		}
		ax, err := axis(int(a), n)
		if err != nil {
			return err
		}
		if cut[ax] || by == 0 || by < -maxElements || by > maxElements {
			return fmt.Errorf("axis %d in steps of %d", ax, by)
		}
		cut[ax] = true
		from, count := extent(lists[0][i], lists[1][i], by, int64(in.shape[ax]))
		start += from * step[ax]
		shape[ax] = count
		step[ax] *= int(by)
	}
	return b.pick(c, in, shape, func() []int32 { return walk(shape, start, step) })
}

// extent is where a slice of an axis of n starts and how many it takes, with
// the rules of the ONNX specification: negative positions count from the end,
// and what lies outside is cut off.
func extent(start, end, by, n int64) (from, count int) {
	wrap := func(x, lo, hi int64) int64 {
		if x < 0 {
			x = max(x, math.MinInt64+n) // may be the smallest there is
			x += n
		}
		return min(max(x, lo), hi)
	}
	if by > 0 {
		start, end = wrap(start, 0, n), wrap(end, 0, n)
		return int(start), int(max(0, (end-start+by-1)/by))
	}
	start, end = wrap(start, 0, n-1), wrap(end, -1, n-1)
	return int(start), int(max(0, (start-end-by-1)/-by))
}

func (b *builder) concat(c *call) error {
	a, err := c.int("axis", 0)
	if err != nil {
		return err
	}
	k := &chain{out: c.out}
	if _, ok := c.attrs["axis"]; !ok || c.in[0] == nil {
		return errors.New("it has no axis or no first input")
	}
	first := c.in[0]
	if a, err = axis(a, len(first.shape)); err != nil {
		return err
	}
	shape := slices.Clone(first.shape)
	shape[a] = 0
	for _, v := range c.in {
		if v == nil || v.whole != first.whole || len(v.shape) != len(shape) {
			return fmt.Errorf("its inputs differ in kind")
		}
		for i, d := range v.shape {
			if i != a && d != shape[i] {
				return fmt.Errorf("shapes %v and %v", first.shape, v.shape)
			}
		}
		shape[a] += v.shape[a]
		p := b.plain(v)
		k.in = append(k.in, p)
		k.runs = append(k.runs, product(v.shape[a:]))
	}
	if err := b.shape(c.out, shape...); err != nil {
		return err
	}
	c.out.whole = first.whole
	return b.emit(c.op, k, c.out, k.in...)
}

// chain copies runs of each input in turn.
type chain struct {
	in   []*value
	runs []int
	out  *value
}

func (k *chain) run(*crew) error {
	out := k.out.data
	for i := 0; len(out) > 0; i++ {
		for j, v := range k.in {
			n := k.runs[j]
			copy(out, v.data[i*n:(i+1)*n])
			out = out[n:]
		}
	}
	return nil
}

// gather takes the elements of an axis that a tensor of whole numbers names.
func (b *builder) gather(c *call) error {
	in, index := b.plain(c.in[0]), b.plain(c.in[1])
	a, err := c.int("axis", 0)
	if err != nil {
		return err
	}
	if a, err = axis(a, len(in.shape)); err != nil {
		return err
	}
	if !index.whole {
		return errors.New("its indices are not whole numbers")
	}
	if err := b.shape(c.out, slices.Concat(in.shape[:a], index.shape, in.shape[a+1:])...); err != nil {
		return err
	}
	c.out.whole = in.whole
	k := &lookup{in: in, index: index, out: c.out, n: in.shape[a], inner: product(in.shape[a+1:]), outer: product(in.shape[:a])}
	return b.emit(c.op, k, c.out, in, index)
}

type lookup struct {
	in, index, out  *value
	n, inner, outer int
}

func (k *lookup) run(*crew) error {
	out := k.out.data
	for o := range k.outer {
		for _, x := range k.index.data {
			if !(x >= float32(-k.n) && x < float32(k.n)) {
				return fmt.Errorf("index %v of %d", x, k.n)
			}
			i := int(x)
			if i < 0 {
				i += k.n
			}
			copy(out[:k.inner], k.in.data[(o*k.n+i)*k.inner:])
			out = out[k.inner:]
		}
	}
	return nil
}
