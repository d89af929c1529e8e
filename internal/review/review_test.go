package review

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/session"
)

var start = time.Date(2026, 12, 7, 9, 0, 0, 0, time.UTC) // a Monday

func id(n int) (i session.ID) {
	i[0], i[15] = byte(n>>8), byte(n)
	return i
}

func some(n int) *int { return &n }

// recorded is a session of one exercise with an index PIP that goes from lo to
// hi, and one flag.
func recorded(n int, at time.Time, lo, hi float64) *session.Session {
	s := &session.Session{Header: session.Header{ID: id(n), Client: "C-017", Started: at, Zone: "Europe/Berlin"}, State: session.Closed, Ended: 20 * time.Second}
	s.Exercises = []session.Exercise{{
		Number: 1, Item: "grip", Movement: "whole-hand-grip", Sets: 1, Repetitions: 10, Start: time.Second, End: 11 * time.Second, Outcome: session.Done,
		Counted: 10, Measured: 0.9, PainBefore: some(2), PainAfter: some(3),
		Ranges: []session.Range{{Joint: hand.IndexPIP, MinDeg: lo, MaxDeg: hi, MinJudged: true}},
	}}
	for k := range 200 {
		x := session.Sample{Sample: hand.Sample{Time: time.Duration(k) * 100 * time.Millisecond, Found: true}}
		m := &x.Joints[hand.IndexPIP]
		*m = hand.Measurement{FlexionDeg: lo + (hi-lo)*float64(k%20)/19, SEDeg: 3, Judged: true, ExtensionJudged: true}
		s.Samples = append(s.Samples, x)
	}
	return s
}

func flag(s *session.Session, n int, kind coach.FlagKind, subject string, peak, limit float64, at time.Duration) {
	f := coach.Flag{Kind: kind, Start: at, End: at + time.Second, PeakDeg: peak, LimitDeg: limit, SEDeg: 3, Repetition: 1}
	if j, err := hand.ParseJoint(subject); err == nil {
		f.Joint, f.OnJoint = j, true
	}
	e := session.Flatten(coach.FlagEnded{Flag: f}, 0)
	e.At, e.Exercise, e.Flag = at+time.Second, 1, n
	s.Events = append(s.Events, e)
}

// A long pause weighs nothing: it was neither followed nor not followed.
func TestAPauseIsNoTimeThatWasNotFollowed(t *testing.T) {
	s := recorded(1, start, 2, 90)
	s.Exercises = append(s.Exercises, s.Exercises[0])
	one, two := &s.Exercises[0], &s.Exercises[1]
	one.End, one.Measured = 600*time.Second, 0.2
	two.Number, two.Start, two.End, two.Measured = 2, 600*time.Second, 640*time.Second, 1
	s.Events = append(s.Events, []session.Event{
		{At: 0, Exercise: 1, Kind: session.SetStarted}, {At: 10 * time.Second, Exercise: 1, Kind: session.PracticePaused},
		{At: 590 * time.Second, Exercise: 1, Kind: session.PracticeResumed}, {At: 600 * time.Second, Exercise: 1, Kind: session.SetDone},
		{At: 600 * time.Second, Exercise: 2, Kind: session.SetStarted}, {At: 640 * time.Second, Exercise: 2, Kind: session.SetDone},
	}...)
	m := Summarize(s)
	require.InDelta(t, (20*0.2+40*1)/60, *m.Measured, 1e-9)
}

func TestWhySessionsNeedEyes(t *testing.T) {
	plain := Summarize(recorded(1, start, 2, 90))
	assert.Empty(t, NeedsEyes(&plain, nil))

	for _, c := range []struct {
		name   string
		change func(*session.Session)
		want   []Reason
	}{
		{"sharp pain stops", func(s *session.Session) {
			s.Answers = []session.Answer{{Kind: session.Hurt, Exercise: 1}, {Kind: session.SharpPain, Exercise: 1}}
		}, []Reason{SharpPain, StoppedForPain}},
		// Pain of 2 to 4 is no more than the least important change; 5 is.
		{"pain rises by two", func(s *session.Session) { s.Exercises[0].PainAfter = some(4) }, nil},
		{"pain rises by three", func(s *session.Session) { s.Exercises[0].PainAfter = some(5) }, []Reason{PainRose}},
		{"past straight", func(s *session.Session) { flag(s, 1, coach.Hyperextension, "index.pip", -14, 0, 3*time.Second) }, []Reason{LimitPassed, NewFault}},
		{"short hold", func(s *session.Session) { flag(s, 1, coach.ShortHold, "", 0, 0, 3*time.Second) }, []Reason{NewFault}},
		{"eight of ten", func(s *session.Session) { s.Exercises[0].Counted = 8 }, nil},
		{"seven of ten", func(s *session.Session) { s.Exercises[0].Counted = 7 }, []Reason{LittleDone}},
		{"hardly seen", func(s *session.Session) { s.Exercises[0].Measured = 0.3 }, []Reason{LittleSeen}},
		{"broken off, with a note", func(s *session.Session) {
			s.State = session.Interrupted
			s.Answers = []session.Answer{{Kind: session.Note, Text: "stiff this morning"}, {Kind: session.Note, Text: "  "}}
		}, []Reason{BrokenOff, ClientNote}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := recorded(2, start, 2, 90)
			c.change(s)
			m := Summarize(s)
			var got []Reason
			for _, w := range NeedsEyes(&m, []Summary{plain}) {
				got = append(got, w.Reason)
				assert.NotContains(t, w.Words, "-", "no bare sign")
			}
			assert.Equal(t, c.want, got)
		})
	}
}

