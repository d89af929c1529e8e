package coach

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"volar/internal/hand"
)

// extraTries is how many attempts beyond the wanted repetitions a set may
// have, as a share of them and at least: a client who cannot reach the end
// pose today shall not go on trying for ever (a choice; a dose is not to be
// exceeded by much).
const (
	extraShare = 0.5
	extraLeast = 2
)

// input begins an input at a time, and brings the rest up to it.
func (p *Practice) input(at time.Duration) {
	p.events, p.cue = nil, nil
	p.at = max(p.at, at)
	if p.state == Resting && p.at >= p.until {
		p.endRest()
	}
}

// output ends it: at most one cue is left, the practice's own before the
// coach's.
func (p *Practice) output() []Event {
	if p.cue != nil {
		p.events = slices.DeleteFunc(p.events, func(e Event) bool { _, ok := e.(Cue); return ok })
		p.events = append(p.events, *p.cue)
	}
	return p.events
}

func (p *Practice) emit(e Event) { p.events = append(p.events, e) }

func (p *Practice) now() stamp { return stamp{p.at, p.cfg.Coach.Side} }

// say has something to say; what is said later in the same input is the more
// important.
func (p *Practice) say(text string, urgent, praise bool) {
	p.cue = &Cue{p.now(), text, urgent, praise, weightSet}
}

// Push takes the next sample. Outside a set nothing is judged. In a movement
// with two hands it stands for a picture with only this hand.
func (p *Practice) Push(s hand.Sample) []Event {
	left, right := s, hand.Sample{Time: s.Time}
	if p.two() && s.Side == hand.Right {
		left, right = right, left
	}
	return p.push(&left, &right)
}

// PushPair takes the samples of both hands from one picture; a hand that was
// not seen has Found false. In a movement with one hand it takes that of the
// exercising side.
func (p *Practice) PushPair(left, right hand.Sample) []Event {
	if !p.two() && p.cfg.Coach.Side == hand.Right {
		left, right = right, left
	}
	return p.push(&left, &right)
}

func (p *Practice) two() bool { return p.cfg.Coach.Movement.Hands == 2 }

func (p *Practice) push(left, right *hand.Sample) []Event {
	p.input(left.Time)
	if p.state != Working {
		return p.output()
	}
	p.events = append(p.events, p.judge.push(left, right)...)
	counted, tried := p.judge.progress()
	wanted := p.cfg.Coach.Repetitions
	switch {
	case p.unmeasured():
	case counted >= wanted:
		p.endSet(SetSummary{Complete: true})
	case tried >= wanted+max(int(extraShare*float64(wanted)), extraLeast):
		p.endSet(SetSummary{})
	}
	return p.output()
}

// Start begins the first set, or ends a rest early.
func (p *Practice) Start(at time.Duration) []Event {
	p.input(at)
	switch p.state {
	case Ready:
		p.started, p.first = true, p.at
		p.startSet()
	case Resting:
		p.endRest()
	}
	return p.output()
}

// Pause halts a set or a rest at the client's wish. The clock of the set
// stands; a rest goes on.
func (p *Practice) Pause(at time.Duration) []Event {
	p.input(at)
	if p.state == Working || p.state == Resting {
		p.before, p.state, p.haltAt = p.state, Halted, p.at
		p.emit(PracticePaused{p.now()})
	}
	return p.output()
}

// GoOn ends a pause, or begins the next set after "it hurts" where the answer
// on pain allows it.
func (p *Practice) GoOn(at time.Duration) []Event {
	p.input(at)
	switch {
	case p.state == Halted:
		p.state = p.before
		p.emit(PracticeResumed{p.now(), p.at - p.haltAt})
		if p.state == Working {
			p.judge.goOn(p.at)
		} else if p.at >= p.until {
			p.endRest()
		}
	case p.state == Stopped && p.mayGoOn:
		p.mayGoOn, p.reason = false, ""
		switch {
		case !p.started || p.before == Done:
			p.state = p.before
		default:
			p.next()
		}
	}
	return p.output()
}

// Skip leaves out what remains of the running set, or the coming one where
// none is running.
func (p *Practice) Skip(at time.Duration) []Event {
	p.input(at)
	switch {
	case p.running():
		p.endSet(SetSummary{Skipped: true})
	case p.state == Ready, p.state == Resting, p.state == Halted:
		if !p.started {
			p.started, p.first = true, p.at
		}
		p.set++
		p.sets = append(p.sets, SetSummary{Number: p.set, Skipped: true})
		p.sets[len(p.sets)-1].Movement, p.sets[len(p.sets)-1].Side = p.cfg.Coach.Movement.ID, p.cfg.Coach.Side
		p.emit(SetDone{p.now(), p.sets[len(p.sets)-1]})
		if p.set == p.cfg.Sets {
			p.done()
		}
	}
	return p.output()
}

