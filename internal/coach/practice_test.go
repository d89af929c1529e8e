package coach_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
)

// session plays samples into a practice and keeps all that came out.
type session struct {
	t      require.TestingT
	p      *coach.Practice
	events []coach.Event
	at     time.Duration
}

func practise(t require.TestingT, cfg coach.PracticeConfig) *session {
	p, err := coach.NewPractice(cfg)
	require.NoError(t, err)
	return &session{t: t, p: p}
}

func (s *session) do(events []coach.Event) {
	require.LessOrEqual(s.t, count[coach.Cue](events), 1, "one cue at a time")
	s.events = append(s.events, events...)
}

// answer takes the events of an answer that must be accepted.
func (s *session) answer(events []coach.Event, err error) {
	require.NoError(s.t, err)
	s.do(events)
}

// play pushes samples, as if they began now.
func (s *session) play(samples []hand.Sample) {
	begin := s.at
	for _, x := range samples {
		x.Time += begin + time.Millisecond
		s.at = x.Time
		s.do(s.p.Push(x))
	}
}

// wait pushes pictures without a hand.
func (s *session) wait(d time.Duration) {
	for end := s.at + d; s.at < end; {
		s.at += 100 * time.Millisecond
		s.do(s.p.Push(hand.Sample{Time: s.at}))
	}
}

// text writes the events out in full, what pointers lead to included.
func (s *session) text() (lines []string) {
	for _, e := range s.events {
		if d, ok := e.(coach.SetDone); ok && d.Summary.Pair != nil {
			lines = append(lines, sprint(*d.Summary.Other), sprint(*d.Summary.Pair))
			d.Summary.Other, d.Summary.Pair = nil, nil
			e = d
		}
		lines = append(lines, sprint(e))
	}
	return lines
}

func (s *session) cues() (texts []string) {
	for _, e := range s.events {
		if c, ok := e.(coach.Cue); ok {
			texts = append(texts, c.Text)
		}
	}
	return texts
}

func count[E coach.Event](events []coach.Event) (n int) {
	for _, e := range events {
		if _, ok := e.(E); ok {
			n++
		}
	}
	return n
}

// hook is n repetitions of the hook fist, cleanly done.
func hook(t require.TestingT, n int) (*exercise.Movement, []hand.Sample) {
	m := movement(t, "hook-fist")
	pose, long := repeat(m, n, sec(1), 1.5, nil)
	return m, noisy(film{pose: pose, long: long + sec(1)}, 3).samples()
}

func TestPracticeFromStartToEnd(t *testing.T) {
	m, set := hook(t, 3)
	s := practise(t, coach.PracticeConfig{Coach: coach.Config{Movement: m, Hold: sec(1), Repetitions: 3, Side: hand.Left}, Sets: 3, Rest: sec(20)})
	require.Equal(t, coach.Ready, s.p.Status().State)
	s.play(set)
	require.Empty(t, s.events, "before the start nothing is judged")
	s.answer(s.p.PainBefore(s.at, 2))
	s.do(s.p.Start(s.at))
	for i := range 3 {
		st := s.p.Status()
		require.Equal(t, coach.Working, st.State)
		require.Equal(t, []int{i + 1, 3}, []int{st.Set, st.Sets})
		s.play(set)
		if i < 2 {
			st = s.p.Status()
			require.Equal(t, coach.Resting, st.State)
			require.InDelta(t, 18.5, st.RestLeft.Seconds(), 1.5)
			s.wait(st.RestLeft + 100*time.Millisecond)
		}
	}
	require.Equal(t, coach.Done, s.p.Status().State)
	s.answer(s.p.PainAfter(s.at, 2, false))
	s.answer(s.p.EffortAfter(s.at, 1))
	sum := s.p.Finish(s.at)
	require.Equal(t, 9, sum.Counted)
	require.Len(t, sum.Sets, 3)
	require.Empty(t, sum.Flags)
	require.False(t, sum.Stopped)
	require.Equal(t, []int{2, 2, 1}, []int{*sum.PainBefore, *sum.PainAfter, *sum.Effort})
	require.Equal(t, 3, sum.Clean)
	require.Contains(t, sum.GradeHint, "your therapist may make this harder")
	require.Equal(t, 1, count[coach.GradeHint](sum.Last))
	require.Equal(t, []int{3, 3, 2, 2, 1}, []int{
		count[coach.SetStarted](s.events), count[coach.SetDone](s.events),
		count[coach.RestStarted](s.events), count[coach.RestEnded](s.events), count[coach.PracticeDone](s.events),
	})
	require.Contains(t, s.cues(), "Set 1 of 3. Begin when you are ready.")
	require.Contains(t, s.cues(), "Set done. Rest for 20 seconds.")
	require.Contains(t, s.cues(), "That was the last set. Well done.")
	for _, set := range sum.Sets {
		require.True(t, set.Complete && set.Clean())
		require.Equal(t, hand.Left, set.Side)
	}
	again := s.p.Finish(s.at + sec(9))
	require.Empty(t, again.Last)
	require.Equal(t, sum.End, again.End)
}

