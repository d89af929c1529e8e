package coach

import (
	"time"

	"volar/internal/exercise"
)

// enter takes the hand into the end zone.
func (c *Coach) enter(at time.Duration, p point) {
	k := c.cycle
	c.settle(at)
	k.try.reached = true
	k.stay = &stay{entry: k.zoneAt, from: k.try.Start - restSpan, start: k.zoneAt, last: k.zoneAt, still: k.zoneAt}
	k.seen(p)
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
	if !s.met && s.stood(c.cycle) >= c.wanted-c.between() {
		s.met = true
		c.cycle.try.met = true
		c.emit(HoldMet{c.now(at)})
	}
}

// between is how much of a hold may lie unread at its edges: each is somewhere
// between two readings, which matters where they come slowly.
func (c *Coach) between() time.Duration { return max(2*c.interval-slowReadings, 0) }

// slack is by how much a hold may fall short of the wanted time.
func (c *Coach) slack() time.Duration { return c.cfg.Tolerances.HoldSlack + c.between() }

// stood is how long the hand has been held still, by what is known so far.
func (s *stay) stood(k *cycle) time.Duration {
	return s.still - s.start - k.paused(s.start, s.still)
}

const (
	// plateauSpan is how much of a hold tells the position held, restSpan how
	// much of the time before where the way began.
	plateauSpan = 2 * time.Second
	restSpan    = 700 * time.Millisecond
	// almost is the share of the way at which a hold begins and ends where
	// the way was not seen as a whole.
	almost = 0.95
	// disturbEdge of the time before and after a flag belongs to the way into
	// the fault and out of it.
	disturbEdge = 200 * time.Millisecond
	// undisturbedLeast points tell where a hand is held: fewer may lie on the way.
	undisturbedLeast = 3
	// slowReadings are so far apart that what lies between them is more than
	// the slack of a hold allows for.
	slowReadings = 200 * time.Millisecond
)

// fitStart works out how and when the hand came into the end zone.
func (c *Coach) fitStart(s *stay, until time.Duration) {
	if s.unseen {
		return
	}
	pts := c.undisturbed(between(c.cycle.trail, s.from, min(s.entry+plateauSpan, until)), s, false)
	before := s.from
	for _, p := range pts {
		if p.at < s.entry && p.share < c.cycle.rest()+tempoLow*(c.cycle.reach()-c.cycle.rest()) {
			before = p.at
		}
	}
	top := level(pts, s.entry, s.entry+plateauSpan, 1)
	s.base = level(pts, before-restSpan, before, c.cycle.rest())
	r, ok := fitRise(upTo(pts, s.entry, s.base, top), s.base, top)
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
	if again, ok := fitRise(upTo(pts, s.entry, s.base, top), s.base, top); ok {
		r = again
	}
	s.in, s.start = r, r.end()
	if edge, ok := c.stillEdge(s.entry, until, &r, false); ok && !s.disturbed && edge <= s.start+astray(&r) {
		s.start = joined(edge, r.end())
	}
}

// upTo leaves out what comes after the hand has fallen back below the middle of
// the way: a stay may have a dip, or the next pose may be one of the same joints.
func upTo(pts []point, entry time.Duration, base, top float64) []point {
	up := false
	for i, p := range pts {
		above := p.mean >= (base+top)/2
		if up && !above {
			return pts[:i]
		}
		up = up || above && p.at >= entry
	}
	return pts
}

