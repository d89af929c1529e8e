package portable

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/infer"
	"volar/scripts/convert-models/onnx"
)

// ramp is 0, 1, 2, … in a shape.
func ramp(n int) []float32 {
	r := make([]float32, n)
	for i := range r {
		r[i] = float32(i)
	}
	return r
}

// one is a graph of one operator, or a few.
type one struct {
	name  string
	opset int // 0: 11
	in    []int
	x     []float32
	make  func(g *onnx.Graph)
	out   []int
	want  []float32
}

// The values are those of the examples in the ONNX operator specification
// (Operators.md of ONNX 1.6, "Examples" of the operator named) where it gives
// any that can be written down, and else worked out by hand as said.
func operatorCases() []one {
	node := func(op string, attrs ...onnx.Attr) func(*onnx.Graph) {
		return func(g *onnx.Graph) { g.Node(op, []string{"x"}, []string{"y"}, attrs...) }
	}
	with := func(op string, dims []int, v []float32, attrs ...onnx.Attr) func(*onnx.Graph) {
		return func(g *onnx.Graph) {
			g.Floats("w", dims, v)
			g.Node(op, []string{"x", "w"}, []string{"y"}, attrs...)
		}
	}
	slice := func(lists ...[]int) func(*onnx.Graph) {
		return func(g *onnx.Graph) {
			names := []string{"x"}
			for i, l := range lists {
				n := []string{"starts", "ends", "axes", "steps"}[i]
				g.Int64s(n, l...)
				names = append(names, n)
			}
			g.Node("Slice", names, []string{"y"})
		}
	}
	ones := func(n int) []float32 {
		r := make([]float32, n)
		for i := range r {
			r[i] = 1
		}
		return r
	}
	return []one{
		// Conv, examples conv_with_padding, conv_without_padding and
		// conv_with_strides_and_asymmetric_padding: a kernel of ones over a ramp.
		{"conv padded", 0, []int{1, 1, 5, 5}, ramp(25), with("Conv", []int{1, 1, 3, 3}, ones(9), onnx.Ints("kernel_shape", 3, 3), onnx.Ints("pads", 1, 1, 1, 1)), []int{1, 1, 5, 5},
			[]float32{12, 21, 27, 33, 24, 33, 54, 63, 72, 51, 63, 99, 108, 117, 81, 93, 144, 153, 162, 111, 72, 111, 117, 123, 84}},
		{"conv", 0, []int{1, 1, 5, 5}, ramp(25), with("Conv", []int{1, 1, 3, 3}, ones(9), onnx.Ints("kernel_shape", 3, 3)), []int{1, 1, 3, 3},
			[]float32{54, 63, 72, 99, 108, 117, 144, 153, 162}},
		{"conv strided, padded unevenly", 0, []int{1, 1, 7, 5}, ramp(35), with("Conv", []int{1, 1, 3, 3}, ones(9), onnx.Ints("pads", 1, 0, 1, 0), onnx.Ints("strides", 2, 2)), []int{1, 1, 4, 2},
			[]float32{21, 33, 99, 117, 189, 207, 171, 183}},
		// By hand: two pixels of two channels, 1×1: y0 = x0 + 2·x1 + 10, y1 = −x0.
		{"conv of points", 0, []int{1, 2, 1, 2}, []float32{1, 2, 3, 4}, func(g *onnx.Graph) {
			g.Floats("w", []int{2, 2, 1, 1}, []float32{1, 2, -1, 0})
			g.Floats("b", []int{2}, []float32{10, 0})
			g.Node("Conv", []string{"x", "w", "b"}, []string{"y"})
		}, []int{1, 2, 1, 2}, []float32{17, 20, -1, -2}},
		// By hand: each channel of 2×2 summed with its own weight.
		{"conv by channel", 0, []int{1, 2, 2, 2}, ramp(8), with("Conv", []int{2, 1, 2, 2}, []float32{1, 1, 1, 1, 2, 2, 2, 2}, onnx.Int("group", 2)), []int{1, 2, 1, 1}, []float32{6, 44}},
		// By hand: x·3 + x, then a slope of ½ below zero, cut to −1…5 elsewhere.
		{"conv, itself added, PRelu", 0, []int{1, 1, 1, 3}, []float32{-2, 0, 1}, func(g *onnx.Graph) {
			g.Floats("w", []int{1, 1, 1, 1}, []float32{3})
			g.Floats("s", []int{1, 1, 1}, []float32{0.5})
			g.Node("Conv", []string{"x", "w"}, []string{"c"})
			g.Node("Add", []string{"x", "c"}, []string{"a"})
			g.Node("PRelu", []string{"a", "s"}, []string{"y"})
		}, []int{1, 1, 1, 3}, []float32{-4, 0, 4}},
		{"conv, itself added, Clip", 10, []int{1, 1, 1, 3}, []float32{-2, 0.5, 2}, func(g *onnx.Graph) {
			g.Floats("w", []int{1, 1, 1, 1}, []float32{3})
			g.Node("Conv", []string{"x", "w"}, []string{"c"})
			g.Node("Add", []string{"c", "x"}, []string{"a"})
			g.Node("Clip", []string{"a"}, []string{"y"}, onnx.Float("min", -1), onnx.Float("max", 5))
		}, []int{1, 1, 1, 3}, []float32{-1, 2, 5}},
		// The same value twice: a simple graph would lose one of the two.
		{"a value added to itself", 0, []int{3}, []float32{1, 2, 3}, func(g *onnx.Graph) { g.Node("Add", []string{"x", "x"}, []string{"y"}) }, []int{3}, []float32{2, 4, 6}},
		{"a value three times in a row", 0, []int{2}, []float32{1, 2}, func(g *onnx.Graph) { g.Node("Concat", []string{"x", "x", "x"}, []string{"y"}, onnx.Int("axis", 0)) }, []int{6}, []float32{1, 2, 1, 2, 1, 2}},
		// MaxPool, example maxpool_2d_precomputed_strides; padded by hand.
		{"MaxPool", 0, []int{1, 1, 5, 5}, ramp(25), node("MaxPool", onnx.Ints("kernel_shape", 2, 2), onnx.Ints("strides", 2, 2)), []int{1, 1, 2, 2}, []float32{6, 8, 16, 18}},
		{"MaxPool padded", 0, []int{1, 1, 2, 2}, []float32{-1, -2, -3, -4}, node("MaxPool", onnx.Ints("kernel_shape", 2, 2), onnx.Ints("pads", 1, 1, 0, 0)), []int{1, 1, 2, 2}, []float32{-1, -1, -1, -1}},
		// GlobalAveragePool, example globalaveragepool_precomputed.
		{"GlobalAveragePool", 0, []int{1, 1, 3, 3}, []float32{1, 2, 3, 4, 5, 6, 7, 8, 9}, node("GlobalAveragePool"), []int{1, 1, 1, 1}, []float32{5}},
		// Pad by hand: a channel and a column of sevens behind.
		{"Pad", 0, []int{1, 1, 2, 1}, []float32{1, 2}, func(g *onnx.Graph) {
			g.Int64s("p", 0, 0, 0, 0, 0, 1, 0, 1)
			g.Floats("v", []int{1}, []float32{7})
			g.Node("Pad", []string{"x", "p", "v"}, []string{"y"}, onnx.String("mode", "constant"))
		}, []int{1, 2, 2, 2}, []float32{1, 7, 2, 7, 7, 7, 7, 7}},
		// Resize, examples resize_upsample_scales_linear and
		// resize_downsample_scales_linear.
		{"Resize up", 0, []int{1, 1, 2, 2}, []float32{1, 2, 3, 4}, resizeBy(2, 2), []int{1, 1, 4, 4},
			[]float32{1, 1.25, 1.75, 2, 1.5, 1.75, 2.25, 2.5, 2.5, 2.75, 3.25, 3.5, 3, 3.25, 3.75, 4}},
		{"Resize down", 0, []int{1, 1, 2, 4}, []float32{1, 2, 3, 4, 5, 6, 7, 8}, resizeBy(0.6, 0.6), []int{1, 1, 1, 2}, []float32{2.6666665, 4.3333331}},
		{"PRelu", 0, []int{1, 2, 1, 2}, []float32{-1, 1, -2, 2}, with("PRelu", []int{2, 1, 1}, []float32{0.5, 0.25}), []int{1, 2, 1, 2}, []float32{-0.5, 1, -0.5, 2}},
		// Clip, example clip (operator set 6) and Relu by hand.
		{"Clip", 10, []int{3}, []float32{-2, 0, 2}, node("Clip", onnx.Float("min", -1), onnx.Float("max", 1)), []int{3}, []float32{-1, 0, 1}},
		{"Relu", 0, []int{3}, []float32{-2, 0, 2}, node("Relu"), []int{3}, []float32{0, 0, 2}},
		// Sigmoid, Exp and Sqrt, examples of the same names; Log and Floor too.
		{"Sigmoid", 0, []int{3}, []float32{-1, 0, 1}, node("Sigmoid"), []int{3}, []float32{0.26894143, 0.5, 0.7310586}},
		{"Exp", 0, []int{3}, []float32{-1, 0, 1}, node("Exp"), []int{3}, []float32{0.36787945, 1, 2.7182817}},
		{"Sqrt", 0, []int{3}, []float32{1, 4, 9}, node("Sqrt"), []int{3}, []float32{1, 2, 3}},
		{"Log", 0, []int{2}, []float32{1, 10}, node("Log"), []int{2}, []float32{0, 2.30258512}},
		{"Floor", 0, []int{3}, []float32{-1.5, 1.2, 2}, node("Floor"), []int{3}, []float32{-2, 1, 2}},
		// Pow, example pow; with one exponent for all, pow_broadcast.
		{"Pow", 0, []int{3}, []float32{1, 2, 3}, with("Pow", []int{3}, []float32{4, 5, 6}), []int{3}, []float32{1, 32, 729}},
		{"Pow by one exponent", 0, []int{3}, []float32{1, 2, 3}, with("Pow", nil, []float32{2}), []int{3}, []float32{1, 4, 9}},
		{"Sub", 0, []int{3}, []float32{1, 2, 3}, with("Sub", []int{3}, []float32{3, 2, 1}), []int{3}, []float32{-2, 0, 2}},
		{"Mul", 0, []int{3}, []float32{1, 2, 3}, with("Mul", []int{3}, []float32{4, 5, 6}), []int{3}, []float32{4, 10, 18}},
		{"Div", 0, []int{2}, []float32{3, 4}, with("Div", []int{2}, []float32{1, 2}), []int{2}, []float32{3, 2}},
		{"Max", 0, []int{3}, []float32{3, 2, 1}, with("Max", []int{3}, []float32{1, 4, 4}), []int{3}, []float32{3, 4, 4}},
		{"Min", 0, []int{3}, []float32{3, 2, 1}, with("Min", []int{3}, []float32{1, 4, 4}), []int{3}, []float32{1, 2, 1}},
		// Broadcasting in ONNX: shapes 2×1 and 3 make 2×3; by hand.
		{"both repeated", 0, []int{2, 1}, []float32{10, 20}, with("Add", []int{3}, []float32{1, 2, 3}), []int{2, 3}, []float32{11, 12, 13, 21, 22, 23}},
		{"a picture and numbers for channels", 0, []int{1, 2, 1, 2}, ramp(4), with("Mul", []int{2, 1, 1}, []float32{1, 10}), []int{1, 2, 1, 2}, []float32{0, 1, 20, 30}},
		// BatchNormalization, example batchnorm_single: x is 1×2×1×3.
		{"BatchNormalization", 0, []int{1, 2, 1, 3}, []float32{-1, 0, 1, 2, 3, 4}, func(g *onnx.Graph) {
			g.Floats("s", []int{2}, []float32{1, 1.5})
			g.Floats("b", []int{2}, []float32{0, 1})
			g.Floats("m", []int{2}, []float32{0, 3})
			g.Floats("v", []int{2}, []float32{1, 1.5})
			g.Node("BatchNormalization", []string{"x", "s", "b", "m", "v"}, []string{"y"})
		}, []int{1, 2, 1, 3}, []float32{-0.999995, 0, 0.999995, -0.22474074, 1, 2.2247407}},
		// ReduceSum and ReduceMean, examples keepdims and do_not_keepdims.
		{"ReduceSum", 0, []int{3, 2, 2}, from1(12), node("ReduceSum", onnx.Ints("axes", 1), onnx.Int("keepdims", 0)), []int{3, 2}, []float32{4, 6, 12, 14, 20, 22}},
		{"ReduceSum of all", 0, []int{3, 2, 2}, from1(12), node("ReduceSum", onnx.Int("keepdims", 1)), []int{1, 1, 1}, []float32{78}},
		{"ReduceMean", 0, []int{3, 2, 2}, []float32{5, 1, 20, 2, 30, 1, 40, 2, 55, 1, 60, 2}, node("ReduceMean", onnx.Ints("axes", -2), onnx.Int("keepdims", 1)), []int{3, 1, 2}, []float32{12.5, 1.5, 35, 1.5, 57.5, 1.5}},
		// Gemm, example gemm_all_attributes without transA; by hand.
		{"Gemm", 0, []int{1, 2}, []float32{1, 2}, func(g *onnx.Graph) {
			g.Floats("w", []int{3, 2}, []float32{1, 2, 3, 4, 5, 6})
			g.Floats("b", []int{1, 3}, []float32{2, 4, 6})
			g.Node("Gemm", []string{"x", "w", "b"}, []string{"y"}, onnx.Float("alpha", 2), onnx.Float("beta", 0.5), onnx.Int("transB", 1))
		}, []int{1, 3}, []float32{11, 24, 37}},
		{"Gemm, Relu", 0, []int{2, 1}, []float32{1, -1}, func(g *onnx.Graph) {
			g.Floats("w", []int{1, 2}, []float32{3, -4})
			g.Node("Gemm", []string{"x", "w"}, []string{"g"})
			g.Node("Relu", []string{"g"}, []string{"y"})
		}, []int{2, 2}, []float32{3, 0, 0, 4}},
		{"MatMul by a constant", 0, []int{1, 2, 2}, []float32{1, 2, 3, 4}, with("MatMul", []int{2, 2}, []float32{5, 6, 7, 8}), []int{1, 2, 2}, []float32{19, 22, 43, 50}},
		{"MatMul of a constant", 0, []int{2, 2, 1}, []float32{1, 2, 3, 4}, func(g *onnx.Graph) {
			g.Floats("w", []int{1, 2}, []float32{10, 1})
			g.Node("MatMul", []string{"w", "x"}, []string{"y"})
		}, []int{2, 1, 1}, []float32{12, 34}},
		// Larger than the parts it is worked out in: row i of w is all i, column
		// j of x all j, so that element i, j of the product is 2 i j.
		{"MatMul in parts", 0, []int{2, 300}, slices.Concat(ramp(300), ramp(300)), func(g *onnx.Graph) {
			w := make([]float32, 130*2)
			for i := range w {
				w[i] = float32(i / 2)
			}
			g.Floats("w", []int{130, 2}, w)
			g.Node("MatMul", []string{"w", "x"}, []string{"y"})
		}, []int{130, 300}, func() (y []float32) {
			for i := range 130 {
				for j := range 300 {
					y = append(y, float32(2*i*j))
				}
			}
			return y
		}()},
		// Slice, examples slice, slice_neg, slice_end_out_of_bounds and
		// slice_negative_axes on small ramps; backwards by hand.
		{"Slice", 0, []int{3, 4}, ramp(12), slice([]int{0, 1}, []int{2, 3}, []int{0, 1}), []int{2, 2}, []float32{1, 2, 5, 6}},
		{"Slice from the end", 0, []int{4}, ramp(4), slice([]int{-3}, []int{-1}), []int{2}, []float32{1, 2}},
		{"Slice to the end", 0, []int{2, 3}, ramp(6), slice([]int{1}, []int{1<<63 - 1}, []int{-1}), []int{2, 2}, []float32{1, 2, 4, 5}},
		{"Slice backwards", 0, []int{4}, ramp(4), slice([]int{3}, []int{-1 << 63}, []int{0}, []int{-2}), []int{2}, []float32{3, 1}},
		// Concat, example concat_2d_axis_1.
		{"Concat", 0, []int{2, 2}, []float32{1, 2, 3, 4}, with("Concat", []int{2, 2}, []float32{5, 6, 7, 8}, onnx.Int("axis", -1)), []int{2, 4}, []float32{1, 2, 5, 6, 3, 4, 7, 8}},
		// Gather, examples gather_1 and gather_negative_indices.
		{"Gather", 0, []int{2, 3}, ramp(6), func(g *onnx.Graph) {
			g.Int64s("i", 2, 0)
			g.Node("Gather", []string{"x", "i"}, []string{"y"}, onnx.Int("axis", 1))
		}, []int{2, 2}, []float32{2, 0, 5, 3}},
		{"Gather from the end", 0, []int{10}, ramp(10), func(g *onnx.Graph) {
			g.Int64s("i", 0, -9, -10)
			g.Node("Gather", []string{"x", "i"}, []string{"y"})
		}, []int{3}, []float32{0, 1, 0}},
		// What is looked up is computed: x cut off towards zero names elements.
		{"Cast and Gather", 0, []int{3}, []float32{1.9, 0.2, -0.7}, func(g *onnx.Graph) {
			g.Floats("table", []int{2}, []float32{10, 20})
			g.Node("Cast", []string{"x"}, []string{"i"}, onnx.Int("to", 7))
			g.Node("Gather", []string{"table", "i"}, []string{"y"})
		}, []int{3}, []float32{20, 10, 10}},
		// Transpose: the axes turned about, by hand; twice back to where it was.
		{"Transpose", 0, []int{1, 2, 3}, ramp(6), node("Transpose", onnx.Ints("perm", 2, 0, 1)), []int{3, 1, 2}, []float32{0, 3, 1, 4, 2, 5}},
		{"Transpose of a picture", 0, []int{1, 2, 1, 2}, ramp(4), func(g *onnx.Graph) {
			g.Node("MaxPool", []string{"x"}, []string{"p"}, onnx.Ints("kernel_shape", 1, 1))
			g.Node("Transpose", []string{"p"}, []string{"y"}, onnx.Ints("perm", 0, 2, 3, 1))
		}, []int{1, 1, 2, 2}, []float32{0, 2, 1, 3}},
		// Reshape, examples zero_and_negative_dim; Flatten, Squeeze, Unsqueeze.
		{"Reshape", 0, []int{2, 3, 4}, ramp(24), func(g *onnx.Graph) {
			g.Int64s("s", 2, 0, 1, -1)
			g.Node("Reshape", []string{"x", "s"}, []string{"y"})
		}, []int{2, 3, 1, 4}, ramp(24)},
		{"Flatten", 0, []int{2, 1, 2}, ramp(4), node("Flatten", onnx.Int("axis", -1)), []int{2, 2}, ramp(4)},
		{"Flatten a picture", 0, []int{1, 2, 1, 2}, ramp(4), func(g *onnx.Graph) {
			g.Node("MaxPool", []string{"x"}, []string{"p"}, onnx.Ints("kernel_shape", 1, 1))
			g.Node("Flatten", []string{"p"}, []string{"y"})
		}, []int{1, 4}, ramp(4)},
		{"Squeeze", 0, []int{1, 3, 1}, ramp(3), node("Squeeze", onnx.Ints("axes", -1)), []int{1, 3}, ramp(3)},
		{"Unsqueeze", 0, []int{3}, ramp(3), node("Unsqueeze", onnx.Ints("axes", 0, 2)), []int{1, 3, 1}, ramp(3)},
	}
}

