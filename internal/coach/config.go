package coach

import (
	"errors"
	"fmt"
	"math"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
)

// Config says what is judged.
type Config struct {
	// Movement is required.
	Movement *exercise.Movement
	// Object is the ID of the movement's object that is used; empty is the
	// usual one.
	Object string
	// Side is the hand that exercises; it goes into the summary. The caller
	// sees to it that only this hand's samples come in.
	Side hand.Side
	// Limits set by the therapist. They go before the movement's own, end by
	// end.
	Limits Limits
	// Hold is the wanted time in the end pose; 0 takes the movement's usual
	// dose, a negative value wants none.
	Hold time.Duration
	// Repetitions in a set; 0 takes the movement's usual dose.
	Repetitions int
	// Own is the client's own range for this movement where it was recorded:
	// each joint's angle in the start and in the end pose.
	Own map[hand.Joint]Range
	// Zeroed is true where readings are already corrected by the client's
	// recorded straight hand: a joint's zero is then 0, and is not learned from
	// what it reads in this exercise.
	Zeroed bool
	// Tolerances for timing and measurement error; the zero value has
	// sensible ones.
	Tolerances Tolerances
}

// Range is a joint's angle in the start and in the end pose, in degrees.
type Range struct{ Start, End float64 }

// Tolerances say how much doubt the coach allows for. A zero field takes the
// default.
type Tolerances struct {
	// DropOut is the longest time without a reading that changes nothing
	// (default 0.3 s).
	DropOut time.Duration
	// Dip is the longest time that the measure may leave the end zone without
	// ending the hold (default 0.25 s).
	Dip time.Duration
	// HoldSlack is how much a hold may fall short of the wanted time, which is
	// the error in timing it (default 0.3 s).
	HoldSlack time.Duration
	// MarginSE is how many standard errors of one reading beyond a limit that
	// is not near straight the mean must lie (default 1.5). The margin is kept
	// between LeastMarginDeg (default 5) and GreatestMarginDeg (default 8.5;
	// twice that for limits that are not near straight, where angles are read
	// less well). With the defaults and readings that scatter by 3.5 degrees,
	// four straight fingers raise a flag in fewer than 1 of 100 holds of 10 s,
	// and a knuckle 15 degrees past straight for half a second is missed in
	// fewer than 1 of 100, though the estimator shows only 13.
	MarginSE, LeastMarginDeg, GreatestMarginDeg float64
}

func (t Tolerances) withDefaults() Tolerances {
	set := func(d *time.Duration, to time.Duration) {
		if *d == 0 {
			*d = to
		}
	}
	set(&t.DropOut, 300*time.Millisecond)
	set(&t.Dip, 250*time.Millisecond)
	set(&t.HoldSlack, 300*time.Millisecond)
	for _, f := range []struct {
		x  *float64
		to float64
	}{{&t.MarginSE, 1.5}, {&t.LeastMarginDeg, 5}, {&t.GreatestMarginDeg, 8.5}} {
		if *f.x == 0 {
			*f.x = f.to
		}
	}
	return t
}

func (t Tolerances) check() error {
	if t.DropOut < 0 || t.Dip < 0 || t.HoldSlack < 0 {
		return errors.New("tolerances: a time is negative")
	}
	if !(t.MarginSE > 0 && t.LeastMarginDeg > 0 && t.GreatestMarginDeg >= t.LeastMarginDeg) {
		return fmt.Errorf("tolerances: margins of %g standard errors between %g° and %g° make no sense", t.MarginSE, t.LeastMarginDeg, t.GreatestMarginDeg)
	}
	return nil
}

// resolve checks the configuration and fills in the movement's own values.
func (c Config) resolve() (Config, error) {
	if c.Movement == nil {
		return c, errors.New("coach: no movement given")
	}
	m, err := c.Movement.With(c.Object)
	if err != nil {
		return c, fmt.Errorf("coach: %w", err)
	}
	c.Movement = m
	if err := c.Limits.Check(); err != nil {
		return c, fmt.Errorf("coach: limits: %w", err)
	}
	if c.Repetitions < 0 || c.Repetitions > 1000 {
		return c, fmt.Errorf("coach: %d repetitions make no sense", c.Repetitions)
	}
	if c.Hold > 10*time.Minute {
		return c, fmt.Errorf("coach: a hold of %v makes no sense; at most 10 minutes", c.Hold)
	}
	for j, r := range c.Own {
		least, greatest := exercise.Possible(j)
		if !(r.Start >= least && r.Start <= greatest && r.End >= least && r.End <= greatest) {
			return c, fmt.Errorf("coach: own range of %s: %g° to %g° is outside what it can do", j, r.Start, r.End)
		}
	}
	c.Tolerances = c.Tolerances.withDefaults()
	if err := c.Tolerances.check(); err != nil {
		return c, fmt.Errorf("coach: %w", err)
	}
	if c.Hold == 0 {
		c.Hold = m.Dose.Hold()
	}
	c.Hold = max(c.Hold, 0)
	if c.Repetitions == 0 {
		c.Repetitions = m.Dose.Repetitions
	}
	c.Limits = c.limits()
	return c, nil
}

// limits lays the therapist's limits over the movement's own, end by end. An
// own limit that contradicts the therapist's gives way.
func (c Config) limits() Limits {
	l := Limits{}
	for _, b := range c.Movement.Judge.Lower {
		for _, j := range b.Joints {
			l[j] = Limit{Lower: &b.Deg, Upper: l[j].Upper}
		}
	}
	for _, b := range c.Movement.Judge.Upper {
		for _, j := range b.Joints {
			l[j] = Limit{Lower: l[j].Lower, Upper: &b.Deg}
		}
	}
	for j, set := range c.Limits {
		m := l[j]
		if set.Lower != nil {
			m.Lower = set.Lower
			if m.Upper != nil && *m.Upper <= *m.Lower {
				m.Upper = nil
			}
		}
		if set.Upper != nil {
			m.Upper = set.Upper
			if m.Lower != nil && *m.Lower >= *m.Upper {
				m.Lower = nil
			}
		}
		l[j] = m
	}
	return l
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
