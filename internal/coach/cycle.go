package coach

import (
	"math"
	"slices"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
)

const (
	// smoothSpan is the time over which the measure is smoothed.
	smoothSpan = 120 * time.Millisecond
	// confirm is how long the measure must be in the end zone, unless one
	// reading takes longer.
	confirm = 60 * time.Millisecond
	// leastAttempt is the least time for an attempt that fell short; a
	// shorter one is a slip of the landmarks.
	leastAttempt = 400 * time.Millisecond
	// leastStay is the least stay in the end zone that is a hold, for
	// movements that are nothing but a hold.
	leastStay = 500 * time.Millisecond
	// A hand that never opens fully rests at up to floorCap of the way, and
	// one that closes further than the end pose up to reachCap.
	floorCap, reachCap = 0.35, 1.6
	// tempoLow is the share of the way up to which the hand counts as not yet
	// under way.
	tempoLow = 0.2
	// tempoDoubt is how much longer a way may be than its fit says, in times
	// the scatter of the readings about it.
	tempoDoubt = 5
	// fingersSeen is the share of the upper half of the way in which a finger
	// must have been judged to be called short.
	fingersSeen = 0.6
	// fingerSE is how many standard errors of its composite flexion a finger
	// is given before it is called short though the hand as a whole is not.
	fingerSE = 2
)

// point is the smoothed measure at a moment, and how far the joints are on
// average, which is what ways are timed by.
type point struct {
	at          time.Duration
	share, mean float64
	// fresh is true for the first one after a time that was not seen.
	fresh bool
}

// attempt is a repetition in the making.
type attempt struct {
	Repetition
	reached bool
	unseen  bool // began in the end zone
	gapped  bool // could not be seen for a time before the end zone
	met     bool // a hold was met
	upper   int  // readings in the upper half of the way
	fingers [groups]fingerBest
}

// fingerBest is how far a finger got.
type fingerBest struct {
	share, se float64
	seen      int
	angles    [hand.NumChannels]float64
}

// stay is a time in the end zone.
type stay struct {
	entry time.Duration
	// from bounds how far back the approach may have begun; unseen is true
	// where the recording began in the end zone.
	from   time.Duration
	unseen bool
	// in and out are the ways there and back, zero where they were not seen;
	// start is where the hold begins by what is known so far, fits how often
	// that was worked out, base the level that the approach came from.
	in, out ramp
	start   time.Duration
	fits    int
	base    float64
	// last is when the measure was last in the zone.
	last time.Duration
	// disturbed is true where a joint was past its limit meanwhile.
	disturbed bool
	// awayAfter is true where the way back could not be seen for a time.
	awayAfter bool
	met, told bool
	// of is the step of a sequence that is held, and then the stay in the next
	// one where the hand went straight on to it.
	of   *stepState
	then *stay
}

// gap is a time in which the movement could not be followed.
type gap struct{ from, to time.Duration }

// paused is how much of a time in the present attempt could not be seen.
func (c *cycle) paused(from, to time.Duration) (sum time.Duration) {
	for _, g := range c.gaps {
		sum += max(min(g.to, to)-max(g.from, from), 0)
	}
	return sum
}

// track follows the measure of one way between two poses.
type track struct {
	win   window // of the measure
	means window // of the mean
	slow  window
	trail []point
	fresh bool
	floor float64
	tops  []float64 // of the last repetitions
	usual float64   // their median

	zoneAt time.Duration // since when the measure is in the end zone
	inZone bool
	leftAt time.Duration // since when it is below the leave threshold
	left   bool
}

func newTrack() *track {
	w := window{span: smoothSpan, longest: smoothSpan, least: 1}
	return &track{floor: 1, win: w, means: w, slow: window{span: decideSpan, longest: decideSpan, least: 1}}
}

// feed takes the next judged reading and returns where the measure stands.
func (t *track) feed(at time.Duration, a *along) point {
	t.win.add(reading{at: at, v: a.share})
	t.means.add(reading{at: at, v: a.mean})
	t.slow.add(reading{at: at, v: a.share})
	p := point{t.win.centre(), t.win.median(smoothSpan), t.means.median(smoothSpan), t.fresh}
	t.fresh = false
	t.floor = min(t.floor, t.slow.median(decideSpan))
	t.remember(p)
	return p
}

