package coach

import (
	"math"
	"time"
)

const (
	// decideSpan is the time over which readings are averaged before a flag.
	// With single readings that scatter by 3.5 degrees and a correlation of
	// 0.5 from one to the next at 30 a second, it brings the scatter down to
	// under 2 degrees and still fits into an event of half a second.
	decideSpan = 400 * time.Millisecond
	// nearStraightDeg: up to here a limit asks whether the joint is past
	// straight, which only some views show; above it the sign of the angle is
	// not in doubt.
	nearStraightDeg = 15
	// zeroDoubtDeg is how far the estimator's zero may be off for a given
	// hand and view, in either direction (measured on rendered hands).
	zeroDoubtDeg = 3
	// zeroRate is how fast the running median of the straight readings
	// follows them, in degrees a second.
	zeroRate = 1.5
	// zeroCaution is taken off the first mean that places it.
	zeroCaution = 1.5
	// straightDeg bounds the readings that count as straight, for learning.
	straightDeg = 12
	// settleShare is the share of the margin at which an excursion begins and
	// ends.
	settleShare = 0.35
	// onsetReach is how far back an onset is dated at most.
	onsetReach = 1500 * time.Millisecond
)

// excursion watches one end of one joint's range.
type excursion struct {
	// upper is true for an upper limit.
	upper bool
	limit float64
	tol   Tolerances
	// greatest bounds the margin.
	greatest float64
	// zero is a running median of the straight readings of a joint whose
	// limit is near straight, between -zeroDoubtDeg and zeroDoubtDeg; it
	// starts with full doubt.
	doubtful bool
	placed   bool
	zero     float64

	win, light window
	last       time.Duration
	started    bool

	active  bool
	peak    float64
	peakSE  float64
	start   time.Duration
	inside  time.Duration // last time the light median was within the limit
	outside time.Duration // last time it was not
}

func newExcursion(limit float64, upper bool, tol Tolerances) *excursion {
	e := &excursion{
		upper: upper, limit: limit, tol: tol, greatest: 2 * tol.GreatestMarginDeg, zero: -zeroDoubtDeg,
		win:   window{span: decideSpan, longest: 700 * time.Millisecond, least: 3},
		light: window{span: 90 * time.Millisecond, longest: 500 * time.Millisecond, least: 3},
	}
	if e.nearStraight() {
		e.greatest, e.doubtful = tol.GreatestMarginDeg, true
	}
	return e
}

// nearStraight is true where the limit asks whether the joint is past
// straight.
func (e *excursion) nearStraight() bool { return !e.upper && e.limit < nearStraightDeg }

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
// excursion begins and ends.
func (e *excursion) margin() (flag, settled float64) {
	m, doubt := e.tol.MarginSE*e.win.se(), 0.0
	if e.doubtful {
		doubt = max(-e.zero, 0)
	}
	m = min(max(m, e.tol.LeastMarginDeg), e.greatest)
	return doubt + m, doubt + settleShare*m
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
	dt := min(r.at-e.last, 200*time.Millisecond)
	if !e.started {
		dt = 0
		e.inside = r.at
	}
	e.started, e.last = true, r.at
	e.learnZero(r.v, dt.Seconds())

	p := reading{r.at, e.past(r.v), r.se}
	e.win.add(p)
	e.light.add(p)
	flag, settled := e.margin()
	// Where the light median stands, at the middle of its readings.
	lightAt := e.light.centre()
	within := e.light.median(e.light.span) < settled
	if within {
		e.inside = lightAt
	} else {
		e.outside = lightAt
	}
	if !e.win.full() {
		return nothing
	}
	mean := e.win.midmean(decideSpan)
	if e.doubtful && !e.placed {
		// The first mean places the zero, with some caution; a joint that is
		// past straight from the start leaves it in full doubt.
		e.placed = true
		if v := e.angle(mean); math.Abs(v) < straightDeg/2 {
			e.zero = min(max(v-zeroCaution, -zeroDoubtDeg), zeroDoubtDeg)
		}
	}
	if !e.active {
		if mean <= flag {
			return nothing
		}
		e.active = true
		e.start = max(e.inside, r.at-onsetReach)
		e.peak, e.peakSE = mean, e.win.se()
		return raised
	}
	if mean > e.peak {
		e.peak, e.peakSE = mean, e.win.se()
	}
	if mean < settled && within {
		e.active = false
		return ended
	}
	return nothing
}

// learnZero lets the running median follow the readings of a joint that is
// about straight.
func (e *excursion) learnZero(v, dt float64) {
	if !e.doubtful || e.active || math.Abs(v) > straightDeg {
		return
	}
	step := zeroRate * dt
	if v < e.zero {
		step = -step
	}
	e.zero = min(max(e.zero+step, -zeroDoubtDeg), zeroDoubtDeg)
}
