package goniometry

import (
	"math"
	"time"
)

// smoothing is the weight of a new value in a first-order low-pass filter with
// the given cutoff after dt seconds.
func smoothing(cutoffHz, dt float64) float64 {
	tau := 1 / (2 * math.Pi * cutoffHz)
	return 1 / (1 + tau/dt)
}

func blend(old, new, weight float64) float64 { return old + weight*(new-old) }

// lowPass is a first-order low-pass filter with a fixed cutoff.
type lowPass struct {
	cutoffHz float64
	value    float64
	at       time.Duration
	started  bool
}

// update takes the value x at the capture time at and returns the filtered
// value.
func (f *lowPass) update(x float64, at time.Duration) float64 {
	dt := (at - f.at).Seconds()
	switch {
	case !f.started:
		f.value, f.started = x, true
	case dt <= 0:
		return f.value
	default:
		f.value = blend(f.value, x, smoothing(f.cutoffHz, dt))
	}
	f.at = at
	return f.value
}
