package coach

import (
	"math"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
)

// badlyRead is the standard error, as a share of the way, from which on a view
// shows the way too badly to say of a pose that it was nearly reached that it was
// not. In the views that movements ask for it is about 0.1.
const badlyRead = 0.15

// conclude decides on the attempt as the hand is back at rest.
func (c *Coach) conclude(at time.Duration, p point, tryAt float64) {
	k := c.cycle
	t := k.try
	t.End = p.at
	c.settle(at)
	switch {
	case c.cfg.Movement.Kind == exercise.Hold:
		c.concludeHold(t, t.Share >= tryAt && t.End-t.Start >= leastAttempt)
	case t.reached:
		t.Verdict = Counted
	case t.gapped:
		t.Verdict = Unjudged
	case t.Share >= tryAt && t.End-t.Start >= leastAttempt:
		t.Verdict = Partial
		if e := c.readingError(t); e >= badlyRead && t.Share+e >= c.measure.Enter*k.reach() {
			t.Verdict = Unjudged // the pose may have been reached
		}
	}
	c.record(at, t)
}

// readingError is the standard error of how far an attempt got, as a share of the
// way: the mean of its fingers', since what a view errs by they have in common.
func (c *Coach) readingError(t *attempt) float64 {
	var sum, n float64
	for f := range t.fingers {
		if c.fingerSeen(t, f) {
			sum += t.fingers[f].se
			n++
		}
	}
	return sum / max(n, 1)
}

// concludeHold decides on an attempt of a movement that is nothing but a hold;
// tried is true where it went far enough to be one though it fell short.
func (c *Coach) concludeHold(t *attempt, tried bool) {
	n := len(c.holds)
	switch {
	case t.met, c.wanted == 0 && t.reached:
		t.Verdict = Counted
	case n > 0 && c.holds[n-1].Repetition == t.Number && c.holds[n-1].Unsure:
		t.Verdict = Unjudged
	case n > 0 && c.holds[n-1].Repetition == t.Number:
		t.Verdict = Partial
	case tried && !t.reached && t.gapped:
		t.Verdict = Unjudged
	case tried && !t.reached:
		t.Verdict = Partial
	}
}

// record enters a decided attempt and says so. One without a verdict was not
// even an attempt, and its number is given again.
func (c *Coach) record(at time.Duration, t *attempt) {
	k := c.cycle
	defer func() { k.try, k.gaps = nil, k.gaps[:0] }()
	if t.Verdict == "" {
		k.attempts--
		return
	}
	for i := range t.Fingers {
		t.Fingers[i] = math.NaN()
		if b := &t.fingers[i+1]; c.fingerSeen(t, i+1) {
			t.Fingers[i] = b.share
		}
	}
	c.reps = append(c.reps, t.Repetition)
	switch t.Verdict {
	case Counted:
		c.counted++
		if c.cfg.Movement.Kind == exercise.Cycle {
			k.reached(t.Share)
		}
		c.emit(RepetitionCounted{c.now(at), t.Repetition})
	case Partial:
		c.partial++
		c.emit(RepetitionPartial{c.now(at), t.Repetition})
	case Unjudged:
		c.unjudged++
	}
	if c.cfg.Movement.Judge.IncompleteGrip && c.steps == nil {
		c.judgeFingers(at, t)
	}
	if t.Verdict == Counted && c.counted == c.cfg.Repetitions && !c.member {
		c.emit(SetCompleted{c.now(at), c.counted})
	}
}

func (c *Coach) fingerSeen(t *attempt, f int) bool {
	return len(c.closing.parts[f]) > 0 && t.upper > 0 && float64(t.fingers[f].seen) >= fingersSeen*float64(t.upper)
}

// judgeFingers looks for the finger that stopped short. Where the pose was not
// reached it is the one that lacks most, else only one that lacks more than its
// error explains.
func (c *Coach) judgeFingers(at time.Duration, t *attempt) {
	if t.Verdict == Unjudged || t.unseen {
		return
	}
	worst, lack := -1, 0.0
	for f := range t.fingers {
		if !c.fingerSeen(t, f) {
			continue
		}
		b := &t.fingers[f]
		if t.reached && b.share+fingerSE*b.se >= c.measure.Enter {
			continue
		}
		if l := (1 - b.share) * c.closing.way(f); worst < 0 || l > lack {
			worst, lack = f, l
		}
	}
	if worst < 0 {
		if !t.reached {
			c.flagAtOnce(at, Flag{Kind: IncompleteGrip, Start: t.Start, End: t.End})
		}
		return
	}
	b := &t.fingers[worst]
	flag := Flag{Kind: IncompleteGrip, Start: t.Start, End: t.End}
	if worst != wholeHand {
		flag.OnFinger, flag.Finger, flag.Between = true, hand.Finger(worst), hand.Finger(worst)
	}
	var from float64
	short := math.Inf(-1)
	for _, ch := range c.closing.parts[worst] {
		from += c.closing.start[ch]
		flag.LimitDeg += c.closing.start[ch] + c.closing.travel[ch]
		l := (c.closing.start[ch] + c.closing.travel[ch] - b.angles[ch]) * math.Copysign(1, c.closing.travel[ch])
		if j, ok := ch.Joint(); ok && l > short {
			short, flag.Joint, flag.OnJoint = l, j, true
		}
	}
	flag.PeakDeg = from + b.share*(flag.LimitDeg-from)
	flag.SEDeg = b.se * c.closing.way(worst)
	c.flagAtOnce(at, flag)
}
