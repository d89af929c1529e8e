package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/demonstration"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/review/reviewtest"
	"volar/internal/session"
)

// wrung is a fortnight of a client whose right hand is treated, with an exercise
// of two hands in which the left bends further back.
func wrung(t *testing.T) Input {
	t.Helper()
	in := Input{
		Client: "C-017", Side: hand.Right, Zone: time.UTC, Software: "volar test",
		From: program.Date{Year: 2026, Month: 11, Day: 23}, To: program.Date{Year: 2026, Month: 12, Day: 6}, Made: time.Date(2026, 12, 7, 8, 0, 0, 0, time.UTC),
	}
	for n := range 2 {
		s, err := reviewtest.Make(reviewtest.Options{
			Client: "C-017", Side: hand.Right, Started: time.Date(2026, 11, 24+7*n, 9, 0, 0, 0, time.UTC), Seed: uint64(n + 1), FPS: 15,
			Exercises: []reviewtest.Exercise{{
				Movement: "wringing-alternating", Item: "wringing-alternating", Repetitions: 2,
				OtherFaults: []demonstration.Fault{{Kind: demonstration.PastStraight, Repetition: 0, Joints: []hand.Joint{hand.IndexPIP}, Deg: 18}},
			}},
		})
		require.NoError(t, err)
		s.Exercises[0].NotJudged = []session.NotJudged{{Joint: hand.RingPIP, Side: hand.Left, Share: 0.5, Why: hand.Hidden}}
		in.Sessions = append(in.Sessions, s)
	}
	return in
}

// The trend of the treated hand has nothing of the other's, which stands beside
// it under its own name, in every form of the report.
func TestTwoHandsAreReportedApart(t *testing.T) {
	r, err := Gather(wrung(t))
	require.NoError(t, err)
	require.Equal(t, []hand.Side{hand.Right, hand.Left}, r.Hands)
	own, other := map[hand.Joint]Range{}, map[hand.Joint]Range{}
	for i, x := range r.Ranges {
		if x.Side == hand.Right {
			require.Len(t, other, 0, "range %d: the treated hand comes first", i)
			own[x.Joint] = x
		} else {
			other[x.Joint] = x
		}
	}
	require.Greater(t, own[hand.IndexPIP].Last.Reach.MinDeg, -8.0)
	require.InDelta(t, -18, other[hand.IndexPIP].Last.Reach.MinDeg, 5)
	require.Len(t, r.Unjudged, 1)
	require.Equal(t, hand.Left, r.Unjudged[0].Side)
	require.InDelta(t, 0.5, r.Unjudged[0].Share, 1e-9, "of the left hand's own time")
	require.Equal(t, "Wringing a rolled cloth, one hand after the other: right hand 4 repetitions, 8 of 8 holds kept; left hand 4 repetitions, 8 of 8 holds kept.", r.Doses[0].HandWords())
	require.Contains(t, r.objective(), "index PIP, left hand:")

	var b bytes.Buffer
	require.NoError(t, r.CSV(&b))
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	last := len(rows[0]) - 1
	require.Equal(t, "side", rows[0][last], "behind what was there before")
	sides := map[string]int{}
	for _, row := range rows[1:] {
		sides[row[last]]++
	}
	require.Equal(t, map[string]int{"right": 2 * len(own), "left": 2 * len(other)}, sides)

	b.Reset()
	require.NoError(t, r.JSON(&b))
	var x exported
	require.NoError(t, json.Unmarshal(b.Bytes(), &x))
	require.Greater(t, *x.Sessions[1].Joints["index.pip"].Least, -8.0)
	require.InDelta(t, -18, *x.Sessions[1].OtherJoints["index.pip"].Least, 5)
	require.Equal(t, "left", x.Unjudged[0].Side)
	require.Equal(t, []string{"right", "left"}, []string{x.Doses[0].Hands[0].Side, x.Doses[0].Hands[1].Side})

	b.Reset()
	require.NoError(t, r.FHIR(&b))
	require.Contains(t, b.String(), `"text": "index PIP, left hand"`)
	require.Contains(t, b.String(), `"text": "index PIP, right hand"`)
	ids := map[string]bool{}
	var f struct{ Entry []struct{ FullURL string } }
	require.NoError(t, json.Unmarshal(b.Bytes(), &f))
	for _, e := range f.Entry {
		require.False(t, ids[e.FullURL])
		ids[e.FullURL] = true
	}

	b.Reset()
	require.NoError(t, r.PDF(&b))
	says(t, "two-hands.pdf", b.Bytes(), "right hand and, where both work, the left", "index PIP, left hand", "Wringing a rolled cloth, one hand after the other: right hand 4 repetitions, 8 of 8 holds kept; left hand 4 repetitions, 8 of 8 holds kept.")
}

func TestHandsWords(t *testing.T) {
	for _, c := range []struct {
		side  hand.Side
		hands []hand.Side
		want  string
	}{
		{hand.Left, []hand.Side{hand.Left}, "left hand"},
		{hand.Left, []hand.Side{hand.Left, hand.Right}, "left hand and, where both work, the right"},
		{hand.UnknownSide, []hand.Side{hand.Right}, "right hand"},
		{hand.UnknownSide, []hand.Side{hand.Right, hand.Left}, "both hands"},
		{hand.UnknownSide, []hand.Side{hand.UnknownSide}, "hand not named"},
		{hand.Right, nil, "right hand"},
	} {
		r := Report{Hands: c.hands}
		r.Side = c.side
		require.Equal(t, c.want, r.handsWords())
	}
}

// A joint that read past straight all the time was not flagged, and is told of.
func TestPastStraightThroughoutIsReported(t *testing.T) {
	r := gathered(t)
	require.Len(t, r.Steady, 1)
	require.Contains(t, r.objective(), "Index PIP: read about 16° past straight whenever it was straight, in 9 sessions (camera estimate).")
	var b bytes.Buffer
	require.NoError(t, r.JSON(&b))
	require.Contains(t, b.String(), `"past_straight_whenever_straight": [`)
	b.Reset()
	require.NoError(t, r.PDF(&b))
	says(t, "steady.pdf", b.Bytes(), "Index PIP: read about 16° past straight whenever it was straight, in 9 sessions (camera estimate).", "it may be the hand or the camera: measure it with a goniometer")

	in := input(t)
	for _, s := range in.Sessions {
		for i := range s.Samples {
			x := &s.Samples[i].Joints[hand.IndexPIP]
			x.FlexionDeg = max(x.FlexionDeg, 0)
		}
	}
	r, err := Gather(in)
	require.NoError(t, err)
	require.Empty(t, r.Steady)
	b.Reset()
	require.NoError(t, r.JSON(&b))
	require.NotContains(t, b.String(), "past_straight_whenever_straight")
}
