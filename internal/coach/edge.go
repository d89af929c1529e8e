package coach

import (
	"math"
	"time"

	"volar/internal/exercise"
)

// A hold begins where the approach comes to rest and ends where the return
// sets out. With a smooth movement both are hidden in the noise: a hand that
// takes a second to close is within 5 % of its end pose for the last fifth of
// it. So the whole way is fitted with a movement from one level to another,
// and its end is read off the fit, which uses all readings of the way instead
// of the few at the edge.

// profile is how a movement runs from 0 to 1 in unit time, and how fast; tail
// is about how long before its end the share f of the way is left.
type profile struct {
	at, speed, tail func(x float64) float64
}

// profiles are the courses that a way may take, with how likely each is
// beforehand: minimum jerk as undisturbed movements are (Flash and Hogan
// 1985), smooth with a flatter middle, and constant speed. The likelihoods are
// a choice; the readings decide where they can. Of how the hand stops they tell
// less than of the way: near the end pose an estimator's readings run flat, so
// that a gentle stop looks like a sudden one.
var profiles = [...]struct {
	profile
	// prior is how likely the course is for the way, stop how likely it is for
	// its end.
	prior, stop float64
}{
	{profile{exercise.Ease, func(x float64) float64 { return 30 * x * x * (1 - x) * (1 - x) }, func(f float64) float64 { return math.Cbrt(f / 10) }}, 0.55, 0.7},
	{profile{func(x float64) float64 { return x * x * (3 - 2*x) }, func(x float64) float64 { return 6 * x * (1 - x) }, func(f float64) float64 { return math.Sqrt(f / 3) }}, 0.25, 0.2},
	{profile{func(x float64) float64 { return x }, func(float64) float64 { return 1 }, func(f float64) float64 { return f }}, 0.2, 0.1},
}

const (
	fastestWay = 60 * time.Millisecond
	slowestWay = 8 * time.Second
)

// ramp is a fitted movement between two levels.
type ramp struct {
	mid, long time.Duration
	// bracket is the time between the readings that enclose the middle three
	// fifths of the way: the fit cannot prove the hand faster than that.
	bracket time.Duration
	// doubt is the scatter of the readings about the fit, as a share of the way.
	doubt float64
	// by holds, for each profile, how likely its stop is and how long the way took if
	// it is the one.
	by [len(profiles)]struct{ weight, long float64 }
}

// tail is how long before the end of the way the share f of it is left.
func (r *ramp) tail(f float64) time.Duration {
	var t float64
	for i, b := range r.by {
		t += b.weight * b.long * profiles[i].tail(f)
	}
	return time.Duration(t)
}

func (r ramp) start() time.Duration { return r.mid - r.long/2 }
func (r ramp) end() time.Duration   { return r.mid + r.long/2 }

// mirror turns a falling movement into a rising one by turning time round.
func mirror(pts []point) []point {
	m := make([]point, len(pts))
	for i, p := range pts {
		q := p
		q.at, q.fresh = -p.at, false
		if i+1 < len(pts) {
			q.fresh = pts[i+1].fresh
		}
		m[len(pts)-1-i] = q
	}
	return m
}

// blind is true where the movement could not be followed for a part of the
// way.
func (r ramp) blind(pts []point) bool {
	for i := 1; i < len(pts); i++ {
		if pts[i].fresh && pts[i-1].at < r.end() && pts[i].at > r.start() {
			return true
		}
	}
	return false
}

