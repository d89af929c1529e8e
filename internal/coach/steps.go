package coach

import (
	"math"
	"slices"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
)

// entered is the step whose pose the hand has come to, if any: the one that is
// due before others.
func (c *Coach) entered(at time.Duration) *stepState {
	q := c.steps
	due := q.due()
	if q.between && q.at >= 0 && q.steps[q.at].in {
		// The hand comes back between the steps: what looks like the next pose
		// while one is held is a finger that goes along with its neighbour.
		return nil
	}
	var best *stepState
	for i, st := range q.steps {
		if !st.in || i == q.at {
			continue
		}
		wait := min(max(st.hold/2, strayLeast), strayMost)
		switch {
		case i == due, i == q.last && !q.met:
			// A slow stream confirms with its first reading.
			if wait = min(max(st.hold/4, dueLeast), dueMost); c.interval > wait {
				wait = 0
			}
		case i == q.last && !q.owing:
			// Held already; the hand passes once more.
			continue
		case q.last >= 0 && (st.since <= q.since || st.entered):
			// The hand went through this pose on its way to the last one, or
			// is in it still.
			continue
		}
		if st.p.at-st.since < wait {
			continue
		}
		if i == due {
			return st
		}
		if best == nil || st.p.share > best.p.share {
			best = st
		}
	}
	return best
}

// enterStep takes the hand into a step's pose.
func (c *Coach) enterStep(at time.Duration, st *stepState) {
	q, k := c.steps, c.cycle
	i := st.number - 1
	straight := q.at >= 0
	if straight {
		c.leaveStep(at)
	} else {
		c.settleStep(at)
	}
	if q.done[i] && (i == 0 && q.last != 0 || q.owing) {
		// The first step once more is a new beginning, and so is any where only
		// one that was left out would not be.
		end := st.since
		if q.owing {
			end = q.backAt
		}
		c.concludeSteps(at, end)
		c.begin(st.since)
		c.takeOver(st.since)
	}
	from := k.try.Start - restSpan
	if q.last >= 0 {
		from = max(from, q.leftAt-restSpan)
	}
	if n := len(c.holds); n > 0 {
		from = max(from, c.holds[n-1].End)
	}
	k.stay = &stay{entry: st.since, from: from, start: st.since, last: st.since, still: st.since, of: st, unread: st.unread}
	k.seen(st.p)
	k.stay.unseen = k.try.unseen && q.last < 0 && at-k.try.Start < leastAttempt
	if straight && k.gone != nil {
		k.gone.then = k.stay
	}
	again := q.done[i] && i == q.last
	c.order(at, st, again)
	q.at, q.last, q.since, q.reached = i, i, st.since, true
	q.done[i], st.entered, q.owing = true, true, false
	q.pos = max(q.pos, i)
	for _, o := range q.steps {
		o.best, o.unread = math.Inf(-1), 0
	}
	k.try.reached = q.due() == len(q.steps)
	c.at(st)
	if !again {
		c.emit(StepReached{c.now(at), st.number, st.step.Name, k.try.Number})
	}
	c.setPhase(at, InEndZone)
	q.met = st.hold == 0
	c.hold(at)
}

// order looks at what was left out before a step.
func (c *Coach) order(at time.Duration, st *stepState, again bool) {
	q := c.steps
	i := st.number - 1
	if again || i < q.pos && !q.done[i] {
		return
	}
	late := q.done[i]
	for m := q.pos + 1; m < i; m++ {
		if q.done[m] {
			continue
		}
		o := q.steps[m]
		if !q.between && o.best >= o.measure.Attempt && !shareChannels(o.closing, st.closing) {
			q.try(m)
		}
		if q.tried[m] {
			c.fellShort(at, o)
		} else {
			late = true
		}
	}
	if late && c.cfg.Movement.Judge.Order {
		c.flagAtOnce(at, Flag{Kind: OutOfOrder, Start: st.since, End: at, Name: st.step.Name})
	}
}

func shareChannels(a, b *closing) bool {
	for ch := range a.weight {
		if a.weight[ch] != 0 && b.weight[ch] != 0 {
			return true
		}
	}
	return false
}

