// Package infer runs neural networks stored as ONNX files. It knows nothing of
// hands: it takes the bytes of a model and gives back a Graph that maps
// float32 tensors of fixed shape to float32 tensors of fixed shape.
//
// The usual engine is ONNX Runtime, a shared library that OpenRuntime finds and
// loads while the program runs, so that the program starts, and can say what
// is missing, on a computer without it. Package portable beneath is another
// engine, which needs no library; it is slower.
//
// # Use
//
//	e, err := infer.OpenRuntime(infer.RuntimeOptions{})
//	g, err := e.Load(model, infer.Options{})
//	in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
//	// fill in[0].Data, then
//	err = g.Run(in, out)
//
// # Concurrency
//
// An Engine and a Graph may be used from several goroutines. Runs of one Graph
// are queued one behind the other, since they share its buffers; runs of
// different Graphs go side by side. Close waits for a run in progress. A
// Tensor's Data must not be touched by others during the Run it is passed to.
//
// # Errors
//
// ErrNoRuntime: no usable library; the text says what was tried and what to
// do. ErrModel: the bytes are not a model this package can run. ErrShape: the
// tensors passed to Run are not those of the graph. ErrClosed: use after
// Close.
package infer

import (
	"errors"
	"fmt"
	"slices"
)

// Errors that callers tell apart with errors.Is.
var (
	ErrNoRuntime = errors.New("no usable onnx runtime library")
	ErrModel     = errors.New("not a model that can be run")
	ErrShape     = errors.New("wrong tensors for this model")
	ErrClosed    = errors.New("inference engine is closed")
)

// Spec describes one input or output of a graph.
type Spec struct {
	Name  string
	Shape []int // every dimension is at least 1
}

// Len returns the number of elements.
func (s Spec) Len() int {
	n := 1
	for _, d := range s.Shape {
		n *= d
	}
	return n
}

// Tensor is a named array of numbers, row-major: the last axis of Shape runs
// fastest.
type Tensor struct {
	Name  string
	Shape []int
	Data  []float32
}

// NewTensors allocates a tensor of zeros for each spec, in the same order,
// ready for Run.
func NewTensors(specs []Spec) []Tensor {
	t := make([]Tensor, len(specs))
	for i, s := range specs {
		t[i] = Tensor{Name: s.Name, Shape: slices.Clone(s.Shape), Data: make([]float32, s.Len())}
	}
	return t
}

// Options are the settings of one graph.
type Options struct {
	// Threads that one run may keep busy; 0 stands for 2, which is what a
	// small laptop can spare beside the camera and the screen.
	Threads int
}

const defaultThreads = 2

// Graph is a loaded model.
type Graph interface {
	// Inputs and Outputs describe the tensors that Run wants, in order.
	// The result belongs to the caller.
	Inputs() []Spec
	Outputs() []Spec
	// Run computes the outputs. It takes exactly the tensors of Inputs and
	// Outputs, in that order, with those names and shapes, reads in and
	// writes into out's Data, which it does not keep. An error wraps
	// ErrShape or ErrClosed, or comes from the engine; then out is
	// unchanged.
	Run(in, out []Tensor) error
	// Close waits for a run in progress and frees the graph. Closing
	// twice does nothing.
	Close() error
}

// Engine loads models.
type Engine interface {
	// Name says which engine this is and its version, for reports.
	Name() string
	// Load prepares a model. The bytes are not needed afterwards. It does
	// not check that they are the right model: compare hashes first.
	Load(model []byte, o Options) (Graph, error)
	// Close gives the engine back. Graphs that are still open go on
	// working and keep the library loaded until they are closed.
	Close() error
}

// match checks that the tensors are those of the specs.
func match(what string, specs []Spec, tensors []Tensor) error {
	if len(tensors) != len(specs) {
		return fmt.Errorf("%w: %d %ss, want %d", ErrShape, len(tensors), what, len(specs))
	}
	for i, s := range specs {
		if err := Match(what, i, s.Name, s.Shape, tensors[i]); err != nil {
			return err
		}
	}
	return nil
}

// Match checks that a tensor, input or output i of a graph as what says, has
// the wanted name and shape and as much data. It is for engines.
func Match(what string, i int, name string, shape []int, t Tensor) error {
	if t.Name != name {
		return fmt.Errorf("%w: %s %d is %q, want %q", ErrShape, what, i, t.Name, name)
	}
	if !slices.Equal(t.Shape, shape) {
		return fmt.Errorf("%w: %s %q has shape %v, want %v", ErrShape, what, name, t.Shape, shape)
	}
	n := 1
	for _, d := range shape {
		n *= d
	}
	if len(t.Data) != n {
		return fmt.Errorf("%w: %s %q has %d numbers, want %d", ErrShape, what, name, len(t.Data), n)
	}
	return nil
}

func cloneSpecs(specs []Spec) []Spec {
	r := slices.Clone(specs)
	for i := range r {
		r[i].Shape = slices.Clone(r[i].Shape)
	}
	return r
}