// The hint needs light work, three clean sets and nothing that hurt; it never
// comes by itself.
func TestGradeHint(t *testing.T) {
	m, set := hook(t, 2)
	for _, c := range []struct {
		name           string
		sets, before   int
		effort, rise   int
		sharp, partial bool
		hint           bool
		clean          int
	}{
		{name: "three light sets", sets: 3, effort: 2, hint: true, clean: 3},
		{name: "one light set after two clean ones", sets: 1, before: 2, effort: 0, hint: true, clean: 3},
		{name: "two light sets", sets: 2, effort: 1, clean: 2},
		{name: "not light", sets: 3, effort: 3, clean: 3},
		{name: "nobody asked how hard it was", sets: 3, effort: -1, clean: 3},
		{name: "pain rose a little", sets: 3, effort: 1, rise: 1, clean: 3},
		{name: "the last set not clean", sets: 3, effort: 1, partial: true, clean: 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := practise(t, coach.PracticeConfig{Coach: coach.Config{Movement: m, Hold: sec(1), Repetitions: 2}, Sets: c.sets, Rest: -1, CleanBefore: c.before})
			s.answer(s.p.PainBefore(0, 3))
			s.do(s.p.Start(0))
			for i := range c.sets {
				if c.partial && i == c.sets-1 {
					pose, long := repeat(m, 1, sec(1), 1.5, func(int) float64 { return 0.55 })
					s.play(noisy(film{pose: pose, long: long}, 5).samples())
				}
				s.play(set)
			}
			s.answer(s.p.PainAfter(s.at, 3+c.rise, false))
			if c.effort >= 0 {
				s.answer(s.p.EffortAfter(s.at, c.effort))
			}
			sum := s.p.Finish(s.at)
			require.Equal(t, 2*c.sets, sum.Counted)
			require.Equal(t, c.clean, sum.Clean)
			require.Equal(t, c.hint, sum.GradeHint != "")
			require.Equal(t, c.hint, count[coach.GradeHint](sum.Last) == 1)
		})
	}
}

// The stop rules (common practice): sharp pain or a rise of more than two of
// ten ends the session; without an answer before, more than mild pain does,
// mild being up to 5 (Boonstra et al. 2016, n = 2854).
func TestPainStop(t *testing.T) {
	n := func(i int) *int { return &i }
	for _, c := range []struct {
		before *int
		after  int
		sharp  bool
		want   coach.StopReason
	}{
		{n(2), 2, false, ""},
		{n(2), 4, false, ""},
		{n(2), 5, false, coach.PainRose},
		{n(0), 3, false, coach.PainRose},
		{n(7), 9, false, ""},
		{n(7), 0, false, ""},
		{n(7), 7, true, coach.SharpPain},
		{n(0), 0, true, coach.SharpPain},
		{nil, 5, false, ""},
		{nil, 6, false, coach.PainRose},
		{nil, 1, true, coach.SharpPain},
	} {
		require.Equal(t, c.want, coach.PainStop(c.before, c.after, c.sharp), "%+v", c)
	}
	require.False(t, coach.Hurting.EndsSession())
	require.True(t, coach.PainRose.EndsSession())
	require.True(t, coach.SharpPain.EndsSession())
}

