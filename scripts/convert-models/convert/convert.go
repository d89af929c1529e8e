// Package convert turns a TensorFlow Lite network into the same network in
// ONNX: float32 weights, images NCHW instead of NHWC, the arithmetic
// unchanged.
//
// Operators that work on images are given channels-first weights. Where the
// original flattens an image (RESHAPE) the converted graph first moves the
// channels back to the end, so that flat outputs keep the original order.
//
// Operator set 10 is for readers that want the limits of Clip as attributes
// (OpenCV 4.6); PAD and RESIZE_BILINEAR with half-pixel centres need 11.
package convert

import (
	"errors"
	"fmt"

	"volar/scripts/convert-models/onnx"
	"volar/scripts/convert-models/tflite"
)

// ErrUnsupported is wrapped by errors about networks that use an operator, or
// an operator in a way, that is not translated.
var ErrUnsupported = errors.New("not translated to onnx")

// Spec says how the result is named.
type Spec struct {
	Name    string   // of the graph
	Doc     string   // free text kept in the file: source and licence
	Input   string   // the one input
	Outputs []string // in the order of the original's outputs
	Opset   int      // 10 or 11
}

// ToONNX encodes m as an ONNX file. The same model and spec give the same
// bytes.
func ToONNX(m *tflite.Model, s Spec) ([]byte, error) {
	if s.Opset != 10 && s.Opset != 11 {
		return nil, fmt.Errorf("%w: operator set %d, want 10 or 11", ErrUnsupported, s.Opset)
	}
	if len(m.In) != 1 || len(m.Out) != len(s.Outputs) {
		return nil, fmt.Errorf("%w: %d inputs and %d outputs, want 1 and %d", ErrUnsupported, len(m.In), len(m.Out), len(s.Outputs))
	}
	c := &converter{
		m: m, g: &onnx.Graph{}, opset: s.Opset,
		names: map[int]string{}, widened: map[int]int{}, emitted: map[string]bool{},
	}
	in := m.Tensors[m.In[0]].Shape
	if len(in) != 4 {
		return nil, fmt.Errorf("%w: an input of shape %v, want an image", ErrUnsupported, in)
	}
	c.names[m.In[0]] = s.Input
	c.g.Input(s.Input, in[0], in[3], in[1], in[2])
	for k, i := range m.Out {
		if _, twice := c.names[i]; twice {
			return nil, fmt.Errorf("%w: output %d is an input or another output too", ErrUnsupported, k)
		}
		if len(m.Tensors[i].Shape) == 4 {
			return nil, fmt.Errorf("%w: an image as output %d", ErrUnsupported, k)
		}
		c.names[i] = s.Outputs[k]
		c.g.Output(s.Outputs[k], m.Tensors[i].Shape...)
	}
	for k, op := range m.Ops {
		if err := c.op(op); err != nil {
			return nil, fmt.Errorf("operator %d (%v): %w", k, op.Code, err)
		}
	}
	return c.g.Marshal(s.Name, "volar convert-models", s.Doc, s.Opset), nil
}

type converter struct {
	m       *tflite.Model
	g       *onnx.Graph
	opset   int
	names   map[int]string
	widened map[int]int     // result of a DEQUANTIZE of a constant → that constant
	emitted map[string]bool // constants already in the graph
}

// name returns the name of tensor i in the converted graph.
func (c *converter) name(i int) string {
	if n, ok := c.names[i]; ok {
		return n
	}
	return fmt.Sprintf("t%d", i)
}

// shape returns the shape of operand k of an operator, or of the result for
// k = -1, having checked its rank.
func (c *converter) shape(op tflite.Op, k, rank int) ([]int, error) {
	i := op.Out[0]
	if k >= 0 {
		if k >= len(op.In) || op.In[k] < 0 {
			return nil, fmt.Errorf("%w: operand %d is missing", ErrUnsupported, k)
		}
		i = op.In[k]
	}
	s := c.m.Tensors[i].Shape
	if len(s) != rank {
		return nil, fmt.Errorf("%w: shape %v of tensor %d, want %d dimensions", ErrUnsupported, s, i, rank)
	}
	return s, nil
}

