package main

import (
	"math"
	"math/rand/v2"
	"slices"
)

// draws of the bootstrap; the ends of a 95 % interval then hang on about 50
// draws beyond either.
const draws = 2000

// bootstrapSeed makes the same figures come out with the same intervals.
const bootstrapSeed = 20

// interval is the 95 % percentile bootstrap interval of a statistic over
// groups: each draw takes as many groups as there are, with replacement, and
// the statistic is told how many times each was taken (Efron and Tibshirani
// 1993, An Introduction to the Bootstrap, chapter 13). Whole groups are drawn
// because what one hand or person shows in one picture it shows in the next.
// Draws for which the statistic is not a number are left out; with less than
// two groups there is no interval, and both ends are NaN.
func interval(groups int, statistic func(times []int) float64) (low, high float64) {
	if groups < 2 {
		return math.NaN(), math.NaN()
	}
	r := rand.New(rand.NewPCG(bootstrapSeed, uint64(groups)))
	times := make([]int, groups)
	values := make([]float64, 0, draws)
	for range draws {
		clear(times)
		for range groups {
			times[r.IntN(groups)]++
		}
		if v := statistic(times); !math.IsNaN(v) {
			values = append(values, v)
		}
	}
	if len(values) == 0 {
		return math.NaN(), math.NaN()
	}
	slices.Sort(values)
	return quantile(values, 0.025), quantile(values, 0.975)
}

// quantile of sorted values, interpolated.
func quantile(sorted []float64, p float64) float64 {
	x := p * float64(len(sorted)-1)
	i := int(x)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (x-float64(i))*(sorted[i+1]-sorted[i])
}

// noneSeen is the upper end of the exact 95 % interval of a share of which
// none was seen in n: (1-p)^n = 0.025 (Clopper and Pearson 1934, Biometrika
// 26:404-413). A bootstrap cannot tell it: it draws nothing but nothing.
func noneSeen(n int) float64 { return 1 - math.Pow(0.025, 1/float64(max(n, 1))) }

// noneIn is the same for a rate of which nothing was seen over a length: the
// mean at which a Poisson count is 0 in 2.5 of 100 cases (Garwood 1936,
// Biometrika 28:437-442).
func noneIn(length float64) float64 { return -math.Log(0.025) / length }