// interrupt is told when the movement could not be followed for longer than a
// drop-out.
func (t *track) interrupt() {
	t.win.reset()
	t.means.reset()
	t.slow.reset()
	t.inZone, t.left, t.fresh = false, false, true
}

// cycle is where a repetition stands. The track is that of the movement or, in
// a sequence, of the step at hand.
type cycle struct {
	*track
	phase Phase
	// digits smooths each digit's composite share.
	digits   [groups]window
	gaps     []gap // in the present attempt
	attempts int
	try      *attempt
	stay     *stay // in the end zone now
	gone     *stay // left, and not yet accounted for
}

func newCycle() *cycle {
	c := &cycle{track: newTrack(), phase: NotStarted}
	for i := range c.digits {
		c.digits[i] = window{span: smoothSpan, longest: smoothSpan, least: 1}
	}
	return c
}

// number is that of the present attempt, or of the coming one.
func (c *cycle) number() int {
	if c.try != nil {
		return c.try.Number
	}
	return c.attempts + 1
}

// rest is where the hand of this client rests, as a share of the way.
func (c *track) rest() float64 { return min(max(c.floor, 0), floorCap) }

// reach is where its end pose lies: what is usual for this client here, but
// not less than the pose asks for.
func (c *track) reach() float64 { return max(c.usual, 1) }

// reached takes note of how far a repetition led. One may be a slip, so it
// takes two to move the end pose.
func (c *track) reached(top float64) {
	if c.tops = append(c.tops, top); len(c.tops) > 5 {
		c.tops = c.tops[1:]
	}
	if len(c.tops) >= 2 {
		c.usual = min(median(c.tops), reachCap)
	}
}

func median(v []float64) float64 {
	s := slices.Sorted(slices.Values(v))
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}

// resume is told when the movement could not be followed for longer than a
// drop-out.
func (c *cycle) resume(g gap) {
	c.interrupt()
	for i := range c.digits {
		c.digits[i].reset()
	}
	if c.try != nil {
		c.gaps = append(c.gaps, g)
	}
	if c.gone != nil {
		c.gone.awayAfter = true
	}
	if c.try != nil && !c.try.reached {
		c.try.gapped = true
	}
}

// follow takes the next judged reading of the measure.
func (c *Coach) follow(at time.Duration, a *along) {
	k := c.cycle
	p := k.feed(at, a)
	m := c.measure
	reach, rest := k.reach(), k.rest()
	restAt := rest + m.Rest*(reach-rest)
	enterAt, leaveAt := m.Enter*reach, m.Leave*reach
	tryAt := max(m.Attempt*reach, restAt+0.1)

	if p.share < enterAt {
		k.inZone = false
	} else if !k.inZone {
		k.inZone, k.zoneAt = true, p.at
	}
	entered := k.inZone && (p.at-k.zoneAt >= confirm || c.interval >= confirm)

	if k.phase == NotStarted || k.phase == AtRest {
		switch {
		case p.share <= restAt && k.phase == NotStarted:
			c.setPhase(at, AtRest)
		case k.phase == AtRest && p.share > restAt+0.05:
			c.begin(p.at)
			c.setPhase(at, Approach)
		case k.phase == NotStarted && entered:
			c.begin(k.zoneAt)
			k.try.unseen = true
		}
	}
	if k.try == nil {
		return
	}
	c.track(at, p, a)

	switch k.phase {
	case NotStarted, Approach, Returning:
		switch {
		case entered:
			c.enter(at, p)
		case p.share <= restAt && k.phase != NotStarted:
			c.conclude(at, p, tryAt)
			c.setPhase(at, AtRest)
		}
	case InEndZone:
		if p.share >= leaveAt {
			k.left = false
			k.stay.last = p.at
		} else if !k.left {
			k.left, k.leftAt = true, p.at
		}
		c.hold(at)
		if k.left && p.at-k.leftAt >= c.cfg.Tolerances.Dip {
			k.left = false
			c.leave(at)
			c.setPhase(at, Returning)
			if p.share <= restAt {
				c.conclude(at, p, tryAt)
				c.setPhase(at, AtRest)
			}
		}
	}
}

// trailSpan is how much of the smoothed measure is kept: enough to see both
// ends of a hold.
const (
	trailSpan = 4 * time.Second
	trailCap  = 512
)

func (c *track) remember(p point) {
	if len(c.trail) == trailCap {
		i := 0
		for i < len(c.trail)/2 && p.at-c.trail[i].at > trailSpan/2 {
			i++
		}
		i = max(i, 1)
		c.trail = c.trail[:copy(c.trail, c.trail[i:])]
	}
	c.trail = append(c.trail, p)
}

