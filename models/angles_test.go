package models_test

import (
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/infer"
	"volar/models"
)

// The angle head stands behind the landmark network and must not change it.
func TestAngleHeadLeavesTheLandmarksAlone(t *testing.T) {
	e, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	defer func() { require.NoError(t, e.Close()) }()
	load := func(get func() ([]byte, error)) infer.Graph {
		b, err := get()
		require.NoError(t, err)
		g, err := e.Load(b, infer.Options{Threads: 1})
		require.NoError(t, err)
		t.Cleanup(func() { require.NoError(t, g.Close()) })
		return g
	}
	plain, head := load(models.HandLandmark), load(models.HandAngles)
	crops, err := filepath.Glob(filepath.Join(referenceDir, "crops", "hand-*.png"))
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(crops), 8)
	for _, crop := range crops {
		in, out := infer.NewTensors(plain.Inputs()), infer.NewTensors(plain.Outputs())
		fill(t, &in[0], crop)
		require.NoError(t, plain.Run(in, out))
		more := infer.NewTensors(head.Outputs())
		require.NoError(t, head.Run(in, more))
		got := map[string][]float32{}
		for _, o := range more {
			got[o.Name] = o.Data
		}
		for _, o := range out {
			require.Equal(t, o.Data, got[o.Name], "%s of %s is the same to the bit", o.Name, crop)
		}
		require.Len(t, got["angles"], 14)
		for j, s := range got["spreads"] {
			require.Greater(t, s, float32(0))
			require.Less(t, math.Abs(float64(got["angles"][j])), 180.0)
		}
		require.Len(t, got["fingers"], 32)
		for _, v := range got["fingers"] {
			require.InDelta(t, 112, v, 224, "pixels of the crop, or a little beyond")
		}
		for _, v := range got["visible"] {
			require.True(t, v >= 0 && v <= 1)
		}
	}
}

// The cost of the head over the landmark network alone.
func BenchmarkHandNetworks(b *testing.B) {
	e, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(b, err)
	defer e.Close()
	for name, get := range map[string]func() ([]byte, error){"landmarks": models.HandLandmark, "landmarks and angles": models.HandAngles} {
		model, err := get()
		require.NoError(b, err)
		g, err := e.Load(model, infer.Options{})
		require.NoError(b, err)
		in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				require.NoError(b, g.Run(in, out))
			}
		})
		require.NoError(b, g.Close())
	}
}