// SayDone is the client's word that the set is done, for what the camera
// cannot judge.
func (p *Practice) SayDone(at time.Duration) []Event {
	p.input(at)
	if p.running() {
		p.endSet(SetSummary{Complete: true, ByClient: true})
	}
	return p.output()
}

// Hurt is the client's "it hurts": the running set is over at once. Before
// anything goes on, PainAfter has to say how much, and whether it is sharp.
func (p *Practice) Hurt(at time.Duration) []Event {
	p.input(at)
	p.hurts = append(p.hurts, p.at)
	if p.reason.EndsSession() || p.finished {
		return p.output()
	}
	if p.running() {
		p.closeSet(SetSummary{Hurt: true})
	}
	p.stop(Hurting)
	return p.output()
}

// PainBefore is the client's pain before the exercise, from 0 to 10. It can be
// given until the first set starts.
func (p *Practice) PainBefore(at time.Duration, n int) ([]Event, error) {
	if err := checkScale("pain", n); err != nil {
		return nil, err
	}
	p.input(at)
	if !p.started {
		p.painBefore = &n
	}
	return p.output(), nil
}

// PainAfter is the client's pain after a set or after all of them, and whether
// it is sharp or shooting. The last answer stands, but one that ended the
// session is not taken back.
func (p *Practice) PainAfter(at time.Duration, n int, sharp bool) ([]Event, error) {
	if err := checkScale("pain", n); err != nil {
		return nil, err
	}
	p.input(at)
	if p.finished {
		return p.output(), nil
	}
	p.painAfter, p.sharp = &n, p.sharp || sharp
	if p.reason.EndsSession() {
		return p.output(), nil
	}
	switch r := PainStop(p.painBefore, n, sharp); {
	case r != "":
		if p.running() {
			p.closeSet(SetSummary{Hurt: true})
		}
		p.stop(r)
	case p.state == Stopped:
		p.mayGoOn = true
	}
	return p.output(), nil
}

// EffortAfter is how hard the exercise was for the client, from 0, nothing at
// all, to 10, the most there is.
func (p *Practice) EffortAfter(at time.Duration, n int) ([]Event, error) {
	if err := checkScale("effort", n); err != nil {
		return nil, err
	}
	p.input(at)
	if !p.finished {
		p.effort = &n
	}
	return p.output(), nil
}

// running is true in a set, also while it is halted.
func (p *Practice) running() bool {
	return p.state == Working || p.state == Halted && p.before == Working
}

func (p *Practice) startSet() {
	if p.set > 0 {
		// NewPractice has tried the same configuration.
		if j, err := p.make(); err == nil {
			j.learn(p.judge)
			p.judge = j
		}
	}
	p.set++
	p.state = Working
	p.emit(SetStarted{p.now(), p.set, p.cfg.Sets})
	text := "Begin when you are ready."
	if p.cfg.Sets > 1 {
		text = fmt.Sprintf("Set %d of %d. %s", p.set, p.cfg.Sets, text)
	}
	p.say(text, false, false)
}

// closeSet sums the running set up. One that is halted was over when it was
// halted: what came after that nobody was to watch.
func (p *Practice) closeSet(how SetSummary) {
	at := p.at
	if p.state == Halted {
		at = p.haltAt
	}
	s, last := p.judge.finish(at)
	s.Number, s.Complete, s.Skipped, s.Hurt, s.ByClient = p.set, how.Complete, how.Skipped, how.Hurt, how.ByClient
	p.events = append(p.events, last...)
	p.sets = append(p.sets, s)
	p.emit(SetDone{p.now(), s})
}

// endSet closes the running set and leads on.
func (p *Practice) endSet(how SetSummary) {
	p.closeSet(how)
	if !how.Complete && !how.Skipped {
		p.say("That is enough for this set.", false, false)
	}
	p.next()
}

