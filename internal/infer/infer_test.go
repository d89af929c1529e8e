package infer_test

import (
	"encoding/binary"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/infer"
	"volar/models"
	"volar/scripts/convert-models/onnx"
)

func open(t testing.TB) infer.Engine {
	t.Helper()
	e, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, e.Close()) })
	return e
}

func load(t testing.TB, e infer.Engine, model []byte, o infer.Options) infer.Graph {
	t.Helper()
	g, err := e.Load(model, o)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, g.Close()) })
	return g
}

// affine is a model that computes y = relu(x·w + b) for a row of three
// numbers: small enough to do by hand.
func affine() []byte {
	var g onnx.Graph
	g.Input("x", 1, 3)
	g.Output("y", 1, 2)
	g.Floats("w", []int{2, 3}, []float32{1, 2, 3, -1, -1, -1})
	g.Floats("b", []int{2}, []float32{0.5, 4})
	g.Node("Gemm", []string{"x", "w", "b"}, []string{"y_raw"}, onnx.Int("transB", 1))
	g.Node("Relu", []string{"y_raw"}, []string{"y"})
	return g.Marshal("affine", "test", "", 10)
}

func TestRunComputesTheGraph(t *testing.T) {
	e := open(t)
	require.Contains(t, e.Name(), "ONNX Runtime 1.")
	g := load(t, e, affine(), infer.Options{})
	require.Equal(t, []infer.Spec{{Name: "x", Shape: []int{1, 3}}}, g.Inputs())
	require.Equal(t, []infer.Spec{{Name: "y", Shape: []int{1, 2}}}, g.Outputs())
	in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
	for _, c := range []struct{ x, y []float32 }{
		{[]float32{1, 1, 1}, []float32{6.5, 1}},
		{[]float32{0, 0, 0}, []float32{0.5, 4}},
		{[]float32{-10, 0, 10}, []float32{20.5, 4}},
		{[]float32{2, 2, 1}, []float32{9.5, 0}}, // 4 − 5 is cut at 0
	} {
		copy(in[0].Data, c.x)
		require.NoError(t, g.Run(in, out))
		require.Equal(t, c.y, out[0].Data)
		require.Equal(t, c.x, in[0].Data, "the input is only read")
	}
}

func TestSpecsBelongToTheCaller(t *testing.T) {
	g := load(t, open(t), affine(), infer.Options{})
	g.Inputs()[0].Shape[1] = 99
	require.Equal(t, []int{1, 3}, g.Inputs()[0].Shape)
}

func TestThreadsDoNotChangeTheResult(t *testing.T) {
	e := open(t)
	model, err := models.HandLandmark()
	require.NoError(t, err)
	var first []float32
	for _, threads := range []int{1, 2, 4} {
		g := load(t, e, model, infer.Options{Threads: threads})
		in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
		for i := range in[0].Data {
			in[0].Data[i] = float32(i%251) / 250
		}
		require.NoError(t, g.Run(in, out))
		if first == nil {
			first = append(first, out[0].Data...)
		}
		require.InDeltaSlice(t, first, out[0].Data, 1e-3, "%d threads", threads)
	}
	_, err = e.Load(model, infer.Options{Threads: -1})
	require.ErrorContains(t, err, "threads is -1")
}

