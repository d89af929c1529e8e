package portable

import (
	"fmt"
	"math"

	"github.com/owulveryck/onnx-go"
	"gonum.org/v1/gonum/graph"
	"gonum.org/v1/gonum/graph/simple"
	"gorgonia.org/tensor"
)

// file is a decoded graph.
type file struct {
	nodes           []node
	inputs, outputs []*value
}

// node is one operator. An input that was left out is nil.
type node struct {
	op    string
	attrs map[string]any
	in    []*value
	out   *value
}

// decode has onnx-go read the file into a backend of ours.
func decode(model []byte) (*file, error) {
	if err := checkBounds(model); err != nil {
		return nil, err
	}
	s := &scribe{WeightedDirectedGraph: simple.NewWeightedDirectedGraph(0, math.Inf(1)), reads: map[int64][]*vertex{}, byID: map[int64]*vertex{}, made: map[*vertex]bool{}}
	m := onnx.NewModel(s)
	if err := m.UnmarshalBinary(model); err != nil {
		return nil, fmt.Errorf("decode: %w", err)
	}
	f := &file{}
	for _, id := range m.Input {
		v := s.byID[id]
		if v.tensor == nil || len(v.tensor.Shape()) == 0 || v.tensor.Dtype() != tensor.Float32 || s.made[v] {
			return nil, fmt.Errorf("input %q is not a float32 tensor of fixed shape", v.name)
		}
		v.value = &value{name: v.name, shape: append([]int(nil), v.tensor.Shape()...)}
		f.inputs = append(f.inputs, v.value)
	}
	for _, st := range s.steps {
		n := node{op: st.op.Name, attrs: st.op.Attributes}
		for _, v := range st.in {
			in, err := s.input(v)
			if err != nil {
				return nil, err
			}
			n.in = append(n.in, in)
		}
		if st.out.value != nil {
			return nil, fmt.Errorf("value %q is made twice, or read before it is made", st.out.name)
		}
		st.out.value = &value{name: st.out.name}
		n.out = st.out.value
		f.nodes = append(f.nodes, n)
	}
	for _, id := range m.Output {
		v := s.byID[id]
		if v.value == nil || !s.made[v] {
			return nil, fmt.Errorf("output %q is not computed", v.name)
		}
		f.outputs = append(f.outputs, v.value)
	}
	if len(f.inputs) == 0 || len(f.outputs) == 0 {
		return nil, fmt.Errorf("%d inputs and %d outputs", len(f.inputs), len(f.outputs))
	}
	return f, nil
}

// scribe is the backend that onnx-go builds a graph in. It writes down every
// edge, because a simple graph keeps only one of two from a node to another,
// and Add(x, x) would lose an input.
type scribe struct {
	*simple.WeightedDirectedGraph
	byID  map[int64]*vertex
	reads map[int64][]*vertex // by the id of the node that reads
	made  map[*vertex]bool    // computed by a node
	steps []applied
}

type applied struct {
	op  onnx.Operation
	in  []*vertex
	out *vertex
}

// vertex is a value as onnx-go sees it. Declared inputs and outputs carry a
// tensor of zeros for their shape.
type vertex struct {
	id     int64
	name   string
	tensor tensor.Tensor
	value  *value // once it is known
}

func (v *vertex) ID() int64                       { return v.id }
func (v *vertex) SetName(s string)                { v.name = s }
func (v *vertex) GetName() string                 { return v.name }
func (v *vertex) SetTensor(t tensor.Tensor) error { v.tensor = t; return nil }
func (v *vertex) GetTensor() tensor.Tensor        { return v.tensor }

func (s *scribe) NewNode() graph.Node {
	v := &vertex{id: s.WeightedDirectedGraph.NewNode().ID()}
	s.byID[v.id] = v
	return v
}

// SetWeightedEdge is called for the inputs of a node in order.
func (s *scribe) SetWeightedEdge(e graph.WeightedEdge) {
	s.reads[e.From().ID()] = append(s.reads[e.From().ID()], s.byID[e.To().ID()])
	if e.From().ID() != e.To().ID() {
		s.WeightedDirectedGraph.SetWeightedEdge(e)
	}
}

func (s *scribe) ApplyOperation(op onnx.Operation, out ...graph.Node) error {
	if len(out) != 1 {
		return fmt.Errorf("operator %s has %d outputs, want 1", op.Name, len(out))
	}
	v := s.byID[out[0].ID()]
	s.made[v] = true
	in := s.reads[v.id]
	if op.Name == "Constant" {
		in = nil // onnx-go makes one up
	}
	s.steps = append(s.steps, applied{op, in, v})
	return nil
}

// input is a value that a node reads: computed before, an input of the graph,
// or a constant.
func (s *scribe) input(v *vertex) (*value, error) {
	switch {
	case v.value != nil:
		return v.value, nil
	case v.name == "":
		return nil, nil
	case s.made[v] || v.tensor == nil:
		return nil, fmt.Errorf("value %q is read before it is made", v.name)
	}
	c, err := constant(v.name, v.tensor)
	v.value = c
	return c, err
}

// constant takes over a tensor.
func constant(name string, t tensor.Tensor) (*value, error) {
	v := &value{name: name, shape: append([]int{}, t.Shape()...), known: true}
	switch d := t.Data().(type) {
	case []float32:
		v.data = d
	case float32:
		v.data = []float32{d}
	case []int64:
		v.ints = d
	case int64:
		v.ints = []int64{d}
	default:
		return nil, fmt.Errorf("constant %q is neither float32 nor int64", name)
	}
	if v.ints != nil {
		v.whole = true
		for _, i := range v.ints {
			v.data = append(v.data, float32(i))
		}
	}
	if len(v.data) != v.len() {
		return nil, fmt.Errorf("constant %q has %d elements, want %d", name, len(v.data), v.len())
	}
	return v, nil
}
