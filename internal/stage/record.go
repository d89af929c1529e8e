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
	all := &tally{ranges: map[hand.Joint]session.Range{}, unjudged: map[unjudged]session.NotJudged{}}
	for i := range s.Sets {
		set := &s.Sets[i]
		if set.Complete {
			e.SetsDone++
		}
		e.Unjudged += set.Unjudged
		all.add(&set.Summary)
		if set.Other != nil {
			e.Unjudged += set.Other.Unjudged
			all.add(set.Other)
		}
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

type unjudged struct {
	joint     hand.Joint
	extension bool
}

// tally joins the figures of several sets, each by the time it was watched.
type tally struct {
	seconds, read float64
	ranges        map[hand.Joint]session.Range
	unjudged      map[unjudged]session.NotJudged
}

func (t *tally) add(s *coach.Summary) {
	took := s.Watched.Seconds()
	t.seconds += took
	t.read += took * s.Measured
	for _, a := range s.Angles {
		r, ok := t.ranges[a.Joint]
		if !ok {
			t.ranges[a.Joint] = session.Range{Joint: a.Joint, MinDeg: a.MinDeg, MaxDeg: a.MaxDeg, MinJudged: a.MinJudged}
			continue
		}
		if a.MinDeg < r.MinDeg {
			r.MinDeg, r.MinJudged = a.MinDeg, a.MinJudged
		}
		r.MaxDeg = max(r.MaxDeg, a.MaxDeg)
		t.ranges[a.Joint] = r
	}
	for _, n := range s.NotJudged {
		k := unjudged{n.Joint, n.Extension}
		x := t.unjudged[k]
		x.Joint, x.Extension, x.Why = n.Joint, n.Extension, n.Why
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
	slices.SortFunc(ranges, func(a, b session.Range) int { return cmp.Compare(a.Joint, b.Joint) })
	for _, n := range t.unjudged {
		if t.seconds > 0 {
			n.Share /= t.seconds
			not = append(not, n)
		}
	}
	slices.SortFunc(not, func(a, b session.NotJudged) int {
		return cmp.Or(cmp.Compare(b.Share, a.Share), cmp.Compare(a.Joint, b.Joint))
	})
	return ranges, not
}