func TestRunRefusesWrongTensors(t *testing.T) {
	g := load(t, open(t), affine(), infer.Options{})
	x := func(shape []int, n int) infer.Tensor {
		return infer.Tensor{Name: "x", Shape: shape, Data: make([]float32, n)}
	}
	good := infer.NewTensors(g.Inputs())
	for name, c := range map[string]struct {
		in   []infer.Tensor
		says string
	}{
		"none":        {nil, "0 inputs, want 1"},
		"two":         {append(infer.NewTensors(g.Inputs()), good...), "2 inputs, want 1"},
		"other name":  {[]infer.Tensor{{Name: "z", Shape: []int{1, 3}, Data: make([]float32, 3)}}, `input 0 is "z", want "x"`},
		"other shape": {[]infer.Tensor{x([]int{3, 1}, 3)}, `input "x" has shape [3 1], want [1 3]`},
		"other rank":  {[]infer.Tensor{x([]int{3}, 3)}, `input "x" has shape [3], want [1 3]`},
		"short data":  {[]infer.Tensor{x([]int{1, 3}, 2)}, `input "x" has 2 numbers, want 3`},
		"long data":   {[]infer.Tensor{x([]int{1, 3}, 4)}, `input "x" has 4 numbers, want 3`},
		"no data":     {[]infer.Tensor{x([]int{1, 3}, 0)}, `input "x" has 0 numbers, want 3`},
	} {
		t.Run(name, func(t *testing.T) {
			out := infer.NewTensors(g.Outputs())
			out[0].Data[0] = 7
			err := g.Run(c.in, out)
			require.ErrorIs(t, err, infer.ErrShape)
			require.ErrorContains(t, err, c.says)
			require.Equal(t, float32(7), out[0].Data[0], "the output is left alone")
		})
	}
	require.ErrorContains(t, g.Run(good, nil), "0 outputs, want 1")
	require.ErrorContains(t, g.Run(good, []infer.Tensor{{Name: "y", Shape: []int{1, 2}}}), `output "y" has 0 numbers, want 2`)
}

func TestNoLibrary(t *testing.T) {
	dir := t.TempDir()
	write := func(name string, b []byte) string {
		p := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(p, b, 0o600))
		return p
	}
	real, err := os.ReadFile(libraryPath(t))
	require.NoError(t, err)
	foreignMachine := append([]byte(nil), real...)
	binary.LittleEndian.PutUint16(foreignMachine[18:], 243) // e_machine: RISC-V
	empty := filepath.Join(dir, "empty")
	require.NoError(t, os.Mkdir(empty, 0o700))
	for name, c := range map[string]struct{ path, says string }{
		"missing file":      {filepath.Join(dir, "nowhere.so"), "does not exist"},
		"folder without it": {empty, "does not exist"},
		"a text file":       {write("text.so", []byte("hello")), "is not a shared library"},
		"an empty file":     {write("empty.so", nil), "is not a shared library"},
		"cut short":         {write("half.so", real[:len(real)/2]), "is damaged or cut short"},
		"cut by one page":   {write("almost.so", real[:len(real)-4096]), "is damaged or cut short"},
		"another processor": {write("riscv.so", foreignMachine), "is made for another processor"},
		"another library":   {foreignLibrary(t, dir, ""), "is a library, but not ONNX Runtime"},
		"an old version":    {foreignLibrary(t, dir, oldRuntime), "is older than version 1.24"},
	} {
		t.Run(name, func(t *testing.T) {
			for _, way := range []string{"option", "environment"} {
				o := infer.RuntimeOptions{Library: c.path}
				if way == "environment" {
					t.Setenv(infer.LibraryEnv, c.path)
					o = infer.RuntimeOptions{}
				}
				_, err := infer.OpenRuntime(o)
				require.ErrorIs(t, err, infer.ErrNoRuntime)
				require.ErrorContains(t, err, dir)
				require.ErrorContains(t, err, c.says)
				require.ErrorContains(t, err, "run ./scripts/setup")
				require.ErrorContains(t, err, "VOLAR_ONNXRUNTIME")
			}
		})
	}
	t.Run("then the right one", func(t *testing.T) {
		open(t)
	})
}

// libraryPath returns the file of the library that OpenRuntime finds here,
// wherever that is: the kernel lists it while it is loaded.
func libraryPath(t testing.TB) string {
	t.Helper()
	e, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	defer func() { require.NoError(t, e.Close()) }()
	maps, err := os.ReadFile("/proc/self/maps")
	require.NoError(t, err)
	for line := range strings.Lines(string(maps)) {
		if i := strings.IndexByte(line, '/'); i >= 0 && strings.Contains(line, "libonnxruntime") {
			return strings.TrimSpace(line[i:])
		}
	}
	t.Fatal("the library is loaded from a file without a name")
	return ""
}

