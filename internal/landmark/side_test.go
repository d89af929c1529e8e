package landmark

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/hand"
)

func TestSideEvidence(t *testing.T) {
	// Scores for the right hand, one a frame at 30 a second, as {score, n}.
	type run struct {
		score float64
		n     int
	}
	for _, c := range []struct {
		name string
		runs []run
		want hand.Side
	}{
		{"right at once", []run{{0.9, 1}}, hand.Right},
		{"left at once", []run{{0.1, 1}}, hand.Left},
		{"one contrary frame after one", []run{{0.9, 1}, {0, 1}}, hand.Right},
		{"one contrary frame after an unsure start", []run{{0.55, 1}, {0, 1}}, hand.Right},
		{"one contrary frame late", []run{{0.9, 60}, {0, 1}}, hand.Right},
		{"a quarter of a second of contrary frames late", []run{{0.9, 60}, {0, 8}}, hand.Right},
		{"a wrong first frame is outvoted", []run{{0.9, 1}, {0.05, 15}}, hand.Left},
		{"a wrong first second is outvoted in time", []run{{0.9, 30}, {0.05, 75}}, hand.Left},
		{"undecided scores change nothing", []run{{0.9, 10}, {0.45, 300}}, hand.Right},
	} {
		t.Run(c.name, func(t *testing.T) {
			var e sideEvidence
			at := time.Duration(0)
			for _, r := range c.runs {
				for range r.n {
					at += frameTime
					e.add(r.score, 1, at)
				}
			}
			require.Equal(t, c.want, e.side)
			require.GreaterOrEqual(t, e.score(), 0.5)
			require.LessOrEqual(t, e.score(), 1.0)
		})
	}
}

// Whatever the scores and the frame rate, the side stays for at least
// sidePatience between two changes, and a single contrary score changes
// nothing if its neighbours agree.
func TestSideNeverFlickers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var e sideEvidence
		at, changed := time.Duration(0), time.Duration(0)
		step := time.Duration(rapid.IntRange(8, 90).Draw(t, "ms")) * time.Millisecond
		for i, s := range rapid.SliceOfN(rapid.Float64Range(0, 1), 1, 200).Draw(t, "scores") {
			before := e.side
			at += step
			e.add(s, rapid.Float64Range(0.01, 1).Draw(t, "weight"), at)
			if i > 0 && e.side != before {
				require.GreaterOrEqual(t, at-changed, sidePatience)
				changed = at
			}
		}
	})
}

// Scores from the side, where they are a toss, do not take away what the palm
// has shown; the palm again soon mends a side that was first seen so.
func TestSideViewsSayLittle(t *testing.T) {
	var e sideEvidence
	at := time.Duration(0)
	add := func(score, weight float64, n int) {
		for range n {
			at += frameTime
			e.add(score, weight, at)
		}
	}
	add(0.95, 1, 4)
	add(0.05, leastSideWeight, 300)
	require.Equal(t, hand.Right, e.side, "ten seconds from the side")

	e = sideEvidence{}
	add(0.05, leastSideWeight, 30)
	require.Equal(t, hand.Left, e.side)
	add(0.95, 1, 10)
	require.Equal(t, hand.Right, e.side)

	for _, c := range []struct {
		normal hand.Point
		want   float64
	}{{hand.Point{Z: -1}, 1}, {hand.Point{Z: 1}, 1}, {hand.Point{X: 1}, leastSideWeight}, {hand.Point{}, 1}, {hand.Point{X: 0.7071, Z: -0.7071}, 0.25}} {
		r := reading{angles: &hand.ModelAngles{Normal: c.normal}}
		require.InDelta(t, c.want, r.sideWeight(), 1e-3)
	}
	require.Equal(t, 1.0, new(reading).sideWeight())
	for _, c := range []struct{ apart, want float64 }{{0, 1}, {alikeUpTo, 1}, {13, 0.5}, {unlikeFrom, 0}, {40, 0}} {
		r := reading{apart: c.apart, angles: &hand.ModelAngles{Normal: hand.Point{Z: -1}}}
		require.InDelta(t, c.want, r.sideWeight(), 1e-9, "%g samples apart", c.apart)
	}
}

// Two hands in one picture that look alike from the side are one body's left
// and right; two that were both plainly seen are of two people.
func TestTwoHandsArePartedBySide(t *testing.T) {
	see := func(rightScore, weight float64, d time.Duration) *sideEvidence {
		e := new(sideEvidence)
		for at := time.Duration(0); at <= d; at += frameTime {
			e.add(rightScore, weight, at)
		}
		return e
	}
	known, doubted := see(0.05, 1, time.Second), see(0.05, leastSideWeight, time.Second)
	for _, order := range [][2]*sideEvidence{{known, doubted}, {doubted, known}} {
		a, b := *order[0], *order[1]
		parted(&a, &b)
		require.NotEqual(t, a.side, b.side)
		a, b = *order[0], *order[1]
		parted(&b, &a)
		require.NotEqual(t, a.side, b.side)
	}
	parted(known, doubted)
	require.Equal(t, hand.Left, known.side)
	require.Equal(t, hand.Right, doubted.side)
	require.Equal(t, 0.5, doubted.score(), "nothing seen speaks for it")

	a, b := see(0.05, 1, time.Second), see(0.05, 1, time.Second)
	parted(a, b)
	require.Equal(t, a.side, b.side, "plainly seen")
	one, two := see(0.05, leastSideWeight, time.Second), see(0.95, leastSideWeight, time.Second)
	parted(one, two)
	require.Equal(t, hand.Left, one.side)
	require.Equal(t, hand.Right, two.side)
}

// What is seen from the side alone is a guess, however long; the palm ends that,
// and from the side the hand stays what the palm has shown.
func TestSideIsAGuessUntilItIsShown(t *testing.T) {
	var e sideEvidence
	at := time.Duration(0)
	add := func(weight float64, n int) {
		for range n {
			at += frameTime
			e.add(0.9, weight, at)
		}
	}
	add(leastSideWeight, 300)
	require.True(t, e.guessed(), "ten seconds from the side")
	add(0.9, 1)
	require.True(t, e.guessed(), "a glimpse of the palm does not outweigh them")
	add(0.9, 30)
	require.False(t, e.guessed())
	add(leastSideWeight, 100)
	require.False(t, e.guessed(), "what the palm has shown stays")

	e = sideEvidence{}
	add(1, 1)
	require.False(t, e.guessed(), "the palm at once")
	add(leastSideWeight, 1)
	require.True(t, e.guessed(), "too short for what comes after it")
	add(0, 1)
	require.True(t, e.guessed(), "read in the wrong place")
}

// A hand beside one that is known is known, too; two that are not stay guesses.
func TestASideFollowsFromThatOfTheHandBeside(t *testing.T) {
	see := func(rightScore, weight float64) *sideEvidence {
		e := new(sideEvidence)
		for at := time.Duration(0); at <= time.Second; at += frameTime {
			e.add(rightScore, weight, at)
		}
		return e
	}
	for _, score := range []float64{0.9, 0.1} {
		known, doubted := see(0.9, 1), see(score, leastSideWeight)
		parted(known, doubted)
		require.Equal(t, hand.Left, doubted.side)
		require.False(t, doubted.guessed())
		a, b := see(0.9, leastSideWeight), see(score, leastSideWeight)
		parted(a, b)
		require.NotEqual(t, a.side, b.side)
		require.True(t, a.guessed())
		require.True(t, b.guessed())
	}
}