// fitEnd works out how and when it left.
func (c *Coach) fitEnd(s *stay) time.Duration {
	pts := c.undisturbed(between(c.cycle.trail, s.entry, c.cycle.trail[len(c.cycle.trail)-1].at), s, true)
	base := s.base
	if s.in.long == 0 {
		base = level(pts, pts[len(pts)-1].at-smoothSpan, pts[len(pts)-1].at, 0)
	}
	top := level(pts, s.last-plateauSpan, s.last, 1)
	r, ok := fitRise(mirror(pts), base, top)
	if !ok {
		// What comes after may be another pose of the same joints.
		for i := len(pts) - 1; i >= 0; i-- {
			if pts[i].at <= s.last && pts[i].mean >= base+almost*(top-base) {
				return pts[i].at
			}
		}
		return s.last
	}
	top = level(pts, -r.end()-plateauSpan, -r.end(), top)
	if again, ok := fitRise(mirror(pts), base, top); ok {
		r = again
	}
	s.out = r
	s.out.mid = -r.mid
	if edge, ok := c.stillEdge(s.entry, s.last, &r, true); ok && !s.disturbed && edge >= s.out.start()-astray(&r) {
		return joined(edge, s.out.start())
	}
	return s.out.start()
}

// joined is the edge of a hold by stillness and by the fit of the way. They err
// for different reasons: restless readings shift the first inwards and the
// second outwards. So, with the tail of the way that belongs to it (tailShare),
// 234 of the 263 cells that testdata/matrix.md had were met, with 6:4 and 8:2 233;
// simulated ways are timed worse the more the stillness counts (TestHoldTiming). The
// mean error of 321 holds of that table is 0.10 s, and one in ten is over 0.2 s
// off, most of them where an end joint bends by itself.
func joined(still, fit time.Duration) time.Duration { return (7*still + 3*fit) / 10 }

// astray is how far within a hold by its fit the joints may first stand still:
// where it is longer one of them did something else in the middle of the hold,
// and that is what they are compared with.
func astray(r *ramp) time.Duration { return max(300*time.Millisecond, r.long/4) }

// undisturbed leaves out the points at which a joint was past its limit, or on
// its way there: the neighbours move with it, and what they read then is not
// where the hand is held. The first and the last point stay; and all do where
// too few in the stay at the edge in question, the later one or the earlier,
// would tell where the hand is held: then it is held with the fault.
func (c *Coach) undisturbed(pts []point, s *stay, later bool) []point {
	if !s.disturbed || len(pts) < 3 {
		return pts
	}
	out := []point{pts[0]}
	kept, faults := 0, 0
	for i, p := range pts[1:] {
		in := p.at >= s.entry && p.at <= s.still
		if i == len(pts)-2 || !c.faulty(p.at, disturbEdge) {
			out = append(out, p)
			if in && (later || faults == 0) {
				kept++
			}
			continue
		}
		if in {
			faults++
			if later {
				kept = 0
			}
		}
	}
	if faults > 0 && kept < undisturbedLeast {
		return pts
	}
	return out
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
	h := Hold{Start: c.recorded(s.start), Wanted: c.wanted, Repetition: k.try.Number, Side: c.cfg.Side}
	if s.of != nil {
		h.Step = s.of.step.Name
	}
	if n := len(c.holds); n > 0 {
		h.Start = max(h.Start, c.holds[n-1].End)
	}
	h.End = max(c.recorded(end), h.Start)
	h.Held = h.End - h.Start - k.paused(h.Start, h.End)
	h.Met = s.met || h.Held >= c.wanted-c.slack()
	if h.Met {
		k.try.met = true
	}
	// What was not seen at the edges may have been held too, and so may what was
	// before the hand first came into view.
	hidden := s.unseen && s.entry-c.first > c.cfg.Tolerances.DropOut
	h.Unsure = !h.Met && (cut || hidden || c.misplaced() || h.Held+s.unread+s.hidden+k.paused(0, at) >= c.wanted-c.slack())
	if c.cfg.Movement.Kind == exercise.Hold && h.Held < leastStay && !h.Unsure {
		return
	}
	c.holds = append(c.holds, h)
	c.emit(HoldEnded{c.now(at), h})
	if !h.Met && !h.Unsure {
		c.flagAtOnce(at, Flag{Kind: ShortHold, Start: h.Start, End: h.End, Took: h.Held, Wanted: h.Wanted, Name: h.Step})
	}
	c.judgeSteady(at, &h)
}
