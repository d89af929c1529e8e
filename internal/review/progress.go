package review

import (
	"cmp"
	"math"
	"slices"
	"time"

	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/session"
)

// Reach is how far a joint went in one session: its least and its greatest
// flexion in degrees.
type Reach struct {
	MinDeg, MaxDeg float64
	// MinSE and MaxSE are the standard errors of one reading there.
	MinSE, MaxSE float64
	// MinJudged is true where the view showed whether the joint was past
	// straight; without it MinDeg is no less than 0 and says nothing on
	// hyperextension.
	MinJudged bool
}

// ReachOf gathers each joint's reach of a hand over all exercises of a session; ok
// says which joints were seen. An unknown side is the hand that each exercise is
// for.
func ReachOf(s *session.Session, side hand.Side) (reach [hand.NumJoints]Reach, ok [hand.NumJoints]bool) {
	for i := range s.Exercises {
		e := &s.Exercises[i]
		for _, r := range e.Ranges {
			j := r.Joint
			if j < 0 || j >= hand.NumJoints || !sameHand(cmp.Or(r.Side, e.Side), cmp.Or(side, e.Side)) {
				continue
			}
			if !ok[j] {
				reach[j], ok[j] = Reach{r.MinDeg, r.MaxDeg, math.NaN(), math.NaN(), r.MinJudged}, true
				continue
			}
			x := &reach[j]
			all := session.Range{MinDeg: x.MinDeg, MaxDeg: x.MaxDeg, MinJudged: x.MinJudged}.Join(r)
			x.MinDeg, x.MaxDeg, x.MinJudged = all.MinDeg, all.MaxDeg, all.MinJudged
		}
	}
	for j := range reach {
		if ok[j] {
			reach[j].MinSE = errorNear(s, side, hand.Joint(j), reach[j].MinDeg)
			reach[j].MaxSE = errorNear(s, side, hand.Joint(j), reach[j].MaxDeg)
		}
	}
	return reach, ok
}

// sameHand is true for two sides that are the same or not both known.
func sameHand(a, b hand.Side) bool {
	return a == b || a == hand.UnknownSide || b == hand.UnknownSide
}

// Hands lists the hands of which sessions have ranges, the given one first where
// it is known; where none is known the list has the unknown side alone.
func Hands(sessions []*session.Session, first hand.Side) []hand.Side {
	seen := map[hand.Side]bool{first: true}
	for _, s := range sessions {
		for i := range s.Exercises {
			for _, r := range s.Exercises[i].Ranges {
				seen[cmp.Or(r.Side, s.Exercises[i].Side)] = true
			}
		}
	}
	var list []hand.Side
	for _, side := range []hand.Side{first, hand.Right, hand.Left} {
		if side != hand.UnknownSide && seen[side] && !slices.Contains(list, side) {
			list = append(list, side)
		}
	}
	if len(list) == 0 {
		list = []hand.Side{hand.UnknownSide}
	}
	return list
}

// errorNear is the median standard error of a hand's readings within five degrees
// of an angle; NaN without any.
func errorNear(s *session.Session, side hand.Side, j hand.Joint, deg float64) float64 {
	var se []float64
	for i := range s.Samples {
		m := &s.Samples[i].Joints[j]
		if s.Samples[i].Found && m.Judged && ofSide(&s.Samples[i], side) && math.Abs(m.FlexionDeg-deg) <= 5 {
			se = append(se, m.SEDeg)
		}
	}
	if len(se) == 0 {
		return math.NaN()
	}
	slices.Sort(se)
	return se[len(se)/2]
}

// Week is a joint's reach over one week.
type Week struct {
	// Monday of the week.
	Monday program.Date
	// Sessions that showed the joint.
	Sessions int
	// Reach is the median of the sessions' ends, with the standard error of
	// that median: an error that belongs to the hand and the view does not
	// shrink with more sessions, so it is no less than that of one reading.
	Reach Reach
}