// constant returns the constant behind operand k of an operator.
func (c *converter) constant(op tflite.Op, k int) (int, tflite.Tensor, error) {
	if k >= len(op.In) || op.In[k] < 0 {
		return 0, tflite.Tensor{}, fmt.Errorf("%w: operand %d is missing", ErrUnsupported, k)
	}
	i := op.In[k]
	if j, ok := c.widened[i]; ok {
		i = j
	}
	t := c.m.Tensors[i]
	if !t.Constant() {
		return 0, t, fmt.Errorf("%w: operand %d is not a constant", ErrUnsupported, k)
	}
	return i, t, nil
}

// ints returns the n integers of constant operand k.
func (c *converter) ints(op tflite.Op, k, n int) ([]int, error) {
	_, t, err := c.constant(op, k)
	if err != nil {
		return nil, err
	}
	v := t.Ints()
	if len(v) != n {
		return nil, fmt.Errorf("%w: operand %d has %d integers, want %d", ErrUnsupported, k, len(v), n)
	}
	return v, nil
}

// weights adds constant operand k with its axes in the order of perm (nil: as
// they are), described as dims (nil: the permuted shape), and returns its
// name. A constant that several operators share is written once for each layout
// that they want.
func (c *converter) weights(op tflite.Op, k int, perm, dims []int) (string, error) {
	i, t, err := c.constant(op, k)
	if err != nil {
		return "", err
	}
	if t.Floats() == nil {
		return "", fmt.Errorf("%w: weights that are not floating-point numbers", ErrUnsupported)
	}
	v, shape := t.Floats(), t.Shape
	if perm != nil {
		if len(perm) != len(shape) {
			return "", fmt.Errorf("%w: weights of shape %v", ErrUnsupported, shape)
		}
		v, shape = permute(v, shape, perm)
	}
	if dims == nil {
		dims = shape
	}
	if product(dims) != len(v) {
		return "", fmt.Errorf("%w: %d weights for the shape %v", ErrUnsupported, len(v), dims)
	}
	name := fmt.Sprintf("w%d%s", i, layout(perm, dims))
	c.floats(name, dims, v)
	return name, nil
}

// layout tells apart the ways in which one constant is written.
func layout(perm, dims []int) string {
	if perm == nil && len(dims) == 1 {
		return ""
	}
	s := "_"
	for _, p := range perm {
		s += fmt.Sprint(p)
	}
	for _, d := range dims {
		s += fmt.Sprintf("x%d", d)
	}
	return s
}

// floats adds a named constant unless it is there already.
func (c *converter) floats(name string, dims []int, v []float32) {
	if !c.emitted[name] {
		c.emitted[name] = true
		c.g.Floats(name, dims, v)
	}
}

func product(dims []int) int {
	n := 1
	for _, d := range dims {
		n *= d
	}
	return n
}

// permute returns v, of the given row-major shape, with axis k of the result
// being axis perm[k] of the original.
func permute(v []float32, shape, perm []int) ([]float32, []int) {
	stride := make([]int, len(shape))
	for s, i := 1, len(shape)-1; i >= 0; i-- {
		stride[i] = s
		s *= shape[i]
	}
	dims := make([]int, len(perm))
	for k, p := range perm {
		dims[k] = shape[p]
	}
	out := make([]float32, len(v))
	index := make([]int, len(perm))
	for n := range out {
		from := 0
		for k, p := range perm {
			from += index[k] * stride[p]
		}
		out[n] = v[from]
		for k := len(index) - 1; k >= 0; k-- {
			if index[k]++; index[k] < dims[k] {
				break
			}
			index[k] = 0
		}
	}
	return out, dims
}

// pads returns the ONNX padding (top, left, bottom, right) of a sliding
// window. TensorFlow's padding puts the odd pixel at the bottom and right.
func pads(o tflite.Options, in, out, window [2]int) []int {
	p := make([]int, 4)
	if o.Valid {
		return p
	}
	for a := range 2 {
		total := max((out[a]-1)*o.Stride[a]+(window[a]-1)*o.Dilation[a]+1-in[a], 0)
		p[a], p[a+2] = total/2, total-total/2
	}
	return p
}

