package coach

import (
	"math"
	"slices"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
)

// A sequence goes through several poses. Each step is followed by its own
// measure, all of them at once, because the order is what is judged: the step
// that is due is done as soon as the hand is there, another one only when the
// hand stays there for a while, for on the way to one pose the fingers often
// pass through another (they roll up from the middle knuckle on).
//
// A step before its turn is flagged, and the sequence goes on from there. The
// repetition is counted when all steps are done, in whatever order, and the
// hand is back at the start; it is partial where one was left out. A step that
// was tried and fell short is no question of order: it is flagged as
// incomplete when the hand goes on without it.

const (
	// How long the hand must be in the pose that is due: a quarter of the time
	// that it is held, between these; in another pose half of it, between the
	// second two.
	dueLeast, dueMost     = 130 * time.Millisecond, 400 * time.Millisecond
	strayLeast, strayMost = 500 * time.Millisecond, time.Second
	// keepSlack is how far, in the channel's own unit, what a step keeps may be
	// off as the hand comes to the pose; once there it may be twice as far.
	keepSlack = 5
	// keepPatience is how long a pose may be wrong in what it should keep
	// before it is said.
	keepPatience = 1200 * time.Millisecond
	// settleAfter is when the way out of a step has been seen.
	settleAfter = 800 * time.Millisecond
)

// sequence is where a repetition of several steps stands.
type sequence struct {
	steps []*stepState
	// between is true where the hand comes back after every step.
	between bool
	restAt  float64 // share of the ways at which the hand is back
	// done and tried are of the present repetition; pos is the farthest step
	// done, last the latest, at the one whose pose is held now; -1 is none.
	done, tried   []bool
	pos, last, at int
	// reached is true where a step was done since the hand last left the start.
	reached bool
	// met is true where the latest step was held long enough.
	met bool
	// low follows how near to the start the hand comes.
	low   window
	floor float64
	// since is when the last step's pose was reached, leftAt when it was left.
	since, leftAt time.Duration
	// wrong is since when the due pose is wrong in what it keeps.
	wrong   time.Duration
	wrongOn bool
}

// stepState is one step.
type stepState struct {
	number  int // from 1
	step    *exercise.Step
	measure *exercise.Measure
	hold    time.Duration
	// closing is the step's own way, away the way from the movement's start.
	closing, away *closing
	track         *track
	far           window
	along         along
	p             point
	in            bool
	since         time.Duration
	best          float64 // share reached since the last step was done
}

func newSequence(cfg Config) *sequence {
	m := cfg.Movement
	q := &sequence{
		between: m.Between != "", restAt: m.Measure.Rest, floor: 1,
		done: make([]bool, len(m.Steps)), tried: make([]bool, len(m.Steps)),
		low: window{span: decideSpan, longest: decideSpan, least: 1},
	}
	if q.restAt == 0 {
		q.restAt = 0.25
	}
	for i := range m.Steps {
		s := &m.Steps[i]
		st := &stepState{
			number: i + 1, step: s, measure: &s.Measure, hold: cfg.Hold,
			closing: newClosing(m, s.Measure, "", cfg.Own), away: newClosing(m, s.Measure, m.Measure.From, cfg.Own),
			track: newTrack(), far: window{span: smoothSpan, longest: smoothSpan, least: 1},
		}
		if s.HoldSeconds > 0 && cfg.Hold > 0 {
			st.hold = seconds(s.HoldSeconds)
		}
		q.steps = append(q.steps, st)
	}
	q.clear()
	return q
}

// clear begins a new repetition.
func (q *sequence) clear() {
	clear(q.done)
	clear(q.tried)
	q.pos, q.last, q.at, q.reached = -1, -1, -1, false
	for _, st := range q.steps {
		st.best = math.Inf(-1)
	}
}

// due is the step that comes next: the first one not done after the farthest,
// or else the first one left out. It is len(steps) where all are done.
func (q *sequence) due() int {
	for i := q.pos + 1; i < len(q.steps); i++ {
		if !q.done[i] {
			return i
		}
	}
	for i, d := range q.done {
		if !d {
			return i
		}
	}
	return len(q.steps)
}

