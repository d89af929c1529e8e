package coach

import (
	"math"
	"slices"
	"time"

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
	// floorReadings over half of decideSpan tell where it rests: the first ones after
	// a time unseen may be slips.
	floorReadings = 3
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
	// se is the standard error of both, as a share of the way: what the readings of
	// one view err by, they err by together.
	se float64
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
	// still is when the hand was last about where it is held: on the way out
	// it is in the zone for some time yet.
	still time.Duration
	// disturbed is true where a joint was past its limit meanwhile.
	disturbed bool
	// awayAfter is true where the way back could not be seen for a time.
	awayAfter bool
	met, told bool
	// unread is how long the step's pose could not be read before the stay, and
	// hidden how long in it: it may have been held then, too.
	unread, hidden time.Duration
	// of is the step of a sequence that is held, and then the stay in the next
	// one where the hand went straight on to it.
	of   *stepState
	then *stay
}

// stillShare of the way below where it is held the hand no longer stays: more
// than the readings of a steady hand wander, and left behind in a quarter of
// the time of a way. Where it is held is what it reads for all but heldLow of
// the time, for a fault may lie over much of a hold.
const stillShare, heldLow = 0.1, 0.3

// seen takes the next point in the zone.
func (c *cycle) seen(p point) {
	s := c.stay
	s.last = p.at
	var v []float64
	for i := len(c.trail) - 1; i >= 0 && c.trail[i].at >= s.entry; i-- {
		v = append(v, c.trail[i].mean)
	}
	slices.Sort(v)
	if len(v) == 0 || p.mean >= v[int(heldLow*float64(len(v)))]-stillShare {
		s.still = p.at
	}
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
	p := point{t.win.centre(), t.win.median(smoothSpan), t.means.median(smoothSpan), a.se(), t.fresh}
	t.fresh = false
	if t.slow.tellsRest() {
		t.floor = min(t.floor, t.slow.median(decideSpan))
	}
	t.remember(p)
	return p
}

// tellsRest is true where the window says where a hand rests.
func (w *window) tellsRest() bool { return w.n >= floorReadings && w.length() >= decideSpan/2 }

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
	gap      gap   // the last one
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
	c.gap = g
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
			k.seen(p)
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
	k.try = &attempt{Repetition: Repetition{Number: k.attempts, Side: c.cfg.Side, Start: at, Share: math.Inf(-1)}}
	for i := range k.try.fingers {
		k.try.fingers[i].share = math.Inf(-1)
	}
	// A hand that comes into sight away from rest began unseen.
	if k.gap.to > 0 && at-k.gap.to < smoothSpan {
		k.gaps, k.try.gapped = append(k.gaps, k.gap), true
	}
}

// track notes how far the hand and each finger got.
func (c *Coach) track(at time.Duration, p point, a *along) {
	t := c.cycle.try
	t.Share = max(t.Share, p.share)
	upper := p.share > c.measure.Attempt && !a.stays
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
