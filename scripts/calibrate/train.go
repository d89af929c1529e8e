package main

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"

	"volar/internal/goniometry/calibration"
)

// trainer fits a network by Adam with decoupled weight decay (Kingma and Ba
// 2015, arXiv 1412.6980; Loshchilov and Hutter 2019, arXiv 1711.05101) under a
// cosine schedule.
type trainer struct {
	Epochs, Batch int
	Rate, Decay   float64
	// Noise is the standard deviation of Gaussian noise on the standardised
	// inputs, and Drop the share of hidden units left out in each step: both
	// against learning the rendered hands by heart.
	Noise, Drop float64
	rng         *rand.Rand

	sizes       []int
	mean, scale []float64
	params      []param
	steps       int
}

// param is one matrix or bias with its gradient and Adam's moments.
type param struct {
	v, grad, m1, m2 []float64
	decays          bool
}

func (t *trainer) weights(k int) *param { return &t.params[2*k] }
func (t *trainer) bias(k int) *param    { return &t.params[2*k+1] }
func (t *trainer) layers() int          { return len(t.sizes) - 1 }

// loss returns the loss of the outputs for sample i and writes its gradient.
type loss func(i int, out, grad []float64) float64

// fit trains on the rows of x, each sizes[0] long, and returns the mean loss
// of the last epoch.
func (t *trainer) fit(x []float64, sizes []int, f loss) float64 {
	t.sizes = sizes
	t.standardise(x)
	t.start()
	n := len(x) / sizes[0]
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	p := newPasses(t)
	total, mean := t.Epochs*(n/t.Batch), 0.0
	for range t.Epochs {
		t.rng.Shuffle(n, func(i, j int) { order[i], order[j] = order[j], order[i] })
		mean = 0
		for s := 0; s+t.Batch <= n; s += t.Batch {
			rows := order[s : s+t.Batch]
			p.forward(x, rows)
			for r, i := range rows {
				mean += f(i, p.out(r), p.outGrad(r))
			}
			p.backward()
			t.step(total)
		}
		mean /= float64(n / t.Batch * t.Batch)
	}
	return mean
}

func (t *trainer) standardise(x []float64) {
	in := t.sizes[0]
	n := float64(len(x) / in)
	t.mean, t.scale = make([]float64, in), make([]float64, in)
	for i, v := range x {
		t.mean[i%in] += v / n
	}
	for i, v := range x {
		d := v - t.mean[i%in]
		t.scale[i%in] += d * d / n
	}
	for i, v := range t.scale {
		// A constant input says nothing.
		if t.scale[i] = 0; v > 1e-12 {
			t.scale[i] = 1 / math.Sqrt(v)
		}
	}
}

// start draws the first weights (He et al. 2015, arXiv 1502.01852).
func (t *trainer) start() {
	t.params, t.steps = nil, 0
	for k := range t.layers() {
		in, out := t.sizes[k], t.sizes[k+1]
		for _, n := range []int{in * out, out} {
			t.params = append(t.params, param{
				v: make([]float64, n), grad: make([]float64, n), m1: make([]float64, n), m2: make([]float64, n), decays: n == in*out,
			})
		}
		w := t.weights(k).v
		for i := range w {
			w[i] = t.rng.NormFloat64() * math.Sqrt(2/float64(in))
		}
	}
}

// step is one step of Adam out of total.
func (t *trainer) step(total int) {
	const b1, b2, warmUp = 0.9, 0.999, 200
	t.steps++
	done := float64(t.steps) / float64(total)
	rate := t.Rate * math.Min(1, float64(t.steps)/warmUp) * 0.5 * (1 + math.Cos(math.Pi*done))
	c1, c2 := 1-math.Pow(b1, float64(t.steps)), 1-math.Pow(b2, float64(t.steps))
	for k := range t.params {
		p := &t.params[k]
		for i, g := range p.grad {
			p.m1[i] = b1*p.m1[i] + (1-b1)*g
			p.m2[i] = b2*p.m2[i] + (1-b2)*g*g
			d := p.m1[i] / c1 / (math.Sqrt(p.m2[i]/c2) + 1e-8)
			if p.decays {
				d += t.Decay * p.v[i]
			}
			p.v[i] -= rate * d
		}
	}
}