// activate adds the activation fused to the operator that computes out. It
// returns the name under which the operator must leave its raw result, and a
// function that adds the activation after it.
func (c *converter) activate(a tflite.Activation, out string) (raw string, finish func(), err error) {
	raw = out + "_raw"
	switch a {
	case tflite.NoActivation:
		return out, func() {}, nil
	case tflite.FusedReLU:
		return raw, func() { c.g.Node("Relu", []string{raw}, []string{out}) }, nil
	case tflite.FusedReLU6:
		return raw, func() { c.clip6(raw, out) }, nil
	}
	return "", nil, fmt.Errorf("%w: activation %d", ErrUnsupported, a)
}

// clip6 adds out = min(max(in, 0), 6).
func (c *converter) clip6(in, out string) {
	if c.opset < 11 {
		c.g.Node("Clip", []string{in}, []string{out}, onnx.Float("max", 6), onnx.Float("min", 0))
		return
	}
	c.floats("zero", nil, []float32{0})
	c.floats("six", nil, []float32{6})
	c.g.Node("Clip", []string{in, "zero", "six"}, []string{out})
}

func (c *converter) op(op tflite.Op) error {
	in, out := c.name(op.In[0]), c.name(op.Out[0])
	unary := func(name string) error {
		c.g.Node(name, []string{in}, []string{out})
		return nil
	}
	switch op.Code {
	case tflite.Dequantize:
		i, _, err := c.constant(op, 0)
		c.widened[op.Out[0]] = i
		return err
	case tflite.Logistic:
		return unary("Sigmoid")
	case tflite.ReLU:
		return unary("Relu")
	case tflite.ReLU6:
		c.clip6(in, out)
		return nil
	case tflite.Conv2D, tflite.DepthwiseConv2D:
		return c.convolution(op)
	case tflite.Add:
		return c.add(op)
	case tflite.PReLU:
		return c.prelu(op)
	case tflite.MaxPool2D:
		return c.maxPool(op)
	case tflite.Pad:
		return c.pad(op)
	case tflite.ResizeBilinear:
		return c.resize(op)
	case tflite.Reshape:
		return c.reshape(op)
	case tflite.Concatenation:
		return c.concat(op)
	case tflite.Mean:
		return c.mean(op)
	case tflite.FullyConnected:
		return c.fullyConnected(op)
	}
	return ErrUnsupported
}

// window reads the sizes of a sliding-window operator.
func (c *converter) window(op tflite.Op) (in, out []int, err error) {
	if in, err = c.shape(op, 0, 4); err != nil {
		return nil, nil, err
	}
	if out, err = c.shape(op, -1, 4); err != nil {
		return nil, nil, err
	}
	if op.Options.Stride[0] < 1 || op.Options.Stride[1] < 1 {
		return nil, nil, fmt.Errorf("%w: stride %v", ErrUnsupported, op.Options.Stride)
	}
	return in, out, nil
}

func (c *converter) convolution(op tflite.Op) error {
	x, y, err := c.window(op)
	if err != nil {
		return err
	}
	_, filter, err := c.constant(op, 1)
	if err != nil {
		return err
	}
	if len(filter.Shape) != 4 {
		return fmt.Errorf("%w: a filter of shape %v", ErrUnsupported, filter.Shape)
	}
	perm, groups := []int{0, 3, 1, 2}, 1 // OHWI → OIHW
	if op.Code == tflite.DepthwiseConv2D {
		if op.Options.Multiplier != 1 {
			return fmt.Errorf("%w: channel multiplier %d", ErrUnsupported, op.Options.Multiplier)
		}
		perm, groups = []int{3, 0, 1, 2}, x[3] // 1HWC → C1HW
	}
	w, err := c.weights(op, 1, perm, nil)
	if err != nil {
		return err
	}
	in := []string{c.name(op.In[0]), w}
	if len(op.In) > 2 && op.In[2] >= 0 {
		b, err := c.weights(op, 2, nil, []int{y[3]})
		if err != nil {
			return err
		}
		in = append(in, b)
	}
	raw, finish, err := c.activate(op.Options.Activation, c.name(op.Out[0]))
	if err != nil {
		return err
	}
	o, kernel := op.Options, [2]int{filter.Shape[1], filter.Shape[2]}
	c.g.Node("Conv", in, []string{raw},
		onnx.Ints("dilations", o.Dilation[:]...),
		onnx.Int("group", groups),
		onnx.Ints("kernel_shape", kernel[:]...),
		onnx.Ints("pads", pads(o, [2]int{x[1], x[2]}, [2]int{y[1], y[2]}, kernel)...),
		onnx.Ints("strides", o.Stride[:]...))
	finish()
	return nil
}

