package session

import (
	"fmt"
	"math"
	"strings"
	"time"

	"volar/internal/coach"
	"volar/internal/hand"
)

// Event is something that the coach noticed, flattened so that a later program
// may add kinds and fields that an earlier one carries along unread.
type Event struct {
	At time.Duration `cbor:"at"`
	// Exercise is the number of the exercise; 0 is outside of any.
	Exercise int  `cbor:"exercise"`
	Kind     Kind `cbor:"kind"`
	// Subject is the joint or finger, such as "index.pip"; may be empty.
	Subject string `cbor:"subject,omitempty"`
	// Repetition is the attempt, from 1; 0 where it belongs to none.
	Repetition int `cbor:"repetition,omitempty"`
	// Flag numbers the session's flags from 1, on events that raise or end one.
	Flag int `cbor:"flag,omitempty"`
	// Numbers and Words are what else the event says. Times are in seconds
	// since the session began and end in "_s", angles end in "_deg". A number
	// that is not known is left out. What one hand did, and what was seen of it,
	// has that hand as "side".
	Numbers map[string]float64 `cbor:"numbers,omitempty"`
	Words   map[string]string  `cbor:"words,omitempty"`
}

// Side is the hand that the event speaks of: unknown for one of the exercise as a
// whole, and for one from before that was kept.
func (e *Event) Side() hand.Side { return sideOf(e.Words["side"]) }

// Kind names what an event is.
type Kind string

// The kinds of event. Unknown is one that this package does not know by name;
// its type stands in Words.
const (
	PhaseChanged      Kind = "phase"
	RepetitionCounted Kind = "repetition"
	RepetitionPartial Kind = "partial"
	SetCompleted      Kind = "set-completed"
	HoldStarted       Kind = "hold-started"
	HoldMet           Kind = "hold-met"
	HoldEnded         Kind = "hold-ended"
	FlagRaised        Kind = "flag-raised"
	FlagEnded         Kind = "flag-ended"
	CannotJudge       Kind = "cannot-judge"
	CanJudge          Kind = "can-judge"
	Paused            Kind = "paused"
	Resumed           Kind = "resumed"
	Cue               Kind = "cue"
	StepReached       Kind = "step"
	PairCounted       Kind = "pair-repetition"
	SetStarted        Kind = "set-started"
	SetDone           Kind = "set-done"
	RestStarted       Kind = "rest-started"
	RestEnded         Kind = "rest-ended"
	PracticePaused    Kind = "practice-paused"
	PracticeResumed   Kind = "practice-resumed"
	StoppedForPain    Kind = "stopped-for-pain"
	PracticeDone      Kind = "practice-done"
	GradeHint         Kind = "grade-hint"
	Unknown           Kind = "unknown"
)

