package coach

import (
	"slices"
	"time"

	"volar/internal/hand"
)

// goOn tells the coach that nobody watched from its last sample until now: the
// exercise was paused. It is as if the hand had been out of sight, but nobody
// is told so and the time counts for nothing.
func (c *Coach) goOn(at time.Duration) {
	if !c.started || c.finished || at <= c.last {
		return
	}
	if at-c.lastRead > c.cfg.Tolerances.DropOut {
		c.interrupt(gap{c.lastRead, at})
	}
	away := at - c.last
	c.idle += away
	for i := range c.watches {
		c.watches[i].since += away // it was in or out of sight for no longer by that
	}
	c.last, c.lastRead = at, at
}

// A Coach is the judge of a practice with one hand.

func (c *Coach) push(s, _ *hand.Sample) []Event { return c.Push(*s) }

func (c *Coach) show(st *PracticeStatus) { st.Coach = c.Status() }

func (c *Coach) finish(at time.Duration) (SetSummary, []Event) {
	s := c.Finish(at)
	last := s.Last
	s.Last = nil
	return SetSummary{Summary: s}, last
}

func (c *Coach) progress() (counted, tried int) {
	return c.counted, c.counted + c.partial + c.unjudged
}

func (c *Coach) learn(before judge) {
	if b, ok := before.(*Coach); ok {
		c.inherit(b)
	}
}

// A Pair is the judge of a practice with two.

func (p *Pair) show(st *PracticeStatus) {
	left, right, both := p.Status()
	st.Coach, st.Other, st.Pair = left, &right, &both
}

func (p *Pair) finish(at time.Duration) (SetSummary, []Event) {
	both := p.Finish(at)
	last := both.Last
	both.Last, both.Left.Last, both.Right.Last = nil, nil, nil
	return SetSummary{Summary: both.Left, Other: &both.Right, Pair: &both}, last
}

func (p *Pair) goOn(at time.Duration) {
	for _, c := range p.hands {
		c.goOn(at)
	}
}

// progress takes what the busier hand tried, lest one hand alone goes on for
// ever.
func (p *Pair) progress() (counted, tried int) {
	_, left := p.hands[0].progress()
	_, right := p.hands[1].progress()
	return p.counted, max(left, right)
}

func (p *Pair) learn(before judge) {
	if b, ok := before.(*Pair); ok {
		for i, c := range p.hands {
			c.inherit(b.hands[i])
		}
		p.hands[1].cues = p.hands[0].cues
	}
}

// inherit takes over what the coach of the set before learned of this hand:
// its joints' own zeros, how far it usually goes, and what it was told last.
// Both must have been made from the same configuration.
func (c *Coach) inherit(before *Coach) {
	for i, b := range before.bounds {
		c.bounds[i].own = b.own
	}
	c.cycle.tops, c.cycle.usual = slices.Clone(before.cycle.tops), before.cycle.usual
	c.cues = before.cues
}
