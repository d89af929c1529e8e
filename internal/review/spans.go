package review

import (
	"fmt"
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
	Kind     SpanKind
	Exercise int
	Number   int
	// Side is the hand that did it; unknown in recordings from before that was
	// kept.
	Side       hand.Side
	Start, End time.Duration
}

// Of is true for a stretch of a hand; an unknown side is any.
func (x *Span) Of(side hand.Side) bool { return sameHand(x.Side, side) }

// Did is what one of two hands did in an exercise.
type Did struct {
	Side hand.Side
	// Counted, FellShort and NotJudged are its own repetitions: one of both
	// together takes one of each.
	Counted, FellShort, NotJudged int
	// Held holds were long enough, of Holds in all.
	Held, Holds int
}

// ByHand says what each hand did in an exercise of two, the exercise's own hand
// first; nil for an exercise of one hand, and where the recording does not say.
func ByHand(e *session.Exercise, spans []Span) []Did {
	if e.Side == hand.UnknownSide {
		return nil
	}
	did := []Did{{Side: e.Side}, {Side: e.Side.Other()}}
	two := e.TwoHands()
	for i := range spans {
		x := &spans[i]
		if x.Exercise != e.Number || x.Side == hand.UnknownSide {
			continue
		}
		d := &did[0]
		if x.Side != e.Side {
			d, two = &did[1], true
		}
		switch x.Kind {
		case Repetition:
			d.Counted++
		case FellShort:
			d.FellShort++
		case NotJudged:
			d.NotJudged++
		case HoldMet:
			d.Held++
			d.Holds++
		case HoldShort, HoldUnsure:
			d.Holds++
		}
	}
	if !two || did[0] == (Did{Side: e.Side}) && did[1] == (Did{Side: e.Side.Other()}) {
		return nil
	}
	return did
}

// Add is what the same hand did in two exercises together.
func (d Did) Add(o Did) Did {
	d.Counted += o.Counted
	d.FellShort += o.FellShort
	d.NotJudged += o.NotJudged
	d.Held += o.Held
	d.Holds += o.Holds
	return d
}

// Words say what the hand did, such as "4 repetitions, 1 fell short, 3 of 4 holds
// kept".
func (d Did) Words() string {
	w := fmt.Sprintf("%d repetitions", d.Counted)
	if d.Counted == 1 {
		w = "1 repetition"
	}
	if d.FellShort > 0 {
		w += fmt.Sprintf(", %d fell short", d.FellShort)
	}
	if d.NotJudged > 0 {
		w += fmt.Sprintf(", %d not judged", d.NotJudged)
	}
	if d.Holds > 0 {
		w += fmt.Sprintf(", %d of %d holds kept", d.Held, d.Holds)
	}
	return w
}

// Spans lists the repetitions and holds that the events tell of, in the order
// in which they came to an end.
func Spans(s *session.Session) []Span {
	var all []Span
	for i := range s.Events {
		e := &s.Events[i]
		x := Span{Exercise: e.Exercise, Number: e.Repetition, Side: e.Side()}
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
