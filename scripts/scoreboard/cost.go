package main

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"volar/internal/infer"
	"volar/models"
)

// Both graphs run in turn, so that they see the same machine; a block of turns
// is what the interval is drawn over.
const (
	costBlocks, costTurns = 20, 10
	costThreads           = 2 // as the program runs them
)

// cost times the hand model beside the landmark network that it is made from.
func cost(e infer.Engine) (_ Section, err error) {
	s := sheet{Section{ID: "cost", Title: "Time of the hand model beside the landmark network alone", About: []string{
		fmt.Sprintf("Median of %d runs of either, in turn, %d threads, %s. It hangs on the machine and on what else it does; the difference less so.", costBlocks*costTurns, costThreads, e.Name()),
	}}, costBlocks}
	var took [2][]float64 // milliseconds
	var graphs [2]infer.Graph
	var in, out [2][]infer.Tensor
	for i, get := range []func() ([]byte, error){models.HandLandmark, models.HandAngles} {
		b, err := get()
		if err != nil {
			return s.Section, err
		}
		g, err := e.Load(b, infer.Options{Threads: costThreads})
		if err != nil {
			return s.Section, err
		}
		defer func() { err = errors.Join(err, g.Close()) }()
		graphs[i], in[i], out[i] = g, infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
		r := rand.New(rand.NewPCG(1, 2))
		for k := range in[i][0].Data {
			in[i][0].Data[k] = r.Float32()
		}
	}
	for turn := range costTurns + costBlocks*costTurns {
		for i, g := range graphs {
			start := time.Now()
			if err := g.Run(in[i], out[i]); err != nil {
				return s.Section, err
			}
			if turn >= costTurns { // the first ones warm up
				took[i] = append(took[i], time.Since(start).Seconds()*1000)
			}
		}
	}
	row := func(key, name string, ms func(turn int) float64, g Goal) {
		s.add(Figure{Key: key, Row: name, Column: "median", Unit: "ms", N: costBlocks * costTurns, Groups: costBlocks, Goal: g}, func(times []int) float64 {
			var v []float64
			for b := range costBlocks {
				k := 1
				if times != nil {
					k = times[b]
				}
				for t := range costTurns {
					for range k {
						v = append(v, ms(b*costTurns+t))
					}
				}
			}
			slices.Sort(v)
			return quantile(v, .5)
		})
	}
	row("cost.landmarks", "landmark network alone", func(t int) float64 { return took[0][t] }, Goal{})
	row("cost.angles", "with the angle head", func(t int) float64 { return took[1][t] }, Goal{})
	row("cost.added", "added by the head", func(t int) float64 { return took[1][t] - took[0][t] },
		Goal{Better: Lower, Target: .8, Name: "time of the one graph over the landmark network alone", Before: "+2.0 ms"})
	return s.Section, nil
}