// fellShort flags a step that was tried and not reached.
func (c *Coach) fellShort(at time.Duration, st *stepState) {
	if c.steps.tryUnsure[st.number-1] {
		return
	}
	f := Flag{Kind: IncompleteGrip, Start: c.cycle.try.Start, End: at, Name: st.step.Name}
	digits, from := 0, 0.0
	for g, parts := range st.closing.parts {
		for _, ch := range parts {
			from += st.closing.start[ch]
			f.LimitDeg += st.closing.start[ch] + st.closing.travel[ch]
		}
		if len(parts) > 0 && g != wholeHand {
			digits++
			f.OnFinger, f.Finger, f.Between = true, hand.Finger(g), hand.Finger(g)
		}
	}
	if digits != 1 {
		f.OnFinger, f.Finger, f.Between = false, 0, 0
	}
	f.PeakDeg = from + c.steps.tryShare[st.number-1]*(f.LimitDeg-from)
	c.flagAtOnce(at, f)
}

// stayInStep keeps the time in a pose.
func (c *Coach) stayInStep(at time.Duration) {
	q, k := c.steps, c.cycle
	st := q.steps[q.at]
	c.at(st)
	if !st.along.ok {
		// Nothing says that it was left. Another step will, or the end.
		return
	}
	if st.in {
		k.left = false
		k.seen(st.p)
	} else if !k.left {
		k.left, k.leftAt = true, st.p.at
	}
	c.hold(at)
	if k.left && st.p.at-k.leftAt >= c.cfg.Tolerances.Dip {
		k.left = false
		c.leaveStep(at)
		c.setPhase(at, Returning)
	}
}

// leaveStep ends the stay in a step's pose; how long it lasted is worked out
// when more of the way out is seen.
func (c *Coach) leaveStep(at time.Duration) {
	q := c.steps
	s := c.cycle.stay
	c.at(q.steps[q.at])
	// The way into this pose tells when the one before was left.
	if s.fits < 2 {
		c.fitStart(s, s.last)
		s.fits = 2
	}
	c.settleStep(at)
	c.at(q.steps[q.at])
	q.met = q.met || s.met || s.stood(c.cycle) >= c.wanted-c.slack()
	c.leave(at)
	q.leftAt, q.at = at, -1
}

// settleStep closes the account of the step that was left last.
func (c *Coach) settleStep(at time.Duration) {
	k := c.cycle
	s := k.gone
	if s == nil {
		return
	}
	c.at(s.of)
	if s.then == nil {
		c.settle(at)
		return
	}
	k.gone = nil
	if c.cfg.Movement.Judge.Order && c.atOnce(s, s.then) {
		// Neither came first, and the pose between was not held by itself.
		c.flagAtOnce(at, Flag{Kind: OutOfOrder, Start: s.then.entry, End: at, Name: s.then.of.step.Name})
		return
	}
	// The hand went straight on: the pose was held until it set out.
	end := s.then.entry
	if s.then.in.long > 0 {
		end = min(end, max(s.then.in.start(), s.start))
	}
	c.endHold(at, s, end, false)
}

// atOnce is true where two poses that need different fingers were reached by one
// movement: the second finger set out before the first was half way. Where one
// of them could not be read before nothing is said of it.
func (c *Coach) atOnce(a, b *stay) bool {
	read := max(a.unread, b.unread) <= c.cfg.Tolerances.DropOut && a.in.long > 0 && b.in.long > 0
	return read && !shareChannels(a.of.closing, b.of.closing) && b.in.mid-a.in.mid < (a.in.long+b.in.long)/4
}

// back is told when the hand is back at the start.
func (c *Coach) back(at time.Duration) {
	q, k := c.steps, c.cycle
	due := q.due()
	if due < len(q.steps) && !q.reached {
		if st := q.steps[due]; st.best >= st.measure.Attempt {
			q.try(due)
		} else if q.last < 0 && !q.tried[due] && !k.try.gapped {
			// Not even a try.
			c.record(at, k.try)
			q.clear()
		}
	}
	for _, st := range q.steps {
		st.best = math.Inf(-1)
	}
	last := q.pos == len(q.steps)-1
	over := last && !q.owes() || !q.between && (q.last >= 0 || slices.Contains(q.tried, true))
	switch {
	case k.try == nil:
	case over:
		c.concludeSteps(at, at)
	case last && !q.owing:
		q.owing, q.backAt = true, at
	}
	c.setPhase(at, AtRest)
}