func (c *converter) maxPool(op tflite.Op) error {
	x, y, err := c.window(op)
	if err != nil {
		return err
	}
	raw, finish, err := c.activate(op.Options.Activation, c.name(op.Out[0]))
	if err != nil {
		return err
	}
	o := op.Options
	o.Dilation = [2]int{1, 1}
	c.g.Node("MaxPool", []string{c.name(op.In[0])}, []string{raw},
		onnx.Ints("kernel_shape", o.Filter[:]...),
		onnx.Ints("pads", pads(o, [2]int{x[1], x[2]}, [2]int{y[1], y[2]}, o.Filter)...),
		onnx.Ints("strides", o.Stride[:]...))
	finish()
	return nil
}

func (c *converter) add(op tflite.Op) error {
	for k := range 2 {
		s, err := c.shape(op, k, len(c.m.Tensors[op.Out[0]].Shape))
		if err != nil {
			return err
		}
		if fmt.Sprint(s) != fmt.Sprint(c.m.Tensors[op.Out[0]].Shape) || c.m.Tensors[op.In[k]].Constant() {
			return fmt.Errorf("%w: a sum with a constant or of different shapes", ErrUnsupported)
		}
	}
	raw, finish, err := c.activate(op.Options.Activation, c.name(op.Out[0]))
	if err != nil {
		return err
	}
	c.g.Node("Add", []string{c.name(op.In[0]), c.name(op.In[1])}, []string{raw})
	finish()
	return nil
}

// prelu wants one slope a channel, stored as 1×1×C.
func (c *converter) prelu(op tflite.Op) error {
	x, err := c.shape(op, 0, 4)
	if err != nil {
		return err
	}
	slope, err := c.weights(op, 1, nil, []int{x[3], 1, 1})
	if err != nil {
		return err
	}
	c.g.Node("PRelu", []string{c.name(op.In[0]), slope}, []string{c.name(op.Out[0])})
	return nil
}

func (c *converter) pad(op tflite.Op) error {
	if _, err := c.shape(op, 0, 4); err != nil {
		return err
	}
	if c.opset < 11 {
		return fmt.Errorf("%w in operator set %d, use 11", ErrUnsupported, c.opset)
	}
	p, err := c.ints(op, 1, 8) // before and after, for N, H, W, C
	if err != nil {
		return err
	}
	out := c.name(op.Out[0])
	c.g.Int64s(out+"_pads", p[0], p[6], p[2], p[4], p[1], p[7], p[3], p[5])
	c.g.Node("Pad", []string{c.name(op.In[0]), out + "_pads"}, []string{out}, onnx.String("mode", "constant"))
	return nil
}

