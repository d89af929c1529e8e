package program

import (
	"time"

	"volar/internal/coach"
	"volar/internal/hand"
)

// Practice puts the exercise with its sets and rests in the coach's words. Own
// is as for Config: the client's own range from the baseline of the exercising
// hand; nil says that none was recorded. The coach keeps looking for each
// joint's own zero, since a recorded straight hand says next to nothing of the
// error of a joint past straight (measured on rendered hands).
func (q *Prescribed) Practice(own map[hand.Joint]coach.Range) (coach.PracticeConfig, error) {
	c, err := q.Config(own)
	if err != nil {
		return coach.PracticeConfig{}, err
	}
	p := coach.PracticeConfig{Coach: c, Sets: q.Dose.Sets, Rest: time.Duration(q.Dose.RestSeconds * float64(time.Second))}
	if p.Rest == 0 {
		p.Rest = -1 // the coach's word for none; 0 is the movement's usual
	}
	if q.Movement.Hands == 2 {
		p.Other = &coach.Config{Limits: q.OtherLimits}
	}
	return p, nil
}
