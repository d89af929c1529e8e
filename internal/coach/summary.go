package coach

import (
	"cmp"
	"slices"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
)

// Status is where the exercise stands, for showing it.
type Status struct {
	Phase Phase
	// Share of the way, smoothed; 0 before the movement was first followed.
	Share            float64
	Counted, Partial int
	// Repetitions wanted in the set.
	Repetitions int
	// Held and Wanted of the running hold; Holding is false outside one.
	Holding      bool
	Held, Wanted time.Duration
	// Paused is true while the movement cannot be followed.
	Paused bool
	// Flags that are raised now.
	Flags []Flag
	// Step is the number, from 1, of the sequence's step that is under way or
	// comes next, StepName its name, Steps how many there are; 0 elsewhere.
	Step, Steps int
	StepName    string
}

// Status returns where the exercise stands after the last sample.
func (c *Coach) Status() Status {
	st := Status{
		Phase: c.cycle.phase, Counted: c.counted, Partial: c.partial,
		Repetitions: c.cfg.Repetitions, Wanted: c.wanted, Paused: c.paused,
	}
	if n := len(c.cycle.trail); n > 0 {
		st.Share = c.cycle.trail[n-1].share
	}
	if s := c.cycle.stay; s != nil && c.wanted > 0 {
		st.Holding, st.Held = true, max(c.lastRead-s.start-c.cycle.paused(s.start, c.lastRead), 0)
	}
	if q := c.steps; q != nil {
		at := q.current()
		st.Step, st.Steps, st.StepName = at.number, len(q.steps), at.step.Name
	}
	for _, b := range c.bounds {
		if b.active {
			st.Flags = append(st.Flags, c.flags[b.flag])
		}
	}
	return st
}

// Finish ends the exercise at the given time and sums it up. A second call
// returns the same figures.
func (c *Coach) Finish(at time.Duration) Summary {
	c.events = nil
	if !c.finished {
		c.finished = true
		c.last = max(c.last, at)
		c.close()
	}
	s := Summary{
		Movement: c.cfg.Movement.ID, Side: c.cfg.Side, Start: c.first, End: c.last, Watched: c.last - c.first - c.idle,
		Samples: c.samples, Dropped: c.missed,
		Counted: c.counted, Partial: c.partial, Unjudged: c.unjudged,
		Repetitions: slices.Clone(c.reps), Holds: slices.Clone(c.holds), Flags: slices.Clone(c.flags),
		Last: c.events,
	}
	s.NotJudged, s.NotSeen = c.notJudged()
	if s.Watched > 0 {
		s.Measured = min(float64(c.read)/float64(s.Watched), 1)
	}
	for ch := range c.spans {
		w := &c.spans[ch]
		switch j, ok := hand.Channel(ch).Joint(); {
		case !w.seen:
		case ok:
			s.Angles = append(s.Angles, AngleRange{j, w.min, w.max, w.minJudged})
		default:
			s.Channels = append(s.Channels, ChannelRange{hand.Channel(ch), w.min, w.max})
		}
	}
	slices.SortStableFunc(s.Flags, func(a, b Flag) int { return cmp.Compare(a.Start, b.Start) })
	return s
}

// close decides on what the end of the recording cuts off.
func (c *Coach) close() {
	k := c.cycle
	for _, b := range c.bounds {
		if b.active {
			b.active = false
			c.endFlag(b, c.last, b.outside)
		}
	}
	if c.steps != nil {
		c.closeSteps()
		return
	}
	if k.try == nil {
		return
	}
	t := k.try
	wasHeld := k.stay != nil
	if s := k.stay; wasHeld {
		k.stay = nil
		if s.fits < 2 {
			c.fitStart(s, s.last)
		}
		c.endHold(c.last, s, c.lastRead, true)
	}
	c.settle(c.last)
	t.End = c.lastRead
	switch {
	case c.cfg.Movement.Kind == exercise.Hold:
		c.concludeHold(t, false)
	case t.reached && (t.met || !wasHeld):
		t.Verdict = Counted
	case t.reached || t.Share >= c.cfg.Movement.Measure.Attempt:
		t.Verdict = Unjudged
	}
	c.record(c.last, t)
}