// next leads on to the rest, or to the end.
func (p *Practice) next() {
	switch {
	case p.set == p.cfg.Sets:
		p.done()
	case p.cfg.Rest == 0:
		p.startSet()
	default:
		p.state, p.until = Resting, p.at+p.cfg.Rest
		p.emit(RestStarted{p.now(), p.cfg.Rest})
		text := "Rest for " + inWords(p.cfg.Rest) + "."
		if p.cue != nil {
			text = p.cue.Text + " " + text
		} else if s := &p.sets[len(p.sets)-1]; s.Complete {
			text = "Set done. " + text
		}
		p.say(text, false, false)
	}
}

func (p *Practice) endRest() {
	p.emit(RestEnded{p.now()})
	p.startSet()
}

func (p *Practice) done() {
	p.state = Done
	p.emit(PracticeDone{p.now()})
	if p.sets[len(p.sets)-1].Complete {
		p.say("That was the last set. Well done.", false, true)
	} else {
		p.say("That was the last set.", false, false)
	}
}

func (p *Practice) stop(r StopReason) {
	if p.state != Stopped {
		p.before = p.state
	}
	p.state, p.reason, p.mayGoOn = Stopped, r, false
	p.emit(StoppedForPain{p.now(), r})
	if r.EndsSession() {
		p.say("Stop for today, let your hand rest, and contact your therapist.", true, false)
	} else {
		p.say("Stop. Let your hand rest, and say how much it hurts.", true, false)
	}
}

// inWords is a time as a client would say it.
func inWords(d time.Duration) string {
	s := int(d.Round(time.Second) / time.Second)
	switch {
	case s == 1:
		return "1 second"
	case s < 120 && s != 60:
		return fmt.Sprintf("%d seconds", s)
	case s == 60:
		return "1 minute"
	case s%60 == 0:
		return fmt.Sprintf("%d minutes", s/60)
	}
	return fmt.Sprintf("%d minutes %d seconds", s/60, s%60)
}

// Finish ends the exercise at the given time and sums it up. A second call
// returns the same figures.
func (p *Practice) Finish(at time.Duration) PracticeSummary {
	p.events, p.cue = nil, nil
	if !p.finished {
		p.at = max(p.at, at)
		if p.running() {
			p.closeSet(SetSummary{})
		}
		if p.state != Stopped {
			p.state = Done
		}
	}
	s := p.summary()
	if !p.finished && s.GradeHint != "" {
		p.emit(GradeHint{p.now(), s.Clean, s.GradeHint})
	}
	p.finished = true
	s.Last = p.output()
	return s
}

func (p *Practice) summary() PracticeSummary {
	c := &p.cfg.Coach
	s := PracticeSummary{
		Movement: c.Movement.ID, Side: c.Side, Start: p.first, End: p.at,
		Sets: slices.Clone(p.sets), Wanted: p.cfg.Sets, Repetitions: c.Repetitions,
		PainBefore: p.painBefore, PainAfter: p.painAfter, Effort: p.effort, Sharp: p.sharp,
		Hurts: slices.Clone(p.hurts), Stopped: p.state == Stopped, StopReason: p.reason,
		Clean: p.cfg.CleanBefore,
	}
	for i := range p.sets {
		set := &p.sets[i]
		s.Counted += set.counted()
		s.Partial += set.Partial
		s.Flags = append(s.Flags, set.Flags...)
		if set.Other != nil {
			s.Partial += set.Other.Partial
			s.Flags = append(s.Flags, set.Other.Flags...)
		}
		if set.Pair != nil {
			s.Flags = append(s.Flags, set.Pair.Flags...)
		}
		if set.Clean() {
			s.Clean++
		} else {
			s.Clean = 0
		}
	}
	slices.SortStableFunc(s.Flags, func(a, b Flag) int { return cmp.Compare(a.Start, b.Start) })
	if p.easy(s.Clean) {
		s.GradeHint = fmt.Sprintf("%d clean sets in a row, and light work: your therapist may make this harder.", s.Clean)
	}
	return s
}

// The grade hint takes this many clean sets in a row and no more than this
// effort: exercise for weak hands is begun at 3 to 4 on such a scale and led to
// 5 to 6 (Lamb et al. 2015, Lancet 385:421-429, from memory), so that 2 is
// lighter than meant.
const (
	cleanSets   = 3
	lightEffort = 2
)

// easy is true where the grade hint is due: nothing hurt either.
func (p *Practice) easy(clean int) bool {
	rose := p.painBefore != nil && p.painAfter != nil && *p.painAfter > *p.painBefore
	return len(p.sets) > 0 && clean >= cleanSets && p.effort != nil && *p.effort <= lightEffort &&
		!rose && !p.sharp && len(p.hurts) == 0
}
