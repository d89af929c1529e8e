package portable

import (
	"errors"
	"fmt"
	"slices"
)

// step is one action of a run.
type step struct {
	op     string
	reads  []*value
	writes *value
	kernel kernel
}

// kernel computes what a step writes from what it reads. It was made for their
// shapes; their memory is known by the time it runs.
type kernel interface {
	run(c *crew) error
}

// builder turns nodes into steps.
type builder struct {
	simd    bool
	threads int
	inputs  []*value
	outputs []*value
	steps   []step

	total  int // elements of all values so far
	plains map[*value]*value
	lasts  map[*value]*value
}

// maxTotal bounds the memory of a graph: a gigabyte.
const maxTotal = 1 << 28

// operators by their ONNX names. Each works out the shape of n.out and emits
// the steps that compute it.
var operators = map[string]func(*builder, *call) error{
	"Add": (*builder).binary, "Sub": (*builder).binary, "Mul": (*builder).binary, "Div": (*builder).binary,
	"Max": (*builder).binary, "Min": (*builder).binary, "Pow": (*builder).binary,
	"BatchNormalization": (*builder).batchNormalization,
	"Cast":               (*builder).cast,
	"Clip":               (*builder).clip,
	"Concat":             (*builder).concat,
	"Constant":           (*builder).constant,
	"Conv":               (*builder).conv,
	"Exp":                (*builder).unary, "Floor": (*builder).unary, "Log": (*builder).unary,
	"Relu": (*builder).unary, "Sigmoid": (*builder).unary, "Sqrt": (*builder).unary,
	"Flatten":           (*builder).flatten,
	"Gather":            (*builder).gather,
	"Gemm":              (*builder).gemm,
	"GlobalAveragePool": (*builder).globalAveragePool,
	"MatMul":            (*builder).matMul,
	"MaxPool":           (*builder).maxPool,
	"PRelu":             (*builder).pRelu,
	"Pad":               (*builder).pad,
	"ReduceMean":        (*builder).reduce, "ReduceSum": (*builder).reduce,
	"Reshape":   (*builder).reshape,
	"Resize":    (*builder).resize,
	"Slice":     (*builder).slice,
	"Squeeze":   (*builder).squeeze,
	"Transpose": (*builder).transpose,
	"Unsqueeze": (*builder).unsqueeze,
}

// call is a node as its operator sees it.
type call struct {
	node
	then tail // what follows a convolution or product and is done with it
}

// arity is how many inputs an operator has to have, where it is not one.
var arity = map[string][2]int{
	"Add": {2, 2}, "Sub": {2, 2}, "Mul": {2, 2}, "Div": {2, 2}, "Max": {2, 2}, "Min": {2, 2}, "Pow": {2, 2},
	"BatchNormalization": {5, 5}, "Clip": {1, 3}, "Concat": {1, 64}, "Constant": {0, 0}, "Conv": {2, 3}, "Gather": {2, 2}, "Gemm": {2, 3},
	"MatMul": {2, 2}, "PRelu": {2, 2}, "Pad": {2, 3}, "Reshape": {2, 2}, "Resize": {3, 4}, "Slice": {3, 5},
}

func (b *builder) build(f *file) error {
	b.plains, b.lasts = map[*value]*value{}, map[*value]*value{}
	b.inputs = f.inputs
	calls := join(f)
	for i := range calls {
		c := &calls[i]
		if err := b.node(c); err != nil {
			return fmt.Errorf("%s %q: %w", c.op, c.out.name, err)
		}
	}
	for _, o := range f.outputs {
		if len(o.shape) == 0 {
			return fmt.Errorf("output %q is a single number, want a tensor", o.name)
		}
		if o.whole {
			return fmt.Errorf("output %q is not a float32 tensor", o.name)
		}
		p := b.plain(o)
		if p != o {
			p.name = o.name
		}
		b.outputs = append(b.outputs, p)
	}
	return nil
}