// current is the step at hand, or the one that comes next.
func (q *sequence) current() *stepState {
	if q.at >= 0 {
		return q.steps[q.at]
	}
	return q.steps[min(q.due(), len(q.steps)-1)]
}

// read measures one sample by every step.
func (q *sequence) read(s *hand.Sample) along {
	for _, st := range q.steps {
		st.along = st.closing.read(s)
		if a := st.away.read(s); a.ok {
			st.far.add(reading{at: s.Time, v: a.share})
		}
	}
	a := q.current().along
	if due := q.due(); !a.ok && due < len(q.steps) {
		a = q.steps[due].along
	}
	return a
}

func (q *sequence) interrupt() {
	for _, st := range q.steps {
		st.track.interrupt()
		st.far.reset()
		st.in = false
	}
	q.low.reset()
	q.wrongOn = false
}

// away is how far the hand is from the start, as the greatest share of any
// step's way.
func (q *sequence) away(at time.Duration) float64 {
	far := math.Inf(-1)
	for _, st := range q.steps {
		if st.far.n > 0 {
			far = max(far, st.far.median(smoothSpan))
		}
	}
	q.low.add(reading{at: at, v: far})
	q.floor = min(q.floor, q.low.median(decideSpan))
	return far
}

// at makes a step the one that ways and holds are measured by.
func (c *Coach) at(st *stepState) {
	c.closing, c.measure, c.cycle.track, c.wanted = st.closing, st.measure, st.track, st.hold
}

// followSteps takes the next sample, which read has measured.
func (c *Coach) followSteps(at time.Duration) {
	q, k := c.steps, c.cycle
	for _, st := range q.steps {
		if st.along.ok {
			st.p = st.track.feed(at, &st.along)
			st.best = max(st.best, st.p.share)
		}
		c.inPose(st, st.in)
	}
	far := q.away(at)
	floor := min(max(q.floor, 0), floorCap)
	restAt := floor + q.restAt*(1-floor)
	entered := c.entered(at)

	if k.phase == NotStarted || k.phase == AtRest {
		switch {
		case far <= restAt && k.phase == NotStarted:
			c.setPhase(at, AtRest)
		case k.phase == AtRest && far > restAt+0.05:
			if k.try == nil {
				c.begin(at)
			}
			q.reached = false
			c.setPhase(at, Approach)
		case k.phase == NotStarted && entered != nil:
			c.begin(entered.since)
			k.try.unseen = true
		}
	}
	if k.try == nil {
		c.at(q.current())
		return
	}
	k.try.Share = max(k.try.Share, q.current().p.share)
	if k.gone != nil && at-q.leftAt > settleAfter && (k.gone.then == nil || k.gone.then.fits > 0) {
		c.settleStep(at)
	}
	switch {
	case entered != nil:
		c.enterStep(at, entered)
	case q.at >= 0:
		c.stayInStep(at)
	}
	if q.at < 0 && far <= restAt && k.phase != AtRest && k.phase != NotStarted {
		c.back(at)
	}
	c.judgeKeeps(at)
	c.at(q.current())
}

// inPose works out whether the hand is in a step's pose: its measure in the
// end zone, and what it keeps kept.
func (c *Coach) inPose(st *stepState, before bool) {
	threshold, slack := st.measure.Enter, float64(keepSlack)
	if before {
		threshold, slack = st.measure.Leave, 2*keepSlack
	}
	now := st.along.ok && st.p.share >= threshold
	if now {
		_, ok := c.kept(st, slack)
		now = ok
	}
	if now && !before {
		st.since = st.p.at
	}
	st.in = now
}

// kept says whether a step keeps what it should: the mean of the channels of
// each range that are judged now.
func (c *Coach) kept(st *stepState, slack float64) (*exercise.Keep, bool) {
	for i := range st.step.Keep {
		k := &st.step.Keep[i]
		var sum, n float64
		for _, ch := range k.All() {
			if w := &c.spans[ch]; w.win.n > 0 && c.last-w.win.buf[w.win.n-1].at <= c.cfg.Tolerances.DropOut {
				sum += w.value
				n++
			}
		}
		if n > 0 && (k.From != nil && sum/n < *k.From-slack || k.To != nil && sum/n > *k.To+slack) {
			return k, false
		}
	}
	return nil, true
}

