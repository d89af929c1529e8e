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

// both makes a movement of one hand one of two, which do the same.
func both(m *exercise.Movement, how exercise.Pair) *exercise.Movement {
	n := *m
	n.Hands, n.Pair = 2, how
	return &n
}

// still is a hand at the start pose.
func still(m *exercise.Movement, long time.Duration) film {
	return film{pose: func(time.Duration) exercise.Pose { return m.StartPose() }, long: long}
}

// judgePair runs a pair over two films, sample by sample.
func judgePair(t require.TestingT, cfg coach.PairConfig, left, right []hand.Sample) (coach.PairSummary, []coach.Event) {
	p, err := coach.NewPair(cfg)
	require.NoError(t, err)
	var events []coach.Event
	var last time.Duration
	for i := range min(len(left), len(right)) {
		last = left[i].Time
		events = append(events, p.PushPair(left[i], right[i])...)
	}
	s := p.Finish(last)
	return s, append(events, s.Last...)
}

func sidesOf(flags []coach.Flag) (s []hand.Side) {
	for _, f := range flags {
		s = append(s, f.Side)
	}
	return s
}

func TestTwoHandsTogether(t *testing.T) {
	m := both(movement(t, "hook-fist"), exercise.Together)
	cfg := coach.PairConfig{Left: coach.Config{Movement: m, Hold: sec(1)}}
	all := noisy(perform(m, 3, sec(1), 1.5, nil), 1)
	t.Run("both", func(t *testing.T) {
		s, events := judgePair(t, cfg, all.samples(), noisy(all, 2).samples())
		require.Equal(t, []int{3, 3, 3}, []int{s.Counted, s.Left.Counted, s.Right.Counted})
		require.Empty(t, s.Flags)
		require.Equal(t, 3, count[coach.PairCounted](events))
		require.Equal(t, hand.Left, s.Left.Side)
		require.Equal(t, hand.Right, s.Right.Side)
	})
	t.Run("one hand alone in the second", func(t *testing.T) {
		lame := noisy(perform(m, 3, sec(1), 1.5, func(i int) float64 { return []float64{1, 0.05, 1}[i] }), 2)
		s, _ := judgePair(t, cfg, all.samples(), lame.samples())
		require.Equal(t, 2, s.Counted)
		require.Equal(t, []coach.FlagKind{coach.OutOfOrder}, kinds(s.Flags))
		require.Equal(t, []hand.Side{hand.Left}, sidesOf(s.Flags))
		require.Equal(t, 2, s.Flags[0].Repetition)
	})
	t.Run("one hand falls short in the second", func(t *testing.T) {
		short := noisy(perform(m, 3, sec(1), 1.5, func(i int) float64 { return []float64{1, 0.55, 1}[i] }), 2)
		s, _ := judgePair(t, cfg, short.samples(), all.samples())
		require.Equal(t, 2, s.Counted)
		require.Empty(t, s.Flags, "they did move together")
		require.Equal(t, []coach.FlagKind{coach.IncompleteGrip}, kinds(s.Left.Flags))
		require.Equal(t, []hand.Side{hand.Left}, sidesOf(s.Left.Flags))
		require.Empty(t, s.Right.Flags)
	})
	t.Run("one hand out of sight in the second", func(t *testing.T) {
		gone := noisy(all, 2)
		gone.look = lose(sec(4.5), sec(8))
		s, events := judgePair(t, cfg, all.samples(), gone.samples())
		require.Less(t, s.Counted, 3)
		require.Equal(t, 3, s.Counted+s.Unjudged)
		require.Empty(t, s.Flags)
		said := false
		for _, e := range events {
			switch e := e.(type) {
			case coach.Paused:
				require.Equal(t, hand.Right, e.Side)
			case coach.Cue:
				said = said || e.Text == "I cannot see your right hand. Bring it back into the picture; the clock waits."
			}
		}
		require.True(t, said, "and which")
	})
}

func TestTwoHandsInTurn(t *testing.T) {
	m := both(movement(t, "hook-fist"), exercise.Alternating)
	cfg := coach.PairConfig{Left: coach.Config{Movement: m, Hold: sec(1)}}
	one := perform(m, 1, sec(1), 1.5, nil)
	rest := still(m, one.long)
	for _, c := range []struct {
		name        string
		left, right []film
		counted     int
		flagged     []hand.Side
	}{
		{"left, right, left, right", []film{one, rest, one, rest}, []film{rest, one, rest, one}, 2, nil},
		{"right first", []film{rest, one}, []film{one, rest}, 1, nil},
		{"left twice", []film{one, one, rest}, []film{rest, rest, one}, 1, []hand.Side{hand.Left}},
		{"both at once", []film{one}, []film{one}, 0, []hand.Side{hand.Left, hand.Right}},
		{"left only", []film{one, rest}, []film{rest, rest}, 0, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, _ := judgePair(t, cfg, then(c.left...), then(c.right...))
			require.Equal(t, c.counted, s.Counted)
			require.Equal(t, c.flagged, sidesOf(s.Flags))
		})
	}
}

