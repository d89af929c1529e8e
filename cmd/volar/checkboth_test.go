package main

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/hand"
)

func at(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// The prescribed number of counted repetitions makes a set.
func TestSetsOfARecording(t *testing.T) {
	r := checkResult{Program: &programResult{Sets: 3, Repetitions: 2}}
	s := coach.Summary{}
	for i, v := range []coach.Verdict{coach.Counted, coach.Partial, coach.Counted, coach.Counted} {
		s.Repetitions = append(s.Repetitions, coach.Repetition{Number: i + 1, Start: at(float64(10 * i)), End: at(float64(10*i + 5)), Verdict: v})
	}
	r.fillOne(s)
	require.Equal(t, []setResult{{2, 0, 25}, {1, 30, 35}}, r.Sets)
	var b strings.Builder
	r.printSets(&printer{w: &b})
	require.Contains(t, b.String(), "1 of 3: 2 of 2 repetitions, 0.0 to 25.0 s")
	require.Contains(t, b.String(), "2 of 3: 1 of 2 repetitions")

	none := checkResult{}
	none.fillOne(s)
	require.Empty(t, none.Sets, "without a program there are no sets")
}

// Both hands are told, the other one by its own figures.
func TestBothHandsAreTold(t *testing.T) {
	both := coach.PairSummary{
		Left:    coach.Summary{Counted: 4, Measured: 0.9, Flags: []coach.Flag{{Kind: coach.Hyperextension, OnJoint: true, Joint: hand.IndexPIP, PeakDeg: -14, Side: hand.Left}}},
		Right:   coach.Summary{Counted: 5},
		Counted: 4, Unjudged: 1,
		Repetitions: []coach.PairRepetition{{Start: at(1), End: at(4)}},
		Flags:       []coach.Flag{{Kind: coach.OutOfOrder, Start: at(8), End: at(9)}},
	}
	r := checkResult{Program: &programResult{Sets: 1, Repetitions: 5}}
	r.fillBoth(both, hand.Right)
	require.Equal(t, "left", r.Other.Side)
	require.Equal(t, 4, r.Other.Repetitions.Counted)
	require.Equal(t, []setResult{{1, 1, 4}}, r.Sets)
	out, err := json.Marshal(r)
	require.NoError(t, err)
	require.Contains(t, string(out), `"both":{"counted":4,"unjudged":1,"flags":[{"kind":"out-of-order"`)
	require.Contains(t, string(out), `"other":{"side":"left","measured":0.9,"repetitions":{"counted":4,`)
	var b strings.Builder
	r.printBoth(&printer{w: &b})
	for _, want := range []string{"Both hands   4 counted, 1 could not be judged", "The left hand, followed in 90 % of the time", "index PIP 14° past straight"} {
		require.Contains(t, b.String(), want)
	}
	r.fillBoth(both, hand.Left)
	require.Equal(t, "right", r.Other.Side)
}
