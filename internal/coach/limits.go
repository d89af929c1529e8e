package coach

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"volar/internal/exercise"
	"volar/internal/hand"
)

// Limit is the range that a joint must stay in, in degrees; nil is no limit on
// that end.
type Limit struct {
	Lower, Upper *float64
}

// Limits are the limits set by the therapist.
type Limits map[hand.Joint]Limit

// ParseLimit reads a limit as written on a command line, such as
// "index.pip=0..", "index.pip=..90" or "*.pip=-5..100", and adds it to the
// limits. A star stands for all, as in hand.ParseJoints. An end that the text
// leaves out keeps what the limits had.
func (l Limits) ParseLimit(s string) error {
	pattern, span, ok := strings.Cut(s, "=")
	if !ok {
		return fmt.Errorf("limit %q has no =; write joint=lower..upper such as index.pip=0.. or *.pip=-5..100", s)
	}
	joints, err := hand.ParseJoints(strings.TrimSpace(pattern))
	if err != nil {
		return fmt.Errorf("limit %q: %w", s, err)
	}
	low, high, ok := strings.Cut(strings.TrimSpace(span), "..")
	if !ok {
		return fmt.Errorf("limit %q has no range; write lower..upper and leave out the end that is free, such as 0.. or ..90", s)
	}
	lower, err := parseDeg(low)
	if err != nil {
		return fmt.Errorf("limit %q: lower end %w", s, err)
	}
	upper, err := parseDeg(high)
	if err != nil {
		return fmt.Errorf("limit %q: upper end %w", s, err)
	}
	if lower == nil && upper == nil {
		return fmt.Errorf("limit %q limits nothing; give a lower or an upper end", s)
	}
	merged := Limits{}
	for _, j := range joints {
		m := l[j]
		if lower != nil {
			m.Lower = lower
		}
		if upper != nil {
			m.Upper = upper
		}
		merged[j] = m
	}
	if err := merged.Check(); err != nil {
		return fmt.Errorf("limit %q: %w", s, err)
	}
	for j, m := range merged {
		l[j] = m
	}
	return nil
}

func parseDeg(s string) (*float64, error) {
	s = strings.TrimSuffix(strings.TrimSpace(s), "°")
	if s == "" {
		return nil, nil
	}
	x, err := strconv.ParseFloat(s, 64)
	// A range of three dots would read as 0.9 what was meant as 90.
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) || s[0] == '.' {
		return nil, fmt.Errorf("%q is not a number of degrees", s)
	}
	return &x, nil
}

// Check refuses limits that no joint can have: outside what it can do, or with
// the lower end above the upper.
func (l Limits) Check() error {
	for j := hand.Joint(0); j < hand.NumJoints; j++ {
		m, ok := l[j]
		if !ok {
			continue
		}
		least, greatest := exercise.Possible(j)
		for _, x := range []*float64{m.Lower, m.Upper} {
			if x != nil && !(*x >= least && *x <= greatest) {
				return fmt.Errorf("%s cannot go to %g°; possible are %g to %g", j, *x, least, greatest)
			}
		}
		if m.Lower != nil && m.Upper != nil && *m.Lower >= *m.Upper {
			return fmt.Errorf("%s: the lower end, %g°, is not below the upper, %g°", j, *m.Lower, *m.Upper)
		}
	}
	for j := range l {
		if j < 0 || j >= hand.NumJoints {
			return fmt.Errorf("%s is no joint", j)
		}
	}
	return nil
}