func TestWorstPastTheLimit(t *testing.T) {
	s := recorded(1, start, 2, 90)
	flag(s, 1, coach.Hyperextension, "index.pip", -14, 0, 3*time.Second)
	flag(s, 2, coach.OverFlexion, "ring.pip", 97, 80, 6*time.Second)
	flag(s, 3, coach.Hyperextension, "index.pip", 12, 20, 9*time.Second) // a limit of 20 degrees short of straight
	m := Summarize(s)
	assert.Equal(t, map[Fault]int{{Kind: "hyperextension", Subject: "index.pip"}: 2, {Kind: "over-flexion", Subject: "ring.pip"}: 1}, m.Faults)
	assert.InDelta(t, 17, m.WorstDeg, 1e-9)
	assert.Equal(t, "ring.pip", m.WorstAt)
	assert.Equal(t, 3, m.LimitFlags())
	share, ok := m.Share()
	assert.True(t, ok)
	assert.InDelta(t, 1, share, 1e-9)
	_, ok = (&Summary{}).Share()
	assert.False(t, ok)
}

func TestAFaultOfTheOtherHandIsNew(t *testing.T) {
	of := func(side hand.Side) Summary {
		return Summary{TwoHands: true, Faults: map[Fault]int{{"hyperextension", "index.pip", side}: 1}}
	}
	left := of(hand.Left)
	require.Equal(t, []string{"hyperextension of the index PIP, left hand"}, left.newFaults([]Summary{of(hand.Right)}))
	require.Empty(t, left.newFaults([]Summary{of(hand.Right), of(hand.Left)}))
	// What was kept without a hand may be of either.
	require.Empty(t, left.newFaults([]Summary{of(hand.UnknownSide)}))
	old := of(hand.UnknownSide)
	require.Empty(t, old.newFaults([]Summary{of(hand.Left)}))
}

func TestFaultsAreKept(t *testing.T) {
	faults := map[Fault]int{
		{"hyperextension", "index.pip", hand.Left}: 2, {"short-hold", "", hand.Right}: 1, {"short-hold", "", hand.UnknownSide}: 1,
		{"out-of-order", "ring @ home", hand.UnknownSide}: 3,
	}
	text, err := json.Marshal(Summary{Faults: faults})
	require.NoError(t, err)
	var m Summary
	require.NoError(t, json.Unmarshal(text, &m))
	require.Equal(t, faults, m.Faults)
	// As summaries had them before the hand was kept.
	require.NoError(t, json.Unmarshal([]byte(`{"faults":{"hyperextension index.pip":1}}`), &m))
	require.Equal(t, 1, m.Faults[Fault{"hyperextension", "index.pip", hand.UnknownSide}])
	require.Error(t, json.Unmarshal([]byte(`{"faults":{"":1}}`), &m))
}