func (c *Coach) setPhase(at time.Duration, to Phase) {
	if from := c.cycle.phase; from != to {
		c.cycle.phase = to
		c.emit(PhaseChanged{c.now(at), from, to})
	}
}

func (c *Coach) begin(at time.Duration) {
	k := c.cycle
	k.attempts++
	c.place.set()
	k.try = &attempt{Repetition: Repetition{Number: k.attempts, Start: at, Share: math.Inf(-1)}}
	for i := range k.try.fingers {
		k.try.fingers[i].share = math.Inf(-1)
	}
}

// track notes how far the hand and each finger got.
func (c *Coach) track(at time.Duration, p point, a *along) {
	t := c.cycle.try
	t.Share = max(t.Share, p.share)
	upper := p.share > c.measure.Attempt
	if upper {
		t.upper++
	}
	for f := range a.digits {
		d := &a.digits[f]
		if !d.ok {
			continue
		}
		w := &c.cycle.digits[f]
		w.add(reading{at: at, v: d.composite, se: d.compositeSE})
		if !upper {
			continue
		}
		b := &t.fingers[f]
		b.seen++
		if v := w.median(smoothSpan); v > b.share {
			b.share, b.se = v, w.se()
			for j := range b.angles {
				b.angles[j] = c.spans[j].value
			}
		}
	}
}

// enter takes the hand into the end zone.
func (c *Coach) enter(at time.Duration, p point) {
	k := c.cycle
	c.settle(at)
	k.try.reached = true
	k.stay = &stay{entry: k.zoneAt, from: k.try.Start - restSpan, start: k.zoneAt, last: k.zoneAt}
	if n := len(c.holds); n > 0 {
		k.stay.from = max(k.stay.from, c.holds[n-1].End)
	}
	k.stay.unseen = k.try.unseen && p.at-k.try.Start < leastAttempt
	c.setPhase(at, InEndZone)
	c.hold(at)
}

// hold keeps the time in the end zone.
func (c *Coach) hold(at time.Duration) {
	s := c.cycle.stay
	// The position held is not known at once: look again when there is more
	// of it.
	for i, after := range [...]time.Duration{600 * time.Millisecond, plateauSpan} {
		if s.fits == i && at-s.entry >= after {
			s.fits = i + 1
			c.fitStart(s, at)
		}
	}
	if c.wanted == 0 {
		return
	}
	if !s.told && (c.cfg.Movement.Kind != exercise.Hold || at-s.entry >= leastStay) {
		s.told = true
		c.emit(HoldStarted{c.now(at), c.wanted})
	}
	if !s.met && at-s.start-c.cycle.paused(s.start, at) >= c.wanted {
		s.met = true
		c.cycle.try.met = true
		c.emit(HoldMet{c.now(at)})
	}
}

const (
	// plateauSpan is how much of a hold tells the position held, restSpan how
	// much of the time before where the way began.
	plateauSpan = 2 * time.Second
	restSpan    = 700 * time.Millisecond
	// almost is the share of the way at which a hold begins and ends where
	// the way was not seen as a whole.
	almost = 0.95
)

// fitStart works out how and when the hand came into the end zone.
func (c *Coach) fitStart(s *stay, until time.Duration) {
	if s.unseen {
		return
	}
	pts := between(c.cycle.trail, s.from, s.entry+plateauSpan)
	before := s.from
	for _, p := range pts {
		if p.at < s.entry && p.share < c.cycle.rest()+tempoLow*(c.cycle.reach()-c.cycle.rest()) {
			before = p.at
		}
	}
	top := level(pts, s.entry, s.entry+plateauSpan, 1)
	s.base = level(pts, before-restSpan, before, c.cycle.rest())
	r, ok := fitRise(pts, s.base, top)
	if !ok {
		s.start = s.entry
		for _, p := range pts {
			if p.at >= s.entry && p.mean >= s.base+almost*(top-s.base) {
				s.start = p.at
				break
			}
		}
		return
	}
	// Now that the way is known so are the levels on both sides of it.
	top = level(pts, r.end(), r.end()+plateauSpan, top)
	s.base = level(pts, r.start()-restSpan, r.start(), s.base)
	if again, ok := fitRise(pts, s.base, top); ok {
		r = again
	}
	s.in, s.start = r, r.end()
	if edge, ok := c.stillEdge(s.entry, until, r.long, false); ok && !s.disturbed {
		s.start = edge
	}
}

