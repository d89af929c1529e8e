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
	"volar/internal/session"
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
	require.Equal(t, map[review.Fault]int{{Kind: "hyperextension", Subject: "index.pip", Side: hand.Right}: 1}, m.Faults)
	moments := review.Moments(s, nil)
	require.Len(t, moments, 1)
	require.InDelta(t, -18, moments[0].PeakDeg, 5)
	require.Len(t, review.Spans(s), 6, "three repetitions, three holds")
	again, err := reviewtest.Make(o)
	require.NoError(t, err)
	require.Equal(t, s.ID, again.ID)
	require.Equal(t, s.Samples, again.Samples)
}

// Of two hands each has its own ranges, repetitions and holds; what the hand of
// the program is asked for has nothing of the other's.
func TestTwoHandsStayApart(t *testing.T) {
	straight := 0.0
	s, err := reviewtest.Make(reviewtest.Options{
		Client: "K-105", Program: "K-105", Version: 1, Side: hand.Right, Started: time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC), Seed: 11, FPS: 15,
		Exercises: []reviewtest.Exercise{{
			Movement: "wringing-alternating", Item: "wringing-alternating", Repetitions: 2, OtherLimits: coach.Limits{hand.IndexPIP: {Lower: &straight}},
			OtherFaults: []demonstration.Fault{{Kind: demonstration.PastStraight, Repetition: 0, Joints: []hand.Joint{hand.IndexPIP}, Deg: 18}},
		}},
	})
	require.NoError(t, err)
	e := &s.Exercises[0]
	require.True(t, e.TwoHands())
	require.Equal(t, []hand.Side{hand.Right, hand.Left}, review.Hands([]*session.Session{s}, e.Side))
	left, _ := review.ReachOf(s, hand.Left)
	right, _ := review.ReachOf(s, hand.Right)
	own, _ := review.ReachOf(s, hand.UnknownSide)
	require.InDelta(t, -18, left[hand.IndexPIP].MinDeg, 5)
	require.Greater(t, right[hand.IndexPIP].MinDeg, -8.0)
	require.Equal(t, right, own, "the hand that the exercise is for")
	require.Greater(t, review.Weekly([]*session.Session{s}, hand.Right, hand.IndexPIP)[0].Reach.MinDeg, -8.0)

	spans := review.Spans(s)
	did := review.ByHand(e, spans)
	require.Len(t, did, 2)
	require.Equal(t, []hand.Side{hand.Right, hand.Left}, []hand.Side{did[0].Side, did[1].Side})
	require.Equal(t, []int{2, 2}, []int{did[0].Counted, did[1].Counted})
	for i := range spans {
		require.NotEqual(t, hand.UnknownSide, spans[i].Side)
	}
	require.Contains(t, review.Summarize(s).Faults, review.Fault{Kind: "hyperextension", Subject: "index.pip", Side: hand.Left})
	m := review.Summarize(s)
	require.Contains(t, review.NeedsEyes(&m, nil)[0].Words, "(index PIP, left hand)")

	changes := review.Compare(s, s)
	require.Equal(t, hand.Right, changes[0].Side)
	require.Equal(t, hand.Left, changes[len(changes)-1].Side)

	// A recording from before says neither: what it has is the exercise's hand's.
	for i := range e.Ranges {
		e.Ranges[i].Side = hand.UnknownSide
	}
	for i := range e.NotJudged {
		e.NotJudged[i].Side = hand.UnknownSide
	}
	for i := range s.Events {
		delete(s.Events[i].Words, "side")
	}
	old, ok := review.ReachOf(s, hand.Right)
	require.True(t, ok[hand.IndexPIP])
	require.InDelta(t, -18, old[hand.IndexPIP].MinDeg, 5, "of both together")
	_, ok = review.ReachOf(s, hand.Left)
	require.False(t, ok[hand.IndexPIP])
	require.Nil(t, review.ByHand(e, review.Spans(s)))
}