// fitRise fits a rise from base to top to the points around the last passage
// of the middle level; ok is false where too little of it was seen.
func fitRise(pts []point, base, top float64) (r ramp, ok bool) {
	if top-base < 0.15 {
		return r, false
	}
	level := func(x float64) float64 { return base + x*(top-base) }
	at := 0
	for i := 1; i < len(pts); i++ {
		if pts[i-1].mean < level(0.5) && pts[i].mean >= level(0.5) {
			at = i
		}
	}
	if at == 0 || pts[at].fresh {
		return r, false
	}
	// What lies before a time that was not seen is no part of this way, nor is
	// another way that ended before this one began; the upper half tells enough.
	first, low := 0, at
	for i := at - 1; i > 0 && first == 0; i-- {
		if pts[i].mean < pts[low].mean {
			low = i
		}
		switch {
		case pts[i].fresh || pts[i-1].mean >= level(0.8):
			first = i
		case pts[i-1].mean >= level(0.5) && pts[low].mean <= level(0.3):
			// The other way stopped half-way, and this one began where it turned.
			// Readings that only waver about the middle do not go down by a fifth.
			first = low
		}
	}
	pts, at = pts[first:], at-first
	from, to := pts[at-1].at, pts[at].at
	for i := at - 1; i > 0 && pts[i].mean > level(0.2); i-- {
		from = pts[i-1].at
	}
	for i := at; i < len(pts)-1 && pts[i].mean < level(0.8); i++ {
		to = pts[i+1].at
	}
	r = ramp{mid: crossing(pts[at-1], pts[at], level(0.5)), long: 2 * (to - from), bracket: to - from}
	r.long = min(max(r.long, fastestWay), slowestWay)

	lo, hi := 0, len(pts)
	for lo < at && pts[lo].at < r.mid-r.long {
		lo++
	}
	for hi > at+1 && pts[hi-1].at > r.mid+r.long {
		hi--
	}
	pts = pts[lo:hi]
	if len(pts) < 4 {
		// A stream too slow for a fit: the two crossings have to do.
		return r, !r.blind(pts)
	}
	// The ways that the profiles give, averaged by how well each explains the
	// readings. Smoothing makes readings depend on each other, so only one in
	// smoothSpan counts.
	count := max(float64(pts[len(pts)-1].at-pts[0].at)/float64(smoothSpan), 1)
	var fits [len(profiles)]ramp
	var errs [len(profiles)]float64
	least := math.Inf(1)
	for i := range profiles {
		fits[i], errs[i] = fit(&profiles[i].profile, pts, r, base, top)
		errs[i] += 1e-6
		least = min(least, errs[i])
	}
	var sum, mid, long, stops float64
	for i, f := range fits {
		w := profiles[i].prior * math.Pow(least/errs[i], count/2)
		sum += w
		mid += w * float64(f.mid-r.mid)
		long += w * float64(f.long)
		stop := profiles[i].stop * math.Pow(least/errs[i], count/4)
		stops += stop
		r.by[i].weight, r.by[i].long = stop, float64(f.long)
	}
	for i := range r.by {
		r.by[i].weight /= stops
	}
	r.mid, r.long, r.doubt = r.mid+time.Duration(mid/sum), time.Duration(long/sum), math.Sqrt(least)
	return r, !r.blind(pts)
}

// fit improves mid and long by Gauss-Newton steps and returns the mean squared
// error.
func fit(p *profile, pts []point, r ramp, base, top float64) (ramp, float64) {
	origin := r.mid
	mid, long := 0.0, r.long.Seconds()
	residuals := func(mid, long float64, each func(res, dMid, dLong float64)) {
		for _, q := range pts {
			t := (q.at - origin).Seconds()
			x := (t-mid)/long + 0.5
			y := (q.mean - base) / (top - base)
			switch {
			case x <= 0:
				each(y, 0, 0)
			case x >= 1:
				each(y-1, 0, 0)
			default:
				v := p.speed(x) / long
				each(y-p.at(x), -v, -v*(x-0.5))
			}
		}
	}
	cost := func(mid, long float64) (sum float64) {
		residuals(mid, long, func(res, _, _ float64) { sum += res * res })
		return sum
	}
	now := cost(mid, long)
	for range 8 {
		var a, b, c, g, h float64
		residuals(mid, long, func(res, dm, dl float64) {
			a += dm * dm
			b += dm * dl
			c += dl * dl
			g += dm * res
			h += dl * res
		})
		// A touch of damping keeps the step finite where few points lie on the
		// way itself.
		a, c = a*1.001+1e-9, c*1.001+1e-9
		det := a*c - b*b
		if det <= 0 {
			break
		}
		stepMid, stepLong := (c*g-b*h)/det, (a*h-b*g)/det
		improved := false
		for range 6 {
			m, l := mid+stepMid, min(max(long+stepLong, fastestWay.Seconds()), slowestWay.Seconds())
			if next := cost(m, l); next < now {
				improved = now-next > 1e-9
				mid, long, now = m, l, next
				break
			}
			stepMid, stepLong = stepMid/2, stepLong/2
		}
		if !improved {
			break
		}
	}
	return ramp{mid: origin + time.Duration(mid*float64(time.Second)), long: time.Duration(long * float64(time.Second))}, now / float64(len(pts))
}

// crossing is the time at which the measure passed a level between two points.
func crossing(a, b point, level float64) time.Duration {
	if a.mean == b.mean {
		return b.at
	}
	t := (level - a.mean) / (b.mean - a.mean)
	return a.at + time.Duration(t*float64(b.at-a.at))
}

// level is the median of the mean between two times, and otherwise where there
// is none.
func level(pts []point, from, to time.Duration, otherwise float64) float64 {
	var v []float64
	for _, p := range pts {
		if p.at >= from && p.at <= to {
			v = append(v, p.mean)
		}
	}
	if len(v) == 0 {
		return otherwise
	}
	return median(v)
}
