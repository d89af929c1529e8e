package today

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/session"
)

// wednesday is 25 November 2026, a Wednesday (any calendar), in New York, five
// hours behind UTC in winter.
var newYork = func() *time.Location {
	l, err := time.LoadLocation("America/New_York")
	if err != nil {
		panic(err) // the tests need the zone database
	}
	return l
}()
var wednesday = time.Date(2026, 11, 25, 22, 30, 0, 0, newYork)

func resolved(t *testing.T, ids ...string) program.Resolved {
	t.Helper()
	p, _, err := program.New(program.Options{Client: "C-017", Side: program.Side(hand.Right), Dominant: program.Side(hand.Right), Exercises: ids, Now: wednesday.AddDate(0, 0, -9)}, program.Source{})
	require.NoError(t, err)
	return p.At(wednesday, newYork)
}

func TestTheDayGoesInRounds(t *testing.T) {
	r := resolved(t, "whole-hand-grip", "straight-finger-hold", "hook-fist")
	for i := range r.Exercises {
		r.Exercises[i].Dose.TimesADay = 2
	}
	done := func(item string, hours int) Past {
		return Past{Item: item, At: wednesday.Add(-time.Duration(hours) * time.Hour), Outcome: session.Done}
	}
	for _, tc := range []struct {
		name   string
		past   []Past
		next   int
		round  int
		states []State
	}{
		{"nothing done", nil, 0, 1, []State{ToDo, ToDo, ToDo}},
		{"one done", []Past{done("whole-hand-grip", 1)}, 1, 1, []State{ToDo, ToDo, ToDo}},
		{"first round done", []Past{done("whole-hand-grip", 3), done("straight-finger-hold", 3), done("hook-fist", 3)}, 0, 2, []State{ToDo, ToDo, ToDo}},
		{"one wholly done", []Past{done("whole-hand-grip", 3), done("whole-hand-grip", 2)}, 1, 1, []State{Done, ToDo, ToDo}},
		// Left out is left out, until it is done after all.
		{"left out", []Past{{Item: "whole-hand-grip", At: wednesday.Add(-time.Hour), Outcome: session.Skipped}}, 1, 1, []State{LeftOut, ToDo, ToDo}},
		{"left out, then done", []Past{{Item: "whole-hand-grip", At: wednesday.Add(-2 * time.Hour), Outcome: session.Skipped}, done("whole-hand-grip", 1)}, 1, 1, []State{ToDo, ToDo, ToDo}},
		// Half past ten at night in New York is the next day in UTC: what was
		// done 23 hours ago was done yesterday there.
		{"yesterday does not count", []Past{done("whole-hand-grip", 23)}, 0, 1, []State{ToDo, ToDo, ToDo}},
		{"this morning does", []Past{done("whole-hand-grip", 22)}, 1, 1, []State{ToDo, ToDo, ToDo}},
		{"begun is not done", []Past{{Item: "whole-hand-grip", At: wednesday.Add(-time.Hour), Outcome: session.Running}}, 0, 1, []State{ToDo, ToDo, ToDo}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			d := Plan(r, tc.past, wednesday, newYork)
			require.Equal(t, tc.next, d.Next)
			require.Equal(t, tc.round, d.Round)
			require.Equal(t, 2, d.Rounds)
			for i, want := range tc.states {
				require.Equal(t, want, d.Items[i].State, d.Items[i].ID)
			}
			require.Positive(t, d.Left)
		})
	}
}

// A week runs from Monday to Sunday (ISO 8601): Sunday the 22nd is last week's.
func TestDaysOfTheWeek(t *testing.T) {
	r := resolved(t, "whole-hand-grip")
	r.Exercises[0].Dose.DaysAWeek, r.Exercises[0].Dose.TimesADay = 2, 1
	on := func(day int) Past {
		return Past{Item: "whole-hand-grip", At: time.Date(2026, 11, day, 9, 0, 0, 0, newYork), Outcome: session.Done}
	}
	require.Equal(t, ToDo, Plan(r, []Past{on(22), on(23)}, wednesday, newYork).Items[0].State)
	d := Plan(r, []Past{on(23), on(24)}, wednesday, newYork)
	require.Equal(t, DayOff, d.Items[0].State)
	require.Equal(t, -1, d.Next)
	require.Zero(t, d.Left)
	require.Equal(t, Done, Plan(r, []Past{on(23), on(24), on(25)}, wednesday, newYork).Items[0].State)
}

