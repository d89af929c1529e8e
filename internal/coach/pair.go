package coach

import (
	"slices"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
)

// PairConfig says what is judged of two hands. Both do the same movement;
// limits and ranges are each hand's own. Movement, object and dose are Left's.
type PairConfig struct{ Left, Right Config }

// pair is the configuration of a practice with two hands.
func (c PracticeConfig) pair() PairConfig {
	right := c.Coach
	if c.Other != nil {
		right.Limits, right.Own, right.Zeroed = c.Other.Limits, c.Other.Own, c.Other.Zeroed
	}
	if c.Coach.Side == hand.Right {
		// Coach is the exercising hand's, whichever that is.
		left := right
		right = c.Coach
		return PairConfig{left, right}
	}
	return PairConfig{c.Coach, right}
}

// PairRepetition is one repetition of both hands.
type PairRepetition struct {
	Number int
	// Left and Right are the numbers of the hands' own repetitions.
	Left, Right int
	Start, End  time.Duration
}

// PairCounted says that both hands have done a repetition.
type PairCounted struct {
	stamp
	Repetition PairRepetition
}

// PairStatus is where two hands stand together.
type PairStatus struct {
	Counted, Repetitions int
	// Missing lists the hands that cannot be followed now.
	Missing []hand.Side
	// Next is the hand whose turn it is where they alternate; UnknownSide
	// where either may begin.
	Next hand.Side
}

// PairSummary is what two hands did together.
type PairSummary struct {
	// Left and Right are each hand's own.
	Left, Right Summary
	// Counted repetitions of both, and those of one hand that the other may
	// have done too while it could not be seen.
	Counted, Unjudged int
	Repetitions       []PairRepetition
	// Flags of the two together; each hand's own are in its summary.
	Flags []Flag
	// Last are the events that the end itself brought about.
	Last []Event
}

// Pair judges two hands that work together: each by a Coach of its own, and
// what they do together here. Where they work at the same time a repetition is
// one of each hand that overlap for at least half of the shorter one. Where
// they alternate it is one of each hand in turn. A repetition of one hand that
// has no other to it is flagged as out of order, unless the other hand tried
// and fell short, which is its own fault, or could not be seen. Like a Coach a
// Pair is pure and for one goroutine.
type Pair struct {
	hands       [2]*Coach // left, right
	alternating bool
	wanted      int

	events   []Event
	flags    []Flag
	reps     []PairRepetition
	open     [2][]Repetition // counted and not yet matched
	unseen   [2][]gap        // when a hand could not be followed
	lost     [2]bool
	blind    int
	counted  int
	finished bool
}

// NewPair returns a judge of two hands, or an error that says what makes no
// sense in the configuration.
func NewPair(cfg PairConfig) (*Pair, error) {
	p := &Pair{alternating: cfg.Left.Movement != nil && cfg.Left.Movement.Pair == exercise.Alternating}
	cfg.Right.Movement, cfg.Right.Object = cfg.Left.Movement, cfg.Left.Object
	cfg.Right.Hold, cfg.Right.Repetitions = cfg.Left.Hold, cfg.Left.Repetitions
	for i, c := range []Config{cfg.Left, cfg.Right} {
		c.Side = sides[i]
		if c.Movement != nil {
			c.Movement = c.Movement.For(c.Side)
		}
		h, err := New(c)
		if err != nil {
			return nil, err
		}
		h.member = true
		p.hands[i] = h
	}
	// Two hands have one pair of ears.
	p.hands[1].cues = p.hands[0].cues
	p.wanted = p.hands[0].cfg.Repetitions
	return p, nil
}

var sides = [2]hand.Side{hand.Left, hand.Right}

// PushPair takes the samples of both hands from one picture and returns what
// they brought about, the left hand's first. A hand that was not seen has
// Found false. The time is the left sample's.
func (p *Pair) PushPair(left, right hand.Sample) []Event {
	right.Time = left.Time
	return p.push(&left, &right)
}

func (p *Pair) push(left, right *hand.Sample) []Event {
	p.events = nil
	at := left.Time
	c := p.hands[0]
	if p.finished || c.started && at <= c.last {
		c.missed++
		p.hands[1].missed++
		return nil
	}
	for i, s := range []*hand.Sample{left, right} {
		t := *s
		t.Time = at
		p.take(i, p.hands[i].Push(t))
	}
	p.oneCue()
	return p.events
}

// take goes through the events of one hand.
func (p *Pair) take(i int, events []Event) {
	for _, e := range events {
		p.events = append(p.events, e)
		switch e := e.(type) {
		case Paused:
			p.lost[i] = true
			p.unseen[i] = append(p.unseen[i], gap{p.hands[i].lastRead, e.At})
		case Resumed:
			p.lost[i] = false
			p.unseen[i][len(p.unseen[i])-1].to = e.At
		case RepetitionCounted:
			p.join(i, e.At, e.Repetition)
		}
	}
}