func from1(n int) []float32 {
	r := ramp(n)
	for i := range r {
		r[i]++
	}
	return r
}

func resizeBy(h, w float32) func(*onnx.Graph) {
	return func(g *onnx.Graph) {
		g.Floats("roi", []int{8}, make([]float32, 8))
		g.Floats("scales", []int{4}, []float32{1, 1, h, w})
		g.Node("Resize", []string{"x", "roi", "scales"}, []string{"y"}, onnx.String("mode", "linear"), onnx.String("coordinate_transformation_mode", "half_pixel"))
	}
}

func (c *one) file() []byte {
	var g onnx.Graph
	g.Input("x", c.in...)
	g.Output("y", c.out...)
	c.make(&g)
	opset := c.opset
	if opset == 0 {
		opset = 11
	}
	return g.Marshal("test", "test", "", opset)
}

// Every case is also given to ONNX Runtime, so that a slip of the hand in a
// value shows.
func TestOperators(t *testing.T) {
	ref, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	defer func() { require.NoError(t, ref.Close()) }()
	tried := map[string]bool{}
	for _, c := range operatorCases() {
		t.Run(c.name, func(t *testing.T) {
			check := func(g infer.Graph, err error) {
				t.Helper()
				require.NoError(t, err)
				in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
				require.Equal(t, c.out, out[0].Shape)
				copy(in[0].Data, c.x)
				require.NoError(t, g.Run(in, out))
				require.InDeltaSlice(t, c.want, out[0].Data, 1e-5)
				require.NoError(t, g.Run(in, out), "and again")
				require.InDeltaSlice(t, c.want, out[0].Data, 1e-5)
				require.NoError(t, g.Close())
			}
			for _, simd := range []bool{false, haveSIMD()} {
				check(load(c.file(), simd, 2))
			}
			check(ref.Load(c.file(), infer.Options{}))
			f, err := decode(c.file())
			require.NoError(t, err)
			for _, n := range f.nodes {
				tried[n.op] = true
			}
		})
	}
	for op := range operators {
		if op != "Constant" { // the hand network has hundreds
			require.True(t, tried[op], "operator %s is tried", op)
		}
	}
}

