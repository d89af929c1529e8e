package landmark

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"volar/internal/infer"
)

// model is a loaded graph with its buffers: one square picture in, some
// tensors out, all kept from run to run.
type model struct {
	name  string
	graph infer.Graph
	input []float32 // three planes red, green, blue, 0 to 1
	in    []infer.Tensor
	out   []infer.Tensor
}

// newModel checks that the graph takes one picture of side by side pixels in
// planes (NCHW) and allocates its buffers.
func newModel(name string, g infer.Graph, side int) (*model, error) {
	ins, outs := g.Inputs(), g.Outputs()
	if want := []int{1, 3, side, side}; len(ins) != 1 || !slices.Equal(ins[0].Shape, want) {
		return nil, fmt.Errorf("%s model: want one input of shape %v, have %v", name, want, ins)
	}
	m := &model{name: name, graph: g, in: infer.NewTensors(ins), out: infer.NewTensors(outs)}
	m.input = m.in[0].Data
	return m, nil
}

func (m *model) run() error {
	if err := m.graph.Run(m.in, m.out); err != nil {
		return fmt.Errorf("%s model: %w", m.name, err)
	}
	return nil
}

// required returns the buffer of the named output, which must have n numbers.
func (m *model) required(name string, n int) ([]float32, error) {
	data := m.optional(name, n)
	if data == nil {
		return nil, fmt.Errorf("%s model: want an output %q of %d numbers, have %s", m.name, name, n, m.outputNames())
	}
	return data, nil
}

// optional returns the buffer of the named output, or nil if the model has
// none of that name with n numbers.
func (m *model) optional(name string, n int) []float32 {
	for _, t := range m.out {
		if t.Name == name && len(t.Data) == n {
			return t.Data
		}
	}
	return nil
}

func (m *model) outputNames() string {
	var s []string
	for _, t := range m.out {
		s = append(s, fmt.Sprintf("%s%v", t.Name, t.Shape))
	}
	return strings.Join(s, ", ")
}

func (m *model) close() error { return m.graph.Close() }

// closeAll closes what is there and joins the errors.
func closeAll(models ...*model) error {
	var errs []error
	for _, m := range models {
		if m != nil {
			errs = append(errs, m.close())
		}
	}
	return errors.Join(errs...)
}
