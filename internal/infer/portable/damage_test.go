package portable

import (
	"errors"
	"fmt"
	"math"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/infer"
	"volar/models"
	"volar/scripts/convert-models/onnx"
)

// graphs that are wrong in one way each, and what the error says of it.
func wrongGraphs() map[string]struct {
	make func(g *onnx.Graph)
	says string
} {
	node := func(op string, in []string, attrs ...onnx.Attr) func(*onnx.Graph) {
		return func(g *onnx.Graph) {
			g.Floats("w", []int{2, 3, 1, 1}, make([]float32, 6))
			g.Floats("v", []int{5}, make([]float32, 5))
			g.Int64s("i", 7)
			g.Node(op, in, []string{"y"}, attrs...)
		}
	}
	return map[string]struct {
		make func(g *onnx.Graph)
		says string
	}{
		"an unknown operator":              {node("Levitate", []string{"x"}), "not supported"},
		"an input too few":                 {node("Add", []string{"x"}), "1 inputs"},
		"an input too many":                {node("Relu", []string{"x", "v"}), "2 inputs"},
		"an input left out":                {node("Add", []string{"", "x"}), "missing"},
		"a value that nobody makes":        {node("Relu", []string{"ghost"}), "before it is made"},
		"a circle":                         {node("Relu", []string{"y"}), "before it is made"},
		"no output":                        {func(g *onnx.Graph) { g.Node("Relu", []string{"x"}, []string{"z"}) }, "not computed"},
		"shapes that do not go together":   {node("Add", []string{"x", "v"}), "do not go together"},
		"weights for other channels":       {node("Conv", []string{"x", "w"}, onnx.Int("group", 2)), "not supported"},
		"a kernel larger than the picture": {node("MaxPool", []string{"x"}, onnx.Ints("kernel_shape", 9, 9)), "larger than the picture"},
		"a stride of none":                 {node("MaxPool", []string{"x"}, onnx.Ints("kernel_shape", 1, 1), onnx.Ints("strides", 0, 1)), "strides"},
		"an attribute of another kind":     {node("Flatten", []string{"x"}, onnx.String("axis", "one")), "not a whole number"},
		"an axis that is not there":        {node("Concat", []string{"x"}, onnx.Int("axis", 4)), "axis 4 of 4"},
		"an index that is not there":       {node("Gather", []string{"v", "i"}), "index 7 of 5"},
		"an output of whole numbers":       {node("Cast", []string{"x"}, onnx.Int("to", 7)), "not a float32 tensor"},
		"a shape too large":                {func(g *onnx.Graph) { g.Int64s("s", 1<<40); g.Node("Reshape", []string{"x", "s"}, []string{"y"}) }, "the shape"},
		"two rests in a shape":             {func(g *onnx.Graph) { g.Int64s("s", -1, -1); g.Node("Reshape", []string{"x", "s"}, []string{"y"}) }, "the shape"},
		"a number of elements changed":     {func(g *onnx.Graph) { g.Int64s("s", 5); g.Node("Reshape", []string{"x", "s"}, []string{"y"}) }, "cannot become"},
		"an enlargement without end":       {resizeBy(float32(math.Inf(1)), 1), "would have shape"},
	}
}

func TestLoadRefusesWrongGraphs(t *testing.T) {
	for name, c := range wrongGraphs() {
		t.Run(name, func(t *testing.T) {
			var g onnx.Graph
			g.Input("x", 1, 3, 4, 4)
			g.Output("y", 1, 3, 4, 4)
			c.make(&g)
			_, err := load(g.Marshal("test", "test", "", 11), false, 1)
			require.ErrorIs(t, err, infer.ErrModel)
			require.ErrorContains(t, err, c.says)
		})
	}
}

func TestLoadRefusesDamagedFiles(t *testing.T) {
	good := (&operatorCases()[0]).file()
	_, err := load(good, false, 1)
	require.NoError(t, err)
	wrong := func(opset int, input ...int) []byte {
		var g onnx.Graph
		g.Input("x", input...)
		g.Output("y", input...)
		g.Node("Relu", []string{"x"}, []string{"y"})
		return g.Marshal("test", "test", "", opset)
	}
	for name, b := range map[string][]byte{
		"nothing": nil, "a text": []byte("this is not a model"), "zeros": make([]byte, 4096), "half": good[:len(good)/2], "all but a byte": good[:len(good)-1],
		"an old operator set": wrong(7, 1, 3), "a new operator set": wrong(13, 1, 3), "an empty dimension": wrong(11, 1, 0),
		"a huge dimension": wrong(11, 1<<40), "many large dimensions": wrong(11, 1<<12, 1<<12, 1<<12), "too many dimensions": wrong(11, 1, 1, 1, 1, 1, 1, 1), "a single number": wrong(11),
	} {
		t.Run(name, func(t *testing.T) {
			_, err := load(b, false, 1)
			require.ErrorIs(t, err, infer.ErrModel)
		})
	}
	// Any single bit.
	for i := range good {
		b := append([]byte(nil), good...)
		b[i] ^= 1 << (i % 8)
		if g, err := load(b, false, 1); err == nil {
			require.NoError(t, g.Close())
		} else {
			require.ErrorIs(t, err, infer.ErrModel)
		}
	}
}