// oldRuntime answers as a release does that lacks the interface asked for.
const oldRuntime = `
struct base { const void *(*api)(unsigned); const char *(*version)(void); };
static const void *none(unsigned v) { return 0; }
static const char *version(void) { return "1.17.0"; }
static struct base b = { none, version };
const struct base *OrtGetApiBase(void) { return &b; }
`

// foreignLibrary compiles a shared library that is not ONNX Runtime.
func foreignLibrary(t *testing.T, dir, source string) string {
	t.Helper()
	name := filepath.Join(dir, "foreign.so")
	if source != "" {
		name = filepath.Join(dir, "old.so")
	}
	src := name + ".c"
	require.NoError(t, os.WriteFile(src, []byte("int unrelated(void) { return 1; }\n"+source), 0o600))
	out, err := exec.Command("gcc", "-shared", "-fPIC", "-o", name, src).CombinedOutput()
	require.NoError(t, err, "%s", out)
	return name
}

func TestLibraryByFile(t *testing.T) {
	p := libraryPath(t)
	for _, way := range []string{p, filepath.Dir(p)} {
		e, err := infer.OpenRuntime(infer.RuntimeOptions{Library: way})
		require.NoError(t, err)
		_, err = infer.OpenRuntime(infer.RuntimeOptions{Library: filepath.Join(t.TempDir(), "other.so")})
		require.ErrorIs(t, err, infer.ErrNoRuntime)
		require.ErrorContains(t, err, "close that engine first")
		require.NoError(t, e.Close())
	}
}

func TestLoadRefusesDamagedModels(t *testing.T) {
	e := open(t)
	good := affine()
	half := good[:len(good)/2]
	var dynamic, integer, scalar onnx.Graph
	dynamic.Input("x", 1, 0)
	dynamic.Output("y", 1, 0)
	dynamic.Node("Relu", []string{"x"}, []string{"y"})
	integer.Input("x", 1, 3)
	integer.Output("y", 1, 3)
	integer.Node("Cast", []string{"x"}, []string{"y"}, onnx.Int("to", 7))
	scalar.Input("x")
	scalar.Output("y")
	scalar.Node("Relu", []string{"x"}, []string{"y"})
	var unknown onnx.Graph
	unknown.Input("x", 1, 3)
	unknown.Output("y", 1, 3)
	unknown.Node("Levitate", []string{"x"}, []string{"y"})
	for name, b := range map[string][]byte{
		"nothing":              nil,
		"a text":               []byte("this is not a model"),
		"half a model":         half,
		"zeros":                make([]byte, 4096),
		"an empty dimension":   dynamic.Marshal("g", "test", "", 10),
		"a wrong element type": integer.Marshal("g", "test", "", 10),
		"a scalar":             scalar.Marshal("g", "test", "", 10),
		"an unknown operator":  unknown.Marshal("g", "test", "", 10),
		"a later operator set": func() []byte { var g onnx.Graph; return g.Marshal("g", "test", "", 9999) }(),
	} {
		t.Run(name, func(t *testing.T) {
			_, err := e.Load(b, infer.Options{})
			require.ErrorIs(t, err, infer.ErrModel)
		})
	}
	load(t, e, good, infer.Options{})
}

// TestFlippedBits flips every bit of a small model in turn. A damaged model
// may be refused or, where the damage is in a weight or a name, run; it must
// never bring the process down.
func TestFlippedBits(t *testing.T) {
	e := open(t)
	good := affine()
	refused := 0
	for i := range 8 * len(good) {
		b := append([]byte(nil), good...)
		b[i/8] ^= 1 << (i % 8)
		g, err := e.Load(b, infer.Options{Threads: 1})
		if err != nil {
			require.ErrorIs(t, err, infer.ErrModel)
			refused++
			continue
		}
		in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
		_ = g.Run(in, out) // may well fail
		require.NoError(t, g.Close())
	}
	require.Greater(t, refused, len(good), "an eighth of all bits matter to the structure")
}

