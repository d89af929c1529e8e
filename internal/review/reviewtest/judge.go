package reviewtest

import (
	"time"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
)

// judge is the coach of a session's hand, or of both in a movement that takes
// two.
type judge struct {
	side hand.Side
	one  *coach.Coach
	both *coach.Pair
}

func newJudge(m *exercise.Movement, side hand.Side, x *Exercise) (*judge, error) {
	j := &judge{side: side}
	own := coach.Config{Movement: m, Side: side, Limits: x.Limits, Repetitions: x.Prescribed, Hold: x.Hold}
	var err error
	if m.Hands != 2 {
		j.one, err = coach.New(own)
		return j, err
	}
	other := own
	other.Side, other.Limits = side.Other(), x.OtherLimits
	pair := coach.PairConfig{Left: own, Right: other}
	if side == hand.Right {
		pair.Left, pair.Right = other, own
	}
	j.both, err = coach.NewPair(pair)
	return j, err
}

// push takes one picture's samples: the session's hand, and the other.
func (j *judge) push(own, other hand.Sample) []coach.Event {
	switch {
	case j.both == nil:
		return j.one.Push(own)
	case j.side == hand.Right:
		return j.both.PushPair(other, own)
	}
	return j.both.PushPair(own, other)
}

// finish sums up what the session's hand did, and the other one where two were
// judged; last are the events that the end brought about.
func (j *judge) finish(at time.Duration) (own coach.Summary, other *coach.Summary, last []coach.Event) {
	if j.both == nil {
		own = j.one.Finish(at)
		return own, nil, own.Last
	}
	p := j.both.Finish(at)
	if j.side == hand.Right {
		return p.Right, &p.Left, p.Last
	}
	return p.Left, &p.Right, p.Last
}
