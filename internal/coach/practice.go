package coach

import (
	"errors"
	"fmt"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
)

// PracticeConfig says what is practised: one exercise with its dose.
type PracticeConfig struct {
	// Coach says what is judged. Its Repetitions are those of one set.
	Coach Config
	// Other is the same for the other hand of a movement with two hands; nil
	// takes Coach for both. Movement, object and dose are always Coach's.
	Other *Config
	// Sets; 0 takes the movement's usual dose.
	Sets int
	// Rest between sets; 0 takes the movement's usual dose, a negative value
	// wants none.
	Rest time.Duration
	// CleanBefore is how many clean sets in a row came just before, in earlier
	// sessions; they count for the grade hint.
	CleanBefore int
}

// State is where a practice stands.
type State string

// The states. Stopped waits for the client's answer on pain after "it hurts",
// or is for good where the answer ends the session. Done has nothing left.
const (
	Ready   State = "ready"
	Working State = "working"
	Resting State = "resting"
	Halted  State = "paused"
	Stopped State = "stopped"
	Done    State = "done"
)

// PracticeStatus is where a practice stands, for showing it.
type PracticeStatus struct {
	State State
	// Set is the running set or, in a rest, the one that was done last; from
	// 1, and 0 before the first.
	Set, Sets int
	RestLeft  time.Duration
	// Coach is where the set stands, for a movement with two hands the left
	// hand's part and Other the right hand's.
	Coach Status
	Other *Status
	// Pair is set for a movement with two hands.
	Pair *PairStatus
	// StopReason is why it was stopped.
	StopReason StopReason
	// MayGoOn is true in Stopped once the client's answer lets the exercise go
	// on.
	MayGoOn bool
}

// SetStarted says that a set begins.
type SetStarted struct {
	stamp
	Set, Sets int
}

// SetDone says that a set is over.
type SetDone struct {
	stamp
	Summary SetSummary
}

// RestStarted says that the client rests, and for how long.
type RestStarted struct {
	stamp
	For time.Duration
}

// RestEnded says that the rest is over.
type RestEnded struct{ stamp }

// PracticePaused and PracticeResumed say that the client paused the exercise
// and went on.
type PracticePaused struct{ stamp }

// PracticeResumed is the end of PracticePaused.
type PracticeResumed struct {
	stamp
	Away time.Duration
}

// StoppedForPain says that the exercise is stopped, and why.
type StoppedForPain struct {
	stamp
	Reason StopReason
}

// PracticeDone says that nothing of the exercise is left.
type PracticeDone struct{ stamp }

// GradeHint says that the exercise has become easy. It changes nothing: the
// therapist decides.
type GradeHint struct {
	stamp
	// Clean is how many sets in a row went well.
	Clean int
	Text  string
}

// SetSummary is what came of one set.
type SetSummary struct {
	Summary
	// Other is the right hand's part in a movement with two hands, Summary
	// being the left's, and Pair what they did together.
	Other *Summary
	Pair  *PairSummary
	// Number of the set, from 1.
	Number int
	// Complete is true where all its repetitions were counted, Skipped where
	// the client left the rest of it out, Hurt where pain stopped it, ByClient
	// where the client said that it was done, as for what the camera cannot
	// judge.
	Complete, Skipped, Hurt, ByClient bool
}

// Clean is true for a set with nothing to say against it: all repetitions
// counted, none partial or not judged, every hold met, no flag.
func (s *SetSummary) Clean() bool {
	if !s.Complete || s.ByClient {
		return false
	}
	parts := []*Summary{&s.Summary}
	if s.Other != nil {
		parts = append(parts, s.Other)
	}
	for _, p := range parts {
		if p.Partial > 0 || p.Unjudged > 0 || len(p.Flags) > 0 {
			return false
		}
		for _, h := range p.Holds {
			if !h.Met {
				return false
			}
		}
	}
	return s.Pair == nil || len(s.Pair.Flags) == 0
}

// counted is what counts towards the set's repetitions.
func (s *SetSummary) counted() int {
	if s.Pair != nil {
		return s.Pair.Counted
	}
	return s.Summary.Counted
}

