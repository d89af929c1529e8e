package reviewtest_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/demonstration"
	"volar/internal/hand"
	"volar/internal/review"
	"volar/internal/review/reviewtest"
)

// What is planned is what the recorded session says.
func TestTheRecordedSessionIsAsPlanned(t *testing.T) {
	straight := 0.0
	o := reviewtest.Options{
		Client: "K-104", Program: "K-104", Version: 1, Side: hand.Right, Started: time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC), Seed: 3,
		Exercises: []reviewtest.Exercise{{
			Movement: "straight-finger-hold", Item: "straight", Repetitions: 3, Prescribed: 4, Hold: 3 * time.Second, PainBefore: 2, PainAfter: 5,
			Limits: coach.Limits{hand.IndexPIP: {Lower: &straight}},
			Faults: []demonstration.Fault{{Kind: demonstration.PastStraight, Repetition: 1, Joints: []hand.Joint{hand.IndexPIP}, Deg: 18}},
		}},
	}
	s, err := reviewtest.Make(o)
	require.NoError(t, err)
	m := review.Summarize(s)
	require.Equal(t, []int{3, 4}, []int{m.Counted, m.Prescribed})
	require.Equal(t, map[string]int{"hyperextension index.pip": 1}, m.Faults)
	moments := review.Moments(s, nil)
	require.Len(t, moments, 1)
	require.InDelta(t, -18, moments[0].PeakDeg, 5)
	require.Len(t, review.Spans(s), 6, "three repetitions, three holds")
	again, err := reviewtest.Make(o)
	require.NoError(t, err)
	require.Equal(t, s.ID, again.ID)
	require.Equal(t, s.Samples, again.Samples)
}