func TestItHurts(t *testing.T) {
	m, set := hook(t, 3)
	cfg := coach.PracticeConfig{Coach: coach.Config{Movement: m, Hold: sec(1), Repetitions: 3}, Sets: 2, Rest: sec(5)}
	begin := func() *session {
		s := practise(t, cfg)
		s.answer(s.p.PainBefore(0, 3))
		s.do(s.p.Start(0))
		s.play(set[:150])
		before := len(s.events)
		s.do(s.p.Hurt(s.at))
		require.Equal(t, coach.Stopped, s.p.Status().State, "at once")
		require.Equal(t, coach.Hurting, s.p.Status().StopReason)
		require.Equal(t, 1, count[coach.StoppedForPain](s.events[before:]))
		require.Equal(t, 1, count[coach.SetDone](s.events[before:]))
		require.Equal(t, 1, count[coach.Cue](s.events[before:]))
		before = len(s.events)
		s.play(set)
		require.Empty(t, s.events[before:], "nothing is judged any more")
		s.do(s.p.GoOn(s.at))
		require.Equal(t, coach.Stopped, s.p.Status().State, "not before the answer")
		return s
	}
	t.Run("bearable, goes on with the next set", func(t *testing.T) {
		s := begin()
		s.answer(s.p.PainAfter(s.at, 5, false))
		require.True(t, s.p.Status().MayGoOn)
		s.do(s.p.GoOn(s.at))
		require.Equal(t, coach.Resting, s.p.Status().State)
		s.wait(sec(5.2))
		s.play(set)
		require.Equal(t, coach.Done, s.p.Status().State)
		sum := s.p.Finish(s.at)
		require.False(t, sum.Stopped)
		require.Len(t, sum.Hurts, 1)
		require.True(t, sum.Sets[0].Hurt && !sum.Sets[0].Complete)
		require.True(t, sum.Sets[1].Complete)
		require.Empty(t, sum.GradeHint)
	})
	for name, c := range map[string]struct {
		n     int
		sharp bool
		want  coach.StopReason
	}{"risen": {6, false, coach.PainRose}, "sharp": {3, true, coach.SharpPain}} {
		t.Run(name+", ends the session", func(t *testing.T) {
			s := begin()
			s.answer(s.p.PainAfter(s.at, c.n, c.sharp))
			require.Equal(t, c.want, s.p.Status().StopReason)
			require.Contains(t, s.cues()[len(s.cues())-1], "contact your therapist")
			s.answer(s.p.PainAfter(s.at, 0, false))
			s.do(s.p.GoOn(s.at))
			s.do(s.p.Start(s.at))
			s.do(s.p.Skip(s.at))
			require.Equal(t, coach.Stopped, s.p.Status().State, "an answer that ended the session is not taken back")
			sum := s.p.Finish(s.at)
			require.True(t, sum.Stopped)
			require.Equal(t, c.want, sum.StopReason)
			require.Equal(t, c.sharp, sum.Sharp)
			require.Len(t, sum.Sets, 1)
		})
	}
	t.Run("answered in a rest", func(t *testing.T) {
		s := practise(t, cfg)
		s.answer(s.p.PainBefore(0, 1))
		s.do(s.p.Start(0))
		s.play(set)
		require.Equal(t, coach.Resting, s.p.Status().State)
		s.answer(s.p.PainAfter(s.at, 4, false))
		require.Equal(t, coach.Stopped, s.p.Status().State)
	})
	t.Run("answered after the last set", func(t *testing.T) {
		s := practise(t, coach.PracticeConfig{Coach: cfg.Coach, Sets: 1})
		s.answer(s.p.PainBefore(0, 1))
		s.do(s.p.Start(0))
		s.play(set)
		require.Equal(t, coach.Done, s.p.Status().State)
		s.answer(s.p.PainAfter(s.at, 4, false))
		sum := s.p.Finish(s.at)
		require.Equal(t, coach.PainRose, sum.StopReason)
		require.Equal(t, 3, sum.Counted, "what was done stays done")
	})
}

