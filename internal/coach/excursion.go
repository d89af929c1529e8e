package coach

import (
	"math"
	"slices"
	"time"
)

const (
	// decideSpan is the time over which readings are averaged before a flag,
	// and sideSpan the same where the limit is near straight: three quarters of
	// it must be filled, so that a fifth of a second speaks. The peak is a mean
	// over decideSpan again. Single readings of a straight finger held still
	// scatter by 1.9 degrees on rendered hands, and hardly follow each other;
	// 3.5 with a correlation of 0.5 at 30 a second was the worst found.
	decideSpan, sideSpan = 400 * time.Millisecond, 270 * time.Millisecond
	// nearStraightDeg: up to here a limit asks whether the joint is past
	// straight, which only some views show; above it the sign of the angle is
	// not in doubt.
	nearStraightDeg = 15
	// A joint's own zero is what it reads when straight. Between hands, views
	// and places it scatters, while it stays where a hand is held: so it is the
	// fall below it that tells, where it is known. A joint that reads further past
	// straight than unknownSE of its stated errors, from the first picture on, is
	// hardly one that is read wrong: that is the margin before the zero is known,
	// within bounds, and no zero is believed that would ask for more.
	//
	// Straight index fingers of 112 rendered hands in side views, three views each,
	// read +0.9 degrees with the hand model 9919aecea44d, standard deviation 2.6,
	// the lowest -13.8, -10.1 and -8.4. Of these 336 a margin of 3 stated errors flags
	// one, and 211 of as many that were 12 degrees past straight all the while; 2.6
	// and 2.4 stated errors, 1 and 244, 1 and 266; 11 and zeros down to -6 whatever the
	// stated error, 2 and 206. With the hand model 5898bb5725ae and other hands
	// (docs/scoreboard.md) 2.6 flags 2 of 42 straight ones, which read -12 throughout,
	// and 3 one of them; both flag 79, 100 and 100 % of those at -12, -16 and -20.
	unknownSE, unknownLeast, unknownMost = 3.0, 8.0, 14.0
	// zeroGreatest keeps a joint that is only a little bent from being flagged when
	// it straightens.
	zeroGreatest = 2.0
	// zeroReadings are remembered for it, the last ones of a straight joint,
	// and zeroEnough are needed.
	zeroReadings, zeroEnough = 128, 8
	// The scatter of single readings, in degrees, is taken to be usualScatter
	// with the weight of usualReadings.
	usualScatter, usualReadings = 3, 24
	// straightDeg bounds the readings that count as straight, for learning.
	straightDeg, straightLeast = 12, -15
	// scatterTimes is how many standard deviations of the mean the margin is,
	// and together how long readings go on deviating in the same direction.
	scatterTimes = 5
	together     = 80 * time.Millisecond
	// midmeanCost is how much more a midmean scatters than a mean.
	midmeanCost = 1.1
	// onItsFace: however far a joint is from its own zero, the mean itself
	// must be this far past the limit.
	onItsFace = 1.0
	// settleShare is the share of the margin at which an excursion ends.
	settleShare = 0.35
	// onsetReach is how far back an onset is dated at most.
	onsetReach = 1500 * time.Millisecond
)

// excursion watches one end of one channel's range.
type excursion struct {
	// upper is true for an upper limit.
	upper bool
	limit float64
	tol   Tolerances
	// greatest bounds the margin.
	greatest float64
	// straight is true where the limit is near straight: the joint's own zero
	// and scatter are then taken into account; elsewhere the zero stays 0.
	straight bool
	own      ownZero

	// decide is the span of the mean that is held against the margin.
	decide     time.Duration
	win, light window
	last       time.Duration
	started    bool

	active bool
	peak   float64
	peakSE float64
	start  time.Duration
	// inside is the last time that the light median was short of half way from
	// where an excursion ends to where it is flagged, from which one begins that
	// is sudden; outside is the last time that it had not ended.
	inside, outside time.Duration
}

func newExcursion(limit float64, upper, joint bool, tol Tolerances) *excursion {
	e := &excursion{
		upper: upper, limit: limit, tol: tol, greatest: 2 * tol.GreatestMarginDeg,
		decide: decideSpan,
		win:    window{span: decideSpan, longest: 700 * time.Millisecond, least: 3},
		light:  window{span: 90 * time.Millisecond, longest: 500 * time.Millisecond, least: 3},
	}
	// The limit asks whether the joint is past straight, which only some views
	// show.
	if joint && !upper && limit < nearStraightDeg {
		e.greatest, e.straight, e.decide = tol.GreatestMarginDeg, true, sideSpan
	}
	return e
}

// past turns an angle into degrees beyond the limit.
func (e *excursion) past(v float64) float64 {
	if e.upper {
		return v - e.limit
	}
	return e.limit - v
}

