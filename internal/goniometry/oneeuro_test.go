package goniometry

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// Rows 0 to 5 of groundTruth.csv in the authors' repository (casiez/OneEuroFilter
// at b992684, BSD-3): frequency 120, mincutoff 1, beta 0.1, dcutoff 1.
func TestOneEuroAgainstPublishedRows(t *testing.T) {
	f := OneEuro{MinCutoffHz: 1, Beta: 0.1, DerivativeCutoffHz: 1}
	for _, row := range []struct{ t, noisy, filtered float64 }{
		{0, -0.0385099, -0.0385099},
		{0.00833333, -0.0280664, -0.0379872},
		{0.0166667, 0.048622, -0.0334427},
		{0.025, 0.111498, -0.0252696},
		{0.0333333, 0.053026, -0.0207099},
		{0.0416667, 0.120548, -0.0119912},
	} {
		require.InDelta(t, row.filtered, f.Filter(row.noisy, seconds(row.t)), 3e-6, "t=%v", row.t)
	}
}

// The weights at 30 Hz follow from 1/(1+1/(2·pi·fc·Te)), computed by hand.
func TestSmoothingAt30Hz(t *testing.T) {
	for fc, want := range map[float64]float64{0.5: 0.0948, 1: 0.1732, 1.5: 0.2391, 2: 0.2952, 5: 0.5115} {
		require.InDelta(t, want, smoothing(fc, 1.0/30), 5e-5, "cutoff %v", fc)
	}
}

// The lag of what is shown: 63 % of a step into hyperextension must be there
// within 80 ms, at 30 and at 60 frames a second and for small and large steps.
func TestOneEuroLagOfAHyperextensionStep(t *testing.T) {
	for _, fps := range []float64{30, 60} {
		for _, step := range []float64{-10, -15, -20, -30} {
			f := forDegrees()
			k := 0
			for ; k < 30; k++ {
				f.Filter(0, seconds(float64(k)/fps))
			}
			// The joint passes straight somewhere between two frames, on
			// average half a frame before the first that shows it.
			began := (float64(k) - 0.5) / fps
			for f.Filter(step, seconds(float64(k)/fps)) > 0.63*step {
				k++
			}
			require.LessOrEqual(t, float64(k)/fps-began, 0.080, "%v fps, step %v", fps, step)
		}
	}
}

func TestOneEuroSteadiesARestingSignal(t *testing.T) {
	f := forDegrees()
	var in, out float64
	for k := range 3000 {
		// Alternating and slowly turning: zero mean, like landmark jitter.
		x := 1.5 * math.Sin(float64(k)*2.1) * math.Cos(float64(k)*0.37)
		y := f.Filter(x, seconds(float64(k)/30))
		in += x * x
		out += y * y
	}
	require.Less(t, math.Sqrt(out/in), 0.6)
}

func TestOneEuroIrregularSteps(t *testing.T) {
	f := forDegrees()
	require.Equal(t, 3.0, f.Filter(3, time.Second))
	require.Equal(t, 3.0, f.Filter(50, time.Second), "a repeated time changes nothing")
	require.Equal(t, 3.0, f.Filter(50, time.Second/2), "a time that runs backwards changes nothing")
	near := f
	a, b := near.Filter(13, 1010*time.Millisecond), f.Filter(13, 1200*time.Millisecond)
	require.Less(t, a, b, "a longer step counts for more")
	f.Reset()
	require.Equal(t, -7.0, f.Filter(-7, 1300*time.Millisecond))
}
