package convert

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/infer"
	"volar/scripts/convert-models/tflite"
)

// net builds small networks. Tensor 0 is the input, an image.
type net struct{ tflite.Model }

func newNet(shape ...int) *net {
	n := &net{}
	n.tensor(shape...)
	n.In = []int{0}
	return n
}

func (n *net) tensor(shape ...int) int {
	n.Tensors = append(n.Tensors, tflite.Tensor{Shape: shape})
	return len(n.Tensors) - 1
}

func (n *net) floats(v []float32, shape ...int) int {
	i := n.tensor(shape...)
	for _, x := range v {
		n.Tensors[i].Data = binary.LittleEndian.AppendUint32(n.Tensors[i].Data, math.Float32bits(x))
	}
	return i
}

func (n *net) ints(v ...int) int {
	i := n.tensor(len(v))
	n.Tensors[i].Type = tflite.Int32
	for _, x := range v {
		n.Tensors[i].Data = binary.LittleEndian.AppendUint32(n.Tensors[i].Data, uint32(int32(x)))
	}
	return i
}

func (n *net) op(c tflite.Code, o tflite.Options, out int, in ...int) int {
	n.Ops = append(n.Ops, tflite.Op{Code: c, In: in, Out: []int{out}, Options: o})
	return out
}

// flat ends the network: image t flattened in the original's order, which
// makes the outputs comparable with NHWC arithmetic.
func (n *net) flat(t int) *tflite.Model {
	out := t
	if s := n.Tensors[t].Shape; len(s) == 4 {
		out = n.op(tflite.Reshape, tflite.Options{}, n.tensor(1, product(s)), t)
	}
	n.Out = []int{out}
	return &n.Model
}

func spec(opset int) Spec {
	return Spec{Name: "test", Input: "in", Outputs: []string{"out"}, Opset: opset}
}

// run converts a network, runs it on an NHWC image and returns its output.
func run(t *testing.T, m *tflite.Model, opset int, nhwc []float32) []float32 {
	t.Helper()
	b, err := ToONNX(m, spec(opset))
	require.NoError(t, err)
	e, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	defer func() { require.NoError(t, e.Close()) }()
	g, err := e.Load(b, infer.Options{Threads: 1})
	require.NoError(t, err)
	defer func() { require.NoError(t, g.Close()) }()
	in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
	nchw, _ := permute(nhwc, m.Tensors[0].Shape, []int{0, 3, 1, 2})
	copy(in[0].Data, nchw)
	require.NoError(t, g.Run(in, out))
	return out[0].Data
}

func random(r *rand.Rand, n int) []float32 {
	v := make([]float32, n)
	for i := range v {
		v[i] = float32(r.NormFloat64())
	}
	return v
}

// convolve is the definition of TensorFlow's 2-D convolution on one NHWC
// image: filters OHWI, or 1HWC when depthwise; SAME padding puts the odd pixel
// at the bottom and right.
func convolve(x []float32, h, w, c int, f []float32, kh, kw, oc int, bias []float32, o tflite.Options, depthwise bool) (y []float32, oh, ow int) {
	size := func(n, k, s, d int) (out, before int) {
		span := (k-1)*d + 1
		if o.Valid {
			return (n-span)/s + 1, 0
		}
		out = (n + s - 1) / s
		return out, max((out-1)*s+span-n, 0) / 2
	}
	oh, top := size(h, kh, o.Stride[0], o.Dilation[0])
	ow, left := size(w, kw, o.Stride[1], o.Dilation[1])
	for i := range oh {
		for j := range ow {
			for k := range oc {
				sum := bias[k]
				for a := range kh {
					for b := range kw {
						p, q := i*o.Stride[0]-top+a*o.Dilation[0], j*o.Stride[1]-left+b*o.Dilation[1]
						if p < 0 || p >= h || q < 0 || q >= w {
							continue
						}
						if depthwise {
							sum += x[(p*w+q)*c+k] * f[(a*kw+b)*c+k]
							continue
						}
						for l := range c {
							sum += x[(p*w+q)*c+l] * f[((k*kh+a)*kw+b)*c+l]
						}
					}
				}
				y = append(y, sum)
			}
		}
	}
	return y, oh, ow
}

