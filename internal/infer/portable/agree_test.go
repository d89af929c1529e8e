package portable_test

import (
	"image"
	_ "image/png" // the pictures
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"volar/internal/infer"
	"volar/internal/infer/portable"
	"volar/models"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// networks are the two that the program runs.
var networks = map[string]func() ([]byte, error){"hand": models.HandAngles, "palm": models.PalmDetection}

// load opens a graph that ends with the test.
func load(t testing.TB, e infer.Engine, get func() ([]byte, error), threads int) infer.Graph {
	t.Helper()
	t.Cleanup(func() { require.NoError(t, e.Close()) })
	model, err := get()
	require.NoError(t, err)
	g, err := e.Load(model, infer.Options{Threads: threads})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, g.Close()) })
	return g
}

func runtime(t testing.TB) infer.Engine {
	t.Helper()
	e, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	return e
}

func engine(plain bool) infer.Engine {
	return portable.Open(portable.Options{Known: models.Known, Plain: plain})
}

// views cuts square inputs out of every reference picture: crops as the
// landmark model gets them, also mirrored and closer, and whole pictures.
func views(t testing.TB, size int) map[string][]float32 {
	t.Helper()
	views := map[string][]float32{}
	for _, dir := range []string{"crops", "pictures"} {
		files, err := filepath.Glob(filepath.Join("../../../testdata/reference", dir, "*.png"))
		require.NoError(t, err)
		for _, file := range files {
			f, err := os.Open(file)
			require.NoError(t, err)
			img, _, err := image.Decode(f)
			require.NoError(t, err)
			require.NoError(t, f.Close())
			name := dir + "/" + filepath.Base(file)
			views[name] = cut(img, size, 1, false)
			if dir == "crops" {
				views[name+" mirrored"] = cut(img, size, 1, true)
				views[name+" closer"] = cut(img, size, 0.7, false)
			}
		}
	}
	return views
}

// cut samples the middle square of a picture, share of its shorter side, into
// channels of red, green and blue in 0 to 1.
func cut(img image.Image, size int, share float64, mirrored bool) []float32 {
	r := img.Bounds()
	side := share * float64(min(r.Dx(), r.Dy()))
	x0, y0 := float64(r.Min.X)+(float64(r.Dx())-side)/2, float64(r.Min.Y)+(float64(r.Dy())-side)/2
	out := make([]float32, 3*size*size)
	for y := range size {
		for x := range size {
			u := x
			if mirrored {
				u = size - 1 - x
			}
			r, g, b, _ := img.At(int(x0+(float64(u)+0.5)*side/float64(size)), int(y0+(float64(y)+0.5)*side/float64(size))).RGBA()
			for c, v := range [3]uint32{r, g, b} {
				out[(c*size+y)*size+x] = float32(v>>8) / 255
			}
		}
	}
	return out
}

// Tolerances between engines: 0.001 pixels of the crop or of a probability. Sums
// of thousands of float32 taken in another order differ by more where a network
// is unsure, so that some inputs in a hundred may be off by up to 2·10⁻⁵ of the
// output's largest number: 0.004 pixels. Angles may be off by 0.003 degrees: the
// head reads them at places that it has moved itself, and against sums of
// float64 either engine is off by as much. These places, the fingers, may be off by
// as many pixels: each is the middle of a whole map.
const (
	tolerance     = 1e-3
	headTolerance = 3e-3
	ofScale       = 2e-5
	mostBeyond    = 0.05
)

// toleranceOf is the tolerance of an output by its name.
func toleranceOf(output string) float64 {
	switch output {
	case "angles", "spreads", "bends", "fingers":
		return headTolerance
	}
	return tolerance
}