func (b *builder) node(c *call) error {
	do, ok := operators[c.op]
	if !ok {
		return errors.New("this operator is not supported")
	}
	want, ok := arity[c.op]
	if !ok {
		want = [2]int{1, 1}
	}
	if len(c.in) < want[0] || len(c.in) > want[1] {
		return fmt.Errorf("%d inputs, want %d to %d", len(c.in), want[0], want[1])
	}
	for i, v := range c.in {
		if i < want[0] && v == nil {
			return fmt.Errorf("input %d is missing", i)
		}
		if v != nil && v.shape == nil {
			return fmt.Errorf("input %q is read before it is made", v.name)
		}
	}
	return do(b, c)
}

// shape sets the shape of a value that is being made.
func (b *builder) shape(v *value, shape ...int) error {
	n := 1
	for _, d := range shape {
		if d < 1 || d > maxElements || n*d > maxElements {
			return fmt.Errorf("the result would have shape %v", shape)
		}
		n *= d
	}
	if len(shape) > maxRank {
		return fmt.Errorf("the result would have shape %v, with more than %d dimensions", shape, maxRank)
	}
	if b.total += n; b.total > maxTotal {
		return fmt.Errorf("the graph needs more than %d numbers", maxTotal)
	}
	v.shape = append([]int{}, shape...)
	return nil
}

// emit adds a step. What depends on constants alone is computed now.
func (b *builder) emit(op string, k kernel, writes *value, reads ...*value) error {
	known := true
	for _, r := range reads {
		known = known && r.known
		if r.known && !r.exact() {
			return fmt.Errorf("the whole numbers of %q are too large to be computed with", r.name)
		}
	}
	if known {
		writes.data = make([]float32, writes.len())
		writes.known = true
		return k.run(nil)
	}
	b.steps = append(b.steps, step{op, reads, writes, k})
	return nil
}

// alias makes a value that is another one in a new shape.
func (b *builder) alias(v, of *value, shape ...int) error {
	if product(shape) != of.len() {
		return fmt.Errorf("%v cannot become %v", of.shape, shape)
	}
	if err := b.shape(v, shape...); err != nil {
		return err
	}
	v.of, v.whole, v.known, v.ints, v.data = of, of.whole, of.known, of.ints, of.data
	return nil
}

// plain returns v in the file's order, with a step that puts it so if need be.
func (b *builder) plain(v *value) *value {
	return b.ordered(v, false, b.plains)
}

// channelsLast returns v with its channels last.
func (b *builder) channelsLast(v *value) (*value, error) {
	if _, _, _, ok := v.picture(); !ok {
		return nil, fmt.Errorf("%q of shape %v is not one picture", v.name, v.shape)
	}
	return b.ordered(v, true, b.lasts), nil
}

func (b *builder) ordered(v *value, last bool, made map[*value]*value) *value {
	if v.last == last {
		return v
	}
	if m := made[v]; m != nil {
		return m
	}
	m := &value{name: v.name, shape: slices.Clone(v.shape), last: last, whole: v.whole}
	c, h, w, _ := v.picture()
	var err error
	switch {
	case c == 1 || h*w == 1: // both orders are the same
		m.of, m.known, m.data = v, v.known, v.data
	case last:
		err = b.emit("order", &turn{in: v, out: m, rows: c, cols: h * w}, m, v)
	default:
		err = b.emit("order", &turn{in: v, out: m, rows: h * w, cols: c}, m, v)
	}
	if err != nil {
		panic(err) // a turn cannot fail; load recovers
	}
	made[v] = m
	return m
}

// turn swaps rows and columns.
type turn struct {
	in, out    *value
	rows, cols int
}

func (k *turn) run(c *crew) error { return c.split(k, k.rows, max(1, 1<<14/k.cols)) }

func (k *turn) part(from, to, _ int) {
	const edge = 8 // a block of both fits into the nearest cache
	in, out := k.in.data, k.out.data
	for c0 := 0; c0 < k.cols; c0 += edge {
		for r := from; r < to; r++ {
			for c, x := range in[r*k.cols+c0 : r*k.cols+min(c0+edge, k.cols)] {
				out[(c0+c)*k.rows+r] = x
			}
		}
	}
}