func TestConvolution(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for name, c := range map[string]struct {
		h, w, c, kh, kw, oc int
		o                   tflite.Options
		depthwise           bool
	}{
		"same, odd window":         {6, 5, 3, 3, 3, 4, tflite.Options{Stride: [2]int{1, 1}}, false},
		"same, stride 2, even":     {8, 8, 2, 3, 3, 5, tflite.Options{Stride: [2]int{2, 2}}, false},
		"same, stride 2, odd":      {7, 9, 2, 5, 5, 3, tflite.Options{Stride: [2]int{2, 2}}, false},
		"same, even window":        {6, 6, 2, 2, 4, 3, tflite.Options{Stride: [2]int{1, 1}}, false},
		"valid, unequal strides":   {9, 8, 2, 3, 2, 3, tflite.Options{Valid: true, Stride: [2]int{2, 3}}, false},
		"dilated":                  {9, 9, 2, 3, 3, 3, tflite.Options{Stride: [2]int{1, 1}, Dilation: [2]int{2, 3}}, false},
		"depthwise, stride 2":      {8, 7, 4, 5, 5, 4, tflite.Options{Stride: [2]int{2, 2}, Multiplier: 1}, true},
		"depthwise, valid":         {8, 7, 3, 3, 2, 3, tflite.Options{Valid: true, Stride: [2]int{1, 1}, Multiplier: 1}, true},
		"one by one":               {4, 4, 8, 1, 1, 2, tflite.Options{Valid: true, Stride: [2]int{1, 1}}, false},
		"clipped at 0":             {6, 6, 3, 3, 3, 4, tflite.Options{Stride: [2]int{1, 1}, Activation: tflite.FusedReLU}, false},
		"clipped between 0 and 6":  {6, 6, 3, 3, 3, 4, tflite.Options{Stride: [2]int{1, 1}, Activation: tflite.FusedReLU6}, false},
		"depthwise and clipped, 6": {6, 6, 3, 3, 3, 3, tflite.Options{Stride: [2]int{1, 1}, Multiplier: 1, Activation: tflite.FusedReLU6}, true},
	} {
		t.Run(name, func(t *testing.T) {
			if c.o.Dilation == [2]int{} {
				c.o.Dilation = [2]int{1, 1}
			}
			code, filterShape := tflite.Conv2D, []int{c.oc, c.kh, c.kw, c.c}
			if c.depthwise {
				code, filterShape = tflite.DepthwiseConv2D, []int{1, c.kh, c.kw, c.c}
			}
			x, f, bias := random(r, c.h*c.w*c.c), random(r, product(filterShape)), random(r, c.oc)
			for i := range f {
				f[i] *= 2 // so that some sums pass 6
			}
			want, oh, ow := convolve(x, c.h, c.w, c.c, f, c.kh, c.kw, c.oc, bias, c.o, c.depthwise)
			for i, v := range want {
				if c.o.Activation != tflite.NoActivation {
					want[i] = max(v, 0)
				}
				if c.o.Activation == tflite.FusedReLU6 {
					want[i] = min(want[i], 6)
				}
			}
			n := newNet(1, c.h, c.w, c.c)
			y := n.op(code, c.o, n.tensor(1, oh, ow, c.oc), 0, n.floats(f, filterShape...), n.floats(bias, c.oc))
			m := n.flat(y)
			for _, opset := range []int{10, 11} {
				require.InDeltaSlice(t, want, run(t, m, opset, x), 1e-4)
			}
		})
	}
}

// TestWidenedWeights has the weights behind a DEQUANTIZE, as the models have.
func TestWidenedWeights(t *testing.T) {
	n := newNet(1, 1, 1, 2)
	half := n.tensor(1, 1, 1, 2)
	n.Tensors[half].Type = tflite.Float16
	n.Tensors[half].Data = []byte{0x00, 0x3c, 0x00, 0x42} // 1, 3
	wide := n.op(tflite.Dequantize, tflite.Options{}, n.tensor(1, 1, 1, 2), half)
	y := n.op(tflite.Conv2D, tflite.Options{Valid: true, Stride: [2]int{1, 1}, Dilation: [2]int{1, 1}}, n.tensor(1, 1, 1, 1), 0, wide)
	require.Equal(t, []float32{2*1 + 5*3}, run(t, n.flat(y), 10, []float32{2, 5}))
}

