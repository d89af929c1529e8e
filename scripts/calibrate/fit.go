package main

import (
	"math"
	"math/rand/v2"

	"volar/internal/goniometry"
	"volar/internal/goniometry/calibration"
	"volar/internal/hand"
)

// example is a record made ready for fitting.
type example struct {
	goniometry.Description
	target  [hand.NumJoints]float64
	visible [hand.NumJoints]bool
	yaw     float64
	mesh    int
}

// examples describes the records; the few whose points have collapsed are left
// out.
func examples(records []record, depth *calibration.Depth) []example {
	var out []example
	for i := range records {
		r := &records[i]
		d, ok := goniometry.Describe(r.Seen, depth)
		if !ok {
			continue
		}
		e := example{Description: d, target: r.FlexionDeg, yaw: r.YawDeg, mesh: r.Mesh}
		for j := range e.visible {
			_, b, c := hand.Joint(j).Triple()
			e.visible[j] = r.Visible[b] && r.Visible[c]
		}
		out = append(out, e)
	}
	return out
}

// jointsOf lists a digit's joints from the palm outwards.
func jointsOf(f hand.Finger) []hand.Joint {
	if f == hand.Thumb {
		return []hand.Joint{hand.ThumbMP, hand.ThumbIP}
	}
	return []hand.Joint{hand.JointOf(f, hand.MCP), hand.JointOf(f, hand.PIP), hand.JointOf(f, hand.DIP)}
}

// fitDigits fits the network that the given digits share.
func fitDigits(ex []example, digits []hand.Finger, t trainer, hidden []int) (calibration.Network, float64) {
	type sample struct {
		e *example
		f hand.Finger
	}
	var samples []sample
	var x []float64
	for i := range ex {
		for _, f := range digits {
			samples = append(samples, sample{&ex[i], f})
			x = append(x, ex[i].Digits[f][:]...)
		}
	}
	n := len(jointsOf(digits[0]))
	weight := balance(ex)
	sizes := append(append([]int{calibration.FeatureCount}, hidden...), 3*n)
	l := t.fit(x, sizes, func(i int, out, grad []float64) float64 {
		s := samples[i]
		sum := 0.0
		for k, j := range jointsOf(s.f) {
			w := weight(s.e, j)
			sum += w * laplace(out[k], calibration.Target(s.e.target[j]), out[n+k], &grad[k], &grad[n+k])
			grad[k] *= w
			grad[n+k] *= w
			sum += seen(out[2*n+k], s.e.visible[j], &grad[2*n+k])
		}
		return sum / float64(n)
	})
	return t.network(), l
}

// binDeg is the width of the bins over which angles are balanced, and
// leastWeight and mostWeight bound what a sample may count.
const binDeg, leastWeight, mostWeight = 8, 0.3, 4

// balance returns weights that bring the angles of a joint nearer to counting
// the same in views from the side: one over the root of how often an angle
// comes, within bounds. The network's answer leans to what it has seen
// most often where the points leave a doubt, and most fingers are straight: a
// joint 15 degrees past straight would be called straight too.
func balance(ex []example) func(e *example, j hand.Joint) float64 {
	type key struct{ level, bin int }
	at := func(e *example, j hand.Joint) key {
		return key{calibration.LevelOf(j), int(math.Floor(e.target[j] / binDeg))}
	}
	count := map[key]float64{}
	bins, all := [calibration.Levels]float64{}, [calibration.Levels]float64{}
	for i := range ex {
		if !ex[i].sideways() {
			continue
		}
		for j := range hand.Joint(hand.NumJoints) {
			k := at(&ex[i], j)
			if count[k] == 0 {
				bins[k.level]++
			}
			count[k]++
			all[k.level]++
		}
	}
	return func(e *example, j hand.Joint) float64 {
		if !e.sideways() {
			return 1
		}
		k := at(e, j)
		return math.Max(leastWeight, math.Min(mostWeight, math.Sqrt(all[k.level]/bins[k.level]/count[k])))
	}
}

// sideways reports whether a side of the hand faces the camera.
func (e *example) sideways() bool {
	y := math.Abs(math.Remainder(e.yaw, 360))
	return y > 50 && y < 130
}

// laplace is the negative log-likelihood of an error under a Laplace density
// with the stated scale, which is kinder to outliers than a Gaussian. Each
// sample is weighted by the root of its scale, without gradient, so that easy
// samples do not drown the hard ones (after Seitzer et al. 2022, arXiv
// 2203.09168).
func laplace(out, want, logScale float64, gOut, gScale *float64) float64 {
	b := calibration.LimitLogScale(logScale)
	d, inv, w := out-want, math.Exp(-b), math.Exp(b/2)
	*gOut = math.Copysign(inv*w, d)
	*gScale = (1 - math.Abs(d)*inv) * w
	return (math.Abs(d)*inv + b) * w
}

// seenWeight is the weight of the visibility output in the loss.
const seenWeight = 0.1

// seen is the cross-entropy of the visibility output.
func seen(logOdds float64, visible bool, grad *float64) float64 {
	p, y := 1/(1+math.Exp(-logOdds)), 0.0
	if visible {
		y = 1
	}
	*grad = seenWeight * (p - y)
	q := p
	if !visible {
		q = 1 - p
	}
	return -seenWeight * math.Log(math.Max(q, 1e-9))
}

// fitView fits the network of the view by least squares.
func fitView(ex []example, t trainer, hidden []int) (calibration.Network, float64) {
	var x []float64
	for i := range ex {
		x = append(x, ex[i].View[:]...)
	}
	sizes := append(append([]int{calibration.ViewFeatureCount}, hidden...), calibration.ViewOutputs)
	l := t.fit(x, sizes, func(i int, out, grad []float64) float64 {
		sum := 0.0
		for k, want := range calibration.YawTarget(ex[i].yaw) {
			d := out[k] - want
			grad[k] = d
			sum += d * d / 2
		}
		return sum
	})
	return t.network(), l
}

// fit fits the networks and returns the last loss of each.
func fit(ex []example, seed uint64) (calibration.Networks, [3]float64) {
	t := trainer{Epochs: 60, Batch: 256, Rate: 2e-3, Decay: 0.02, Noise: 0.15, Drop: 0.1}
	var d calibration.Networks
	var l [3]float64
	t.rng = rand.New(rand.NewPCG(seed, 1))
	d.Finger, l[0] = fitDigits(ex, hand.Fingers[:], t, []int{64, 48})
	t.rng = rand.New(rand.NewPCG(seed, 2))
	d.Thumb, l[1] = fitDigits(ex, []hand.Finger{hand.Thumb}, t, []int{32, 24})
	t.rng = rand.New(rand.NewPCG(seed, 3))
	d.View, l[2] = fitView(ex, t, []int{32, 24})
	return d, l
}

// readings runs the networks on an example.
func readings(d *calibration.Networks, e *example, s *calibration.Scratch) [hand.NumJoints]calibration.Reading {
	var out [hand.NumJoints]calibration.Reading
	for f := hand.Thumb; f <= hand.Little; f++ {
		net := &d.Finger
		if f == hand.Thumb {
			net = &d.Thumb
		}
		o := net.Run(e.Digits[f][:], s)
		for k, j := range jointsOf(f) {
			out[j] = calibration.Read(o, k).Blended((e.ImageDeg[j] + e.WorldDeg[j]) / 2)
		}
	}
	return out
}

// turned runs the network of the view on an example.
func turned(d *calibration.Networks, e *example, s *calibration.Scratch) calibration.Yaw {
	return calibration.ReadYaw(d.View.Run(e.View[:], s))
}
