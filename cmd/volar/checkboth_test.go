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

// Both hands are told, the other one by its own figures.
func TestBothHandsAreTold(t *testing.T) {
	both := coach.PairSummary{
		Left:    coach.Summary{Counted: 4, Measured: 0.9, Flags: []coach.Flag{{Kind: coach.Hyperextension, OnJoint: true, Joint: hand.IndexPIP, PeakDeg: -14, Side: hand.Left}}},
		Right:   coach.Summary{Counted: 5, Repetitions: []coach.Repetition{{Number: 1, Verdict: coach.Partial, End: at(0.5)}}},
		Counted: 4, Unjudged: 1,
		Repetitions: []coach.PairRepetition{{Left: 1, Right: 2, Start: at(1), End: at(4)}},
		Flags:       []coach.Flag{{Kind: coach.OutOfOrder, Start: at(8), End: at(9)}},
	}
	r := checkResult{Program: &programResult{Sets: 1, Repetitions: 5}}
	r.fillBoth(both, hand.Right)
	require.Equal(t, "left", r.Other.Side)
	require.Equal(t, 4, r.Other.Repetitions.Counted)
	require.Equal(t, []setResult{{1, 0, 4}}, r.Sets)
	out, err := json.Marshal(r)
	require.NoError(t, err)
	require.Contains(t, string(out), `"both":{"counted":4,"unjudged":1,"flags":[{"kind":"out-of-order"`)
	require.Contains(t, string(out), `"other":{"side":"left","measured":0.9,"repetitions":{"counted":4,`)
	var b strings.Builder
	r.printBoth(&printer{w: &b})
	for _, want := range []string{"Both hands   4 counted, 1 could not be judged", "The left hand, followed in 90 % of the time", "index PIP 14° past straight"} {
		require.Contains(t, b.String(), want)
	}
	// Whose a hold or a repetition is stands beside it, for one hand alone it does not.
	both.Left.Holds = []coach.Hold{{Met: true, Side: hand.Left}}
	both.Left.Repetitions = []coach.Repetition{{Number: 1, Verdict: coach.Counted, Side: hand.Left}}
	r.fillBoth(both, hand.Right)
	out, err = json.Marshal(r)
	require.NoError(t, err)
	require.Contains(t, string(out), `"holds":[{"side":"left",`)
	require.Contains(t, string(out), `"each":[{"side":"left","number":1,"verdict":"counted",`)
	require.Contains(t, string(out), `{"kind":"hyperextension","side":"left","joint":"index.pip"`)
	alone, err := json.Marshal(holdResults(both.Left.Holds))
	require.NoError(t, err)
	require.NotContains(t, string(alone), "side")
	r.fillBoth(both, hand.Left)
	require.Equal(t, "right", r.Other.Side)
}