// Flatten turns a coach's event into a record; by is added to every time that
// the event speaks of.
func Flatten(e coach.Event, by time.Duration) Event {
	f := flattener{by: by, e: Event{At: e.When() + by}}
	switch e := e.(type) {
	case coach.PhaseChanged:
		f.e.Kind = PhaseChanged
		f.side(e.Side)
		f.word("from", string(e.From))
		f.word("to", string(e.To))
	case coach.RepetitionCounted:
		f.e.Kind = RepetitionCounted
		f.repetition(e.Repetition)
	case coach.RepetitionPartial:
		f.e.Kind = RepetitionPartial
		f.repetition(e.Repetition)
	case coach.SetCompleted:
		f.e.Kind = SetCompleted
		f.number("counted", float64(e.Counted))
	case coach.HoldStarted:
		f.e.Kind = HoldStarted
		f.side(e.Side)
		f.number("wanted_s", e.Wanted.Seconds())
	case coach.HoldMet:
		f.e.Kind = HoldMet
		f.side(e.Side)
	case coach.HoldEnded:
		f.e.Kind = HoldEnded
		f.hold(e.Hold)
	case coach.FlagRaised:
		f.e.Kind = FlagRaised
		f.flag(e.Flag)
	case coach.FlagEnded:
		f.e.Kind = FlagEnded
		f.flag(e.Flag)
		f.time("end_s", e.Flag.End)
	case coach.CannotJudge:
		f.e.Kind = CannotJudge
		f.side(e.Side)
		f.joints(e.Joints, e.Channels, e.Extension)
		f.word("why", string(e.Why))
	case coach.CanJudge:
		f.e.Kind = CanJudge
		f.side(e.Side)
		f.joints(e.Joints, e.Channels, e.Extension)
	case coach.Paused:
		f.e.Kind = Paused
		f.side(e.Side)
		f.word("why", string(e.Why))
	case coach.Resumed:
		f.e.Kind = Resumed
		f.side(e.Side)
		f.number("away_s", e.Away.Seconds())
	case coach.Cue:
		f.e.Kind = Cue
		f.word("text", e.Text)
		f.yes("urgent", e.Urgent)
		f.yes("praise", e.Praise)
	case coach.StepReached:
		f.e.Kind, f.e.Repetition = StepReached, e.Repetition
		f.side(e.Side)
		f.number("step", float64(e.Step))
		f.word("name", e.Name)
	case coach.PairCounted:
		f.e.Kind, f.e.Repetition = PairCounted, e.Repetition.Number
		f.time("start_s", e.Repetition.Start)
		f.time("end_s", e.Repetition.End)
		f.number("left", float64(e.Repetition.Left))
		f.number("right", float64(e.Repetition.Right))
	case coach.SetStarted:
		f.e.Kind = SetStarted
		f.number("set", float64(e.Set))
		f.number("sets", float64(e.Sets))
	case coach.SetDone:
		f.e.Kind = SetDone
		f.set(&e.Summary)
	case coach.RestStarted:
		f.e.Kind = RestStarted
		f.number("for_s", e.For.Seconds())
	case coach.RestEnded:
		f.e.Kind = RestEnded
	case coach.PracticePaused:
		f.e.Kind = PracticePaused
	case coach.PracticeResumed:
		f.e.Kind = PracticeResumed
		f.number("away_s", e.Away.Seconds())
	case coach.StoppedForPain:
		f.e.Kind = StoppedForPain
		f.word("reason", string(e.Reason))
	case coach.PracticeDone:
		f.e.Kind = PracticeDone
	case coach.GradeHint:
		f.e.Kind = GradeHint
		f.number("clean", float64(e.Clean))
		f.word("text", e.Text)
	default:
		f.e.Kind = Unknown
		f.word("type", fmt.Sprintf("%T", e))
	}
	return f.e
}

// flattener fills in an event.
type flattener struct {
	by time.Duration
	e  Event
}

func (f *flattener) number(name string, v float64) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return
	}
	if f.e.Numbers == nil {
		f.e.Numbers = map[string]float64{}
	}
	f.e.Numbers[name] = v
}

func (f *flattener) time(name string, t time.Duration) { f.number(name, (t + f.by).Seconds()) }

// maxWord is how much of one text an event keeps, in bytes.
const maxWord = 1000

func (f *flattener) word(name, v string) {
	if v == "" {
		return
	}
	if f.e.Words == nil {
		f.e.Words = map[string]string{}
	}
	f.e.Words[name] = strings.ToValidUTF8(v[:min(len(v), maxWord)], "\uFFFD")
}

func (f *flattener) yes(name string, v bool) {
	if v {
		f.word(name, "yes")
	}
}

// side names the hand; one that is not known is left out.
func (f *flattener) side(s hand.Side) {
	if s != hand.UnknownSide {
		f.word("side", s.String())
	}
}

func (f *flattener) joints(joints []hand.Joint, channels []hand.Channel, extension bool) {
	var names []string
	for _, j := range joints {
		names = append(names, j.String())
	}
	f.word("joints", strings.Join(names, " "))
	names = nil
	for _, c := range channels {
		names = append(names, c.String())
	}
	f.word("channels", strings.Join(names, " "))
	f.yes("extension", extension)
}

