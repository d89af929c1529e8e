package goniometry

import (
	"math"
	"time"
)

// OneEuro is a low-pass filter whose cutoff rises with the speed of the
// signal: steady where the hand rests, quick where it moves. Casiez, Roussel,
// Vogel: 1€ filter, CHI 2012, doi 10.1145/2207676.2208639. The zero value is
// not useful; the fields are set once and the state belongs to one signal.
type OneEuro struct {
	// MinCutoffHz is the cutoff at rest and DerivativeCutoffHz that of the
	// speed estimate. Beta is how many Hz the cutoff rises for each unit of the
	// signal a second.
	MinCutoffHz, Beta, DerivativeCutoffHz float64

	value, slope float64
	at           time.Duration
	started      bool
}

// forDegrees are the parameters for joint angles, beta being in Hz for each
// degree a second. At rest 1.5 Hz takes a third off the jitter of a 30 Hz
// camera's landmarks (1 to 2 degrees); a 15 degree step at 30 Hz raises the
// cutoff to about 5 Hz in its first frame, so that two frames later three
// quarters of it are shown.
func forDegrees() OneEuro {
	return OneEuro{MinCutoffHz: 1.5, Beta: 0.05, DerivativeCutoffHz: 1}
}

// Filter takes the value x at the capture time at and returns the filtered
// value. A time at or before the last one changes nothing and returns the last
// value.
func (f *OneEuro) Filter(x float64, at time.Duration) float64 {
	if !f.started {
		f.value, f.slope, f.at, f.started = x, 0, at, true
		return x
	}
	dt := (at - f.at).Seconds()
	if dt <= 0 {
		return f.value
	}
	f.at = at
	f.slope = blend(f.slope, (x-f.value)/dt, smoothing(f.DerivativeCutoffHz, dt))
	f.value = blend(f.value, x, smoothing(f.MinCutoffHz+f.Beta*math.Abs(f.slope), dt))
	return f.value
}

// Reset forgets the signal; the next value starts afresh.
func (f *OneEuro) Reset() { f.started = false }

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
