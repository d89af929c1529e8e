package coach

import (
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

// push takes the next sample; one without a place changes nothing, nor does a hand
// too small to be judged: mostly one whose points have drawn together in a part of
// it.
func (p *place) push(s *hand.Sample) {
	if !s.Found || s.Joints[hand.MiddleMCP].Why == hand.TooSmall || s.Palm == (hand.Point{}) || !(s.PalmPixels > 0) || !finite(s.Palm.X+s.Palm.Y+s.PalmPixels) {
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

// faulty is true where a joint was past its limit, or strayed, at the time or
// nearer to it than the edge.
func (c *Coach) faulty(at, edge time.Duration) bool {
	return slices.ContainsFunc(c.flags, func(f Flag) bool {
		over := f.Kind == Hyperextension || f.Kind == OverFlexion || f.Kind == Compensation
		return over && at >= f.Start-edge && at <= f.End+edge
	})
}