func (c *converter) resize(op tflite.Op) error {
	x, err := c.shape(op, 0, 4)
	if err != nil {
		return err
	}
	y, err := c.shape(op, -1, 4)
	if err != nil {
		return err
	}
	if c.opset < 11 {
		return fmt.Errorf("%w in operator set %d, use 11", ErrUnsupported, c.opset)
	}
	if x[1] == 0 || x[2] == 0 {
		return fmt.Errorf("%w: an empty image", ErrUnsupported)
	}
	mode := "asymmetric"
	switch {
	case op.Options.HalfPixel:
		mode = "half_pixel"
	case op.Options.AlignCorners:
		mode = "align_corners"
	}
	out := c.name(op.Out[0])
	c.g.Floats(out+"_scales", []int{4}, []float32{1, 1, float32(y[1]) / float32(x[1]), float32(y[2]) / float32(x[2])})
	// The region of interest is not used in these modes, but the operator
	// has it before the scales and ONNX Runtime refuses an empty one.
	c.floats("roi", []int{8}, []float32{0, 0, 0, 0, 1, 1, 1, 1})
	c.g.Node("Resize", []string{c.name(op.In[0]), "roi", out + "_scales"}, []string{out},
		onnx.String("coordinate_transformation_mode", mode), onnx.String("mode", "linear"))
	return nil
}

func (c *converter) reshape(op tflite.Op) error {
	src, out := c.name(op.In[0]), c.name(op.Out[0])
	shape := c.m.Tensors[op.Out[0]].Shape
	if len(shape) == 4 {
		return fmt.Errorf("%w: a reshape to an image", ErrUnsupported)
	}
	if len(c.m.Tensors[op.In[0]].Shape) == 4 {
		c.g.Node("Transpose", []string{src}, []string{out + "_nhwc"}, onnx.Ints("perm", 0, 2, 3, 1))
		src = out + "_nhwc"
	}
	c.g.Int64s(out+"_shape", shape...)
	c.g.Node("Reshape", []string{src, out + "_shape"}, []string{out})
	return nil
}

func (c *converter) concat(op tflite.Op) error {
	rank := len(c.m.Tensors[op.Out[0]].Shape)
	axis := op.Options.Axis
	if axis < 0 {
		axis += rank
	}
	if axis < 0 || axis >= rank || op.Options.Activation != tflite.NoActivation {
		return fmt.Errorf("%w: axis %d, activation %d", ErrUnsupported, op.Options.Axis, op.Options.Activation)
	}
	if rank == 4 {
		axis = [4]int{0, 2, 3, 1}[axis]
	}
	in := make([]string, len(op.In))
	for k := range op.In {
		if _, err := c.shape(op, k, rank); err != nil {
			return err
		}
		in[k] = c.name(op.In[k])
	}
	c.g.Node("Concat", in, []string{c.name(op.Out[0])}, onnx.Int("axis", axis))
	return nil
}

// mean is translated for the mean over the whole image only.
func (c *converter) mean(op tflite.Op) error {
	if _, err := c.shape(op, 0, 4); err != nil {
		return err
	}
	if _, err := c.shape(op, -1, 2); err != nil {
		return err
	}
	axes, err := c.ints(op, 1, 2)
	if err != nil {
		return err
	}
	if min(axes[0], axes[1]) != 1 || max(axes[0], axes[1]) != 2 {
		return fmt.Errorf("%w: mean over axes %v, want height and width", ErrUnsupported, axes)
	}
	out := c.name(op.Out[0])
	c.g.Node("GlobalAveragePool", []string{c.name(op.In[0])}, []string{out + "_pooled"})
	c.g.Node("Flatten", []string{out + "_pooled"}, []string{out}, onnx.Int("axis", 1))
	return nil
}

func (c *converter) fullyConnected(op tflite.Op) error {
	if _, err := c.shape(op, 0, 2); err != nil {
		return err
	}
	y, err := c.shape(op, -1, 2)
	if err != nil {
		return err
	}
	x := c.m.Tensors[op.In[0]].Shape
	w, err := c.weights(op, 1, nil, []int{y[1], x[1]})
	if err != nil {
		return err
	}
	b, err := c.weights(op, 2, nil, []int{y[1]})
	if err != nil {
		return err
	}
	raw, finish, err := c.activate(op.Options.Activation, c.name(op.Out[0]))
	if err != nil {
		return err
	}
	c.g.Node("Gemm", []string{c.name(op.In[0]), w, b}, []string{raw}, onnx.Int("transB", 1))
	finish()
	return nil
}