// fitEnd works out how and when it left.
func (c *Coach) fitEnd(s *stay) time.Duration {
	pts := between(c.cycle.trail, s.entry, c.cycle.trail[len(c.cycle.trail)-1].at)
	base := s.base
	if s.in.long == 0 {
		base = level(pts, pts[len(pts)-1].at-smoothSpan, pts[len(pts)-1].at, 0)
	}
	top := level(pts, s.last-plateauSpan, s.last, 1)
	r, ok := fitRise(mirror(pts), base, top)
	if !ok {
		for i := len(pts) - 1; i >= 0; i-- {
			if pts[i].mean >= base+almost*(top-base) {
				return pts[i].at
			}
		}
		return s.last
	}
	top = level(pts, -r.end()-plateauSpan, -r.end(), top)
	if again, ok := fitRise(mirror(pts), base, top); ok {
		r = again
	}
	s.out = ramp{-r.mid, r.long, r.bracket, r.doubt}
	if edge, ok := c.stillEdge(s.entry, s.last, r.long, true); ok && !s.disturbed {
		return edge
	}
	return s.out.start()
}

// between returns the part of the trail between two times.
func between(trail []point, from, to time.Duration) []point {
	for len(trail) > 0 && trail[0].at < from {
		trail = trail[1:]
	}
	for len(trail) > 0 && trail[len(trail)-1].at > to {
		trail = trail[:len(trail)-1]
	}
	return trail
}

// leave ends a stay in the end zone. How long it lasted is worked out when
// more of the way back is seen.
func (c *Coach) leave(at time.Duration) {
	k := c.cycle
	if k.stay.fits < 2 {
		c.fitStart(k.stay, k.stay.last)
	}
	c.judgeTempo(at, k.stay.in, k.try.gapped)
	k.gone, k.stay = k.stay, nil
}

// settle closes the account of the stay that was left last.
func (c *Coach) settle(at time.Duration) {
	k := c.cycle
	if s := k.gone; s != nil {
		k.gone = nil
		c.endHold(at, s, c.fitEnd(s), false)
		c.judgeTempo(at, s.out, s.awayAfter)
		if k.try.Approach == 0 {
			k.try.Approach = s.in.long
		}
		k.try.Return = s.out.long
	}
}

func (c *Coach) judgeTempo(at time.Duration, r ramp, gapped bool) {
	// Restless readings tell a short way less well.
	surely := float64(max(r.long, r.bracket)) * (1 + tempoDoubt*r.doubt)
	if least := c.cfg.Movement.Tempo.Least(); !gapped && r.long > 0 && surely < float64(least) {
		c.flagAtOnce(at, Flag{Kind: TooFast, Start: r.start(), End: r.end(), Took: r.long, Wanted: least})
	}
}

// endHold enters a hold; cut is true where the recording ends in it.
func (c *Coach) endHold(at time.Duration, s *stay, end time.Duration, cut bool) {
	k := c.cycle
	if c.wanted == 0 {
		return
	}
	h := Hold{Start: c.recorded(s.start), Wanted: c.wanted, Repetition: k.try.Number}
	if s.of != nil {
		h.Step = s.of.step.Name
	}
	if n := len(c.holds); n > 0 {
		h.Start = max(h.Start, c.holds[n-1].End)
	}
	h.End = max(c.recorded(end), h.Start)
	h.Held = h.End - h.Start - k.paused(h.Start, h.End)
	h.Met = s.met || h.Held >= c.wanted-c.cfg.Tolerances.HoldSlack
	if h.Met {
		k.try.met = true
	}
	// What was not seen at the edges may have been held too.
	h.Unsure = !h.Met && (cut || h.Held+k.paused(0, at) >= c.wanted)
	if c.cfg.Movement.Kind == exercise.Hold && h.Held < leastStay {
		return
	}
	c.holds = append(c.holds, h)
	c.emit(HoldEnded{c.now(at), h})
	if !h.Met && !h.Unsure {
		c.flagAtOnce(at, Flag{Kind: ShortHold, Start: h.Start, End: h.End, Took: h.Held, Wanted: h.Wanted, Name: h.Step})
	}
	c.judgeSteady(at, &h)
}

