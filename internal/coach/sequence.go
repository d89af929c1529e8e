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
// hand is back at the start; it is partial where one was left out. Where the hand
// comes back after every step one that was left out may still follow the last;
// that it does not is known when another is done once more. A step that
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
	tryShare      []float64 // how far the tried ones got
	tryUnsure     []bool    // the tried ones that may have got there
	pos, last, at int
	// reached is true where a step was done since the hand last left the start.
	reached bool
	// met is true where the latest step was held long enough.
	met bool
	// owing is true where the hand is back after the last step and one that was
	// left out may still come, and backAt is since when.
	owing  bool
	backAt time.Duration
	// low follows how near to the start the hand comes.
	low   window
	floor float64
	// since is when the last step's pose was reached, leftAt when it was left.
	since, leftAt time.Duration
	// followed is when the latest sample was.
	followed time.Duration
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
	// since is when the hand came into the pose. kept is true where it was in
	// it when that was last read, and keptAt the last time at which nothing
	// said that it had left.
	since, keptAt time.Duration
	kept          bool
	// entered is true where the pose was taken for done and not left since.
	entered bool
	// best is the share reached since the last step was done, bestSE its standard
	// error.
	best, bestSE float64
	// readAt is when it was read last, unread the time since the last step was
	// done in which it could not be.
	readAt, unread time.Duration
}

func newSequence(cfg Config) *sequence {
	m := cfg.Movement
	q := &sequence{
		between: m.Between != "", restAt: m.Measure.Rest, floor: 1,
		done: make([]bool, len(m.Steps)), tried: make([]bool, len(m.Steps)), tryShare: make([]float64, len(m.Steps)), tryUnsure: make([]bool, len(m.Steps)),
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
	q.pos, q.last, q.at, q.reached, q.owing = -1, -1, -1, false, false
	for _, st := range q.steps {
		st.best, st.unread = math.Inf(-1), 0
	}
}

// try remembers that a step was tried and how far it got. Where its way shows
// badly the pose may have been reached all the same.
func (q *sequence) try(i int) {
	st := q.steps[i]
	q.tried[i], q.tryShare[i] = true, st.best
	q.tryUnsure[i] = st.bestSE >= badlyRead && st.best+st.bestSE >= st.measure.Enter
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

// owes is true where a step that was left out may still follow the last one. The
// first of many does not: with it another repetition begins.
func (q *sequence) owes() bool {
	due := q.due()
	return q.between && due < len(q.steps) && !q.tried[due] && (due > 0 || len(q.steps) == 2)
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
		// Where only a small part of it shows, the finger is taken to be where
		// it was: not back at the start for one joint that was lost.
		if a := st.away.read(s); a.ok && slices.ContainsFunc(a.digits[:], func(d digit) bool { return d.ok }) {
			st.far.add(reading{at: s.Time, v: a.share})
		}
	}
	a := q.current().along
	if due := q.due(); !a.ok && due < len(q.steps) {
		a = q.steps[due].along
	}
	// A finger that rests behind the others cannot be read, while the next one
	// that moves can.
	for i := 0; !a.ok && i < len(q.steps); i++ {
		if q.steps[i].along.ok {
			a = q.steps[i].along
		}
	}
	return a
}

func (q *sequence) interrupt(g gap) {
	for _, st := range q.steps {
		st.track.interrupt()
		st.far.reset()
		st.in = false
		if st.kept {
			st.keptAt = g.to
		}
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
	if q.low.tellsRest() {
		q.floor = min(q.floor, q.low.median(decideSpan))
	}
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
			if at-st.readAt > c.cfg.Tolerances.DropOut {
				st.track.interrupt()
			}
			st.readAt = at
			st.p = st.track.feed(at, &st.along)
			if st.p.share > st.best {
				st.best, st.bestSE = st.p.share, st.p.se
			}
		} else if dt := at - q.followed; dt <= c.cfg.Tolerances.DropOut {
			st.unread += dt
			if k.stay != nil && k.stay.of == st {
				k.stay.hidden += dt
			}
		}
		c.inPose(st, st.in)
	}
	q.followed = at
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
	// What is too short to end a hold, or was not seen, is no new beginning
	// either: the hand has not been seen to leave the pose.
	if now && !before && c.last-st.keptAt > c.cfg.Tolerances.Dip {
		st.since, st.entered = st.p.at, false
	}
	st.in = now
	if st.along.ok {
		st.kept = now
	}
	if st.kept {
		st.keptAt = c.last
	}
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
