// Package tflite reads the part of the TensorFlow Lite file format that plain
// convolutional networks use: one subgraph, built-in operators, weights as
// float32, float16 or int32.
//
// The format is FlatBuffers with the schema of TensorFlow Lite version 3;
// field numbers below are the positions of the fields in that schema. Tensors
// are row-major, images NHWC, convolution weights OHWI and depthwise weights
// 1HWC.
//
// Parse trusts nothing in its input: whatever the bytes, it returns a model
// whose indices all hold, or an error that wraps ErrCorrupt or ErrUnsupported.
package tflite

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// ErrUnsupported is wrapped by errors about files that may be sound but use
// parts of the format that this package does not read.
var ErrUnsupported = errors.New("unsupported tflite feature")

// Type is an element type, with the number that the format gives it.
type Type int

// The element types that Parse accepts.
const (
	Float32 Type = 0
	Float16 Type = 1
	Int32   Type = 2
)

// size returns the bytes of one element, or 0 for a type that is not read.
func (t Type) size() int {
	switch t {
	case Float32, Int32:
		return 4
	case Float16:
		return 2
	}
	return 0
}

// Tensor is one value of the graph. Data is empty unless the value is a
// constant; then it holds exactly the bytes that Shape and Type call for.
type Tensor struct {
	Name  string
	Shape []int
	Type  Type
	Data  []byte
}

// Constant says whether the file carries the tensor's value.
func (t Tensor) Constant() bool { return len(t.Data) > 0 }

// Len returns the number of elements.
func (t Tensor) Len() int {
	n := 1
	for _, d := range t.Shape {
		n *= d
	}
	return n
}

// Floats returns a constant's values; float16 is widened exactly. It returns
// nil for an integer tensor.
func (t Tensor) Floats() []float32 {
	switch t.Type {
	case Float32:
		r := make([]float32, len(t.Data)/4)
		for i := range r {
			r[i] = math.Float32frombits(binary.LittleEndian.Uint32(t.Data[4*i:]))
		}
		return r
	case Float16:
		r := make([]float32, len(t.Data)/2)
		for i := range r {
			r[i] = widen(binary.LittleEndian.Uint16(t.Data[2*i:]))
		}
		return r
	}
	return nil
}

// Ints returns an int32 constant's values, or nil for another type.
func (t Tensor) Ints() []int {
	if t.Type != Int32 {
		return nil
	}
	r := make([]int, len(t.Data)/4)
	for i := range r {
		r[i] = int(int32(binary.LittleEndian.Uint32(t.Data[4*i:])))
	}
	return r
}

// Code is a built-in operator, with the number that the format gives it.
type Code int

// The operators whose options Parse decodes.
const (
	Add             Code = 0
	Concatenation   Code = 2
	Conv2D          Code = 3
	DepthwiseConv2D Code = 4
	Dequantize      Code = 6
	FullyConnected  Code = 9
	Logistic        Code = 14
	MaxPool2D       Code = 17
	ReLU            Code = 19
	ReLU6           Code = 21
	Reshape         Code = 22
	ResizeBilinear  Code = 23
	Pad             Code = 34
	Mean            Code = 40
	PReLU           Code = 54
)

var codeNames = map[Code]string{
	Add: "ADD", Concatenation: "CONCATENATION", Conv2D: "CONV_2D", DepthwiseConv2D: "DEPTHWISE_CONV_2D",
	Dequantize: "DEQUANTIZE", FullyConnected: "FULLY_CONNECTED", Logistic: "LOGISTIC", MaxPool2D: "MAX_POOL_2D",
	ReLU: "RELU", ReLU6: "RELU6", Reshape: "RESHAPE", ResizeBilinear: "RESIZE_BILINEAR", Pad: "PAD", Mean: "MEAN",
	PReLU: "PRELU",
}

func (c Code) String() string {
	if n, ok := codeNames[c]; ok {
		return n
	}
	return fmt.Sprintf("operator %d", int(c))
}

