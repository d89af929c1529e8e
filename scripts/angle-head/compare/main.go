// Command compare holds a landmark network with an angle head against the
// network alone: the shared outputs must agree to the bit, and the time that
// the head adds is measured, both graphs in turn so that they see the same
// machine.
//
//	go run ./scripts/angle-head/compare models/hand_landmark.onnx models/hand_angles.onnx
package main

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"time"

	"volar/internal/infer"
)

const (
	inputs = 12  // random pictures on which the outputs are compared
	rounds = 200 // timed runs of each graph
)

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "compare:", err)
		os.Exit(1)
	}
}

type graph struct {
	infer.Graph
	in, out []infer.Tensor
}

func run(files []string) (err error) {
	if len(files) != 2 {
		return errors.New("usage: compare NETWORK.onnx WITH-HEAD.onnx")
	}
	engine, err := infer.OpenRuntime(infer.RuntimeOptions{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, engine.Close()) }()
	var g [2]graph
	for i, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			return err
		}
		l, err := engine.Load(b, infer.Options{Threads: 2})
		if err != nil {
			return fmt.Errorf("%s: %w", f, err)
		}
		defer func() { err = errors.Join(err, l.Close()) }()
		g[i] = graph{l, infer.NewTensors(l.Inputs()), infer.NewTensors(l.Outputs())}
	}
	r := rand.New(rand.NewPCG(1, 2))
	for range inputs {
		for i := range g[0].in[0].Data {
			g[0].in[0].Data[i] = r.Float32()
		}
		copy(g[1].in[0].Data, g[0].in[0].Data)
		for i := range g {
			if err := g[i].Run(g[i].in, g[i].out); err != nil {
				return err
			}
		}
		for _, t := range g[0].out {
			k := slices.IndexFunc(g[1].out, func(u infer.Tensor) bool { return u.Name == t.Name })
			if k < 0 {
				return fmt.Errorf("%s has no output %s", files[1], t.Name)
			}
			if !slices.Equal(t.Data, g[1].out[k].Data) {
				return fmt.Errorf("output %s differs", t.Name)
			}
		}
	}
	fmt.Printf("%d outputs equal to the bit on %d pictures\n", len(g[0].out), inputs)
	var took [2][]time.Duration
	for range rounds {
		for i := range g {
			start := time.Now()
			if err := g[i].Run(g[i].in, g[i].out); err != nil {
				return err
			}
			took[i] = append(took[i], time.Since(start))
		}
	}
	for i, f := range files {
		slices.Sort(took[i])
		fmt.Printf("%-40s median %.2f ms, quickest tenth %.2f ms\n", f, ms(took[i][rounds/2]), ms(took[i][rounds/10]))
	}
	fmt.Printf("the head adds %.2f ms (quickest tenth %.2f)\n", ms(took[1][rounds/2]-took[0][rounds/2]), ms(took[1][rounds/10]-took[0][rounds/10]))
	return nil
}

func ms(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }
