package program

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"volar/internal/coach"
	"volar/internal/hand"
)

// Limit is the range that some joints must stay in, as one schedule.
type Limit struct {
	Joints Joints `yaml:"joints,required" json:"joints"`
	// Side is the hand whose joints they are, given where it is not the one that
	// the program, or the exercise, is for.
	Side Side `yaml:"side" json:"side,omitzero"`
	// Schedule is in the order of its dates.
	Schedule []Step `yaml:"schedule,required" json:"schedule"`
	// Reason is the therapist's, for the clinic.
	Reason string `yaml:"reason" json:"reason,omitzero"`
}

// Step is a change of a limit. An end that it does not give stays as it was.
type Step struct {
	// From is the day from which it holds; the zero Date, on a first step
	// only, is from the beginning.
	From Date `yaml:"from" json:"from,omitzero"`
	// Lower is the least flexion allowed, Upper the greatest.
	Lower End `yaml:"not_straighter_than" json:"not_straighter_than,omitzero"`
	Upper End `yaml:"not_bent_beyond" json:"not_bent_beyond,omitzero"`
}

// End is one end of a limit: not given, free, or an angle.
type End struct {
	kind endKind
	deg  float64
}

type endKind int8

const (
	notGiven endKind = iota
	free
	angle
)

// freeWord lifts an end in a file.
const freeWord = "free"

// Deg returns an end at an angle in degrees of flexion.
func Deg(deg float64) End { return End{angle, deg} }

// Free returns an end that lifts the limit.
func Free() End { return End{kind: free} }

// Deg returns the angle; ok is false where the end is not given or free.
func (e End) Deg() (deg float64, ok bool) { return e.deg, e.kind == angle }

// IsFree reports whether the end lifts the limit.
func (e End) IsFree() bool { return e.kind == free }

// IsZero reports whether the end is not given.
func (e End) IsZero() bool { return e.kind == notGiven }

// UnmarshalText reads a number of degrees or the word free.
func (e *End) UnmarshalText(b []byte) error {
	s := strings.TrimSuffix(strings.TrimSpace(string(b)), "°")
	if s == freeWord {
		*e = Free()
		return nil
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		return fmt.Errorf("%q is neither a number of degrees, with a minus sign past straight, nor the word %s", b, freeWord)
	}
	*e = Deg(x)
	return nil
}

// MarshalJSON writes a number or the word free.
func (e End) MarshalJSON() ([]byte, error) {
	switch e.kind {
	case angle:
		return strconv.AppendFloat(nil, e.deg, 'f', -1, 64), nil
	case free:
		return []byte(`"` + freeWord + `"`), nil
	}
	return []byte("null"), nil
}

// UnmarshalJSON reads what MarshalJSON writes.
func (e *End) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*e = End{}
		return nil
	}
	return e.UnmarshalText([]byte(strings.Trim(string(b), `"`)))
}

func (e End) String() string {
	switch e.kind {
	case angle:
		return trim(e.deg)
	case free:
		return freeWord
	}
	return ""
}

// On returns both ends as they stand on a day.
func (l *Limit) On(d Date) (lower, upper End) {
	for _, s := range l.Schedule {
		if d.Before(s.From) {
			break
		}
		if !s.Lower.IsZero() {
			lower = s.Lower
		}
		if !s.Upper.IsZero() {
			upper = s.Upper
		}
	}
	return lower, upper
}

// bound is one end of one joint's limit with where it was set.
type bound struct {
	end   End
	field string
	order int
}

// bounds are the ends of all joints as several lists of limits set them.
type bounds struct {
	joints [hand.NumJoints]struct{ lower, upper bound }
	n      int
}

// limitList is a list of limits with the field where it stands and the hand that
// an entry without a side is for.
type limitList struct {
	limits []Limit
	field  string
	usual  Side
}

// lay puts the limits of one hand, as they stand on a day, over what is there.
func (b *bounds) lay(l limitList, side Side, d Date) {
	for i := range l.limits {
		if l.limits[i].of(l.usual) != side {
			continue
		}
		lower, upper := l.limits[i].On(d)
		at := fmt.Sprintf("%s[%d]", l.field, i+1)
		b.n++
		for _, j := range l.limits[i].Joints.List() {
			if !lower.IsZero() {
				b.joints[j].lower = bound{lower, at, b.n}
			}
			if !upper.IsZero() {
				b.joints[j].upper = bound{upper, at, b.n}
			}
		}
	}
}

// limits in the coach's words.
func (b *bounds) limits() coach.Limits {
	l := coach.Limits{}
	for j := range b.joints {
		var m coach.Limit
		if deg, ok := b.joints[j].lower.end.Deg(); ok {
			m.Lower = &deg
		}
		if deg, ok := b.joints[j].upper.end.Deg(); ok {
			m.Upper = &deg
		}
		if m.Lower != nil || m.Upper != nil {
			l[hand.Joint(j)] = m
		}
	}
	return l
}

// changes lists the days on which any of the limits changes, in order.
func changes(lists ...[]Limit) []Date {
	var all []Date
	for _, limits := range lists {
		for _, l := range limits {
			for _, s := range l.Schedule {
				if !s.From.IsZero() {
					all = append(all, s.From)
				}
			}
		}
	}
	slices.SortFunc(all, Date.Compare)
	return slices.Compact(all)
}

// Words says the schedule for a person, such as "index PIP: not straighter
// than 30° short of straight; from 8 December 2026 20° short of straight".
func (l *Limit) Words() string {
	var steps []string
	for _, s := range l.Schedule {
		var parts []string
		if !s.Lower.IsZero() {
			parts = append(parts, lowerWords(s.Lower))
		}
		if !s.Upper.IsZero() {
			parts = append(parts, upperWords(s.Upper))
		}
		text := strings.Join(parts, ", ")
		if !s.From.IsZero() {
			text = "from " + s.From.Words() + " " + text
		}
		steps = append(steps, text)
	}
	return l.Subject() + ": " + strings.Join(steps, "; ")
}

// Subject names the joints of the limit, and their hand where it is given.
func (l *Limit) Subject() string {
	if l.Side == 0 {
		return l.Joints.Words()
	}
	return l.Joints.Words() + " of the " + l.Side.String() + " hand"
}

// Unlimited is the one hand of an exercise of both hands that has no limit,
// where the other has some. Of a program that was not checked it finds none.
func (p *Program) Unlimited(e *Exercise) (side Side, found bool) {
	if e.movement == nil || e.movement.Hands != 2 || p.Side == 0 {
		return 0, false
	}
	has := map[Side]bool{}
	for i := range p.Limits {
		has[p.Limits[i].of(p.Side)] = true
	}
	for i := range e.Limits {
		has[e.Limits[i].of(p.SideOf(e))] = true
	}
	if len(has) != 1 {
		return 0, false
	}
	if has[p.Side] {
		return p.Side.Other(), true
	}
	return p.Side, true
}

// of is the hand that the limit is for.
func (l *Limit) of(usual Side) Side {
	if l.Side != 0 {
		return l.Side
	}
	return usual
}

func lowerWords(e End) string {
	deg, ok := e.Deg()
	switch {
	case !ok:
		return "free towards straight"
	case deg == 0:
		return "not past straight"
	case deg < 0:
		return fmt.Sprintf("not more than %s° past straight", trim(-deg))
	}
	return fmt.Sprintf("not straighter than %s° short of straight", trim(deg))
}

func upperWords(e End) string {
	deg, ok := e.Deg()
	switch {
	case !ok:
		return "free towards the fist"
	case deg == 0:
		return "not bent beyond straight"
	case deg < 0:
		return fmt.Sprintf("to stay at least %s° past straight", trim(-deg))
	}
	return fmt.Sprintf("not bent beyond %s°", trim(deg))
}
