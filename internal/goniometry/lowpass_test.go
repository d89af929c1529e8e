package goniometry

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The weights at 30 Hz follow from 1/(1+1/(2·pi·fc·Te)), computed by hand.
func TestSmoothingAt30Hz(t *testing.T) {
	for fc, want := range map[float64]float64{0.5: 0.0948, 1: 0.1732, 1.5: 0.2391, 2: 0.2952, 5: 0.5115} {
		require.InDelta(t, want, smoothing(fc, 1.0/30), 5e-5, "cutoff %v", fc)
	}
}

func TestLowPass(t *testing.T) {
	f := lowPass{cutoffHz: 1}
	require.Equal(t, 3.0, f.update(3, time.Second))
	require.Equal(t, 3.0, f.update(50, time.Second), "a repeated time changes nothing")
	require.InDelta(t, 3+0.1732*10, f.update(13, time.Second+frame30), 1e-3)
}