func TestPauseSkipAndEnough(t *testing.T) {
	m, set := hook(t, 3)
	cfg := coach.PracticeConfig{Coach: coach.Config{Movement: m, Hold: sec(1), Repetitions: 3}, Sets: 2, Rest: sec(30)}
	t.Run("paused in a hold", func(t *testing.T) {
		s := practise(t, cfg)
		s.do(s.p.Start(0))
		cut := 0
		for i := range set {
			s.play(set[i : i+1])
			s.at = set[i].Time
			if s.p.Status().Coach.Holding && s.p.Status().Coach.Held > sec(0.5) {
				cut = i + 1
				break
			}
		}
		s.do(s.p.Pause(s.at))
		require.Equal(t, coach.Halted, s.p.Status().State)
		s.wait(sec(30))
		s.do(s.p.GoOn(s.at))
		rest := append([]hand.Sample(nil), set[cut:]...)
		for i := range rest {
			rest[i].Time -= set[cut-1].Time
		}
		s.play(rest)
		require.Zero(t, count[coach.Paused](s.events), "the client paused; the hand was not lost")
		require.Equal(t, 3, s.p.Status().Coach.Counted)
		sum := s.p.Finish(s.at)
		require.Len(t, sum.Sets[0].Holds, 3)
		require.InDelta(t, 1, sum.Sets[0].Holds[0].Held.Seconds(), 0.25)
		require.Greater(t, sum.Sets[0].Measured, 0.9, "the pause is no time that could not be seen")
	})
	t.Run("ended while paused", func(t *testing.T) {
		for name, end := range map[string]func(s *session) []coach.Event{
			"left":    func(s *session) []coach.Event { return s.p.Finish(s.at).Last },
			"skipped": func(s *session) []coach.Event { return s.p.Skip(s.at) },
			"hurt":    func(s *session) []coach.Event { return s.p.Hurt(s.at) },
			"done":    func(s *session) []coach.Event { return s.p.SayDone(s.at) },
		} {
			s := practise(t, cfg)
			s.do(s.p.Start(0))
			s.play(set[:200])
			at := s.at
			s.do(s.p.Pause(s.at))
			s.wait(sec(60))
			s.do(end(s))
			one := s.p.Finish(s.at).Sets[0]
			require.Greater(t, one.Measured, 0.9, "%s: the pause is no time that could not be seen", name)
			require.Equal(t, at, one.End, "%s: the set was over when it was paused for good", name)
			require.Equal(t, one.End-one.Start, one.Watched, name)
			for _, h := range one.Holds {
				require.LessOrEqual(t, h.End, at, name)
			}
		}
	})
	t.Run("what was out of sight before and after", func(t *testing.T) {
		s := practise(t, cfg)
		s.do(s.p.Start(0))
		// The index finger's PIP is hidden for the last fifth of a second before the
		// pause, and for as long after it.
		hide := func(all []hand.Sample) []hand.Sample {
			all = append([]hand.Sample(nil), all...)
			for i := range all {
				all[i].Joints[hand.IndexPIP] = hand.Measurement{Why: hand.Hidden}
			}
			return all
		}
		from := func(a, b int) []hand.Sample {
			part := append([]hand.Sample(nil), set[a:b]...)
			for i := range part {
				part[i].Time -= set[a].Time
			}
			return part
		}
		s.play(from(0, 100))
		s.play(hide(from(100, 106)))
		s.do(s.p.Pause(s.at))
		s.wait(sec(60))
		s.do(s.p.GoOn(s.at))
		s.play(hide(from(106, 112)))
		s.play(from(112, 200))
		require.Zero(t, count[coach.CannotJudge](s.events), "it was hidden for less than half a second that anybody watched")
		one := s.p.Finish(s.at).Sets[0]
		require.InDelta(t, 12./200, one.NotJudged[0].Share, 0.02)
		require.Equal(t, hand.IndexPIP, one.NotJudged[0].Joint)
		require.InDelta(t, one.Watched.Seconds(), (one.End - one.Start - sec(60)).Seconds(), 0.1)
	})
	t.Run("a rest ended early, and one paused", func(t *testing.T) {
		s := practise(t, coach.PracticeConfig{Coach: cfg.Coach, Sets: 3, Rest: sec(30)})
		s.do(s.p.Start(0))
		s.play(set)
		s.do(s.p.Start(s.at))
		require.Equal(t, coach.Working, s.p.Status().State)
		s.play(set)
		s.do(s.p.Pause(s.at))
		s.wait(sec(40))
		require.Equal(t, coach.Halted, s.p.Status().State)
		s.do(s.p.GoOn(s.at))
		require.Equal(t, 3, s.p.Status().Set)
	})
	t.Run("skipped", func(t *testing.T) {
		s := practise(t, coach.PracticeConfig{Coach: cfg.Coach, Sets: 4, Rest: sec(30)})
		s.do(s.p.Skip(0))
		s.do(s.p.Start(0))
		s.play(set[:100])
		s.do(s.p.Skip(s.at))
		require.Equal(t, coach.Resting, s.p.Status().State)
		s.do(s.p.Skip(s.at))
		s.do(s.p.Start(s.at))
		s.play(set)
		sum := s.p.Finish(s.at)
		require.Equal(t, coach.Done, s.p.Status().State)
		var skipped []bool
		for _, x := range sum.Sets {
			skipped = append(skipped, x.Skipped)
		}
		require.Equal(t, []bool{true, true, true, false}, skipped)
	})
	t.Run("a set that cannot be completed ends all the same", func(t *testing.T) {
		s := practise(t, cfg)
		s.do(s.p.Start(0))
		pose, long := repeat(m, 7, sec(1), 1.5, func(int) float64 { return 0.55 })
		s.play(noisy(film{pose: pose, long: long}, 5).samples())
		require.Equal(t, coach.Resting, s.p.Status().State)
		sum := s.p.Finish(s.at)
		require.Equal(t, 5, sum.Partial, "three wanted, and two more tries")
		require.False(t, sum.Sets[0].Complete)
		require.Contains(t, s.cues(), "That is enough for this set. Rest for 30 seconds.")
	})
	t.Run("what the camera cannot judge", func(t *testing.T) {
		n := *m
		n.Kind = exercise.Unmeasured
		s := practise(t, coach.PracticeConfig{Coach: coach.Config{Movement: &n, Repetitions: 3}, Sets: 1})
		s.do(s.p.Start(0))
		s.play(set)
		require.Equal(t, coach.Working, s.p.Status().State)
		s.do(s.p.SayDone(s.at))
		require.Equal(t, coach.Done, s.p.Status().State)
		sum := s.p.Finish(s.at)
		require.True(t, sum.Sets[0].ByClient)
		require.Zero(t, sum.Counted, "nothing is counted that was not seen")
	})
}