// entered is the step whose pose the hand has come to, if any: the one that is
// due before others.
func (c *Coach) entered(at time.Duration) *stepState {
	q := c.steps
	due := q.due()
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
		case i == q.last:
			// Held already; the hand passes once more.
			continue
		case q.last >= 0 && st.since <= q.since:
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
	if q.done[i] && i == 0 && q.last != 0 {
		// The first step once more is a new beginning.
		c.concludeSteps(at)
		c.begin(st.since)
	}
	from := k.try.Start - restSpan
	if q.last >= 0 {
		from = max(from, q.leftAt-restSpan)
	}
	if n := len(c.holds); n > 0 {
		from = max(from, c.holds[n-1].End)
	}
	k.stay = &stay{entry: st.since, from: from, start: st.since, last: st.since, of: st}
	k.stay.unseen = k.try.unseen && q.last < 0 && at-k.try.Start < leastAttempt
	if straight && k.gone != nil {
		k.gone.then = k.stay
	}
	again := q.done[i] && i == q.last
	c.order(at, st, again)
	q.at, q.last, q.since, q.reached = i, i, st.since, true
	q.done[i] = true
	q.pos = max(q.pos, i)
	for _, o := range q.steps {
		o.best = math.Inf(-1)
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
			q.tried[m] = true
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
	f := Flag{Kind: IncompleteGrip, Start: c.cycle.try.Start, End: at, Name: st.step.Name}
	digits := 0
	for g, parts := range st.closing.parts {
		if len(parts) > 0 && g != wholeHand {
			digits++
			f.OnFinger, f.Finger, f.Between = true, hand.Finger(g), hand.Finger(g)
		}
	}
	if digits != 1 {
		f.OnFinger, f.Finger, f.Between = false, 0, 0
	}
	c.flagAtOnce(at, f)
}

// stayInStep keeps the time in a pose.
func (c *Coach) stayInStep(at time.Duration) {
	q, k := c.steps, c.cycle
	st := q.steps[q.at]
	c.at(st)
	if st.in {
		k.left = false
		k.stay.last = st.p.at
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
	c.settleStep(at)
	c.at(q.steps[q.at])
	s := c.cycle.stay
	held := at - c.cfg.Tolerances.Dip - s.start - c.cycle.paused(s.start, at)
	q.met = q.met || s.met || held >= c.wanted-c.cfg.Tolerances.HoldSlack
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
	// The hand went straight on: the pose was held until it set out.
	k.gone = nil
	end := s.then.entry
	if s.then.in.long > 0 {
		end = min(end, max(s.then.in.start(), s.start))
	}
	c.endHold(at, s, end, false)
}

// back is told when the hand is back at the start.
func (c *Coach) back(at time.Duration) {
	q, k := c.steps, c.cycle
	due := q.due()
	if due < len(q.steps) && !q.reached {
		if st := q.steps[due]; st.best >= st.measure.Attempt {
			q.tried[due] = true
		} else if q.last < 0 && !q.tried[due] && !k.try.gapped {
			// Not even a try.
			c.record(at, k.try)
			q.clear()
		}
	}
	for _, st := range q.steps {
		st.best = math.Inf(-1)
	}
	over := q.pos == len(q.steps)-1 || !q.between && (q.last >= 0 || slices.Contains(q.tried, true))
	if k.try != nil && over {
		c.concludeSteps(at)
	}
	c.setPhase(at, AtRest)
}

// concludeSteps decides on a repetition.
func (c *Coach) concludeSteps(at time.Duration) {
	q, k := c.steps, c.cycle
	t := k.try
	c.settleStep(at)
	t.End = at
	for i, d := range q.done {
		if !d {
			t.Missing = append(t.Missing, q.steps[i].step.Name)
		}
	}
	switch {
	case len(t.Missing) == 0:
		t.Verdict = Counted
	case t.gapped || t.unseen:
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