// Activation is a function fused to the end of an operator.
type Activation int

// The fused activations, numbered as in the format.
const (
	NoActivation Activation = 0
	FusedReLU    Activation = 1
	FusedReLU6   Activation = 3
)

// Options are the settings of an operator; fields that its kind does not have
// are zero. Pairs are height, width.
type Options struct {
	Valid        bool // no padding; otherwise padded so that output = input/stride, rounded up
	Stride       [2]int
	Dilation     [2]int
	Filter       [2]int // pooling window
	Multiplier   int    // output channels per input channel of a depthwise convolution
	Activation   Activation
	Axis         int
	AlignCorners bool
	HalfPixel    bool
}

// Op is one operator. In and Out index Model.Tensors; an optional input that
// is left out is -1.
type Op struct {
	Code    Code
	In, Out []int
	Options Options
}

// Model is a decoded file. Ops stand in an order of execution.
type Model struct {
	Tensors []Tensor
	In, Out []int
	Ops     []Op
}

// maxElements bounds the size of one tensor, so that products of dimensions
// cannot overflow.
const maxElements = 1 << 28

// Parse decodes a .tflite file. Constant tensors alias b.
func Parse(b []byte) (*Model, error) {
	if len(b) < 8 || string(b[4:8]) != "TFL3" {
		return nil, fmt.Errorf("%w: the mark TFL3 is missing", ErrCorrupt)
	}
	d := &decoder{b: b, budget: len(b)}
	root := table{d, d.follow(0)}
	codes, subgraphs, buffers := root.tables(1), root.tables(2), root.tables(4)
	if d.err != nil {
		return nil, d.err
	}
	if len(subgraphs) != 1 {
		return nil, fmt.Errorf("%w: %d subgraphs, want 1", ErrUnsupported, len(subgraphs))
	}
	g := subgraphs[0]
	m := &Model{In: g.ints(1), Out: g.ints(2)}
	for i, t := range g.tables(0) {
		x, err := parseTensor(t, buffers)
		if err != nil {
			return nil, fmt.Errorf("tensor %d: %w", i, err)
		}
		m.Tensors = append(m.Tensors, x)
	}
	for i, t := range g.tables(3) {
		op, err := parseOp(t, codes)
		if err != nil {
			return nil, fmt.Errorf("operator %d: %w", i, err)
		}
		m.Ops = append(m.Ops, op)
	}
	if d.err != nil {
		return nil, d.err
	}
	if err := m.check(); err != nil {
		return nil, err
	}
	return m, nil
}

func parseTensor(t table, buffers []table) (Tensor, error) {
	d := t.d
	x := Tensor{Shape: t.ints(0), Type: Type(t.byte(1)), Name: string(t.bytes(3))}
	buffer := t.int(2, 0)
	if d.err != nil {
		return x, d.err
	}
	n := 1
	for _, s := range x.Shape {
		if s < 0 || s > 0 && n > maxElements/s {
			return x, fmt.Errorf("%w: shape %v", ErrCorrupt, x.Shape)
		}
		n *= s
	}
	if t.table(6).present() {
		return x, fmt.Errorf("%w: sparse weights", ErrUnsupported)
	}
	if buffer < 0 || buffer >= len(buffers) {
		return x, fmt.Errorf("%w: buffer %d of %d", ErrCorrupt, buffer, len(buffers))
	}
	x.Data = buffers[buffer].bytes(0)
	if d.err != nil {
		return x, d.err
	}
	size := x.Type.size()
	if size == 0 {
		return x, fmt.Errorf("%w: element type %d", ErrUnsupported, x.Type)
	}
	if x.Constant() && len(x.Data) != n*size {
		return x, fmt.Errorf("%w: shape %v needs %d bytes, the buffer has %d", ErrCorrupt, x.Shape, n*size, len(x.Data))
	}
	return x, nil
}