// TestOperators compares single operators with results worked out by hand.
func TestOperators(t *testing.T) {
	image := []float32{ // 2 by 2 pixels of 2 channels
		1, 10, 2, -20,
		-3, 30, 4, 40}
	for name, c := range map[string]struct {
		build func(n *net) int
		want  []float32
	}{
		"add to itself": {func(n *net) int {
			return n.op(tflite.Add, tflite.Options{}, n.tensor(1, 2, 2, 2), 0, 0)
		}, []float32{2, 20, 4, -40, -6, 60, 8, 80}},
		"add, clipped at 6": {func(n *net) int {
			return n.op(tflite.Add, tflite.Options{Activation: tflite.FusedReLU6}, n.tensor(1, 2, 2, 2), 0, 0)
		}, []float32{2, 6, 4, 0, 0, 6, 6, 6}},
		"slope a channel": {func(n *net) int {
			return n.op(tflite.PReLU, tflite.Options{}, n.tensor(1, 2, 2, 2), 0, n.floats([]float32{0.5, 0.1}, 1, 1, 2))
		}, []float32{1, 10, 2, -2, -1.5, 30, 4, 40}},
		"rectify": {func(n *net) int {
			return n.op(tflite.ReLU, tflite.Options{}, n.tensor(1, 2, 2, 2), 0)
		}, []float32{1, 10, 2, 0, 0, 30, 4, 40}},
		"clip": {func(n *net) int {
			return n.op(tflite.ReLU6, tflite.Options{}, n.tensor(1, 2, 2, 2), 0)
		}, []float32{1, 6, 2, 0, 0, 6, 4, 6}},
		"largest of four": {func(n *net) int {
			o := tflite.Options{Stride: [2]int{2, 2}, Filter: [2]int{2, 2}}
			return n.op(tflite.MaxPool2D, o, n.tensor(1, 1, 1, 2), 0)
		}, []float32{4, 40}},
		"a row above, two channels after": {func(n *net) int {
			return n.op(tflite.Pad, tflite.Options{}, n.tensor(1, 3, 2, 4), 0, n.ints(0, 0, 1, 0, 0, 0, 0, 2))
		}, []float32{0, 0, 0, 0, 0, 0, 0, 0, 1, 10, 0, 0, 2, -20, 0, 0, -3, 30, 0, 0, 4, 40, 0, 0}},
		"twice as large, half-pixel centres": {func(n *net) int {
			// One channel in one row: 1, 2 becomes 1, 1.25, 1.75, 2.
			o := tflite.Options{HalfPixel: true}
			return n.op(tflite.ResizeBilinear, o, n.tensor(1, 2, 4, 2), 0, n.ints(2, 4))
		}, []float32{1, 10, 1.25, 2.5, 1.75, -12.5, 2, -20, -3, 30, -1.25, 32.5, 2.25, 37.5, 4, 40}},
		"twice as large, corners aligned": {func(n *net) int {
			o := tflite.Options{AlignCorners: true}
			return n.op(tflite.ResizeBilinear, o, n.tensor(1, 2, 3, 2), 0, n.ints(2, 3))
		}, []float32{1, 10, 1.5, -5, 2, -20, -3, 30, 0.5, 35, 4, 40}},
		"channels side by side": {func(n *net) int {
			return n.op(tflite.Concatenation, tflite.Options{Axis: 3}, n.tensor(1, 2, 2, 4), 0, 0)
		}, []float32{1, 10, 1, 10, 2, -20, 2, -20, -3, 30, -3, 30, 4, 40, 4, 40}},
		"rows below one another": {func(n *net) int {
			return n.op(tflite.Concatenation, tflite.Options{Axis: -3}, n.tensor(1, 4, 2, 2), 0, 0)
		}, append(append([]float32(nil), image...), image...)},
		"mean, then a full connection": {func(n *net) int {
			mean := n.op(tflite.Mean, tflite.Options{}, n.tensor(1, 2), 0, n.ints(2, 1)) // (1, 15)
			return n.op(tflite.FullyConnected, tflite.Options{}, n.tensor(1, 3), mean,
				n.floats([]float32{1, 0, 0, 1, 2, -1}, 3, 2), n.floats([]float32{0, 1, 0.5}, 3))
		}, []float32{1, 16, -12.5}},
		"squash": {func(n *net) int {
			mean := n.op(tflite.Mean, tflite.Options{}, n.tensor(1, 2), 0, n.ints(1, 2))
			return n.op(tflite.Logistic, tflite.Options{}, n.tensor(1, 2), mean)
		}, []float32{float32(1 / (1 + math.Exp(-1))), float32(1 / (1 + math.Exp(-15)))}},
	} {
		t.Run(name, func(t *testing.T) {
			n := newNet(1, 2, 2, 2)
			require.InDeltaSlice(t, c.want, run(t, n.flat(c.build(n)), 11, image), 1e-5)
		})
	}
}