// A correction that worked is praised.
func TestPraise(t *testing.T) {
	m := movement(t, "whole-hand-grip")
	pose, long := repeat(m, 3, sec(2), 1, func(i int) float64 { return []float64{1, 0.55, 1}[i] })
	s := practise(t, coach.PracticeConfig{Coach: coach.Config{Movement: m, Hold: sec(2), Repetitions: 5}, Sets: 1})
	s.do(s.p.Start(0))
	s.play(noisy(film{pose: pose, long: long + sec(1)}, 3).samples())
	praised := 0
	for _, e := range s.events {
		if c, ok := e.(coach.Cue); ok && c.Praise {
			praised++
			require.Equal(t, "Good, that was further.", c.Text)
		}
	}
	require.Equal(t, 1, praised)
}

func TestPracticeRefusals(t *testing.T) {
	m := movement(t, "hook-fist")
	ok := coach.Config{Movement: m}
	for name, cfg := range map[string]coach.PracticeConfig{
		"no movement":        {},
		"less than no sets":  {Coach: ok, Sets: -1},
		"a thousand sets":    {Coach: ok, Sets: 1000},
		"a rest of a day":    {Coach: ok, Rest: 24 * time.Hour},
		"clean sets below 0": {Coach: ok, CleanBefore: -1},
		"impossible limit":   {Coach: coach.Config{Movement: m, Limits: coach.Limits{hand.IndexPIP: {Lower: deg(300)}}}},
	} {
		_, err := coach.NewPractice(cfg)
		require.Error(t, err, name)
	}
	p, err := coach.NewPractice(coach.PracticeConfig{Coach: ok})
	require.NoError(t, err)
	require.Equal(t, m.Dose.Sets, p.Status().Sets)
	for _, n := range []int{-1, 11} {
		_, err = p.PainBefore(0, n)
		require.ErrorContains(t, err, "0 to 10")
		_, err = p.PainAfter(0, n, false)
		require.Error(t, err)
		_, err = p.EffortAfter(0, n)
		require.Error(t, err)
	}
}