// concludeSteps decides on a repetition that ended at a time.
func (c *Coach) concludeSteps(at, end time.Duration) {
	q, k := c.steps, c.cycle
	t := k.try
	c.settleStep(at)
	t.End = max(end, t.Start)
	unsure := true // what is missing may have been reached
	for i, d := range q.done {
		if !d {
			t.Missing = append(t.Missing, q.steps[i].step.Name)
			unsure = unsure && q.tried[i] && q.tryUnsure[i]
		}
	}
	switch {
	case len(t.Missing) == 0:
		t.Verdict = Counted
	case t.gapped || t.unseen || unsure:
		t.Verdict = Unjudged
	default:
		t.Verdict = Partial
		for i, tried := range q.tried {
			// One before the farthest step was flagged as the hand went on.
			if tried && !q.done[i] && i > q.pos {
				c.fellShort(at, q.steps[i])
			}
		}
	}
	c.record(at, t)
	q.clear()
}

// takeOver counts faults that go on, and began after the repetition at hand, to
// it: that it had begun was known only when they had been flagged.
func (c *Coach) takeOver(since time.Duration) {
	for _, b := range c.bounds {
		if f := b.flag; b.active && c.flags[f].Start >= since {
			c.flags[f].Repetition = c.cycle.number()
		}
	}
}

// closeSteps decides on what the end of the recording cuts off.
func (c *Coach) closeSteps() {
	q, k := c.steps, c.cycle
	if k.try == nil {
		return
	}
	if s := k.stay; s != nil {
		c.at(s.of)
		k.stay = nil
		if k.gone != nil {
			k.gone.then = s
			c.settleStep(c.last)
			c.at(s.of)
		}
		if s.fits < 2 {
			c.fitStart(s, s.last)
		}
		c.endHold(c.last, s, c.lastRead, true)
	}
	c.settleStep(c.last)
	if q.owing && k.phase == AtRest {
		c.concludeSteps(c.last, q.backAt)
		return
	}
	t := k.try
	t.End = c.lastRead
	switch {
	case q.due() == len(q.steps):
		t.Verdict = Counted
	case q.last >= 0 || slices.Contains(q.tried, true):
		t.Verdict = Unjudged
		for i, d := range q.done {
			if !d {
				t.Missing = append(t.Missing, q.steps[i].step.Name)
			}
		}
	}
	c.record(c.last, t)
	q.clear()
}

// judgeKeeps notices a pose that is the due step's but for what it should
// keep.
func (c *Coach) judgeKeeps(at time.Duration) {
	q := c.steps
	due := q.due()
	if q.at >= 0 || due == len(q.steps) || slices.ContainsFunc(q.steps, func(s *stepState) bool { return s.in }) {
		q.wrongOn = false
		return
	}
	st := q.steps[due]
	k, ok := c.kept(st, keepSlack)
	if ok || !st.along.ok || st.p.share < st.measure.Enter {
		q.wrongOn = false
		return
	}
	if !q.wrongOn {
		q.wrong, q.wrongOn = at, true
	}
	if at-q.wrong >= keepPatience && !c.flaggedNow(k) {
		f := Flag{Kind: Compensation, Start: q.wrong, End: at, Say: k.Say, Name: st.step.Name}
		if len(k.Joints) == 1 {
			f.OnJoint, f.Joint = true, k.Joints[0]
		}
		c.flagAtOnce(at, f)
	}
}

// flaggedNow is true where the same was flagged in this repetition.
func (c *Coach) flaggedNow(k *exercise.Keep) bool {
	n := c.cycle.number()
	return slices.ContainsFunc(c.flags, func(f Flag) bool {
		return f.Repetition == n && f.Kind == Compensation && f.Say == k.Say
	})
}

// nextSay is what the client is told after a step, or before the first.
func (c *Coach) nextSay() string {
	q := c.steps
	if due := q.due(); due < len(q.steps) {
		return q.steps[due].step.Say
	}
	return c.sayOf(exercise.Return, "And back to the start.")
}
