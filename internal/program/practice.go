package program

import (
	"time"

	"volar/internal/coach"
	"volar/internal/hand"
)

// Practice puts the exercise with its sets and rests in the coach's words. Own
// is as for Config, from the baseline of the exercising hand by which its
// readings are corrected; nil says that none was recorded, and an empty map
// that the baseline knows no joint's range.
func (q *Prescribed) Practice(own map[hand.Joint]coach.Range) (coach.PracticeConfig, error) {
	c, err := q.Config(own)
	if err != nil {
		return coach.PracticeConfig{}, err
	}
	c.Zeroed = own != nil
	p := coach.PracticeConfig{Coach: c, Sets: q.Dose.Sets, Rest: time.Duration(q.Dose.RestSeconds * float64(time.Second))}
	if p.Rest == 0 {
		p.Rest = -1 // the coach's word for none; 0 is the movement's usual
	}
	if q.Movement.Hands == 2 {
		p.Other = &coach.Config{Limits: q.OtherLimits}
	}
	return p, nil
}
