package models_test

import (
	"encoding/json"
	"image"
	_ "image/png" // the crops
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/infer"
	"volar/models"
)

const referenceDir = "../testdata/reference"

// referenceRun is what the original TensorFlow Lite network gave for a crop,
// run by the npm package @tensorflow/tfjs-tflite 0.0.1-alpha.10; see
// testdata/reference/README.md.
type referenceRun struct {
	Model, Input string
	Outputs      map[string][]float64
}

// tolerance is the largest difference allowed, as a share of the output's
// scale: of its largest absolute value, or of 1 for a probability. For the
// landmarks that is 0.02 pixels of 224, for the world points 0.01 mm. The
// difference measured is 4e-6; other processors add in other orders.
const tolerance = 1e-4

func TestOutputsAreTheOriginals(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(referenceDir, "raw.json"))
	require.NoError(t, err)
	var ref struct{ Runs []referenceRun }
	require.NoError(t, json.Unmarshal(b, &ref))
	require.GreaterOrEqual(t, len(ref.Runs), 12)

	e, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	defer func() { require.NoError(t, e.Close()) }()
	graphs := map[string]infer.Graph{}
	for name, get := range map[string]func() ([]byte, error){
		models.HandLandmarkFile:  models.HandLandmark,
		models.PalmDetectionFile: models.PalmDetection,
	} {
		model, err := get()
		require.NoError(t, err)
		g, err := e.Load(model, infer.Options{})
		require.NoError(t, err)
		defer func() { require.NoError(t, g.Close()) }()
		graphs[name] = g
	}

	worst := 0.0
	runs := map[string]int{}
	for _, r := range ref.Runs {
		t.Run(r.Input, func(t *testing.T) {
			g := graphs[r.Model]
			require.NotNil(t, g, "model %s", r.Model)
			in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
			fill(t, &in[0], filepath.Join(referenceDir, r.Input))
			require.NoError(t, g.Run(in, out))
			require.Len(t, r.Outputs, len(out))
			for _, o := range out {
				d := difference(t, o.Data, r.Outputs[o.Name])
				worst = max(worst, d)
				require.LessOrEqual(t, d, tolerance, "output %s", o.Name)
			}
			runs[r.Model]++
		})
	}
	require.Len(t, runs, 2, "both networks were compared")
	t.Logf("largest difference: %.1e of the output's scale", worst)
}

// fill puts a crop into an NCHW tensor: byte ÷ 255, red, green, blue.
func fill(t *testing.T, x *infer.Tensor, file string) {
	t.Helper()
	f, err := os.Open(file)
	require.NoError(t, err)
	defer f.Close()
	img, _, err := image.Decode(f)
	require.NoError(t, err)
	h, w := x.Shape[2], x.Shape[3]
	require.Equal(t, image.Rect(0, 0, w, h), img.Bounds())
	for y := range h {
		for c := range w {
			r, g, b, _ := img.At(c, y).RGBA()
			for k, v := range [3]uint32{r, g, b} {
				x.Data[(k*h+y)*w+c] = float32(v>>8) / 255
			}
		}
	}
}

// difference returns the largest difference as a share of the output's scale.
func difference(t *testing.T, got []float32, want []float64) float64 {
	t.Helper()
	require.Len(t, got, len(want))
	scale, worst := 0.0, 0.0
	if len(want) == 1 {
		scale = 1 // a probability
	}
	for i, w := range want {
		scale = max(scale, math.Abs(w))
		d := math.Abs(float64(got[i]) - w)
		require.False(t, math.IsNaN(d))
		worst = max(worst, d)
	}
	return worst / scale
}