// oneCue leaves the more important of two cues.
func (p *Pair) oneCue() {
	best := -1
	for i, e := range p.events {
		if c, ok := e.(Cue); ok && (best < 0 || c.weight > p.events[best].(Cue).weight) {
			best = i
		}
	}
	kept := p.events[:0]
	for i, e := range p.events {
		if _, ok := e.(Cue); !ok || i == best {
			kept = append(kept, e)
		}
	}
	p.events = kept
}

func (p *Pair) emit(e Event) { p.events = append(p.events, e) }

// join takes a repetition that one hand has counted.
func (p *Pair) join(i int, at time.Duration, r Repetition) {
	other := 1 - i
	p.resolve(i, at)
	if p.alternating {
		if n := len(p.open[other]); n > 0 && !overlap(p.open[other][n-1], r) {
			p.count(i, at, p.open[other][n-1], r)
			p.open = [2][]Repetition{}
			return
		}
	} else if k := slices.IndexFunc(p.open[other], func(o Repetition) bool { return overlap(o, r) }); k >= 0 {
		p.count(i, at, p.open[other][k], r)
		p.open[other] = slices.Delete(p.open[other], k, k+1)
		return
	}
	p.open[i] = append(p.open[i], r)
}

// overlap is true where two repetitions were done at the same time: together
// for at least half of the shorter one.
func overlap(a, b Repetition) bool {
	shared := min(a.End, b.End) - max(a.Start, b.Start)
	return shared*2 >= min(a.End-a.Start, b.End-b.Start)
}

func (p *Pair) count(i int, at time.Duration, of, with Repetition) {
	p.counted++
	r := PairRepetition{Number: p.counted, Left: of.Number, Right: with.Number, Start: min(of.Start, with.Start), End: max(of.End, with.End)}
	if i == 0 {
		r.Left, r.Right = with.Number, of.Number
	}
	p.reps = append(p.reps, r)
	p.emit(PairCounted{stamp{at, hand.UnknownSide}, r})
	if p.counted == p.wanted {
		p.emit(SetCompleted{stamp{at, hand.UnknownSide}, p.counted})
	}
}

// resolve decides on the repetitions of one hand that stayed without the
// other's.
func (p *Pair) resolve(i int, at time.Duration) {
	for _, r := range p.open[i] {
		switch {
		case p.excused(1-i, r):
			p.blind++
		default:
			f := Flag{Kind: OutOfOrder, Side: sides[i], Start: r.Start, End: r.End, Repetition: r.Number, Say: p.alone(i)}
			p.flags = append(p.flags, f)
			p.emit(FlagRaised{stamp{at, sides[i]}, f})
			p.emit(FlagEnded{stamp{at, sides[i]}, f})
			c := p.hands[i]
			c.events = nil
			c.tell(at, candidate{weight: weightOrder, text: f.Say})
			p.events = append(p.events, c.events...)
		}
	}
	p.open[i] = p.open[i][:0]
}

func (p *Pair) alone(i int) string {
	if p.alternating {
		return "Now the " + sides[1-i].String() + " hand's turn."
	}
	return "Move both hands together; the " + sides[1-i].String() + " hand too."
}

// excused is true where a hand may have done its part of a repetition unseen,
// or tried to.
func (p *Pair) excused(i int, r Repetition) bool {
	for _, g := range p.unseen[i] {
		to := g.to
		if p.lost[i] && g == p.unseen[i][len(p.unseen[i])-1] {
			to = p.hands[i].last
		}
		if min(to, r.End) > max(g.from, r.Start) {
			return true
		}
	}
	return slices.ContainsFunc(p.hands[i].reps, func(o Repetition) bool {
		return o.Verdict != Counted && min(o.End, r.End) > max(o.Start, r.Start)
	})
}

// Status returns where the left and the right hand stand, and both together.
func (p *Pair) Status() (left, right Status, both PairStatus) {
	both = PairStatus{Counted: p.counted, Repetitions: p.wanted}
	for i, c := range p.hands {
		if c.paused {
			both.Missing = append(both.Missing, sides[i])
		}
		if p.alternating && len(p.open[i]) > 0 {
			both.Next = sides[1-i]
		}
	}
	return p.hands[0].Status(), p.hands[1].Status(), both
}

// Finish ends the exercise at the given time and sums it up. A second call
// returns the same figures.
func (p *Pair) Finish(at time.Duration) PairSummary {
	p.events = nil
	var s [2]Summary
	for i, c := range p.hands {
		s[i] = c.Finish(at)
		if !p.finished {
			p.take(i, s[i].Last)
		}
	}
	// Where they alternate a last one may have been about to be answered, but
	// not two that were done at once.
	open := !p.alternating || len(p.open[0]) > 0 && len(p.open[1]) > 0
	for i := range p.hands {
		if !p.finished && open {
			p.resolve(i, p.hands[i].last)
		}
	}
	p.finished = true
	p.oneCue()
	return PairSummary{
		Left: s[0], Right: s[1], Counted: p.counted, Unjudged: p.blind,
		Repetitions: slices.Clone(p.reps), Flags: slices.Clone(p.flags), Last: p.events,
	}
}