// drawStep draws one thing that may happen to a practice.
func drawStep(t *rapid.T, stream []hand.Sample) func(*session) {
	scale := rapid.IntRange(0, 10).Draw(t, "answer")
	switch rapid.IntRange(0, 12).Draw(t, "input") {
	case 0:
		return func(s *session) { s.do(s.p.Start(s.at)) }
	case 1:
		return func(s *session) { s.do(s.p.Pause(s.at)) }
	case 2:
		return func(s *session) { s.do(s.p.GoOn(s.at)) }
	case 3:
		return func(s *session) { s.do(s.p.Skip(s.at)) }
	case 4:
		return func(s *session) { s.do(s.p.Hurt(s.at)) }
	case 5:
		sharp := rapid.IntRange(0, 9).Draw(t, "sharp") == 0
		return func(s *session) { s.answer(s.p.PainAfter(s.at, scale, sharp)) }
	case 6:
		return func(s *session) { s.answer(s.p.PainBefore(s.at, scale)) }
	case 7:
		return func(s *session) { s.answer(s.p.EffortAfter(s.at, scale)) }
	case 8:
		return func(s *session) { s.do(s.p.SayDone(s.at)) }
	case 9:
		d := time.Duration(rapid.IntRange(0, 40000).Draw(t, "ms")) * time.Millisecond
		return func(s *session) { s.at += d }
	}
	if len(stream) == 0 {
		return func(*session) {}
	}
	from := rapid.IntRange(0, len(stream)-1).Draw(t, "from")
	return func(s *session) {
		part := append([]hand.Sample(nil), stream[from:min(from+100, len(stream))]...)
		for i := range part {
			part[i].Time -= stream[from].Time
		}
		s.play(part)
	}
}