// Weekly sums the reach of a hand's joint up by weeks, Monday to Sunday, oldest
// first. Weeks without the joint are left out; the side is as in ReachOf.
func Weekly(sessions []*session.Session, side hand.Side, j hand.Joint) []Week {
	byWeek := map[program.Date][]Reach{}
	for _, s := range sessions {
		if reach, ok := ReachOf(s, side); ok[j] {
			m := mondayOf(LocalDay(s.Started, s.Zone))
			byWeek[m] = append(byWeek[m], reach[j])
		}
	}
	weeks := make([]Week, 0, len(byWeek))
	for m, all := range byWeek {
		w := Week{Monday: m, Sessions: len(all)}
		w.Reach.MaxDeg, w.Reach.MaxSE = median(all, func(r Reach) (float64, float64, bool) { return r.MaxDeg, r.MaxSE, true })
		judged := func(r Reach) (float64, float64, bool) { return r.MinDeg, r.MinSE, r.MinJudged }
		if slices.ContainsFunc(all, func(r Reach) bool { return r.MinJudged }) {
			w.Reach.MinJudged = true
			w.Reach.MinDeg, w.Reach.MinSE = median(all, judged)
		} else {
			w.Reach.MinDeg, w.Reach.MinSE = median(all, func(r Reach) (float64, float64, bool) { return r.MinDeg, r.MinSE, true })
		}
		weeks = append(weeks, w)
	}
	slices.SortFunc(weeks, func(a, b Week) int { return a.Monday.Compare(b.Monday) })
	return weeks
}

// median of a value over those that have it, and the median of its error.
func median(all []Reach, of func(Reach) (v, se float64, ok bool)) (v, se float64) {
	var vs, es []float64
	for _, r := range all {
		v, e, ok := of(r)
		if !ok {
			continue
		}
		vs = append(vs, v)
		if !math.IsNaN(e) {
			es = append(es, e)
		}
	}
	mid := func(x []float64) float64 {
		if len(x) == 0 {
			return math.NaN()
		}
		slices.Sort(x)
		n := len(x)
		return (x[(n-1)/2] + x[n/2]) / 2
	}
	return mid(vs), mid(es)
}

func mondayOf(d program.Date) program.Date {
	t := time.Date(d.Year, d.Month, d.Day, 12, 0, 0, 0, time.UTC)
	return d.AddDays(-(int(t.Weekday()) + 6) % 7)
}

// Change is what is different between two sessions for one joint, later less
// earlier, in degrees.
type Change struct {
	Joint hand.Joint
	// Side is the joint's hand; unknown where neither session says.
	Side           hand.Side
	Before, After  Reach
	MaxDeg, MinDeg float64
	// MinKnown is true where both sessions judged the least angle.
	MinKnown bool
	// MaxBeyond and MinBeyond are true where that end changed by more than 1.96
	// times the error of the difference of two readings: less may be the
	// measurement.
	MaxBeyond, MinBeyond bool
}

// Beyond is true where either end changed by more than the error.
func (c *Change) Beyond() bool { return c.MaxBeyond || c.MinBeyond }

// Compare sets two sessions side by side, hand by hand and joint by joint; joints
// that only one of them shows are left out. The hand that comes first is that of
// the first exercise of the later session.
func Compare(before, after *session.Session) []Change {
	first := hand.UnknownSide
	if len(after.Exercises) > 0 {
		first = after.Exercises[0].Side
	}
	var list []Change
	for _, side := range Hands([]*session.Session{before, after}, first) {
		a, okA := ReachOf(before, side)
		b, okB := ReachOf(after, side)
		for j := range a {
			if okA[j] && okB[j] {
				list = append(list, changeOf(hand.Joint(j), side, a[j], b[j]))
			}
		}
	}
	return list
}

func changeOf(j hand.Joint, side hand.Side, a, b Reach) Change {
	c := Change{Joint: j, Side: side, Before: a, After: b, MaxDeg: b.MaxDeg - a.MaxDeg}
	c.MaxBeyond = beyond(c.MaxDeg, a.MaxSE, b.MaxSE)
	if c.MinKnown = a.MinJudged && b.MinJudged; c.MinKnown {
		c.MinDeg = b.MinDeg - a.MinDeg
		c.MinBeyond = beyond(c.MinDeg, a.MinSE, b.MinSE)
	}
	return c
}

// beyond reports whether a difference is more than the two errors explain; an
// error that is not known explains everything.
func beyond(d, se1, se2 float64) bool { return math.Abs(d) > 1.96*math.Hypot(se1, se2) }
