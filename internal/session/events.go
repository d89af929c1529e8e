package session

import (
	"fmt"
	"math"
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
	// that is not known is left out.
	Numbers map[string]float64 `cbor:"numbers,omitempty"`
	Words   map[string]string  `cbor:"words,omitempty"`
}

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
	Unknown           Kind = "unknown"
)

// Flatten turns a coach's event into a record; by is added to every time that
// the event speaks of.
func Flatten(e coach.Event, by time.Duration) Event {
	f := flattener{by: by, e: Event{At: e.When() + by}}
	switch e := e.(type) {
	case coach.PhaseChanged:
		f.e.Kind = PhaseChanged
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
		f.number("wanted_s", e.Wanted.Seconds())
	case coach.HoldMet:
		f.e.Kind = HoldMet
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
		f.joints(e.Joints, e.Extension)
		f.word("why", string(e.Why))
	case coach.CanJudge:
		f.e.Kind = CanJudge
		f.joints(e.Joints, e.Extension)
	case coach.Paused:
		f.e.Kind = Paused
		f.word("why", string(e.Why))
	case coach.Resumed:
		f.e.Kind = Resumed
		f.number("away_s", e.Away.Seconds())
	case coach.Cue:
		f.e.Kind = Cue
		f.word("text", e.Text)
		if e.Urgent {
			f.word("urgent", "yes")
		}
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

func (f *flattener) word(name, v string) {
	if v == "" {
		return
	}
	if f.e.Words == nil {
		f.e.Words = map[string]string{}
	}
	f.e.Words[name] = v
}

func (f *flattener) joints(joints []hand.Joint, extension bool) {
	names := ""
	for i, j := range joints {
		if i > 0 {
			names += " "
		}
		names += j.String()
	}
	f.word("joints", names)
	if extension {
		f.word("extension", "yes")
	}
}

func (f *flattener) repetition(r coach.Repetition) {
	f.e.Repetition = r.Number
	f.word("verdict", string(r.Verdict))
	f.time("start_s", r.Start)
	f.time("end_s", r.End)
	f.number("share", r.Share)
	for i, finger := range hand.Fingers {
		f.number(finger.String()+"_share", r.Fingers[i])
	}
	f.number("approach_s", r.Approach.Seconds())
	f.number("return_s", r.Return.Seconds())
}

func (f *flattener) hold(h coach.Hold) {
	f.e.Repetition = h.Repetition
	f.time("start_s", h.Start)
	f.time("end_s", h.End)
	f.number("held_s", h.Held.Seconds())
	f.number("wanted_s", h.Wanted.Seconds())
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