// The code that this processor and build run by default against plain Go, on
// sizes that fill vectors and tiles, and that do not. Where there is vector code
// that is what is tried; where there is none, that a run is the same twice.
func TestDefaultCodeAgainstPlain(t *testing.T) {
	noise := func(n int, seed uint32) []float32 {
		r := make([]float32, n)
		for i := range r {
			seed = seed*1664525 + 1013904223
			r[i] = float32(int32(seed)) / (1 << 31)
		}
		return r
	}
	for _, size := range []struct{ channels, out, h, w, kernel, stride, group int }{
		{3, 24, 9, 11, 3, 2, 1}, {16, 64, 7, 7, 1, 1, 1}, {8, 5, 3, 1, 1, 1, 1}, {40, 17, 5, 5, 1, 1, 1}, {7, 33, 2, 3, 1, 1, 1}, {24, 16, 10, 13, 1, 2, 1},
		{8, 8, 7, 7, 5, 1, 8}, {24, 24, 12, 17, 3, 2, 24}, {64, 64, 5, 20, 5, 2, 64}, {16, 16, 3, 4, 3, 1, 16}, {12, 12, 6, 6, 3, 1, 12},
	} {
		for _, then := range []string{"", "Relu", "PRelu", "Add"} {
			each := size.channels / size.group
			weights := size.out * each * size.kernel * size.kernel
			pad := size.kernel / 2
			oh, ow := (size.h+2*pad-size.kernel)/size.stride+1, (size.w+2*pad-size.kernel)/size.stride+1
			var g onnx.Graph
			g.Input("x", 1, size.channels, size.h, size.w)
			g.Output("y", 1, size.out, oh, ow)
			g.Floats("w", []int{size.out, each, size.kernel, size.kernel}, noise(weights, 1))
			g.Floats("b", []int{size.out}, noise(size.out, 2))
			result := "y"
			if then != "" {
				result = "c"
			}
			conv := func(out string) {
				g.Node("Conv", []string{"x", "w", "b"}, []string{out}, onnx.Int("group", size.group), onnx.Ints("pads", pad, pad, pad, pad), onnx.Ints("strides", size.stride, size.stride))
			}
			conv(result)
			switch then {
			case "Relu":
				g.Node("Relu", []string{"c"}, []string{"y"})
			case "PRelu":
				g.Floats("s", []int{size.out, 1, 1}, noise(size.out, 3))
				g.Node("PRelu", []string{"c", "s"}, []string{"y"})
			case "Add":
				conv("d")
				g.Node("Add", []string{"c", "d"}, []string{"y"})
			}
			file := g.Marshal("test", "test", "", 11)
			var first []float32
			for _, simd := range []bool{false, haveSIMD()} {
				n, err := load(file, simd, 2)
				require.NoError(t, err)
				in, out := infer.NewTensors(n.Inputs()), infer.NewTensors(n.Outputs())
				copy(in[0].Data, noise(len(in[0].Data), 4))
				require.NoError(t, n.Run(in, out))
				require.NoError(t, n.Close())
				if first == nil {
					first = out[0].Data
				}
				require.InDeltaSlice(t, first, out[0].Data, 2e-5, "%+v %s", size, then)
			}
		}
	}
}
