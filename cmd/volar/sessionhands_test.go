package main

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
	"volar/internal/session"
	"volar/internal/vault"
)

// A session of two hands is shown with each hand's own ranges, repetitions and
// holds; one of a single hand has none of these fields.
func TestSessionOfTwoHandsIsShown(t *testing.T) {
	s := recorded("C-017", 2)
	show := func() (text, object string) {
		var b strings.Builder
		require.NoError(t, showSession(&printer{w: &b}, s, nil))
		out, err := json.Marshal(shownJSON(&vault.Entry{}, s, nil, false))
		require.NoError(t, err)
		return b.String(), string(out)
	}
	_, object := show()
	require.NotContains(t, object, `"other_angles"`)
	require.NotContains(t, object, `"hands"`)

	e := &s.Exercises[0]
	e.Ranges = []session.Range{{Joint: hand.IndexPIP, Side: hand.Left, MinDeg: 8, MaxDeg: 60, MinJudged: true}, {Joint: hand.IndexPIP, Side: hand.Right, MinDeg: -14, MaxDeg: 92, MinJudged: true}}
	e.NotJudged[0].Side = hand.Left
	for i, side := range []string{"left", "right", "right"} {
		at := time.Duration(i+1) * time.Second
		numbers := map[string]float64{"start_s": at.Seconds() - 0.5, "end_s": at.Seconds()}
		s.Events = append(s.Events,
			session.Event{At: at, Exercise: 1, Kind: session.RepetitionCounted, Repetition: 1, Numbers: numbers, Words: map[string]string{"side": side, "verdict": "counted"}},
			session.Event{At: at, Exercise: 1, Kind: session.HoldEnded, Repetition: 1, Numbers: numbers, Words: map[string]string{"side": side, "result": "met"}})
	}
	text, object := show()
	for _, want := range []string{
		"  right    2 repetitions, 2 of 2 holds kept\n", "  left     1 repetition, 1 of 1 holds kept\n",
		"range    index PIP, left hand 8° to 60°", "range    index PIP, right hand 14° past straight to 92°", "unseen   left little DIP for 40 %",
	} {
		require.Contains(t, text, want)
	}
	require.Contains(t, object, `"angles":{"index.pip":{"min_deg":-14,"max_deg":92,"min_judged":true}},"other_angles":{"index.pip":{"min_deg":8,"max_deg":60,"min_judged":true}}`)
	require.Contains(t, object, `"hands":[{"side":"right","counted":2,"partial":0,"unjudged":0,"holds_met":2,"holds":2},{"side":"left","counted":1,`)
}

// A joint that read past straight all the time is told of, in every session in
// which it did.
func TestPastStraightThroughoutIsShown(t *testing.T) {
	s := recorded("C-017", 2)
	s.Events = nil
	for i := range s.Samples {
		m := &s.Samples[i].Joints[hand.MiddlePIP]
		m.FlexionDeg, m.ExtensionJudged = -9, true
	}
	var b strings.Builder
	require.NoError(t, showSession(&printer{w: &b}, s, nil))
	require.Contains(t, strings.Join(strings.Fields(b.String()), " "), "Middle PIP read about 9° past straight whenever it was straight.")
	out, err := json.Marshal(shownJSON(&vault.Entry{}, s, nil, false))
	require.NoError(t, err)
	require.Contains(t, string(out), `"past_straight_whenever_straight":[{"joint":"middle.pip","deg":-9}]`)
}