func parseOp(t table, codes []table) (Op, error) {
	d := t.d
	k := t.int(0, 0)
	if d.err == nil && (k < 0 || k >= len(codes)) {
		return Op{}, fmt.Errorf("%w: operator code %d of %d", ErrCorrupt, k, len(codes))
	}
	if d.err != nil {
		return Op{}, d.err
	}
	// Old files number operators in a byte, newer ones in a word; the larger
	// of the two is the one in use.
	code := Code(max(codes[k].byte(0), codes[k].int(3, 0)))
	op := Op{Code: code, In: t.ints(1), Out: t.ints(2), Options: parseOptions(code, t.table(4))}
	return op, d.err
}

func parseOptions(c Code, t table) Options {
	var o Options
	window := func() {
		o.Valid = t.byte(0) == 1
		o.Stride = [2]int{t.int(2, 0), t.int(1, 0)}
	}
	switch c {
	case Conv2D:
		window()
		o.Activation = Activation(t.byte(3))
		o.Dilation = [2]int{t.int(5, 1), t.int(4, 1)}
	case DepthwiseConv2D:
		window()
		o.Multiplier = t.int(3, 0)
		o.Activation = Activation(t.byte(4))
		o.Dilation = [2]int{t.int(6, 1), t.int(5, 1)}
	case MaxPool2D:
		window()
		o.Filter = [2]int{t.int(4, 0), t.int(3, 0)}
		o.Activation = Activation(t.byte(5))
	case Add, FullyConnected:
		o.Activation = Activation(t.byte(0))
	case Concatenation:
		o.Axis = t.int(0, 0)
		o.Activation = Activation(t.byte(1))
	case ResizeBilinear:
		o.AlignCorners, o.HalfPixel = t.bool(2), t.bool(3)
	}
	return o
}

// check makes sure that every index points at a tensor and that operators
// come after the values that they read.
func (m *Model) check() error {
	known := make([]bool, len(m.Tensors))
	for i, t := range m.Tensors {
		known[i] = t.Constant()
	}
	tensor := func(what string, i int) error {
		if i < 0 || i >= len(m.Tensors) {
			return fmt.Errorf("%w: %s is tensor %d of %d", ErrCorrupt, what, i, len(m.Tensors))
		}
		return nil
	}
	for _, i := range m.In {
		if err := tensor("an input", i); err != nil {
			return err
		}
		known[i] = true
	}
	for k, op := range m.Ops {
		if len(op.In) == 0 || len(op.Out) == 0 {
			return fmt.Errorf("%w: operator %d (%v) has %d inputs and %d outputs", ErrCorrupt, k, op.Code, len(op.In), len(op.Out))
		}
		for _, i := range op.In {
			if i == -1 {
				continue
			}
			if err := tensor("an operand", i); err != nil {
				return err
			}
			if !known[i] {
				return fmt.Errorf("%w: operator %d (%v) reads tensor %d before it is computed", ErrCorrupt, k, op.Code, i)
			}
		}
		for _, i := range op.Out {
			if err := tensor("a result", i); err != nil {
				return err
			}
			known[i] = true
		}
	}
	for _, i := range m.Out {
		if err := tensor("an output", i); err != nil {
			return err
		}
		if !known[i] {
			return fmt.Errorf("%w: output tensor %d is never computed", ErrCorrupt, i)
		}
	}
	return nil
}

// widen converts an IEEE 754 half-precision number exactly.
func widen(h uint16) float32 {
	sign, exp, frac := uint32(h>>15)<<31, uint32(h>>10&31), uint32(h&1023)
	switch exp {
	case 0: // zero and subnormal numbers, multiples of 2^-24
		v := float32(frac) / (1 << 24)
		return math.Float32frombits(math.Float32bits(v) | sign)
	case 31: // infinities and NaN
		return math.Float32frombits(sign | 0xff<<23 | frac<<13)
	}
	return math.Float32frombits(sign | (exp+127-15)<<23 | frac<<13)
}