func TestPainEndsTheDay(t *testing.T) {
	r := resolved(t, "whole-hand-grip")
	at := func(h int, why coach.StopReason) []Past {
		return []Past{{Item: "whole-hand-grip", At: wednesday.Add(-time.Duration(h) * time.Hour), Outcome: session.Stopped, StopReason: why}}
	}
	require.Equal(t, coach.SharpPain, Plan(r, at(1, coach.SharpPain), wednesday, newYork).Stopped)
	require.Empty(t, Plan(r, at(1, coach.Hurting), wednesday, newYork).Stopped, "it hurts stops the set, not the day")
	require.Empty(t, Plan(r, at(30, coach.PainRose), wednesday, newYork).Stopped, "yesterday")
}

func TestTrialHasWhatTheCameraJudges(t *testing.T) {
	r, err := Trial(hand.Left, wednesday)
	require.NoError(t, err)
	require.Greater(t, len(r.Exercises), 20)
	for _, q := range r.Exercises {
		require.Equal(t, hand.Left, q.Side)
		require.NotEqual(t, exercise.Unmeasured, q.Movement.Kind)
		require.Equal(t, 1, q.Dose.TimesADay)
	}
	d := Plan(r, nil, wednesday, newYork)
	cfg, err := d.Items[0].Practice(Own{}, 2)
	require.NoError(t, err)
	require.Equal(t, 2, cfg.CleanBefore)
	_, err = coach.NewPractice(cfg)
	require.NoError(t, err)
}

func TestMinutes(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "about 1 minute", 61 * time.Second: "about 1 minute", 90 * time.Second: "about 2 minutes", 9*time.Minute + 10*time.Second: "about 10 minutes",
	} {
		require.Equal(t, want, Minutes(d), d.String())
	}
}

func set(counted int, flags ...coach.Flag) coach.SetSummary {
	s := coach.SetSummary{Complete: true}
	s.Counted, s.Measured, s.End, s.Flags = counted, 0.95, time.Minute, flags
	s.Holds = []coach.Hold{{Met: true}}
	return s
}

func TestWordsAreWholeSentencesWithoutABareSign(t *testing.T) {
	n := func(v int) *int { return &v }
	back := coach.Flag{Kind: coach.Hyperextension, OnJoint: true, Joint: hand.IndexPIP, PeakDeg: -12.4}
	less := back
	less.PeakDeg = -7
	s := coach.PracticeSummary{Wanted: 2, Repetitions: 10, Counted: 19, Partial: 1, PainBefore: n(2), PainAfter: n(3), GradeHint: "6 clean sets in a row."}
	s.Flags = []coach.Flag{less, back, {Kind: coach.IncompleteGrip, OnFinger: true, Finger: hand.Little}, {Kind: coach.TooFast}, {Kind: coach.ShortHold}}
	s.Sets = []coach.SetSummary{set(10), set(9)}
	s.Sets[1].Holds = append(s.Sets[1].Holds, coach.Hold{}, coach.Hold{Unsure: true})
	require.Equal(t, []string{
		"19 of 20 repetitions counted.",
		"1 repetition stopped short.",
		"1 hold was shorter than asked.",
		"Your index finger's middle knuckle passed its limit 2 times, at most 12° past straight. The limit is set by your therapist or by the exercise.",
		"The little finger did not come in all the way 1 time.",
		"You moved faster than asked 1 time.",
		"Pain before 2, after 3.",
		"6 clean sets in a row.",
	}, Words(&s))
}

func TestWordsOfWhatCouldNotBeSeen(t *testing.T) {
	s := coach.PracticeSummary{Wanted: 1, Repetitions: 5, Counted: 2, Sets: []coach.SetSummary{set(2)}}
	s.Sets[0].Measured = 0.4
	require.Contains(t, Words(&s), "For part of the time your hand could not be seen well enough to judge: 40 % was judged.")
	s = coach.PracticeSummary{Wanted: 2, Sets: []coach.SetSummary{{ByClient: true}, {ByClient: true}}}
	require.Equal(t, "You did 2 sets. This movement is not judged by the camera.", Words(&s)[0])
}

func TestEveryFlagHasWords(t *testing.T) {
	for _, k := range []coach.FlagKind{coach.Hyperextension, coach.OverFlexion, coach.IncompleteGrip, coach.TooFast, coach.Compensation, coach.OutOfOrder, coach.Unsteady} {
		s := coach.PracticeSummary{Flags: []coach.Flag{{Kind: k, OnJoint: true, Joint: hand.ThumbIP, PeakDeg: 4}}}
		w := Words(&s)
		require.Len(t, w, 2, string(k))
		require.NotContains(t, w[1], string(k), "the kind's own name is no sentence")
	}
}

func TestStraight(t *testing.T) {
	require.Equal(t, "12° past straight", Straight(-12.4))
	require.Equal(t, "20° short of straight", Straight(19.6))
	require.Equal(t, "straight", Straight(0.3))
}
