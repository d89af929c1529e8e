package main

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// An error that is normal with the stated standard deviation lies within one of
// it in 68.27 and within two in 95.45 of 100 cases.
func TestCoverageOfTheNormalDistribution(t *testing.T) {
	const n, hands = 40000, 40
	r := rand.New(rand.NewPCG(4, 4))
	honest, sure, judgedOnly := newErrors(hands), newErrors(hands), newErrors(hands)
	for i := range n {
		se := 2 + 6*r.Float64()
		off := se * r.NormFloat64()
		honest.add(i%hands, off, se, true)
		sure.add(i%hands, off, se/2, true)
		judgedOnly.add(i%hands, off, se, math.Abs(off) < se)
	}
	chance := func(p float64) float64 { return 4 * math.Sqrt(p*(1-p)/n) }
	require.InDelta(t, 0.6827, honest.in1.mean(nil), chance(0.6827))
	require.InDelta(t, 0.9545, honest.in2.mean(nil), chance(0.9545))
	// Half the error stated: half a deviation, then one.
	require.InDelta(t, 0.3829, sure.in1.mean(nil), chance(0.3829))
	require.InDelta(t, 0.6827, sure.in2.mean(nil), chance(0.6827))
	require.InDelta(t, 1, judgedOnly.in1.mean(nil), 1e-12, "no error is stated for what is not judged")
	require.InDelta(t, 0.6827, judgedOnly.judged.mean(nil), chance(0.6827))
}

// The mean size of a normal error is √(2/π) of its deviation, and beyond two
// and a half of it lie 1.242 of 100 (tables of the normal distribution).
func TestErrorsOfTheNormalDistribution(t *testing.T) {
	const n = 40000
	r := rand.New(rand.NewPCG(5, 5))
	e := newErrors(1)
	for range n {
		e.add(0, 3+8*r.NormFloat64(), 8, true)
	}
	require.InDelta(t, 3, e.bias.mean(nil), 4*8/math.Sqrt(n))
	e = newErrors(1)
	for range n {
		e.add(0, 8*r.NormFloat64(), 8, true)
	}
	require.InDelta(t, 8*math.Sqrt(2/math.Pi), e.size.mean(nil), 0.1)
	require.InDelta(t, 0.01242, e.over20.mean(nil), 0.0023)
}

func TestTallyTakesGroupsAsOftenAsTold(t *testing.T) {
	v := newTally(3)
	v.add(0, 1)
	v.add(0, 3)
	v.add(1, 10)
	require.InDelta(t, 14./3, v.mean(nil), 1e-12)
	require.InDelta(t, 2, v.mean([]int{5, 0, 1}), 1e-12)
	require.InDelta(t, 34./5, v.mean([]int{1, 3, 0}), 1e-12)
	require.True(t, math.IsNaN(v.mean([]int{0, 0, 3})))
	require.Equal(t, 2, v.taken())
}

func TestWorstToBest(t *testing.T) {
	of := make([]*tally, 3)
	for i := range of {
		of[i] = newTally(3)
	}
	of[0].add(0, 4)
	of[1].add(1, 6)
	require.InDelta(t, 1.5, worstToBest(of, nil), 1e-12, "the empty third says nothing")
	require.True(t, math.IsNaN(worstToBest(of, []int{1, 0, 0})), "one alone is not compared")
	of[2].add(2, 2)
	require.InDelta(t, 3, worstToBest(of, nil), 1e-12)
	require.InDelta(t, 1.5, worstToBest(of, []int{1, 1, 0}), 1e-12)
}

func TestMedianOfAnEvent(t *testing.T) {
	for _, c := range []struct {
		readings []float64
		want     float64
	}{
		{[]float64{-1, -9, -2, -8, -7}, -7},
		{[]float64{-4, -2, -8, -6, -1, -9}, -5},
		{[]float64{-4, -2, -8, -6}, math.NaN()}, // less than half of nine
		{nil, math.NaN()},
	} {
		e := event{readings: c.readings}
		if math.IsNaN(c.want) {
			require.True(t, math.IsNaN(e.reads()))
			continue
		}
		require.InDelta(t, c.want, e.reads(), 1e-12)
	}
}

// Ninety-nine straight events and one stray: the cut lies at the stray's edge,
// and events that cannot be judged are missed.
func TestFoundAtTheCut(t *testing.T) {
	s := &sideViews{}
	nine := func(v float64) []float64 { return []float64{v, v, v, v, v, v, v, v, v} }
	for i := range 101 {
		s.events = append(s.events, event{group: i % 2, readings: nine(float64(i) / 10)})
	}
	for _, v := range []float64{-12, -9, 0.05, 3} {
		s.events = append(s.events, event{group: 0, depth: 2, readings: nine(v)})
	}
	s.events = append(s.events, event{group: 0, depth: 2})
	cut := s.straightCut(nil)
	require.InDelta(t, 0.1, cut, 1e-12)
	require.InDelta(t, 60, s.found(2, cut, nil), 1e-12)
	require.InDelta(t, 40, s.found(2, readBelow, nil), 1e-12)
	require.True(t, math.IsNaN(s.straightCut([]int{0, 0})))
}
