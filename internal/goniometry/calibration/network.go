package calibration

import (
	"fmt"
	"math"
)

// Network is a small feed-forward network: standardised inputs, layers of
// weighted sums each followed by x·sigmoid(x), and a last layer without.
type Network struct {
	// Mean and Scale standardise the inputs: (x - Mean) * Scale, held within
	// InputLimit so that a posture unlike any rendered one cannot throw the
	// answer far.
	Mean, Scale []float32
	// Layers from the input to the output.
	Layers []Layer
}

// Layer is one weighted sum; Weights holds a row for each output.
type Layer struct {
	Weights, Bias []float32
}

// InputLimit bounds the standardised inputs either way.
const InputLimit = 5

// Check reports a network whose parts do not fit together or whose numbers
// are not finite.
func (n *Network) Check(in, out int) error {
	if len(n.Mean) != in || len(n.Scale) != in {
		return fmt.Errorf("network: %d means and %d scales for %d inputs", len(n.Mean), len(n.Scale), in)
	}
	if len(n.Layers) == 0 {
		return fmt.Errorf("network: no layers")
	}
	all := [][]float32{n.Mean, n.Scale}
	for i, l := range n.Layers {
		if len(l.Bias) == 0 || len(l.Weights) != in*len(l.Bias) {
			return fmt.Errorf("network: layer %d has %d weights for %d inputs and %d outputs", i, len(l.Weights), in, len(l.Bias))
		}
		in = len(l.Bias)
		all = append(all, l.Weights, l.Bias)
	}
	if in != out {
		return fmt.Errorf("network: %d outputs, want %d", in, out)
	}
	for _, p := range all {
		for _, v := range p {
			if math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
				return fmt.Errorf("network: a number is not finite")
			}
		}
	}
	return nil
}

// Scratch holds a network's intermediate results between runs.
type Scratch struct{ rows [][]float64 }

func (s *Scratch) row(i, n int) []float64 {
	for len(s.rows) <= i {
		s.rows = append(s.rows, nil)
	}
	if cap(s.rows[i]) < n {
		s.rows[i] = make([]float64, n)
	}
	s.rows[i] = s.rows[i][:n]
	return s.rows[i]
}

// Run returns the outputs for the inputs x, which must be as many as Check
// was told. The next Run with the same Scratch overwrites the result.
func (n *Network) Run(x []float64, s *Scratch) []float64 {
	a := s.row(0, len(x))
	for i, v := range x {
		a[i] = math.Max(-InputLimit, math.Min(InputLimit, (v-float64(n.Mean[i]))*float64(n.Scale[i])))
	}
	for k := range n.Layers {
		l := &n.Layers[k]
		b := s.row(k+1, len(l.Bias))
		for o := range b {
			w := l.Weights[o*len(a) : (o+1)*len(a)]
			sum := float64(l.Bias[o])
			for i, v := range a {
				sum += float64(w[i]) * v
			}
			if k+1 < len(n.Layers) {
				sum /= 1 + math.Exp(-sum)
			}
			b[o] = sum
		}
		a = b
	}
	return a
}