// network returns what was fitted.
func (t *trainer) network() calibration.Network {
	n := calibration.Network{Mean: narrow(t.mean), Scale: narrow(t.scale)}
	for k := range t.layers() {
		n.Layers = append(n.Layers, calibration.Layer{Weights: narrow(t.weights(k).v), Bias: narrow(t.bias(k).v)})
	}
	return n
}

func narrow(x []float64) []float32 {
	out := make([]float32, len(x))
	for i, v := range x {
		out[i] = float32(v)
	}
	return out
}

// passes holds the matrices of one batch, a row for each sample.
type passes struct {
	t *trainer
	// act are the units of each layer, sum what went into them, back the
	// gradients, keep the units' factors under drop-out.
	act, sum, back, keep [][]float64
}

func newPasses(t *trainer) *passes {
	p := &passes{t: t}
	for _, n := range t.sizes {
		for _, m := range []*[][]float64{&p.act, &p.sum, &p.back, &p.keep} {
			*m = append(*m, make([]float64, n*t.Batch))
		}
	}
	return p
}

func (p *passes) row(m [][]float64, k, r int) []float64 {
	n := p.t.sizes[k]
	return m[k][r*n : (r+1)*n]
}
func (p *passes) out(r int) []float64     { return p.row(p.act, p.t.layers(), r) }
func (p *passes) outGrad(r int) []float64 { return p.row(p.back, p.t.layers(), r) }

func matrix(rows, cols int, d []float64) blas64.General {
	return blas64.General{Rows: rows, Cols: cols, Stride: cols, Data: d}
}

func (p *passes) forward(x []float64, rows []int) {
	t := p.t
	in := t.sizes[0]
	for r, i := range rows {
		a := p.row(p.act, 0, r)
		for c, v := range x[i*in : (i+1)*in] {
			z := (v-t.mean[c])*t.scale[c] + t.Noise*t.rng.NormFloat64()
			a[c] = math.Max(-calibration.InputLimit, math.Min(calibration.InputLimit, z))
		}
	}
	for k := range t.layers() {
		n, m := t.sizes[k], t.sizes[k+1]
		for r := range rows {
			copy(p.row(p.sum, k+1, r), t.bias(k).v)
		}
		blas64.Gemm(blas.NoTrans, blas.Trans, 1, matrix(t.Batch, n, p.act[k]), matrix(m, n, t.weights(k).v), 1, matrix(t.Batch, m, p.sum[k+1]))
		if k+1 == t.layers() {
			copy(p.act[k+1], p.sum[k+1])
			continue
		}
		for i, z := range p.sum[k+1] {
			p.keep[k+1][i] = 1 / (1 - t.Drop)
			if t.rng.Float64() < t.Drop {
				p.keep[k+1][i] = 0
			}
			p.act[k+1][i] = p.keep[k+1][i] * z / (1 + math.Exp(-z))
		}
	}
}

func (p *passes) backward() {
	t := p.t
	each := 1 / float64(t.Batch)
	for k := t.layers() - 1; k >= 0; k-- {
		n, m := t.sizes[k], t.sizes[k+1]
		back := matrix(t.Batch, m, p.back[k+1])
		blas64.Gemm(blas.Trans, blas.NoTrans, each, back, matrix(t.Batch, n, p.act[k]), 0, matrix(m, n, t.weights(k).grad))
		b := t.bias(k).grad
		clear(b)
		for r := range t.Batch {
			for i, g := range p.row(p.back, k+1, r) {
				b[i] += g * each
			}
		}
		if k == 0 {
			break
		}
		blas64.Gemm(blas.NoTrans, blas.NoTrans, 1, back, matrix(m, n, t.weights(k).v), 0, matrix(t.Batch, n, p.back[k]))
		for i, z := range p.sum[k] {
			s := 1 / (1 + math.Exp(-z))
			p.back[k][i] *= p.keep[k][i] * s * (1 + z*(1-s))
		}
	}
}
