package program

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/coach"
	"volar/internal/exercise"
)

func sec(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// tries are attempts of 4 s that begin at the given times; one in brackets does
// not count.
func tries(starts []float64, not ...int) (all []Attempt) {
	for i, s := range starts {
		a := Attempt{sec(s), sec(s + 4), true}
		for _, n := range not {
			a.Counted = a.Counted && i != n
		}
		all = append(all, a)
	}
	return all
}

func TestSetsOfARecording(t *testing.T) {
	dose := exercise.Dose{Sets: 3, Repetitions: 2, RestSeconds: 20}
	for _, x := range []struct {
		name     string
		attempts []Attempt
		dose     exercise.Dose
		want     []Set
	}{
		{"nothing", nil, dose, nil},
		{"with rests", tries([]float64{0, 5, 30, 35}), dose, []Set{{2, 0, sec(9)}, {2, sec(30), sec(39)}}},
		{"without a rest the number ends it", tries([]float64{0, 5, 10, 15, 20}), dose, []Set{{2, 0, sec(9)}, {2, sec(10), sec(19)}, {1, sec(20), sec(24)}}},
		{"a pause ends one that is not complete", tries([]float64{0, 24, 29}), dose, []Set{{1, 0, sec(4)}, {2, sec(24), sec(33)}}},
		{"a short pause does not", tries([]float64{0, 13}), dose, []Set{{2, 0, sec(17)}}},
		{"one more than prescribed", tries([]float64{0, 5, 10, 40, 45}), exercise.Dose{Repetitions: 10, RestSeconds: 20}, []Set{{3, 0, sec(14)}, {2, sec(40), sec(49)}}},
		{"twelve of ten are one set", tries([]float64{0, 5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55}), exercise.Dose{Repetitions: 10, RestSeconds: 20}, []Set{{12, 0, sec(59)}}},
		{"what does not count belongs to its set", tries([]float64{0, 5, 10, 40, 45, 50}, 0, 5), dose, []Set{{2, 0, sec(14)}, {2, sec(40), sec(54)}}},
		{"nothing that counts is no set", tries([]float64{0, 5, 40, 70, 75}, 2), dose, []Set{{2, 0, sec(9)}, {2, sec(70), sec(79)}}},
		{"no rest prescribed", tries([]float64{0, 60, 120}), exercise.Dose{Repetitions: 2}, []Set{{2, 0, sec(64)}, {1, sec(120), sec(124)}}},
		{"no repetitions prescribed", tries([]float64{0}), exercise.Dose{}, nil},
		{"two hands overlap", []Attempt{{0, sec(30), true}, {sec(2), sec(6), false}, {sec(31), sec(35), true}}, dose, []Set{{2, 0, sec(35)}}},
	} {
		require.Equal(t, x.want, SetsOf(x.attempts, x.dose), x.name)
	}
}

func TestRestsBesideThePrescribed(t *testing.T) {
	for rest, want := range map[float64]RestVerdict{17: RestShort, 17.9: RestShort, 18.1: RestKept, 20: RestKept, 29.9: RestKept, 30.1: RestLong, 300: RestLong} {
		sets := []Set{{2, 0, sec(10)}, {2, sec(10 + rest), sec(100)}}
		require.Equal(t, []Rest{{sec(10), sec(10 + rest), sec(20), want}}, RestsOf(sets, exercise.Dose{RestSeconds: 20}), rest)
	}
	// A repetition's ends are known to about half a second.
	short := RestsOf([]Set{{1, 0, 0}, {1, sec(4.2), sec(5)}, {1, sec(8.9), sec(9)}}, exercise.Dose{RestSeconds: 5})
	require.Equal(t, []RestVerdict{RestKept, RestShort}, []RestVerdict{short[0].Verdict, short[1].Verdict})
	require.Empty(t, RestsOf([]Set{{1, 0, 0}, {1, 0, 0}}, exercise.Dose{})[0].Verdict)
	require.Empty(t, RestsOf([]Set{{1, 0, 0}}, exercise.Dose{RestSeconds: 5}))
}

func TestWhatHandsTriedAlone(t *testing.T) {
	s := coach.PairSummary{
		Left:        coach.Summary{Repetitions: []coach.Repetition{{Number: 1, End: 2}, {Number: 2, Verdict: coach.Counted, Start: 10, End: 14}}},
		Right:       coach.Summary{Repetitions: []coach.Repetition{{Number: 1, Verdict: coach.Counted, Start: 11, End: 15}, {Number: 2, Start: 5, End: 6}}},
		Repetitions: []coach.PairRepetition{{Number: 1, Left: 2, Right: 1, Start: 10, End: 15}},
	}
	require.Equal(t, []Attempt{{0, 2, false}, {5, 6, false}, {10, 15, true}}, PairAttempts(s))
	require.Equal(t, []Attempt{{0, 2, false}, {10, 14, true}}, Attempts(s.Left))
}

// Whatever was tried, sets are in order and apart, and hold every repetition that
// counts once.
func TestSetsHoldWhatCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var all []Attempt
		at, counted := time.Duration(0), 0
		for range rapid.IntRange(0, 40).Draw(t, "attempts") {
			at += sec(rapid.Float64Range(0, 40).Draw(t, "pause"))
			a := Attempt{Start: at, Counted: rapid.Bool().Draw(t, "counted")}
			at += sec(rapid.Float64Range(0.5, 10).Draw(t, "length"))
			a.End = at
			if a.Counted {
				counted++
			}
			all = append(all, a)
		}
		dose := exercise.Dose{Repetitions: rapid.IntRange(1, 12).Draw(t, "repetitions"), RestSeconds: float64(rapid.IntRange(0, 60).Draw(t, "rest"))}
		sets := SetsOf(all, dose)
		sum := 0
		for i, s := range sets {
			require.Positive(t, s.Counted)
			require.Less(t, s.Start, s.End)
			if i > 0 {
				require.LessOrEqual(t, sets[i-1].End, s.Start)
			}
			sum += s.Counted
		}
		require.Equal(t, counted, sum)
		for _, r := range RestsOf(sets, dose) {
			require.LessOrEqual(t, r.Start, r.End)
		}
	})
}
