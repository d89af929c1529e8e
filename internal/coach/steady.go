package coach

import (
	"math"
	"time"

	"volar/internal/hand"
)

// Steadiness is judged when a hold is over, for only then is it known where it
// ended: the first part of a release would look like wavering.
const (
	// steadyEdge is left out at both ends of a hold, which are known no better.
	steadyEdge  = 400 * time.Millisecond
	steadyLeast = time.Second
	// swayHalf is half the time of which a place is the median: a slip of the
	// landmarks is shorter, a swing of a strained hand longer.
	swayHalf = 70 * time.Millisecond
	// swayApart is the longest time between two swings of the same wavering. A
	// strained hand gives and catches itself once or twice a second (common
	// practice, from memory); one that settles in its grip does so now and then.
	swayApart = 1200 * time.Millisecond
	// swayBack is the share of the limit to which the hand must come back
	// before it can swing again.
	swayBack = 0.5
	// swayAlone is how much more one joint by itself must swing, in degrees: it
	// scatters more than the mean of two.
	swayAlone = 2
	// swayLeast swings are wavering.
	swayLeast = 2
)

// swing is a time in which the joints were away from where they are held.
type swing struct {
	from, to time.Duration
	peak     float64
}

// judgeSteady looks for wavering in a hold: the joints leave the place where
// they are held by more than the limit, come back, and leave it again. Once is
// no wavering: that is a hand that gives in or settles. A straight finger can
// waver to one side only, so what counts is each swing, not the way from one
// side to the other. The time in which a joint is past its limit is left out:
// that is a fault of its own, and the neighbours move with it.
func (c *Coach) judgeSteady(at time.Duration, h *Hold) {
	limit := c.cfg.Movement.Judge.SteadyDeg
	from, to := h.Start+steadyEdge, h.End-steadyEdge
	if limit == 0 || to-from < steadyLeast {
		return
	}
	for i, sway := range c.sways(from, to) {
		allowed := limit
		if i > 0 {
			allowed += swayAlone
		}
		if f, ok := wavering(swingsIn(sway, allowed)); ok {
			f.LimitDeg, f.Name = limit, h.Step
			c.flagAtOnce(at, f)
			return
		}
	}
}

// wavering returns the first swings that follow each other in short order.
func wavering(swings []swing) (f Flag, ok bool) {
	first := 0
	for i := range swings {
		if i > 0 && swings[i].from-swings[i-1].to > swayApart {
			first = i
		}
		last := i == len(swings)-1 || swings[i+1].from-swings[i].to > swayApart
		if !last || i-first+1 < swayLeast {
			continue
		}
		f = Flag{Kind: Unsteady, Start: swings[first].from, End: swings[i].to}
		for _, s := range swings[first : i+1] {
			f.PeakDeg = max(f.PeakDeg, s.peak)
		}
		return f, true
	}
	return f, false
}

// swingsIn are the times in which the joints were away by more than the limit.
func swingsIn(sway []reading, limit float64) (out []swing) {
	away := false
	for i, r := range sway {
		x := math.Abs(r.v)
		switch {
		case x <= swayBack*limit, away && r.v*sway[i-1].v < 0 && x <= limit:
			away = false
		case x > limit:
			if !away || r.v*sway[i-1].v < 0 {
				out = append(out, swing{from: r.at, peak: x})
			}
			away = true
			s := &out[len(out)-1]
			s.to, s.peak = r.at, max(s.peak, x)
		}
	}
	return out
}

// sways are how far the joints are from where they are held, moment by moment,
// more bent positive: each digit by the mean of its joints and by each of them,
// the hand by the median of its digits, so that one finger of four that gives way
// is no wavering hand. The mean is the steadier one; but around a roll, or nearly
// straight, an estimator reads a finger that wavers in one joint only, or in two
// so that they take each other away. End joints of fingers are left out: nobody
// holds them by themselves, and they stand still while the finger wavers.
func (c *Coach) sways(from, to time.Duration) [][]reading {
	var frames []frame
	for i := range c.frames {
		if f := &c.frames[i]; f.at >= from && f.at <= to && !c.faulty(f.at, steadyEdge) {
			frames = append(frames, *f)
		}
	}
	digits := c.bearing()
	joints := 0
	var held [hand.NumChannels]float64
	var v []float64
	for _, parts := range digits {
		joints = max(joints, len(parts))
		for _, ch := range parts {
			v = v[:0]
			for i := range frames {
				if frames[i].ok[ch] {
					v = append(v, frames[i].v[ch])
				}
			}
			if len(v) > 0 {
				held[ch] = median(v)
			}
		}
	}
	all := make([][]reading, 1+joints)
	for i := range frames {
		each := make([][]float64, len(all))
		for _, parts := range digits {
			sum, n := 0.0, 0
			for p, ch := range parts {
				if !frames[i].ok[ch] {
					continue
				}
				v = v[:0]
				for k := range frames {
					if frames[k].ok[ch] && (frames[k].at-frames[i].at).Abs() <= swayHalf {
						v = append(v, frames[k].v[ch])
					}
				}
				away := median(v) - held[ch]
				sum += away
				n++
				each[1+p] = append(each[1+p], away)
			}
			if n > 0 {
				each[0] = append(each[0], sum/float64(n))
			}
		}
		for k, v := range each {
			if len(v) > 0 {
				all[k] = append(all[k], reading{at: frames[i].at, v: median(v)})
			}
		}
	}
	return all
}

// bearing lists, digit by digit, the channels that bear a hold: of a finger
// that the measure has anything of its big and middle joints, whether they are
// on its way or not; else what the measure has.
func (c *Coach) bearing() (digits [groups][]hand.Channel) {
	for g, parts := range c.closing.parts {
		if f := hand.Finger(g); len(parts) > 0 && g != wholeHand && f != hand.Thumb {
			parts = []hand.Channel{hand.Channel(hand.JointOf(f, hand.MCP)), hand.Channel(hand.JointOf(f, hand.PIP))}
		}
		digits[g] = parts
	}
	return digits
}