func TestRefuses(t *testing.T) {
	one := [2]int{1, 1}
	conv := tflite.Options{Stride: one, Dilation: one}
	for name, build := range map[string]func(n *net){
		"an unknown operator": func(n *net) { n.op(tflite.Code(99), tflite.Options{}, n.tensor(1, 8), 0) },
		"an unknown activation": func(n *net) {
			n.op(tflite.Add, tflite.Options{Activation: 4}, n.tensor(1, 2, 2, 2), 0, 0)
		},
		"a sum that broadcasts": func(n *net) {
			n.op(tflite.Add, tflite.Options{}, n.tensor(1, 2, 2, 2), 0, n.tensor(1, 1, 1, 2))
		},
		"a missing operand": func(n *net) { n.op(tflite.Add, tflite.Options{}, n.tensor(1, 2, 2, 2), 0, -1) },
		"a computed filter": func(n *net) { n.op(tflite.Conv2D, conv, n.tensor(1, 2, 2, 2), 0, 0) },
		"an integer filter": func(n *net) { n.op(tflite.Conv2D, conv, n.tensor(1, 2, 2, 2), 0, n.ints(1, 2)) },
		"a stride of zero":  func(n *net) { n.op(tflite.MaxPool2D, tflite.Options{}, n.tensor(1, 2, 2, 2), 0) },
		"a wrong bias": func(n *net) {
			n.op(tflite.Conv2D, conv, n.tensor(1, 2, 2, 1), 0, n.floats([]float32{1, 1}, 1, 1, 1, 2), n.floats([]float32{1, 2}, 2))
		},
		"two outputs a channel": func(n *net) {
			o := conv
			o.Multiplier = 2
			n.op(tflite.DepthwiseConv2D, o, n.tensor(1, 2, 2, 4), 0, n.floats(make([]float32, 4), 1, 1, 1, 4))
		},
		"a mean over channels": func(n *net) { n.op(tflite.Mean, tflite.Options{}, n.tensor(1, 4), 0, n.ints(2, 3)) },
		"a slope a pixel": func(n *net) {
			n.op(tflite.PReLU, tflite.Options{}, n.tensor(1, 2, 2, 2), 0, n.floats(make([]float32, 8), 2, 2, 2))
		},
		"a far axis":         func(n *net) { n.op(tflite.Concatenation, tflite.Options{Axis: 4}, n.tensor(1, 2, 2, 4), 0, 0) },
		"a widened variable": func(n *net) { n.op(tflite.Dequantize, tflite.Options{}, n.tensor(1, 2, 2, 2), 0) },
	} {
		t.Run(name, func(t *testing.T) {
			n := newNet(1, 2, 2, 2)
			build(n)
			n.Out = []int{n.tensor(1, 8)}
			_, err := ToONNX(&n.Model, spec(11))
			require.ErrorIs(t, err, ErrUnsupported)
			require.ErrorContains(t, err, "operator 0")
		})
	}
	t.Run("padding before operator set 11", func(t *testing.T) {
		n := newNet(1, 2, 2, 2)
		y := n.op(tflite.Pad, tflite.Options{}, n.tensor(1, 2, 2, 4), 0, n.ints(0, 0, 0, 0, 0, 0, 0, 2))
		_, err := ToONNX(n.flat(y), spec(10))
		require.ErrorIs(t, err, ErrUnsupported)
		require.ErrorContains(t, err, "use 11")
	})
	t.Run("the shape of the whole", func(t *testing.T) {
		n := newNet(1, 2, 2, 2)
		n.Out = []int{0}
		for _, s := range []Spec{spec(9), spec(11), {Opset: 11, Input: "in", Outputs: []string{"a", "b"}}} {
			_, err := ToONNX(&n.Model, s)
			require.ErrorIs(t, err, ErrUnsupported)
		}
	})
}
