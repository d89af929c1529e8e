package main

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// The standard error of a mean of n independent values is s/√n, and 1.96 of it
// to either side is the 95 % interval of a normal distribution: any textbook.
func TestIntervalOfAMean(t *testing.T) {
	const n = 400
	values := newTally(n)
	r := rand.New(rand.NewPCG(1, 1))
	var sum, squares float64
	for g := range n {
		x := 5 + 3*r.NormFloat64()
		values.add(g, x)
		sum, squares = sum+x, squares+x*x
	}
	mean := sum / n
	se := math.Sqrt((squares/n - mean*mean) / (n - 1)) // s/√n
	low, high := interval(n, values.mean)
	require.InDelta(t, mean-1.96*se, low, 0.1*se)
	require.InDelta(t, mean+1.96*se, high, 0.1*se)
}

// Ten equal readings of one hand say no more than one: the interval goes by
// hands, and is √10 times as wide as one that took the readings for
// independent.
func TestIntervalGoesByGroups(t *testing.T) {
	const hands, readings = 200, 10
	once, often := newTally(hands), newTally(hands)
	split := newTally(hands * readings)
	r := rand.New(rand.NewPCG(2, 2))
	for g := range hands {
		x := r.NormFloat64()
		once.add(g, x)
		for k := range readings {
			often.add(g, x)
			split.add(g*readings+k, x)
		}
	}
	low1, high1 := interval(hands, once.mean)
	low2, high2 := interval(hands, often.mean)
	require.InDelta(t, low1, low2, 1e-12)
	require.InDelta(t, high1, high2, 1e-12)
	low3, high3 := interval(hands*readings, split.mean)
	require.InDelta(t, math.Sqrt(readings), (high2-low2)/(high3-low3), 0.2)
}

// A 95 % interval holds the truth in about 95 of 100 runs. The bootstrap of a
// mean of 40 skewed values is known to hold it a little less often.
func TestIntervalHoldsTheTruth(t *testing.T) {
	const runs, n = 400, 40
	r := rand.New(rand.NewPCG(3, 3))
	held := 0
	for range runs {
		values := newTally(n)
		for g := range n {
			values.add(g, r.ExpFloat64())
		}
		if low, high := interval(n, values.mean); low <= 1 && 1 <= high {
			held++
		}
	}
	require.InDelta(t, 0.93, float64(held)/runs, 0.035)
}

func TestNoIntervalOfOneGroup(t *testing.T) {
	values := newTally(1)
	values.add(0, 1)
	low, high := interval(1, values.mean)
	require.True(t, math.IsNaN(low) && math.IsNaN(high))
}

// Two-sided exact limits for none of n: 30.8 % of 10 and 3.62 % of 100, as in
// published tables of the binomial distribution (Clopper and Pearson 1934).
func TestNoneSeen(t *testing.T) {
	require.InDelta(t, 0.3085, noneSeen(10), 5e-5)
	require.InDelta(t, 0.0362, noneSeen(100), 5e-5)
}

// Nothing in one unit of time: 3.69 at most, as in published tables of the
// Poisson distribution (Garwood 1936).
func TestNoneIn(t *testing.T) {
	require.InDelta(t, 3.689, noneIn(1), 5e-4)
	require.InDelta(t, 0.3689, noneIn(10), 5e-5)
}

func TestQuantile(t *testing.T) {
	v := []float64{1, 2, 3, 4, 5}
	for _, c := range []struct{ p, want float64 }{{0, 1}, {0.25, 2}, {0.5, 3}, {0.625, 3.5}, {1, 5}} {
		require.InDelta(t, c.want, quantile(v, c.p), 1e-12)
	}
	require.InDelta(t, 7, quantile([]float64{7}, 0.3), 1e-12)
}