// Wringing: the hands turn opposite ways at the same time.
func TestWringing(t *testing.T) {
	for _, id := range []string{"wringing-together", "wringing-alternating"} {
		m := movement(t, id)
		films := map[hand.Side][]film{}
		for i := range 2 {
			for _, side := range []hand.Side{hand.Left, hand.Right} {
				f := perform(m.For(side), 1, sec(1), 1, nil)
				if m.Pair == exercise.Alternating {
					rest := still(m, f.long)
					rest.extra = func(time.Duration) channels { return f.extra(0) }
					if (side == hand.Left) == (i%2 == 0) {
						films[side] = append(films[side], f, rest)
					} else {
						films[side] = append(films[side], rest, f)
					}
					continue
				}
				films[side] = append(films[side], f)
			}
		}
		if m.Pair == exercise.Alternating {
			// The second round begins with the other hand.
			for _, side := range []hand.Side{hand.Left, hand.Right} {
				films[side] = films[side][:2]
			}
		}
		s, _ := judgePair(t, coach.PairConfig{Left: coach.Config{Movement: m, Hold: sec(1)}}, then(films[hand.Left]...), then(films[hand.Right]...))
		want := 2
		if m.Pair == exercise.Alternating {
			want = 1
		}
		require.Equal(t, want, s.Counted, id)
		require.Empty(t, append(append(s.Flags, s.Left.Flags...), s.Right.Flags...), id)
	}
}

func TestPairInAPractice(t *testing.T) {
	m := both(movement(t, "hook-fist"), exercise.Together)
	p, err := coach.NewPractice(coach.PracticeConfig{Coach: coach.Config{Movement: m, Hold: sec(1), Repetitions: 2, Side: hand.Right, Limits: coach.Limits{hand.IndexPIP: {Upper: deg(60)}}}, Other: &coach.Config{}, Sets: 2, Rest: -1})
	require.NoError(t, err)
	p.Start(0)
	all := noisy(perform(m, 4, sec(1), 1.5, nil), 1).samples()
	cues := 0
	for _, s := range all {
		s.Time += time.Millisecond
		events := p.PushPair(s, s)
		require.LessOrEqual(t, count[coach.Cue](events), 1)
		cues += count[coach.Cue](events)
	}
	require.Positive(t, cues)
	require.Equal(t, coach.Done, p.Status().State)
	require.NotNil(t, p.Status().Pair)
	sum := p.Finish(time.Minute)
	require.Equal(t, 4, sum.Counted)
	require.Len(t, sum.Sets, 2)
	for _, f := range sum.Flags {
		require.Equal(t, coach.OverFlexion, f.Kind)
		require.Equal(t, hand.Right, f.Side, "the limit is the exercising hand's")
	}
	require.NotEmpty(t, sum.Flags)
}

// Whatever two hands do: counts never go down, both together is never more than
// either, and the same samples give the same events.
func TestAnyPair(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cfg := drawConfig(t)
		cfg.Movement = both(cfg.Movement, rapid.SampledFrom([]exercise.Pair{exercise.Together, exercise.Alternating}).Draw(t, "how"))
		left, right := drawStream(t), drawStream(t)
		n := min(len(left), len(right))
		p, err := coach.NewPair(coach.PairConfig{Left: cfg})
		require.NoError(t, err)
		before := 0
		for i := range n {
			events := p.PushPair(left[i], right[i])
			require.LessOrEqual(t, count[coach.Cue](events), 1)
			l, r, st := p.Status()
			require.GreaterOrEqual(t, st.Counted, before)
			require.LessOrEqual(t, st.Counted, min(l.Counted, r.Counted))
			before = st.Counted
		}
		for i := range n {
			right[i].Time = left[i].Time
		}
		a, ae := judgePair(t, coach.PairConfig{Left: cfg}, left[:n], right[:n])
		b, be := judgePair(t, coach.PairConfig{Left: cfg}, left[:n], right[:n])
		require.Equal(t, sprint(a), sprint(b))
		require.Equal(t, sprint(ae), sprint(be))
		for _, f := range a.Flags {
			require.True(t, f.Side != hand.UnknownSide && f.Start <= f.End)
		}
		require.False(t, math.IsNaN(a.Left.Measured))
	})
}