// conclude decides on the attempt as the hand is back at rest.
func (c *Coach) conclude(at time.Duration, p point, tryAt float64) {
	k := c.cycle
	t := k.try
	t.End = p.at
	c.settle(at)
	switch {
	case c.cfg.Movement.Kind == exercise.Hold:
		c.concludeHold(at, t)
	case t.reached:
		t.Verdict = Counted
	case t.gapped:
		t.Verdict = Unjudged
	case t.Share >= tryAt && t.End-t.Start >= leastAttempt:
		t.Verdict = Partial
	}
	c.record(at, t)
}

// concludeHold decides on an attempt of a movement that is nothing but a hold.
func (c *Coach) concludeHold(at time.Duration, t *attempt) {
	n := len(c.holds)
	switch {
	case t.met, c.wanted == 0 && t.reached:
		t.Verdict = Counted
	case n > 0 && c.holds[n-1].Repetition == t.Number && c.holds[n-1].Unsure:
		t.Verdict = Unjudged
	case n > 0 && c.holds[n-1].Repetition == t.Number:
		t.Verdict = Partial
	}
}

// record enters a decided attempt and says so. One without a verdict was not
// even an attempt, and its number is given again.
func (c *Coach) record(at time.Duration, t *attempt) {
	k := c.cycle
	defer func() { k.try, k.gaps = nil, k.gaps[:0] }()
	if t.Verdict == "" {
		k.attempts--
		return
	}
	for i := range t.Fingers {
		t.Fingers[i] = math.NaN()
		if b := &t.fingers[i+1]; c.fingerSeen(t, i+1) {
			t.Fingers[i] = b.share
		}
	}
	c.reps = append(c.reps, t.Repetition)
	switch t.Verdict {
	case Counted:
		c.counted++
		if c.cfg.Movement.Kind == exercise.Cycle {
			k.reached(t.Share)
		}
		c.emit(RepetitionCounted{c.now(at), t.Repetition})
	case Partial:
		c.partial++
		c.emit(RepetitionPartial{c.now(at), t.Repetition})
	case Unjudged:
		c.unjudged++
	}
	if c.cfg.Movement.Judge.IncompleteGrip && c.steps == nil {
		c.judgeFingers(at, t)
	}
	if t.Verdict == Counted && c.counted == c.cfg.Repetitions && !c.member {
		c.emit(SetCompleted{c.now(at), c.counted})
	}
}

func (c *Coach) fingerSeen(t *attempt, f int) bool {
	return len(c.closing.parts[f]) > 0 && t.upper > 0 && float64(t.fingers[f].seen) >= fingersSeen*float64(t.upper)
}

// judgeFingers looks for the finger that stopped short. In a partial
// repetition it is the one that lacks most; in a counted one only a finger
// that lacks more than its error explains.
func (c *Coach) judgeFingers(at time.Duration, t *attempt) {
	if t.Verdict == Unjudged || t.unseen {
		return
	}
	worst, lack := -1, 0.0
	for f := range t.fingers {
		if !c.fingerSeen(t, f) {
			continue
		}
		b := &t.fingers[f]
		if t.Verdict == Counted && b.share+fingerSE*b.se >= c.measure.Enter {
			continue
		}
		if l := (1 - b.share) * c.closing.way(f); worst < 0 || l > lack {
			worst, lack = f, l
		}
	}
	if worst < 0 {
		if t.Verdict == Partial {
			c.flagAtOnce(at, Flag{Kind: IncompleteGrip, Start: t.Start, End: t.End})
		}
		return
	}
	b := &t.fingers[worst]
	flag := Flag{Kind: IncompleteGrip, Start: t.Start, End: t.End}
	if worst != wholeHand {
		flag.OnFinger, flag.Finger, flag.Between = true, hand.Finger(worst), hand.Finger(worst)
	}
	var from float64
	short := math.Inf(-1)
	for _, ch := range c.closing.parts[worst] {
		from += c.closing.start[ch]
		flag.LimitDeg += c.closing.start[ch] + c.closing.travel[ch]
		l := (c.closing.start[ch] + c.closing.travel[ch] - b.angles[ch]) * math.Copysign(1, c.closing.travel[ch])
		if j, ok := ch.Joint(); ok && l > short {
			short, flag.Joint, flag.OnJoint = l, j, true
		}
	}
	flag.PeakDeg = from + b.share*(flag.LimitDeg-from)
	flag.SEDeg = b.se * c.closing.way(worst)
	c.flagAtOnce(at, flag)
}