// set keeps the counts of a set; its repetitions, holds and flags have events
// of their own.
func (f *flattener) set(s *coach.SetSummary) {
	f.number("set", float64(s.Number))
	f.time("start_s", s.Start)
	f.time("end_s", s.End)
	f.number("counted", float64(s.Counted))
	f.number("partial", float64(s.Partial))
	f.number("unjudged", float64(s.Unjudged))
	f.number("measured", s.Measured)
	if s.Other != nil {
		f.number("other_counted", float64(s.Other.Counted))
		f.number("other_partial", float64(s.Other.Partial))
		f.number("other_unjudged", float64(s.Other.Unjudged))
	}
	if s.Pair != nil {
		f.number("pair_counted", float64(s.Pair.Counted))
	}
	f.yes("complete", s.Complete)
	f.yes("skipped", s.Skipped)
	f.yes("hurt", s.Hurt)
	f.yes("by_client", s.ByClient)
}

func (f *flattener) repetition(r coach.Repetition) {
	f.e.Repetition = r.Number
	f.side(r.Side)
	f.word("verdict", string(r.Verdict))
	f.time("start_s", r.Start)
	f.time("end_s", r.End)
	f.number("share", r.Share)
	for i, finger := range hand.Fingers {
		f.number(finger.String()+"_share", r.Fingers[i])
	}
	f.word("missing", strings.Join(r.Missing, ", "))
	f.number("approach_s", r.Approach.Seconds())
	f.number("return_s", r.Return.Seconds())
}

func (f *flattener) hold(h coach.Hold) {
	f.e.Repetition = h.Repetition
	f.side(h.Side)
	f.time("start_s", h.Start)
	f.time("end_s", h.End)
	f.number("held_s", h.Held.Seconds())
	f.number("wanted_s", h.Wanted.Seconds())
	f.word("step", h.Step)
	result := "short"
	switch {
	case h.Met:
		result = "met"
	case h.Unsure:
		result = "unsure"
	}
	f.word("result", result)
}

func (f *flattener) flag(g coach.Flag) {
	f.e.Subject, f.e.Repetition = g.Subject(), g.Repetition
	f.word("kind", string(g.Kind))
	f.word("say", g.Say)
	f.side(g.Side)
	f.time("start_s", g.Start)
	f.number("peak_deg", g.PeakDeg)
	f.number("limit_deg", g.LimitDeg)
	f.number("se_deg", g.SEDeg)
	f.number("took_s", g.Took.Seconds())
	f.number("wanted_s", g.Wanted.Seconds())
}

// flagOf reads back what flattener.flag wrote.
func flagOf(e *Event) Flag {
	at := func(name string) time.Duration { return seconds(e.Numbers[name]) }
	f := Flag{
		Number: e.Flag, Exercise: e.Exercise, Repetition: e.Repetition,
		Kind: e.Words["kind"], Subject: e.Subject, Say: e.Words["say"],
		Side:  e.Side(),
		Start: at("start_s"), PeakDeg: e.Numbers["peak_deg"], LimitDeg: e.Numbers["limit_deg"],
		SEDeg: e.Numbers["se_deg"], Took: at("took_s"), Wanted: at("wanted_s"),
	}
	if e.Kind == FlagEnded {
		f.Ended, f.End = true, at("end_s")
	}
	return f
}

// seconds is a time in seconds, to the microsecond, within the limits.
func seconds(v float64) time.Duration {
	v = max(-maxTime.Seconds(), min(maxTime.Seconds(), v))
	return time.Duration(math.Round(v*1e6)) * time.Microsecond
}

// sideOf reads a side; what is not one is not known.
func sideOf(s string) hand.Side {
	side, err := hand.ParseSide(s)
	if err != nil {
		return hand.UnknownSide
	}
	return side
}
