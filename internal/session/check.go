package session

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"volar/internal/hand"
)

// check holds a batch to what an honest one can say. What does not pass is
// neither written nor read.
func (b *Batch) check() error {
	bad := func(format string, a ...any) error {
		return fmt.Errorf("%w: batch %d: "+format, append([]any{ErrMalformed, b.Seq}, a...)...)
	}
	inTime := func(t time.Duration) bool { return t >= 0 && t <= maxTime }
	if b.Seq < 1 {
		return bad("number")
	}
	for _, n := range []int{len(b.Segments), len(b.Exercises), len(b.Events), len(b.Answers), len(b.Pictures)} {
		if n > maxPerBatch {
			return bad("%d things at once", n)
		}
	}
	for _, s := range b.Segments {
		if !inTime(s.Start) {
			return bad("segment at %v", s.Start)
		}
	}
	for i := range b.Exercises {
		e := &b.Exercises[i]
		switch {
		case e.Number < 1 || e.Number > maxExercise:
			return bad("exercise number %d", e.Number)
		case !inTime(e.Start) || !inTime(e.End):
			return bad("exercise %d: time", e.Number)
		case !isSide(e.Side):
			return bad("exercise %d: side", e.Number)
		case !slices.Contains([]Outcome{Running, Done, Stopped, Skipped}, e.Outcome):
			return bad("exercise %d: outcome", e.Number)
		case len(e.Item)+len(e.Movement)+len(e.Object)+len(e.Grade)+len(e.StopReason)+len(e.GradeHint) > maxText:
			return bad("exercise %d: text too long", e.Number)
		case e.Sets < 0 || e.Sets > 1e4 || e.Repetitions < 0 || e.Repetitions > 1e4 || e.SetsDone < 0 ||
			e.Counted < 0 || e.Partial < 0 || e.Unjudged < 0 || e.Hold < 0 || e.Hold > maxTime:
			return bad("exercise %d: dose or count", e.Number)
		case !score(e.PainBefore) || !score(e.PainAfter) || !score(e.Effort):
			return bad("exercise %d: a score is not 0 to 10", e.Number)
		}
		for _, r := range e.Ranges {
			if r.Joint < 0 || r.Joint >= hand.NumJoints || !isSide(r.Side) {
				return bad("exercise %d: joint %d of side %d", e.Number, int(r.Joint), int(r.Side))
			}
		}
		for _, n := range e.NotJudged {
			if n.Joint < 0 || n.Joint >= hand.NumJoints || !isSide(n.Side) || len(n.Why) > 64 {
				return bad("exercise %d: joint %d of side %d", e.Number, int(n.Joint), int(n.Side))
			}
		}
	}
	for i := range b.Events {
		e := &b.Events[i]
		text := len(e.Kind) + len(e.Subject)
		for k, w := range e.Words {
			text += len(k) + len(w)
		}
		for k := range e.Numbers {
			text += len(k)
		}
		if !inTime(e.At) || e.Exercise < 0 || e.Exercise > maxExercise || e.Repetition < 0 ||
			e.Flag < 0 || e.Flag > maxEvents || text > maxText {
			return bad("event %d", i+1)
		}
	}
	for i := range b.Answers {
		a := &b.Answers[i]
		if !inTime(a.At) || a.Exercise < 0 || a.Exercise > maxExercise || len(a.Kind) > 64 || len(a.Text) > maxText || !score(a.Value) {
			return bad("answer %d", i+1)
		}
	}
	for i := range b.Pictures {
		p := &b.Pictures[i]
		if !inTime(p.At) || p.Number < 1 || p.Exercise < 0 || p.Exercise > maxExercise || p.Flag < 0 ||
			p.Width < 1 || p.Width > 4096 || p.Height < 1 || p.Height > 4096 || len(p.JPEG) > maxJPEG {
			return bad("picture %d", i+1)
		}
	}
	return nil
}

// valid makes an exercise fit to be recorded: what is not a number becomes 0
// and what is no text loses those bytes. What an honest caller cannot mean is
// an error.
func (e *Exercise) valid() error {
	for _, t := range []*string{&e.Item, &e.Movement, &e.Object, &e.Grade, &e.StopReason, &e.GradeHint} {
		*t = strings.ToValidUTF8(*t, "\uFFFD")
	}
	e.Measured = finite(e.Measured)
	for i := range e.Ranges {
		e.Ranges[i].MinDeg, e.Ranges[i].MaxDeg = finite(e.Ranges[i].MinDeg), finite(e.Ranges[i].MaxDeg)
	}
	for i := range e.NotJudged {
		e.NotJudged[i].Share = finite(e.NotJudged[i].Share)
	}
	b := Batch{Seq: 1, Exercises: []Exercise{*e}}
	return b.check()
}

func finite(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}

func isSide(s hand.Side) bool { return s >= hand.UnknownSide && s <= hand.Right }

// score is true for no answer and for one from 0 to 10.
func score(v *int) bool { return v == nil || *v >= 0 && *v <= 10 }

// sorted is the session with its lists in order of time.
func (s *Session) sorted() *Session {
	c := *s
	c.Samples = slices.Clone(s.Samples)
	slices.SortStableFunc(c.Samples, func(a, b Sample) int {
		if a.Time != b.Time {
			return int(max(-1, min(1, a.Time-b.Time)))
		}
		return int(a.Side - b.Side)
	})
	byTime := func(a, b time.Duration) int { return int(max(-1, min(1, a-b))) }
	c.Events = slices.Clone(s.Events)
	slices.SortStableFunc(c.Events, func(a, b Event) int { return byTime(a.At, b.At) })
	c.Answers = slices.Clone(s.Answers)
	slices.SortStableFunc(c.Answers, func(a, b Answer) int { return byTime(a.At, b.At) })
	c.Pictures = slices.Clone(s.Pictures)
	slices.SortStableFunc(c.Pictures, func(a, b Picture) int { return byTime(a.At, b.At) })
	return &c
}