// FuzzLoad: whatever the file, loading gives a graph that runs or an error.
func FuzzLoad(f *testing.F) {
	for _, c := range operatorCases() {
		f.Add(c.file())
	}
	for _, c := range wrongGraphs() {
		var g onnx.Graph
		g.Input("x", 1, 3, 4, 4)
		g.Output("y", 1, 3, 4, 4)
		c.make(&g)
		f.Add(g.Marshal("test", "test", "", 11))
	}
	f.Fuzz(func(t *testing.T, model []byte) {
		g, err := load(model, haveSIMD(), 1)
		if err != nil {
			require.ErrorIs(t, err, infer.ErrModel)
			return
		}
		in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
		for i := range in {
			copy(in[i].Data, ramp(min(64, len(in[i].Data))))
		}
		// It may fail, where an index is computed that is not there.
		_ = g.Run(in, out)
		require.NoError(t, g.Close())
	})
}

// What is computed while a graph runs may name elements that are not there.
func TestRunRefusesAnIndexOutside(t *testing.T) {
	var g onnx.Graph
	g.Input("x", 1)
	g.Output("y", 1)
	g.Floats("table", []int{2}, []float32{10, 20})
	g.Node("Cast", []string{"x"}, []string{"i"}, onnx.Int("to", 7))
	g.Node("Gather", []string{"table", "i"}, []string{"y"})
	n, err := load(g.Marshal("test", "test", "", 11), false, 1)
	require.NoError(t, err)
	in, out := infer.NewTensors(n.Inputs()), infer.NewTensors(n.Outputs())
	for _, x := range []float32{2, -3, float32(math.NaN()), float32(math.Inf(1)), 1e30} {
		in[0].Data[0], out[0].Data[0] = x, 7
		require.ErrorContains(t, n.Run(in, out), "index")
		require.Equal(t, float32(7), out[0].Data[0], "the output is left alone")
	}
	in[0].Data[0] = 1
	require.NoError(t, n.Run(in, out))
	require.Equal(t, float32(20), out[0].Data[0])
	require.NoError(t, n.Close())
}

func TestOnlyKnownFilesAreRead(t *testing.T) {
	palm, err := models.PalmDetection()
	require.NoError(t, err)
	e := Open(Options{Known: models.Known})
	g, err := e.Load(palm, infer.Options{})
	require.NoError(t, err)
	require.NoError(t, g.Close())
	palm[len(palm)/2] ^= 1
	_, err = e.Load(palm, infer.Options{})
	require.ErrorIs(t, err, infer.ErrModel)
	require.ErrorContains(t, err, "convert-models")
	_, err = Open(Options{}).Load(palm, infer.Options{})
	require.ErrorIs(t, err, infer.ErrModel)
	_, err = e.Load(palm, infer.Options{Threads: -1})
	require.ErrorContains(t, err, "threads is -1")
	require.NoError(t, e.Close())
	_, err = e.Load(palm, infer.Options{})
	require.ErrorIs(t, err, infer.ErrClosed)
}

// A graph from several goroutines at once, and closed while it runs.
func TestGraphFromManyGoroutines(t *testing.T) {
	g, err := load((&operatorCases()[0]).file(), haveSIMD(), 3)
	require.NoError(t, err)
	want := operatorCases()[0].want
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
			copy(in[0].Data, operatorCases()[0].x)
			for {
				switch err := g.Run(in, out); {
				case errors.Is(err, infer.ErrClosed):
					return
				case err != nil:
					t.Error(err)
					return
				}
				if fmt.Sprint(out[0].Data) != fmt.Sprint(want) {
					t.Error(out[0].Data)
				}
			}
		})
	}
	for range 100 {
		g.Outputs()
	}
	require.NoError(t, g.Close())
	require.NoError(t, g.Close())
	all.Wait()
	in := infer.NewTensors(g.Inputs())
	require.ErrorIs(t, g.Run(in, nil), infer.ErrClosed)
}

func TestRunRefusesWrongTensors(t *testing.T) {
	g, err := load((&operatorCases()[0]).file(), false, 1)
	require.NoError(t, err)
	defer g.Close()
	in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
	require.ErrorContains(t, g.Run(nil, out), "0 inputs, want 1")
	require.ErrorContains(t, g.Run(in, nil), "0 outputs, want 1")
	in[0].Name = "z"
	require.ErrorIs(t, g.Run(in, out), infer.ErrShape)
}

// Values that are needed at the same time never share memory.
func TestArenaKeepsValuesApart(t *testing.T) {
	for _, get := range []func() ([]byte, error){models.HandAngles, models.PalmDetection} {
		b, err := get()
		require.NoError(t, err)
		g, err := load(b, haveSIMD(), 1)
		require.NoError(t, err)
		var places []*value
		total, seen := 0, map[*value]bool{}
		note := func(v *value) {
			if v = v.root(); !v.known && !seen[v] {
				seen[v] = true
				places = append(places, v)
				total += v.len()
			}
		}
		for _, s := range g.steps {
			note(s.writes)
			for _, r := range s.reads {
				note(r)
			}
		}
		for i, v := range places {
			for _, o := range places[:i] {
				if v.from <= o.to && o.from <= v.to {
					require.True(t, v.offset+v.len() <= o.offset || o.offset+o.len() <= v.offset, "%q and %q", v.name, o.name)
				}
			}
		}
		require.Less(t, len(g.arena), total/3, "most memory is used again")
		require.NoError(t, g.Close())
	}
}
