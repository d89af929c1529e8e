package coach

import (
	"cmp"
	"math"
	"slices"
	"time"

	"volar/internal/hand"
)

// place follows where the hand is in the picture, so that an arm that moves
// instead of the fingers is seen. Nearer or farther does not show well enough
// to be judged: the palm's length in the picture changes as the fingers close.
type place struct {
	x, y, palm window
	home       hand.Point
	size       float64
	known      bool
}

const (
	// homeSpan is the time before a movement that tells where the hand was.
	homeSpan = 700 * time.Millisecond
	// placeSE is the standard error of a place, in percent of the palm's length:
	// the landmarks of wrist and knuckles scatter by about that much together.
	placeSE = 4
)

func newPlace() place {
	w := window{span: homeSpan, longest: homeSpan, least: 1}
	return place{x: w, y: w, palm: w}
}

// push takes the next sample; one without a place changes nothing.
func (p *place) push(s *hand.Sample) {
	if !s.Found || s.Palm == (hand.Point{}) || !(s.PalmPixels > 0) || !finite(s.Palm.X+s.Palm.Y+s.PalmPixels) {
		return
	}
	p.x.add(reading{at: s.Time, v: s.Palm.X})
	p.y.add(reading{at: s.Time, v: s.Palm.Y})
	p.palm.add(reading{at: s.Time, v: s.PalmPixels})
}

// set takes the present place for the one where the movement begins.
func (p *place) set() {
	if p.known = p.x.n > 0; p.known {
		p.home = hand.Point{X: p.x.median(homeSpan), Y: p.y.median(homeSpan)}
		p.size = p.palm.median(homeSpan)
	}
}

// moved is how far the hand is from where the movement began, in percent of
// the palm's length; ok is false where that is not known.
func (p *place) moved() (percent float64, ok bool) {
	if !p.known || p.x.n == 0 {
		return 0, false
	}
	i := p.x.n - 1
	return 100 * math.Hypot(p.x.buf[i].v-p.home.X, p.y.buf[i].v-p.home.Y) / p.size, true
}

// Steadiness is judged when a hold is over, for only then is it known where it
// ended: the first part of a release would look like wavering.
const (
	// steadyEdge is left out at both ends of a hold, which are known no better.
	steadyEdge = 400 * time.Millisecond
	// steadySpan is the time over which wavering is looked at, about one and a
	// half swings of a strained hand, and steadyPart the part of it that may
	// lie within the limit: a swing goes through the middle twice.
	steadySpan, steadyPart = 700 * time.Millisecond, 0.8
	steadyLeast            = time.Second
)

// judgeSteady looks for wavering in a hold: the weighted median of how far the
// measured channels are from where they are held, in the channels' own unit,
// so that one finger that gives way is no wavering hand. The time in which a
// joint is past its limit is left out: that is a fault of its own, and the
// neighbours move with it.
func (c *Coach) judgeSteady(at time.Duration, h *Hold) {
	limit := c.cfg.Movement.Judge.SteadyDeg
	from, to := h.Start+steadyEdge, h.End-steadyEdge
	if limit == 0 || to-from < steadyLeast {
		return
	}
	var in []int
	for i := range c.frames {
		if t := c.frames[i].at; t >= from && t <= to {
			in = append(in, i)
		}
	}
	if len(in) < stillLeast {
		return
	}
	var middle [hand.NumChannels]float64
	var v []float64
	for ch := range middle {
		v = v[:0]
		for _, i := range in {
			if c.frames[i].ok[ch] {
				v = append(v, c.frames[i].v[ch])
			}
		}
		if len(v) > 0 {
			middle[ch] = median(v)
		}
	}
	var away, parts []reading
	for _, i := range in {
		if c.faulty(c.frames[i].at, steadyEdge) {
			continue
		}
		f := smooth(c.frames, i)
		parts = parts[:0]
		for ch := range middle {
			if w := c.closing.weight[ch]; w > 0 && f.ok[ch] {
				parts = append(parts, reading{v: math.Abs(f.v[ch] - middle[ch]), se: w})
			}
		}
		if len(parts) > 0 {
			away = append(away, reading{at: f.at, v: weightedMedian(parts)})
		}
	}
	worst, begin, end := 0.0, time.Duration(0), time.Duration(0)
	for lo, hi := 0, 0; hi < len(away); hi++ {
		for away[hi].at-away[lo].at > steadySpan {
			lo++
		}
		if away[hi].at-away[lo].at < steadySpan*3/4 {
			continue
		}
		v = v[:0]
		for _, r := range away[lo : hi+1] {
			v = append(v, r.v)
		}
		slices.Sort(v)
		x := v[int(steadyPart*float64(len(v)-1))]
		if x <= limit {
			continue
		}
		if worst == 0 {
			begin = away[lo].at
		}
		worst, end = max(worst, x), away[hi].at
	}
	if worst > 0 {
		c.flagAtOnce(at, Flag{Kind: Unsteady, Start: begin, End: end, PeakDeg: worst, LimitDeg: limit, Name: h.Step})
	}
}

// weightedMedian of the values, the weight of each in its se. It sorts them.
func weightedMedian(v []reading) float64 {
	slices.SortFunc(v, func(a, b reading) int { return cmp.Compare(a.v, b.v) })
	var all, sum float64
	for _, r := range v {
		all += r.se
	}
	for _, r := range v {
		if sum += r.se; 2*sum >= all {
			return r.v
		}
	}
	return 0
}

// faulty is true where a joint was past its limit, or strayed, at the time or
// nearer to it than the edge.
func (c *Coach) faulty(at, edge time.Duration) bool {
	return slices.ContainsFunc(c.flags, func(f Flag) bool {
		over := f.Kind == Hyperextension || f.Kind == OverFlexion || f.Kind == Compensation
		return over && at >= f.Start-edge && at <= f.End+edge
	})
}