func TestQueue(t *testing.T) {
	hurt := recorded(1, start, 2, 90)
	hurt.Answers = []session.Answer{{Kind: session.Hurt}}
	first := recorded(2, start.Add(time.Hour), 2, 90)
	flag(first, 1, coach.ShortHold, "", 0, 0, time.Second)
	again := recorded(3, start.Add(2*time.Hour), 2, 90)
	flag(again, 1, coach.ShortHold, "", 0, 0, time.Second)
	other := recorded(4, start.Add(3*time.Hour), 2, 90)
	other.Client = "C-018"
	flag(other, 1, coach.ShortHold, "", 0, 0, time.Second)
	var all []Summary
	for _, s := range []*session.Session{again, other, hurt, first} {
		all = append(all, Summarize(s))
	}
	order := func(items []Item) (ids []session.ID) {
		for _, i := range items {
			ids = append(ids, i.ID)
		}
		return ids
	}
	none := func(session.ID) bool { return false }
	// A short hold is new in the first session that has it after another one.
	// C-018 has nothing earlier.
	assert.Equal(t, []session.ID{id(1), id(2), id(4), id(3)}, order(Queue(all, none)))
	// What was read goes to the end.
	assert.Equal(t, []session.ID{id(2), id(4), id(3), id(1)}, order(Queue(all, func(i session.ID) bool { return i == id(1) })))
}

func BenchmarkQueue(b *testing.B) {
	all := make([]Summary, 10000)
	for i := range all {
		all[i] = Summary{ID: id(i), Client: "C-" + string(rune('a'+i%26)), Started: start.Add(time.Duration(i) * time.Hour), Prescribed: 10, Counted: i % 11, Faults: map[Fault]int{{Kind: "short-hold"}: 1}}
	}
	for b.Loop() {
		Queue(all, func(session.ID) bool { return false })
	}
}

func TestTrace(t *testing.T) {
	s := recorded(1, start, 0, 95)
	for k := range s.Samples {
		m := &s.Samples[k].Joints[hand.IndexPIP]
		switch {
		case k >= 40 && k < 50: // a second in which it is hidden
			m.Judged = false
		case k >= 70 && k < 72: // too short to break a line
			s.Samples[k].Found = false
		}
	}
	low := 10.0
	tr := TraceOf(s, 1, hand.UnknownSide, hand.IndexPIP, coach.Limits{hand.IndexPIP: {Lower: &low}})
	require.Len(t, tr.Runs, 2)
	assert.Equal(t, time.Second, tr.Runs[0][0].At)
	assert.Equal(t, 3900*time.Millisecond, tr.Runs[0][len(tr.Runs[0])-1].At)
	assert.Equal(t, 5*time.Second, tr.Runs[1][0].At)
	assert.Equal(t, 11*time.Second, tr.Runs[1][len(tr.Runs[1])-1].At)
	assert.InDelta(t, 89.0/101, tr.Judged, 1e-9)
	assert.Equal(t, &low, tr.Limit.Lower)
	assert.Empty(t, TraceOf(s, 1, hand.UnknownSide, hand.RingPIP, nil).Runs)
	assert.Empty(t, TraceOf(s, 7, hand.UnknownSide, hand.IndexPIP, nil).Runs)
}

func TestMoments(t *testing.T) {
	s := recorded(1, start, 0, 95)
	flag(s, 1, coach.Hyperextension, "index.pip", -14, 0, 8*time.Second)
	flag(s, 2, coach.ShortHold, "", 0, 0, time.Second)
	s.Pictures = []session.Picture{{Number: 1, Flag: 1}, {Number: 2, Flag: 2}, {Number: 3, Flag: 1}}
	before, after := start.Add(time.Hour), start.Add(2*time.Hour)
	reviews := []Review{
		{At: after, Marks: []Mark{{1, Wrong}}},
		{At: before, Marks: []Mark{{1, Right}, {2, Unclear}}},
	}
	m := Moments(s, reviews)
	require.Len(t, m, 2)
	assert.Equal(t, 2, m[0].Number)
	assert.Equal(t, Unclear, m[0].Judgement)
	assert.Equal(t, time.Duration(0), m[0].From)
	assert.Equal(t, Wrong, m[1].Judgement, "the later word counts")
	assert.Equal(t, []int{1, 3}, m[1].Pictures)
	assert.Equal(t, m[0].Start, m[0].Worst, "a hold has no worst reading")
	at := SampleAt(s, m[1].Worst, hand.UnknownSide)
	for i := range s.Samples {
		if x := &s.Samples[i]; x.Time >= m[1].Start && x.Time <= m[1].End {
			assert.LessOrEqual(t, math.Abs(at.Joints[hand.IndexPIP].FlexionDeg+14), math.Abs(x.Joints[hand.IndexPIP].FlexionDeg+14))
		}
	}
	assert.Equal(t, 6*time.Second, m[1].From)
	assert.Equal(t, 11*time.Second, m[1].To)

	h := Rate(map[session.ID][]Review{id(1): reviews})
	assert.Equal(t, 0, h.Right)
	assert.Equal(t, 1, h.Wrong)
	assert.Equal(t, 1, h.Unclear)
}

