package review

import (
	"math"
	"time"

	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/session"
)

// SpanKind is what a stretch of an exercise was.
type SpanKind string

// The kinds of stretch.
const (
	Repetition SpanKind = "repetition"
	FellShort  SpanKind = "fell short"
	NotJudged  SpanKind = "not judged"
	HoldMet    SpanKind = "hold"
	HoldShort  SpanKind = "short hold"
	HoldUnsure SpanKind = "hold, not sure"
)

// Span is a stretch of an exercise.
type Span struct {
	Kind       SpanKind
	Exercise   int
	Number     int
	Start, End time.Duration
}

// Spans lists the repetitions and holds that the events tell of, in the order
// in which they came to an end.
func Spans(s *session.Session) []Span {
	var all []Span
	for i := range s.Events {
		e := &s.Events[i]
		x := Span{Exercise: e.Exercise, Number: e.Repetition}
		switch e.Kind {
		case session.RepetitionCounted:
			x.Kind = Repetition
		case session.RepetitionPartial:
			x.Kind = FellShort
		case session.HoldEnded:
			x.Kind = map[string]SpanKind{"met": HoldMet, "unsure": HoldUnsure}[e.Words["result"]]
			if x.Kind == "" {
				x.Kind = HoldShort
			}
		default:
			continue
		}
		if coach.Verdict(e.Words["verdict"]) == coach.Unjudged {
			x.Kind = NotJudged
		}
		from, ok := e.Numbers["start_s"]
		to, ok2 := e.Numbers["end_s"]
		if !ok || !ok2 || to < from {
			continue
		}
		x.Start, x.End = inSession(from, s.Ended), inSession(to, s.Ended)
		all = append(all, x)
	}
	return all
}

// inSession turns seconds into a time within the session.
func inSession(seconds float64, end time.Duration) time.Duration {
	return max(0, min(time.Duration(math.Round(seconds*1e6))*time.Microsecond, end))
}

// LimitsOf are the limits of a hand that held in an exercise of a session: those
// of the version that was followed, on the client's day. An unknown side is the
// exercise's. Without that version the limits are not known, and ok is false.
func LimitsOf(h *program.History, s *session.Session, e *session.Exercise, side hand.Side) (l coach.Limits, ok bool) {
	if h == nil || e == nil {
		return l, false
	}
	loc, err := program.ParseZone(s.Zone)
	if err != nil {
		loc = time.UTC
	}
	for _, p := range h.Versions() {
		if p.Version != s.Version {
			continue
		}
		r := p.At(s.Started, loc)
		for i := range r.Exercises {
			if x := &r.Exercises[i]; x.ID == e.Item {
				if side != hand.UnknownSide && side == x.Side.Other() {
					return x.OtherLimits, true
				}
				return x.Limits, true
			}
		}
	}
	return l, false
}
