package session

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestWatchedIsTheTimeOfTheSets(t *testing.T) {
	e := &Exercise{Number: 2, Start: 10 * time.Second, End: 200 * time.Second}
	one := func(s float64, k Kind) Event {
		return Event{At: time.Duration(s * float64(time.Second)), Exercise: 2, Kind: k}
	}
	for name, tc := range map[string]struct {
		events []Event
		want   time.Duration
	}{
		"nothing is told":                {nil, 190 * time.Second},
		"of another exercise":            {[]Event{{At: time.Second, Exercise: 1, Kind: SetStarted}}, 190 * time.Second},
		"two sets with a rest":           {[]Event{one(20, SetStarted), one(50, SetDone), one(80, SetStarted), one(100, SetDone)}, 50 * time.Second},
		"paused in a set":                {[]Event{one(20, SetStarted), one(30, PracticePaused), one(90, PracticeResumed), one(100, SetDone)}, 20 * time.Second},
		"paused in the rest":             {[]Event{one(20, SetStarted), one(30, SetDone), one(40, PracticePaused), one(60, PracticeResumed), one(70, SetStarted), one(80, SetDone)}, 20 * time.Second},
		"ended while paused":             {[]Event{one(20, SetStarted), one(30, PracticePaused), one(190, SetDone)}, 10 * time.Second},
		"interrupted":                    {[]Event{one(20, SetStarted)}, 180 * time.Second},
		"interrupted while paused":       {[]Event{one(20, SetStarted), one(25, PracticePaused)}, 5 * time.Second},
		"left out before it was begun":   {[]Event{one(20, SetDone), one(30, SetStarted), one(40, SetDone)}, 10 * time.Second},
		"all of it was left out at once": {[]Event{one(20, SetDone)}, 190 * time.Second},
	} {
		s := &Session{Events: tc.events}
		require.Equal(t, tc.want, s.Watched(e), name)
	}
}