// The two engines share no code, so that this checks both of them.
func TestAgreesWithONNXRuntime(t *testing.T) {
	for name, get := range networks {
		t.Run(name, func(t *testing.T) {
			ref := load(t, runtime(t), get, 2)
			in := infer.NewTensors(ref.Inputs())
			all := views(t, ref.Inputs()[0].Shape[2])
			want := map[string][]infer.Tensor{}
			for view, pixels := range all {
				copy(in[0].Data, pixels)
				want[view] = infer.NewTensors(ref.Outputs())
				require.NoError(t, ref.Run(in, want[view]))
			}
			for _, kind := range []struct {
				name    string
				plain   bool
				threads int
				every   int
			}{{"as the processor can", false, 1, 1}, {"plain", true, 2, 2}} {
				g := load(t, engine(kind.plain), get, kind.threads)
				require.Equal(t, ref.Inputs(), g.Inputs())
				require.Equal(t, ref.Outputs(), g.Outputs())
				out, worst, beyond := infer.NewTensors(g.Outputs()), 0.0, 0
				tried := 0
				for i, view := range slices.Sorted(maps.Keys(all)) {
					if i%kind.every != 0 {
						continue
					}
					tried++
					copy(in[0].Data, all[view])
					require.NoError(t, g.Run(in, out))
					off := 0.0
					for i, o := range out {
						scale, d := 0.0, 0.0
						for j, x := range o.Data {
							w := float64(want[view][i].Data[j])
							require.False(t, math.IsNaN(float64(x)), "%s, %s: %s", kind.name, view, o.Name)
							scale, d = max(scale, math.Abs(w)), max(d, math.Abs(float64(x)-w))
						}
						least := toleranceOf(o.Name)
						require.LessOrEqual(t, d, max(least, ofScale*scale), "%s, %s: %s", kind.name, view, o.Name)
						off = max(off, d/least)
					}
					worst = max(worst, off)
					if off > 1 {
						beyond++
					}
				}
				t.Logf("%s: %d inputs, %d of them beyond the tolerance, the worst by %.1f of it", kind.name, tried, beyond, worst)
				require.LessOrEqual(t, float64(beyond), mostBeyond*float64(tried))
				require.GreaterOrEqual(t, tried, 20)
			}
			require.Greater(t, spreadOf(want), 0.5, "the outputs depend on the picture")
		})
	}
}

// spreadOf says how much the first output's first number varies.
func spreadOf(all map[string][]infer.Tensor) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, o := range all {
		x := float64(o[0].Data[0])
		lo, hi = min(lo, x), max(hi, x)
	}
	return hi - lo
}

// Results do not depend on how the work is divided.
func TestThreadsDoNotChangeTheResult(t *testing.T) {
	for name, get := range networks {
		var first []infer.Tensor
		for _, threads := range []int{1, 2, 5} {
			g := load(t, engine(false), get, threads)
			in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
			for i := range in[0].Data {
				in[0].Data[i] = float32(i%251) / 250
			}
			require.NoError(t, g.Run(in, out))
			if first == nil {
				first = out
			}
			for i := range out {
				require.InDeltaSlice(t, first[i].Data, out[i].Data, 2e-4, "%s, %d threads, %s", name, threads, out[i].Name)
			}
		}
	}
}

// A run allocates nothing, so that the garbage collector never holds a live
// picture up.
func TestRunAllocatesNothing(t *testing.T) {
	for name, get := range networks {
		for _, plain := range []bool{false, true} {
			g := load(t, engine(plain), get, 2)
			in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
			n := testing.AllocsPerRun(3, func() {
				if err := g.Run(in, out); err != nil {
					t.Error(err)
				}
			})
			require.Zero(t, n, "%s, plain %v", name, plain)
		}
	}
}

// BenchmarkNetworks prints what a picture costs with each engine in one run:
// go test -run - -bench Networks ./internal/infer/portable
func BenchmarkNetworks(b *testing.B) {
	for _, name := range []string{"hand", "palm"} {
		for _, kind := range []string{"onnxruntime", "portable", "portable-plain"} {
			for _, threads := range []int{1, 2} {
				e := engine(kind == "portable-plain")
				if kind == "onnxruntime" {
					e = runtime(b)
				}
				g := load(b, e, networks[name], threads)
				in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
				b.Run(name+"/"+kind+"/threads="+string(rune('0'+threads)), func(b *testing.B) {
					best := time.Hour
					for b.Loop() {
						start := time.Now()
						if err := g.Run(in, out); err != nil {
							b.Fatal(err)
						}
						best = min(best, time.Since(start))
					}
					// The fastest run is what it costs where nothing else runs.
					b.ReportMetric(float64(b.Elapsed().Microseconds())/1000/float64(b.N), "ms/picture")
					b.ReportMetric(float64(best.Microseconds())/1000, "best-ms")
				})
			}
		}
	}
}
