// Package onnx writes ONNX models: float32 and int64 constants, nodes with
// their attributes, fixed shapes.
//
// It encodes the protocol buffer by hand, field by field in the order of the
// field numbers, so that the same graph gives the same bytes on every run and
// with every version of the protobuf library. Field numbers are those of
// onnx.proto of ONNX 1.6.
package onnx

import (
	"encoding/binary"
	"math"

	"google.golang.org/protobuf/encoding/protowire"
)

// irVersion is the version of the file format: 6 is the one that ONNX 1.6
// brought with operator set 11; it also allows operator set 10.
const irVersion = 6

// Element types (TensorProto.DataType).
const (
	typeFloat = 1
	typeInt64 = 7
)

// Graph collects a network. The zero value is an empty graph; add nodes in an
// order of execution.
type Graph struct {
	nodes, constants, inputs, outputs [][]byte
}

// Attr is a named attribute of a node; make one with Int, Float, String or
// Ints.
type Attr struct {
	encoded []byte
}

// Attribute kinds (AttributeProto.AttributeType).
const (
	kindFloat  = 1
	kindInt    = 2
	kindString = 3
	kindInts   = 7
)

// Int makes an integer attribute.
func Int(name string, v int) Attr {
	return Attr{number(number(text(nil, 1, name), 3, v), 20, kindInt)}
}

// Float makes a float attribute.
func Float(name string, v float32) Attr {
	b := protowire.AppendTag(text(nil, 1, name), 2, protowire.Fixed32Type)
	return Attr{number(protowire.AppendFixed32(b, math.Float32bits(v)), 20, kindFloat)}
}

// String makes a string attribute.
func String(name, v string) Attr {
	return Attr{number(text(text(nil, 1, name), 4, v), 20, kindString)}
}

// Ints makes an attribute that is a list of integers.
func Ints(name string, v ...int) Attr {
	b := text(nil, 1, name)
	for _, x := range v {
		b = number(b, 8, x)
	}
	return Attr{number(b, 20, kindInts)}
}

// Node adds an operator that reads in and computes out; out names at least
// one value, and the first gives the node its name.
func (g *Graph) Node(op string, in, out []string, attrs ...Attr) {
	var b []byte
	for _, s := range in {
		b = text(b, 1, s)
	}
	for _, s := range out {
		b = text(b, 2, s)
	}
	b = text(b, 3, op+"/"+out[0])
	b = text(b, 4, op)
	for _, a := range attrs {
		b = message(b, 5, a.encoded)
	}
	g.nodes = append(g.nodes, b)
}

// Floats adds a float32 constant; without dims it is a scalar.
func (g *Graph) Floats(name string, dims []int, v []float32) {
	raw := make([]byte, 0, 4*len(v))
	for _, x := range v {
		raw = binary.LittleEndian.AppendUint32(raw, math.Float32bits(x))
	}
	g.constant(name, typeFloat, dims, raw)
}

// Int64s adds a constant vector of integers.
func (g *Graph) Int64s(name string, v ...int) {
	raw := make([]byte, 0, 8*len(v))
	for _, x := range v {
		raw = binary.LittleEndian.AppendUint64(raw, uint64(x))
	}
	g.constant(name, typeInt64, []int{len(v)}, raw)
}

func (g *Graph) constant(name string, kind int, dims []int, raw []byte) {
	var b []byte
	for _, d := range dims {
		b = number(b, 1, d)
	}
	b = number(b, 2, kind)
	b = text(b, 8, name)
	g.constants = append(g.constants, message(b, 9, raw))
}

// Input declares a float32 input of the graph.
func (g *Graph) Input(name string, dims ...int) { g.inputs = append(g.inputs, value(name, dims)) }

// Output declares a float32 output of the graph.
func (g *Graph) Output(name string, dims ...int) { g.outputs = append(g.outputs, value(name, dims)) }

// value encodes a ValueInfoProto with a tensor type of fixed shape.
func value(name string, dims []int) []byte {
	var shape []byte
	for _, d := range dims {
		shape = message(shape, 1, number(nil, 1, d))
	}
	tensor := message(number(nil, 1, typeFloat), 2, shape)
	return message(text(nil, 1, name), 2, message(nil, 1, tensor))
}

// Marshal encodes the model. name is the graph's name, producer and doc are
// free text, opset is the version of the standard operator set.
func (g *Graph) Marshal(name, producer, doc string, opset int) []byte {
	var b []byte
	for _, n := range g.nodes {
		b = message(b, 1, n)
	}
	b = text(b, 2, name)
	for _, c := range g.constants {
		b = message(b, 5, c)
	}
	for _, v := range g.inputs {
		b = message(b, 11, v)
	}
	for _, v := range g.outputs {
		b = message(b, 12, v)
	}
	m := number(nil, 1, irVersion)
	m = text(m, 2, producer)
	m = text(m, 6, doc)
	m = message(m, 7, b)
	// An empty domain is the standard operator set.
	return message(m, 8, number(text(nil, 1, ""), 2, opset))
}

func text(b []byte, f protowire.Number, s string) []byte {
	return protowire.AppendString(protowire.AppendTag(b, f, protowire.BytesType), s)
}

func message(b []byte, f protowire.Number, v []byte) []byte {
	return protowire.AppendBytes(protowire.AppendTag(b, f, protowire.BytesType), v)
}

func number(b []byte, f protowire.Number, v int) []byte {
	return protowire.AppendVarint(protowire.AppendTag(b, f, protowire.VarintType), uint64(v))
}
