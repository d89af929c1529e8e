package coach

import (
	"cmp"
	"math"
	"slices"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
)

const (
	// sayAfter is how long a joint must be out of sight before it is said,
	// and backAfter how long back in sight.
	sayAfter  = time.Second
	backAfter = 500 * time.Millisecond
	// leastUnseen is the share of the time from which the summary names a
	// joint.
	leastUnseen = 0.01
	// otherView is how far, in degrees, a hand may be turned from a view that a
	// movement asks for: half of the quarter turn from one view to the next.
	otherView = 45
)

// watch keeps the account of whether one channel can be judged.
type watch struct {
	what      hand.Channel
	extension bool
	unseen    [len(reasonOrder)]int64 // nanoseconds by reason
	total     time.Duration
	// since is when the present state began, known whether it was said.
	ok    bool
	since time.Duration
	why   hand.Reason
	said  bool
}

func (w *watch) push(s *hand.Sample, dt time.Duration, gap bool) {
	m := s.Channel(w.what)
	ok, why := judged(&m), m.Why
	if ok && w.extension {
		ok, why = m.ExtensionJudged, m.ExtensionWhy
	}
	if !s.Found {
		ok, why = false, hand.NoHand
	}
	if why == hand.NoReason {
		why = hand.Unsure
	}
	w.total += dt
	switch {
	case gap:
		w.unseen[reasonIndex(hand.NoHand)] += int64(dt)
	case !ok:
		w.unseen[reasonIndex(why)] += int64(dt)
	}
	if ok != w.ok || w.total == 0 {
		w.ok, w.since = ok, s.Time
	}
	w.why = why
}

// share of the time in which the joint could not be judged.
func (w *watch) share() float64 {
	if w.total <= 0 {
		if w.ok {
			return 0
		}
		return 1
	}
	var n int64
	for _, d := range w.unseen {
		n += d
	}
	return float64(n) / float64(w.total)
}

// misplaced is true where the hand is turned to neither of the views that the
// movement asks for, and its way shows badly in this one: then nothing is said of
// how long a pose was held.
func (c *Coach) misplaced() bool {
	trail := c.cycle.trail
	if len(trail) == 0 || trail[len(trail)-1].se < badlyRead {
		return false
	}
	v := &c.cfg.Movement.View
	off := func(w exercise.View) float64 { return math.Abs(math.Remainder(c.yaw-w.YawDeg, 360)) }
	return min(off(v.Best), off(v.Second)) > otherView
}

// news reports the watches whose state has lasted long enough to be said, in
// groups of one reason. A hand that is not there at all is told by Paused.
func (c *Coach) news(at time.Duration) {
	for i := range c.watches {
		w := &c.watches[i]
		lost := !w.ok && !w.said && at-w.since >= sayAfter && w.why != hand.NoHand
		back := w.ok && w.said && at-w.since >= backAfter
		if !lost && !back {
			continue
		}
		said := w.said
		var joints []hand.Joint
		var channels []hand.Channel
		for k := i; k < len(c.watches); k++ {
			o := &c.watches[k]
			same := o.extension == w.extension && o.ok == w.ok && o.said == said && (back || o.why == w.why)
			if !same || at-o.since < backAfter {
				continue
			}
			if j, ok := o.what.Joint(); ok {
				joints = append(joints, j)
			} else {
				channels = append(channels, o.what)
			}
			o.said = lost
		}
		if lost {
			c.emit(CannotJudge{c.now(at), joints, channels, w.extension, w.why})
		} else {
			c.emit(CanJudge{c.now(at), joints, channels, w.extension})
		}
	}
}

// notJudged sums the account up: one entry a joint, the stricter question
// where both were asked, and one for each other channel.
func (c *Coach) notJudged() (joints []NotJudged, others []ChannelNotJudged) {
	if c.samples == 0 {
		return nil, nil
	}
	for i := range c.watches {
		w := &c.watches[i]
		stricter := slices.ContainsFunc(c.watches, func(o watch) bool { return o.what == w.what && o.extension && !w.extension })
		share := w.share()
		if stricter || share <= leastUnseen {
			continue
		}
		why := w.why
		if w.total > 0 {
			why = commonest(&w.unseen)
		}
		if j, ok := w.what.Joint(); ok {
			joints = append(joints, NotJudged{j, w.extension, share, why})
		} else {
			others = append(others, ChannelNotJudged{w.what, share, why})
		}
	}
	slices.SortStableFunc(joints, func(a, b NotJudged) int {
		return cmp.Or(cmp.Compare(b.Share, a.Share), cmp.Compare(a.Joint, b.Joint))
	})
	return joints, others
}

// span keeps a channel's robust range.
type span struct {
	win      window
	min, max float64
	seen     bool
	// minJudged is whether the least angle may speak of hyperextension; it says
	// nothing for a channel that is no joint.
	minJudged bool
	// value is the present median.
	value float64
}

func newSpan() span {
	return span{win: window{span: 250 * time.Millisecond, longest: 600 * time.Millisecond, least: 3}}
}

func (s *span) push(at time.Duration, m *hand.Measurement, joint bool) {
	if !judged(m) {
		return
	}
	v := m.RawDeg
	if joint && !m.ExtensionJudged {
		v = max(v, 0)
	}
	if s.win.n > 0 && at-s.win.buf[s.win.n-1].at > s.win.longest {
		s.win.reset()
	}
	s.win.add(reading{at: at, v: v, se: m.SEDeg})
	if !s.win.full() {
		s.value = v
		return
	}
	s.value = s.win.median(s.win.span)
	if !s.seen {
		s.min, s.max, s.seen, s.minJudged = s.value, s.value, true, m.ExtensionJudged || s.value > nearStraightDeg
	}
	if joint {
		s.min, s.minJudged = Least(s.min, s.minJudged, s.value, m.ExtensionJudged || s.value > nearStraightDeg)
	} else {
		s.min = min(s.min, s.value)
	}
	s.max = max(s.max, s.value)
}

// Least joins two least angles of one joint, each with whether it was judged
// there. One that was not judged says only that the joint came so far and
// perhaps beyond. So one near straight that was judged stays, whatever else;
// but a joint that was judged only while it was bent did come nearer to
// straight where the view did not show how far.
func Least(a float64, aJudged bool, b float64, bJudged bool) (deg float64, judged bool) {
	if aJudged == bJudged {
		return min(a, b), aJudged
	}
	if bJudged {
		a, b = b, a
	}
	// Now a alone was judged.
	if a <= nearStraightDeg || a <= b {
		return a, true
	}
	return b, false
}