func TestUseAfterClose(t *testing.T) {
	e, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	g, err := e.Load(affine(), infer.Options{})
	require.NoError(t, err)
	require.NoError(t, e.Close())
	require.NoError(t, e.Close())
	_, err = e.Load(affine(), infer.Options{})
	require.ErrorIs(t, err, infer.ErrClosed)

	in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
	require.NoError(t, g.Run(in, out), "a graph outlives its engine")
	require.NoError(t, g.Close())
	require.NoError(t, g.Close())
	require.ErrorIs(t, g.Run(in, out), infer.ErrClosed)
}

// TestManyAtOnce opens, loads, runs and closes from several goroutines; the
// race detector watches.
func TestManyAtOnce(t *testing.T) {
	shared := load(t, open(t), affine(), infer.Options{Threads: 1})
	var wg sync.WaitGroup
	for k := range 8 {
		wg.Go(func() {
			for range 5 {
				e, err := infer.OpenRuntime(infer.RuntimeOptions{})
				if err != nil {
					t.Error(err)
					return
				}
				own, err := e.Load(affine(), infer.Options{Threads: 1})
				if err != nil {
					t.Error(err)
					return
				}
				for _, g := range []infer.Graph{own, shared} {
					in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
					in[0].Data[0] = float32(k)
					if err := g.Run(in, out); err != nil {
						t.Error(err)
					}
					if got, want := out[0].Data[0], float32(k)+0.5; got != want {
						t.Errorf("got %g, want %g", got, want)
					}
				}
				if err := own.Close(); err != nil {
					t.Error(err)
				}
				if err := e.Close(); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
}

// TestReopen unloads the library and loads it again.
func TestReopen(t *testing.T) {
	for range 10 {
		e, err := infer.OpenRuntime(infer.RuntimeOptions{})
		require.NoError(t, err)
		g, err := e.Load(affine(), infer.Options{})
		require.NoError(t, err)
		in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
		require.NoError(t, g.Run(in, out))
		require.NoError(t, g.Close())
		require.NoError(t, e.Close())
	}
}

func TestRunDoesNotAllocate(t *testing.T) {
	g := load(t, open(t), affine(), infer.Options{})
	in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
	n := testing.AllocsPerRun(100, func() {
		if err := g.Run(in, out); err != nil {
			t.Fatal(err)
		}
	})
	require.LessOrEqual(t, n, 2.0)
}

func TestNotANumberPassesThrough(t *testing.T) {
	g := load(t, open(t), affine(), infer.Options{})
	in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
	in[0].Data[0] = float32(math.Inf(1))
	require.NoError(t, g.Run(in, out))
	require.Equal(t, float32(math.Inf(1)), out[0].Data[0])
}

func BenchmarkRun(b *testing.B) {
	e := open(b)
	for name, get := range map[string]func() ([]byte, error){
		"hand": models.HandLandmark, "palm": models.PalmDetection,
	} {
		for _, threads := range []int{1, 2} {
			b.Run(name+map[int]string{1: "/1thread", 2: "/2threads"}[threads], func(b *testing.B) {
				model, err := get()
				require.NoError(b, err)
				g := load(b, e, model, infer.Options{Threads: threads})
				in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
				for i := range in[0].Data {
					in[0].Data[i] = float32(i%251) / 250
				}
				for b.Loop() {
					if err := g.Run(in, out); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

// TestSetupFetchesWhatIsLookedFor compares the setup script with the folder
// that this package looks into.
func TestSetupFetchesWhatIsLookedFor(t *testing.T) {
	script, err := os.ReadFile("../../scripts/setup")
	require.NoError(t, err)
	require.Contains(t, string(script), "\nreadonly ort_version="+infer.LibraryVersion+"\n")
}
