package review

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/session"
)

// held is a session in which the index finger's middle knuckle reads deg for so
// long, after a bend of a second.
func held(n int, deg float64, long time.Duration, shown bool) *session.Session {
	s := &session.Session{Header: session.Header{ID: id(n), Client: "C-017", Started: time.Date(2026, 11, n, 9, 0, 0, 0, time.UTC)}, State: session.Closed}
	index := hand.JointOf(hand.Index, hand.PIP)
	for at := time.Duration(0); at <= time.Second+long; at += 50 * time.Millisecond {
		x := session.Sample{Sample: hand.Sample{Time: at, Side: hand.Right, Found: true}}
		m := &x.Joints[index]
		m.Judged, m.ExtensionJudged, m.FlexionDeg, m.SEDeg = true, shown, deg, 4
		if at < time.Second {
			m.FlexionDeg = 60
		}
		s.Samples = append(s.Samples, x)
	}
	s.Ended = time.Second + long
	s.Exercises = []session.Exercise{{Number: 1, Movement: "straight-finger-hold", Side: hand.Right, End: s.Ended, Measured: 1}}
	return s
}

func TestPastStraightThroughout(t *testing.T) {
	why := func(s *session.Session, earlier ...*session.Session) []Why {
		m := Summarize(s)
		var before []Summary
		for _, e := range earlier {
			before = append(before, Summarize(e))
		}
		var out []Why
		for _, w := range NeedsEyes(&m, before) {
			if w.Reason == PastStraight {
				out = append(out, w)
			}
		}
		return out
	}
	nine := held(1, -9, 4*time.Second, true)
	require.Equal(t, []Why{{PastStraight, "Past straight whenever straight, and so not flagged: index PIP 9°. It may be the camera; look beside a goniometer."}}, why(nine))

	flagged := held(1, -9, 4*time.Second, true)
	flag(flagged, 1, coach.Hyperextension, "index.pip", -9, 0, 2*time.Second)
	for name, s := range map[string]*session.Session{
		"straight within the camera's error": held(1, -4, 4*time.Second, true),
		"from the palm":                      held(1, -9, 4*time.Second, false),
		"straight for a moment only":         held(1, -9, 2*time.Second, true),
		"flagged already":                    flagged,
		"bent all the time":                  held(1, 40, 4*time.Second, true),
	} {
		require.Empty(t, why(s), name)
	}
	require.Empty(t, why(held(2, -10, 4*time.Second, true), nine), "it is told once")

	require.Equal(t, "Index PIP read about 9° past straight whenever it was straight. Nothing was flagged, because it may be the hand or the camera: measure it with a goniometer.",
		Summarize(nine).Standing[0].Words())

	// Of two hands the one that reads so is named, and a flag of the other
	// hides nothing.
	two := held(1, -9, 4*time.Second, true)
	two.Exercises[0].Ranges = []session.Range{{Joint: hand.IndexPIP, Side: hand.Left, MaxDeg: 60}, {Joint: hand.IndexPIP, Side: hand.Right, MaxDeg: 60}}
	for _, x := range two.Samples {
		x.Side = hand.Left
		x.Joints[hand.IndexPIP].FlexionDeg = max(x.Joints[hand.IndexPIP].FlexionDeg, 0)
		two.Samples = append(two.Samples, x)
	}
	flag(two, 1, coach.Hyperextension, "index.pip", -9, 0, 2*time.Second)
	two.Events[0].Words["side"] = "left"
	require.Equal(t, []Standing{{Joint: "index.pip", Side: hand.Right, Deg: -9}}, Summarize(two).Standing)
	require.Contains(t, why(two)[0].Words, "index PIP, right hand 9°")

	first, second := Summarize(nine), Summarize(held(2, -10, 4*time.Second, true))
	items := Queue([]Summary{second, first}, func(session.ID) bool { return false })
	require.Equal(t, first.ID, items[0].ID, "the one that tells it needs eyes first")
	require.Empty(t, items[1].Why)
}