// Score intervals as tables of the method print them (Wilson 1927; Newcombe
// 1998, Stat Med 17:857-872, table I, method 3: 81/263 and 0/20).
func TestWilson(t *testing.T) {
	for _, c := range []struct {
		k, n      int
		low, high float64
	}{{81, 263, 0.2553, 0.3662}, {15, 148, 0.0624, 0.1605}, {0, 20, 0, 0.1611}, {1, 29, 0.0061, 0.1718}} {
		_, low, high := wilson(c.k, c.n)
		assert.InDelta(t, c.low, low, 5e-5, "%d/%d", c.k, c.n)
		assert.InDelta(t, c.high, high, 5e-5, "%d/%d", c.k, c.n)
	}
	p, _, _ := wilson(0, 0)
	assert.True(t, math.IsNaN(p))
}

func TestReviewTravels(t *testing.T) {
	r := Review{Format: 1, Session: id(7), Client: "C-017", At: start, By: "hand clinic", Read: true, Marks: []Mark{{1, Right}}, Note: Note{Plan: "as before"}, Seconds: 95}
	b, err := r.Encode()
	require.NoError(t, err)
	got, err := Decode(b)
	require.NoError(t, err)
	assert.Equal(t, &r, got)
	for _, bad := range []string{
		"", "{}", string(b) + "{}", strings.Replace(string(b), `"right"`, `"maybe"`, 1), strings.Replace(string(b), `"seconds"`, `"secs"`, 1),
		strings.Replace(string(b), `"volar_review":1`, `"volar_review":2`, 1), strings.Replace(string(b), "as before", strings.Repeat("x", maxNote+1), 1),
	} {
		_, err := Decode([]byte(bad))
		assert.Error(t, err, "%.60s", bad)
	}
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	// Half past eleven in the evening in UTC is the next month there.
	late := Review{At: time.Date(2026, 11, 30, 23, 30, 0, 0, time.UTC), Seconds: 90}
	assert.InDelta(t, 1.5, Minutes([]Review{late}, 2026, time.December, berlin), 1e-9)
	assert.Zero(t, Minutes([]Review{late}, 2026, time.November, berlin))
}

func FuzzDecode(f *testing.F) {
	r := Review{Format: 1, Session: id(7), Client: "C-017", At: start, Marks: []Mark{{1, Right}}}
	b, err := r.Encode()
	require.NoError(f, err)
	f.Add(b)
	f.Fuzz(func(t *testing.T, b []byte) {
		r, err := Decode(b)
		if err != nil {
			return
		}
		if _, err := r.Encode(); err != nil {
			t.Fatal(err)
		}
	})
}

func TestAdherence(t *testing.T) {
	day := func(n int) program.Date { return program.Date{Year: 2026, Month: time.December, Day: n} }
	// Ten repetitions twice a day on five days a week: 100 a week.
	asked := func(d program.Date) (program.Resolved, bool) {
		dose := exercise.Dose{Sets: 1, Repetitions: 10, TimesADay: 2, DaysAWeek: 5}
		return program.Resolved{Exercises: []program.Prescribed{{ID: "grip", Dose: dose}, {ID: "hold", Dose: dose}}}, true
	}
	var done []Done
	for n := 7; n < 12; n++ {
		done = append(done, Done{day(n), "grip", 20})
	}
	done = append(done, Done{day(12), "grip", 60}, Done{day(13), "hold", 30}, Done{day(13), "something else", 5})
	a := Adhered(done, day(7), day(13), asked)
	assert.InDelta(t, 200, a.Prescribed, 1e-9)
	// 160 of grip count as its 100; 30 of hold.
	assert.InDelta(t, 130, a.Done, 1e-9)
	assert.InDelta(t, 0.65, a.Share, 1e-9)
	assert.Equal(t, 7, a.Active)
	assert.Equal(t, 7, a.Last30)
	require.Len(t, a.Days, 7)
	assert.Equal(t, 35, a.Days[6].Done)
	// Fewer than 30 days count where the stretch is longer.
	a = Adhered(done, day(7), day(7).AddDays(31), asked)
	assert.Equal(t, 5, a.Last30)
	// Nothing asked for.
	a = Adhered(done, day(7), day(13), func(program.Date) (program.Resolved, bool) { return program.Resolved{}, false })
	assert.True(t, math.IsNaN(a.Share))
}

