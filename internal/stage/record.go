package stage

import (
	"cmp"
	"slices"

	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/session"
)

// Record puts what came of an exercise into the words of the recording.
func Record(e *session.Exercise, s *coach.PracticeSummary) {
	e.Counted, e.Partial, e.Unjudged, e.SetsDone = s.Counted, s.Partial, 0, 0
	e.PainBefore, e.PainAfter, e.Effort = s.PainBefore, s.PainAfter, s.Effort
	e.Sharp, e.GradeHint = s.Sharp, s.GradeHint
	all := newTally()
	for i := range s.Sets {
		set := &s.Sets[i]
		if set.Complete {
			e.SetsDone++
		}
		e.Unjudged += set.Unjudged
		if set.Other == nil {
			all.add(&set.Summary, hand.UnknownSide)
			continue
		}
		e.Unjudged += set.Other.Unjudged
		all.add(&set.Summary, set.Summary.Side)
		all.add(set.Other, set.Other.Side)
	}
	e.Measured = all.measured()
	e.Ranges, e.NotJudged = all.lists()
	switch {
	case s.Stopped:
		e.Outcome, e.StopReason = session.Stopped, string(s.StopReason)
	case len(s.Sets) < s.Wanted || cutShort(s):
		// The client left in the middle.
		e.Outcome = session.Running
	case skipped(s):
		e.Outcome = session.Skipped
	default:
		e.Outcome = session.Done
	}
}

// cutShort is true where the client left in the middle of the last set. A set
// that was skipped is left out on purpose and counts as over.
func cutShort(s *coach.PracticeSummary) bool {
	if len(s.Sets) == 0 {
		return true
	}
	last := &s.Sets[len(s.Sets)-1]
	return !last.Complete && !last.Skipped && !last.ByClient && !last.Hurt
}

// skipped is true where the client left all of it out.
func skipped(s *coach.PracticeSummary) bool {
	for i := range s.Sets {
		if !s.Sets[i].Skipped || s.Sets[i].Counted+s.Sets[i].Partial > 0 {
			return false
		}
	}
	return true
}

// place is a joint of a hand, which is not named where only one is judged.
type place struct {
	side  hand.Side
	joint hand.Joint
}

type unjudged struct {
	place
	extension bool
}

// tally joins the figures of several sets, each by the time it was watched and
// each hand for itself.
type tally struct {
	seconds, read float64
	// watched is how long each hand was.
	watched  map[hand.Side]float64
	ranges   map[place]session.Range
	unjudged map[unjudged]session.NotJudged
}

func newTally() *tally {
	return &tally{watched: map[hand.Side]float64{}, ranges: map[place]session.Range{}, unjudged: map[unjudged]session.NotJudged{}}
}

func (t *tally) add(s *coach.Summary, side hand.Side) {
	took := s.Watched.Seconds()
	t.seconds += took
	t.read += took * s.Measured
	t.watched[side] += took
	for _, a := range s.Angles {
		at := place{side, a.Joint}
		r := session.Range{Joint: a.Joint, Side: side, MinDeg: a.MinDeg, MaxDeg: a.MaxDeg, MinJudged: a.MinJudged}
		if had, ok := t.ranges[at]; ok {
			r = had.Join(r)
		}
		t.ranges[at] = r
	}
	for _, n := range s.NotJudged {
		k := unjudged{place{side, n.Joint}, n.Extension}
		x := t.unjudged[k]
		x.Joint, x.Side, x.Extension, x.Why = n.Joint, side, n.Extension, n.Why
		x.Share += n.Share * took
		t.unjudged[k] = x
	}
}

func (t *tally) measured() float64 {
	if t.seconds <= 0 {
		return 0
	}
	return t.read / t.seconds
}

func (t *tally) lists() (ranges []session.Range, not []session.NotJudged) {
	for _, r := range t.ranges {
		ranges = append(ranges, r)
	}
	slices.SortFunc(ranges, func(a, b session.Range) int {
		return cmp.Or(cmp.Compare(a.Side, b.Side), cmp.Compare(a.Joint, b.Joint))
	})
	for k, n := range t.unjudged {
		if watched := t.watched[k.side]; watched > 0 {
			n.Share /= watched
			not = append(not, n)
		}
	}
	slices.SortFunc(not, func(a, b session.NotJudged) int {
		return cmp.Or(cmp.Compare(b.Share, a.Share), cmp.Compare(a.Side, b.Side), cmp.Compare(a.Joint, b.Joint))
	})
	return ranges, not
}