func (e *excursion) angle(past float64) float64 {
	if e.upper {
		return e.limit + past
	}
	return e.limit - past
}

// margin is how far beyond the limit the mean must lie, and settled where an
// excursion ends.
func (e *excursion) margin() (flag, settled float64) {
	if !e.straight {
		m := min(max(e.tol.MarginSE*e.win.se(), e.tol.LeastMarginDeg), e.greatest)
		return m, settleShare * m
	}
	unknown := min(max(unknownSE*e.win.se(), unknownLeast), unknownMost)
	m := e.tol.LeastMarginDeg
	switch {
	case e.own.known:
		var buf [windowCap]float64
		n := len(e.win.sorted(e.decide, &buf))
		independent := min(float64(n), 1+float64(min(e.win.length(), e.decide))/float64(together))
		m = max(m, scatterTimes*midmeanCost*e.own.scatter/math.Sqrt(independent))
	case e.own.fixed:
		m = max(m, (m+e.greatest)/2)
	default:
		return unknown, settleShare * unknown
	}
	m = min(m, e.greatest)
	zero := max(e.own.zero, e.tol.LeastMarginDeg-unknown)
	return max(m-zero, onItsFace), max(settleShare*m-zero, onItsFace/2)
}

// change is what a push brought about.
type change int8

const (
	nothing change = iota
	raised
	ended
)

// push takes the next judged reading.
func (e *excursion) push(r reading) change {
	// A few readings on both sides of a hole would be taken for a mean over all
	// of it.
	if e.started && r.at-e.last > e.tol.DropOut {
		e.win.reset()
		e.light.reset()
	}
	if !e.started {
		e.inside = r.at
	}
	e.started, e.last = true, r.at

	// A reading counts as one of the joint's straight ones only when it has
	// left the window, so that an excursion is not measured by itself.
	if e.straight && !e.active {
		for _, old := range e.win.buf[:e.win.n] {
			if v := e.angle(old.v); r.at-old.at > decideSpan && old.at > e.own.last && v < straightDeg && v > straightLeast {
				e.own.last = old.at
				e.own.add(v)
			}
		}
	}
	p := reading{r.at, e.past(r.v), r.se}
	e.win.add(p)
	e.light.add(p)
	flag, settled := e.margin()
	// Where the light median stands, at the middle of its readings.
	lightAt, light := e.light.centre(), e.light.median(e.light.span)
	within := light < settled
	if light < (settled+flag)/2 {
		e.inside = lightAt
	}
	if !within {
		e.outside = lightAt
	}
	if e.win.n < e.win.least || e.win.length() < e.decide*3/4 {
		return nothing
	}
	mean := e.win.midmean(e.decide)
	if !e.active {
		if mean <= flag {
			return nothing
		}
		e.active = true
		e.start = max(e.inside, r.at-onsetReach)
		e.peak, e.peakSE = mean, e.win.se()
		return raised
	}
	if long := e.win.midmean(decideSpan); long > e.peak {
		e.peak, e.peakSE = long, e.win.se()
	}
	if mean < settled && within {
		e.active = false
		return ended
	}
	return nothing
}

// ownZero is what a joint reads when it is straight, and how much single
// readings scatter about it.
type ownZero struct {
	buf           [zeroReadings]float64
	n, next       int
	fresh         int
	last          time.Duration // time of the last reading
	known         bool
	zero, scatter float64
	// fixed keeps the zero at 0: the readings are corrected already.
	fixed bool
}

func (z *ownZero) add(v float64) {
	z.buf[z.next] = v
	z.next = (z.next + 1) % zeroReadings
	z.n = min(z.n+1, zeroReadings)
	if z.fresh++; z.n < zeroEnough || z.fresh < max(zeroEnough, z.n/4) {
		return
	}
	z.fresh, z.known = 0, true
	var sorted [zeroReadings]float64
	s := sorted[:copy(sorted[:], z.buf[:z.n])]
	slices.Sort(s)
	middle := (s[(len(s)-1)/2] + s[len(s)/2]) / 2
	for i := range s {
		s[i] = math.Abs(s[i] - middle)
	}
	slices.Sort(s)
	// 1.48 times the median deviation estimates the standard deviation. Few
	// readings may agree by chance, so it starts from what is usual; and the
	// zero is taken to be as low as its own error allows.
	n := float64(z.n)
	deviation := 1.48 * (s[(len(s)-1)/2] + s[len(s)/2]) / 2
	z.scatter = math.Sqrt((n*deviation*deviation + usualReadings*usualScatter*usualScatter) / (n + usualReadings))
	if z.fixed {
		return
	}
	z.zero = min(middle-z.scatter/math.Sqrt(n/3), zeroGreatest)
}