// A session just after midnight belongs to the new day of the client, whatever
// the day in UTC.
func TestDays(t *testing.T) {
	s := recorded(1, time.Date(2026, 12, 7, 23, 30, 0, 0, time.UTC), 0, 90)
	s.Exercises = append(s.Exercises, session.Exercise{Movement: "hook-fist", Counted: 3})
	assert.Equal(t, []Done{
		{program.Date{Year: 2026, Month: time.December, Day: 8}, "grip", 10},
		{program.Date{Year: 2026, Month: time.December, Day: 8}, "hook-fist", 3},
	}, DoneIn([]*session.Session{s}))
	assert.Equal(t, program.Date{Year: 2026, Month: time.December, Day: 7}, LocalDay(s.Started, "Nowhere/None"))
}

func TestWeekly(t *testing.T) {
	var all []*session.Session
	for i, hi := range []float64{60, 64, 62} {
		all = append(all, recorded(i, start.AddDate(0, 0, i), 10-float64(i), hi))
	}
	sunday := recorded(3, start.AddDate(0, 0, 6), 4, 70)
	next := recorded(4, start.AddDate(0, 0, 7), 3, 75)
	next.Exercises[0].Ranges[0].MinJudged = false
	all = append(all, next, sunday)
	w := Weekly(all, hand.Right, hand.IndexPIP)
	require.Len(t, w, 2)
	assert.Equal(t, program.Date{Year: 2026, Month: time.December, Day: 7}, w[0].Monday)
	assert.Equal(t, 4, w[0].Sessions)
	assert.InDelta(t, 63, w[0].Reach.MaxDeg, 1e-9)
	assert.InDelta(t, 8.5, w[0].Reach.MinDeg, 1e-9)
	assert.InDelta(t, 3, w[0].Reach.MaxSE, 1e-9)
	assert.True(t, w[0].Reach.MinJudged)
	assert.False(t, w[1].Reach.MinJudged)
	assert.Empty(t, Weekly(all, hand.UnknownSide, hand.RingPIP))
}

func TestCompare(t *testing.T) {
	a, b := recorded(1, start, 10, 60), recorded(2, start, 12, 75)
	b.Exercises[0].Ranges = append(b.Exercises[0].Ranges, session.Range{Joint: hand.RingPIP, MaxDeg: 50})
	c := Compare(a, b)
	require.Len(t, c, 1)
	assert.InDelta(t, 15, c[0].MaxDeg, 1e-9)
	assert.InDelta(t, 2, c[0].MinDeg, 1e-9)
	// 15 degrees is more than 1.96 times the root of 9 + 9, which is 8.3.
	assert.True(t, c[0].Beyond())
	b.Exercises[0].Ranges[0].MaxDeg = 66
	b.Exercises[0].Ranges[0].MinJudged = false
	c = Compare(a, b)
	assert.False(t, c[0].MinKnown)
	assert.False(t, c[0].Beyond())
}

// An end that was judged beats one that was not.
func TestReachPrefersJudged(t *testing.T) {
	s := recorded(1, start, 0, 90)
	s.Exercises[0].Ranges = []session.Range{
		{Joint: hand.IndexPIP, MinDeg: 0, MaxDeg: 70}, {Joint: hand.IndexPIP, MinDeg: -8, MaxDeg: 60, MinJudged: true},
		{Joint: hand.IndexPIP, MinDeg: 2, MaxDeg: 90},
	}
	r, ok := ReachOf(s, hand.UnknownSide)
	require.True(t, ok[hand.IndexPIP])
	assert.InDelta(t, -8, r[hand.IndexPIP].MinDeg, 1e-9)
	assert.InDelta(t, 90, r[hand.IndexPIP].MaxDeg, 1e-9)
	assert.True(t, r[hand.IndexPIP].MinJudged)
}

// A review that was kept in the first version of the format is read.
func TestKeptReview(t *testing.T) {
	b, err := os.ReadFile("testdata/review-v1.json")
	require.NoError(t, err)
	r, err := Decode(b)
	require.NoError(t, err)
	assert.Equal(t, "019cad27-5000-7000-8000-000000000001", r.Session.String())
	assert.Equal(t, []Mark{{1, Right}, {2, Unclear}}, r.Marks)
	assert.Equal(t, []Part{{"subjective", "Stiff in the morning."}, {"plan", "As before."}}, r.Note.Parts())
	again, err := r.Encode()
	require.NoError(t, err)
	assert.JSONEq(t, string(b), string(again))

	// One of a newer version says so, whatever else is in it.
	_, err = Decode([]byte(`{"volar_review": 2, "client": "K-104", "mood": "fine"}`))
	require.ErrorContains(t, err, "version 2; this program reads version 1: update it")
}