// Whatever the client does: counts never go down, sets are numbered in order
// and never more than wanted, at most one cue an input, a stopped session stays
// stopped, and the same inputs give the same events.
func TestAnyPractice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cfg := coach.PracticeConfig{Coach: drawConfig(t), Sets: rapid.IntRange(1, 4).Draw(t, "sets"), Rest: time.Duration(rapid.SampledFrom([]int{-1, 1, 30}).Draw(t, "rest")) * time.Second}
		cfg.Coach.Repetitions = rapid.IntRange(1, 4).Draw(t, "repetitions")
		stream := drawStream(t)
		a, b := practise(t, cfg), practise(t, cfg)
		var st coach.PracticeStatus
		ended := false
		for range rapid.IntRange(0, 10).Draw(t, "steps") {
			step := drawStep(t, stream)
			before := len(a.events)
			step(a)
			step(b)
			now := a.p.Status()
			require.True(t, now.Set >= st.Set && now.Set <= cfg.Sets)
			require.True(t, now.RestLeft >= 0 && now.RestLeft <= max(cfg.Rest, 0))
			if now.Set == st.Set {
				require.GreaterOrEqual(t, now.Coach.Counted, st.Coach.Counted)
			}
			require.LessOrEqual(t, now.Coach.Counted, cfg.Coach.Repetitions)
			ended = ended || now.StopReason.EndsSession()
			require.False(t, ended && now.State != coach.Stopped, "a session that pain ended goes on")
			var last time.Duration
			for _, e := range a.events[before:] {
				require.GreaterOrEqual(t, e.When(), last)
				last = e.When()
			}
			st = now
		}
		sum := a.p.Finish(a.at)
		total := 0
		for i, set := range sum.Sets {
			require.Equal(t, i+1, set.Number)
			total += set.Counted
			for _, h := range set.Holds {
				require.True(t, h.Held >= 0 && h.Held <= h.End-h.Start)
				require.True(t, h.Start >= set.Start && h.End <= set.End)
			}
			for _, f := range set.Flags {
				require.True(t, f.Start >= set.Start && f.Start <= f.End && f.End <= set.End)
			}
			require.True(t, set.Measured >= 0 && set.Measured <= 1)
		}
		require.Equal(t, total, sum.Counted)
		require.Equal(t, ended, sum.StopReason.EndsSession())
		require.Equal(t, a.text(), b.text())
	})
}

// A pause of any length at any moment changes no count and no hold, beyond what
// the hand out of sight for as long would; the same inputs give the same
// events.
func TestPausingAPracticeChangesNothing(t *testing.T) {
	m, set := hook(t, 3)
	cfg := coach.PracticeConfig{Coach: coach.Config{Movement: m, Hold: sec(1), Repetitions: 3}, Sets: 1}
	run := func(t require.TestingT, at int, away time.Duration) (coach.PracticeSummary, []coach.Event) {
		s := practise(t, cfg)
		s.do(s.p.Start(0))
		for i, x := range set {
			if i == at {
				s.do(s.p.Pause(s.at))
				s.do(s.p.GoOn(s.at + away))
			}
			if i >= at {
				x.Time += away
			}
			s.at = x.Time
			s.do(s.p.Push(x))
		}
		return s.p.Finish(s.at), s.events
	}
	want, _ := run(t, len(set), 0)
	require.Equal(t, 3, want.Counted)
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.IntRange(1, len(set)-1).Draw(t, "pause before sample")
		away := time.Duration(rapid.IntRange(1, 600000).Draw(t, "ms")) * time.Millisecond
		got, events := run(t, at, away)
		again, eventsAgain := run(t, at, away)
		require.Equal(t, sprint(got.Sets), sprint(again.Sets))
		require.Equal(t, sprint(events), sprint(eventsAgain))
		require.Zero(t, count[coach.Paused](events))
		require.Zero(t, got.Partial)
		unjudged := got.Sets[0].Unjudged
		require.LessOrEqual(t, unjudged, 1, "at most the repetition whose way was cut")
		require.Equal(t, want.Counted, got.Counted+unjudged)
		require.Empty(t, got.Flags)
		for _, h := range got.Sets[0].Holds {
			require.False(t, math.Abs(h.Held.Seconds()-1) > 0.6, "held %v", h.Held)
		}
	})
}