// PracticeSummary is what came of an exercise.
type PracticeSummary struct {
	Movement   string
	Side       hand.Side
	Start, End time.Duration
	// Sets in order, and how many were wanted with how many repetitions each.
	Sets                []SetSummary
	Wanted, Repetitions int
	// Counted and Partial repetitions of all sets; for a movement with two
	// hands Counted is that of both together. Flags of all sets by onset.
	Counted, Partial int
	Flags            []Flag
	// The client's answers from 0 to 10; nil where there is none.
	PainBefore, PainAfter, Effort *int
	// Sharp is true where the client called the pain sharp or shooting.
	Sharp bool
	// Hurts has the times at which the client said that it hurts.
	Hurts []time.Duration
	// Stopped is true where pain ended the exercise before its time, for
	// StopReason.
	Stopped    bool
	StopReason StopReason
	// Clean is how many sets in a row went well at the end, those of
	// CleanBefore included; it is the next session's CleanBefore.
	Clean int
	// GradeHint is the hint in words; empty where there is none.
	GradeHint string
	// Last are the events that the end itself brought about.
	Last []Event
}

// Practice is one exercise as the client does it: sets and rests, pausing,
// pain. Like a Coach it is pure: every input carries its time on the samples'
// clock, and the same inputs give the same events. An input that comes before
// the last one counts as coming with it. One that makes no sense in the present
// state changes nothing.
type Practice struct {
	cfg  PracticeConfig
	make func() (judge, error)

	state   State
	before  State // Halted or Stopped came from here
	haltAt  time.Duration
	at      time.Duration // of the last input
	started bool
	first   time.Duration
	until   time.Duration // end of the rest
	set     int
	judge   judge
	sets    []SetSummary

	painBefore, painAfter, effort *int
	sharp                         bool
	hurts                         []time.Duration
	reason                        StopReason
	mayGoOn                       bool
	finished                      bool

	events []Event
	cue    *Cue
}

// judge is what judges a set: one hand or two.
type judge interface {
	// push takes the samples of one moment; a judge of one hand looks at the
	// first.
	push(left, right *hand.Sample) []Event
	show(*PracticeStatus)
	finish(at time.Duration) (SetSummary, []Event)
	goOn(at time.Duration)
	// progress is how many repetitions are counted, and how many were tried.
	progress() (counted, tried int)
	// learn takes over from the judge of the set before.
	learn(before judge)
}

// NewPractice returns a practice that waits for Start, or an error that says
// what makes no sense in the configuration.
func NewPractice(cfg PracticeConfig) (*Practice, error) {
	c, err := cfg.Coach.resolve()
	if err != nil {
		return nil, err
	}
	if cfg.Sets == 0 {
		cfg.Sets = c.Movement.Dose.Sets
	}
	if cfg.Rest == 0 {
		cfg.Rest = seconds(c.Movement.Dose.RestSeconds)
	}
	cfg.Rest = max(cfg.Rest, 0)
	switch {
	case cfg.Sets < 1 || cfg.Sets > 100:
		return nil, fmt.Errorf("coach: %d sets make no sense; give 1 to 100", cfg.Sets)
	case cfg.Rest > time.Hour:
		return nil, fmt.Errorf("coach: a rest of %v makes no sense; at most an hour", cfg.Rest)
	case cfg.CleanBefore < 0:
		return nil, errors.New("coach: fewer than no clean sets came before")
	}
	cfg.Coach.Repetitions = c.Repetitions
	p := &Practice{cfg: cfg, state: Ready}
	p.make = func() (judge, error) { return New(cfg.Coach) }
	if c.Movement.Hands == 2 {
		p.make = func() (judge, error) { return NewPair(cfg.pair()) }
	}
	// Whatever is wrong comes to light now, not at the first set.
	if p.judge, err = p.make(); err != nil {
		return nil, err
	}
	return p, nil
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// Status returns where the practice stands after the last input.
func (p *Practice) Status() PracticeStatus {
	st := PracticeStatus{State: p.state, Set: p.set, Sets: p.cfg.Sets, StopReason: p.reason, MayGoOn: p.mayGoOn}
	if p.state == Resting {
		st.RestLeft = max(p.until-p.at, 0)
	}
	p.judge.show(&st)
	return st
}

// unmeasured is true where the client has to say that a set is done.
func (p *Practice) unmeasured() bool { return p.cfg.Coach.Movement.Kind == exercise.Unmeasured }
