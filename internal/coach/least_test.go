package coach_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
)

// end is a least angle with whether it was judged.
type end struct {
	deg    float64
	judged bool
}

func least(all []end) end {
	x := all[0]
	for _, y := range all[1:] {
		x.deg, x.judged = coach.Least(x.deg, x.judged, y.deg, y.judged)
	}
	return x
}

// However many least angles are joined and in whatever order, the same comes
// out: one that was judged near straight is never replaced by one that was not,
// and nothing comes out that did not go in.
func TestLeastAngles(t *testing.T) {
	const nearStraight = 15
	rapid.Check(t, func(t *rapid.T) {
		all := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) end {
			if rapid.Bool().Draw(t, "judged") {
				return end{rapid.Float64Range(-30, 90).Draw(t, "deg"), true}
			}
			// What was not judged is near straight and never past it.
			return end{rapid.Float64Range(0, nearStraight).Draw(t, "deg"), false}
		}), 1, 8).Draw(t, "ends")
		got := least(all)
		require.Contains(t, all, got)
		seen, unseen := math.Inf(1), math.Inf(1)
		for _, x := range all {
			if x.judged {
				seen = min(seen, x.deg)
			} else {
				unseen = min(unseen, x.deg)
			}
		}
		switch {
		case seen <= nearStraight:
			require.Equal(t, end{seen, true}, got, "judged near straight")
		case unseen < seen:
			require.Equal(t, end{unseen, false}, got, "judged only while it was bent")
		default:
			require.Equal(t, end{seen, true}, got)
		}
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "order"), 1))
		r.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
		require.Equal(t, got, least(all), "in another order")
	})
}

// A hand that is shown from the side and then from the palm keeps the least
// angle that the side view judged.
func TestLeastAngleOfTwoViews(t *testing.T) {
	m := movement(t, "hook-fist")
	f := still(m, 4*time.Second)
	all := f.samples()
	for i := range all {
		side := all[i].Time < 2*time.Second
		for j := range all[i].Joints {
			k := &all[i].Joints[j]
			k.RawDeg, k.ExtensionJudged = 3, side
			if !side {
				k.RawDeg, k.ExtensionWhy = 0, hand.WrongView
			}
		}
	}
	s, _ := judge(t, coach.Config{Movement: m}, all)
	for _, a := range s.Angles {
		require.InDelta(t, 3, a.MinDeg, 1e-9, "%s", a.Joint)
		require.True(t, a.MinJudged, "%s", a.Joint)
	}
	require.NotEmpty(t, s.Angles)
}

// What two hands did says whose it was.
func TestWhoseRepetitionsAndHolds(t *testing.T) {
	m := both(movement(t, "hook-fist"), exercise.Together)
	all := noisy(perform(m, 2, sec(1), 1.5, nil), 1)
	s, events := judgePair(t, coach.PairConfig{Left: coach.Config{Movement: m, Hold: sec(1)}}, all.samples(), noisy(all, 2).samples())
	for _, one := range []coach.Summary{s.Left, s.Right} {
		require.Len(t, one.Repetitions, 2)
		require.Len(t, one.Holds, 2)
		for _, r := range one.Repetitions {
			require.Equal(t, one.Side, r.Side)
		}
		for _, h := range one.Holds {
			require.Equal(t, one.Side, h.Side)
		}
	}
	told := map[hand.Side]int{}
	for _, e := range events {
		switch e := e.(type) {
		case coach.RepetitionCounted:
			told[e.Repetition.Side]++
		case coach.HoldEnded:
			told[e.Hold.Side]++
		}
	}
	require.Equal(t, map[hand.Side]int{hand.Left: 4, hand.Right: 4}, told)
}
