package session

import (
	"slices"
	"time"

	"volar/internal/coach"
	"volar/internal/hand"
)

// State is what became of a session.
type State string

// The states. A session is Open while it is recorded; one that is found open
// when nobody records it was Interrupted, and can be continued.
const (
	Open        State = "open"
	Closed      State = "closed"
	Interrupted State = "interrupted"
)

// Header is what is known of a session when it begins.
type Header struct {
	ID ID
	// Client is the client's code, never a name.
	Client string
	// Program and Version say which prescription was followed; both are empty
	// for an exercise that was tried without one.
	Program string
	Version int
	// Started is the wall clock in UTC, Zone the name of the time zone.
	Started time.Time
	Zone    string
	// Pictures is true where client and therapist both agreed that pictures
	// are kept.
	Pictures bool
	// Software is the program's own version.
	Software string
}

// Session is all that happened.
type Session struct {
	Header
	State State
	// Ended is the time of the last thing recorded.
	Ended     time.Duration
	Segments  []Segment
	Exercises []Exercise
	// Samples, Events and Answers are in the order of their times.
	Samples  []Sample
	Events   []Event
	Answers  []Answer
	Pictures []Picture
}

// Segment is one uninterrupted stretch of recording.
type Segment struct {
	// Start is where the stretch begins in the session's time, and Clock the
	// wall clock in UTC at that moment.
	Start time.Duration `cbor:"start"`
	Clock time.Time     `cbor:"clock"`
}

// Sample is one measurement with the points it was read from.
type Sample struct {
	hand.Sample
	// Points are shares of the picture's width and height; meaningful only if
	// Found.
	Points [hand.NumPoints][2]float64
}

// Outcome is what became of an exercise.
type Outcome string

// The outcomes. Running is an exercise that began and was not finished, as in
// a session that was interrupted.
const (
	Running Outcome = "running"
	Done    Outcome = "done"
	Stopped Outcome = "stopped"
	Skipped Outcome = "skipped"
)

// Exercise is one exercise as it was prescribed and done.
type Exercise struct {
	// Number counts the session's exercises from 1, in the order begun.
	Number int `cbor:"n"`
	// Item names the exercise within the program, Movement the movement in the
	// catalogue.
	Item     string    `cbor:"item,omitempty"`
	Movement string    `cbor:"movement"`
	Side     hand.Side `cbor:"side"`
	Object   string    `cbor:"object,omitempty"`
	Grade    string    `cbor:"grade,omitempty"`
	// Sets, Repetitions (in each set) and Hold are the prescribed dose.
	Sets        int           `cbor:"sets"`
	Repetitions int           `cbor:"repetitions"`
	Hold        time.Duration `cbor:"hold,omitempty"`

	Start   time.Duration `cbor:"start"`
	End     time.Duration `cbor:"end"`
	Outcome Outcome       `cbor:"outcome"`
	// StopReason says in words why it was stopped.
	StopReason string `cbor:"stop_reason,omitempty"`
	SetsDone   int    `cbor:"sets_done"`
	Counted    int    `cbor:"counted"`
	Partial    int    `cbor:"partial"`
	Unjudged   int    `cbor:"unjudged"`
	// Measured is the share of the time in which the movement could be
	// followed, 0 to 1.
	Measured float64 `cbor:"measured"`
	// PainBefore and PainAfter are 0 to 10, Effort 0 to 10; nil is no answer.
	PainBefore *int `cbor:"pain_before,omitempty"`
	PainAfter  *int `cbor:"pain_after,omitempty"`
	Effort     *int `cbor:"effort,omitempty"`
	// Sharp is true where the client reported sharp or shooting pain.
	Sharp bool `cbor:"sharp,omitempty"`
	// GradeHint is what the coach suggests to the therapist, if anything.
	GradeHint string      `cbor:"grade_hint,omitempty"`
	Ranges    []Range     `cbor:"ranges,omitempty"`
	NotJudged []NotJudged `cbor:"not_judged,omitempty"`
}

// Range is the range in which a joint was seen, in degrees. MinJudged is false
// where the view did not show whether the joint passed straight.
type Range struct {
	Joint hand.Joint `cbor:"joint"`
	// Side is the hand, where two were judged; else it is not known, and the
	// joint is of the hand that the exercise is for.
	Side      hand.Side `cbor:"side,omitempty"`
	MinDeg    float64   `cbor:"min_deg"`
	MaxDeg    float64   `cbor:"max_deg"`
	MinJudged bool      `cbor:"min_judged"`
}

// Join is the range over both, which are of one joint of one hand.
func (r Range) Join(o Range) Range {
	r.MaxDeg = max(r.MaxDeg, o.MaxDeg)
	r.MinDeg, r.MinJudged = coach.Least(r.MinDeg, r.MinJudged, o.MinDeg, o.MinJudged)
	return r
}

// NotJudged says for what share of the time a joint could not be judged; Side is
// as in Range.
type NotJudged struct {
	Joint     hand.Joint  `cbor:"joint"`
	Side      hand.Side   `cbor:"side,omitempty"`
	Extension bool        `cbor:"extension,omitempty"`
	Share     float64     `cbor:"share"`
	Why       hand.Reason `cbor:"why"`
}

// TwoHands is true where two hands were judged, each for itself. In recordings
// from before that was kept by hand it is false for such exercises too: their
// ranges are those of both together.
func (e *Exercise) TwoHands() bool {
	return slices.ContainsFunc(e.Ranges, func(r Range) bool { return r.Side != hand.UnknownSide }) ||
		slices.ContainsFunc(e.NotJudged, func(n NotJudged) bool { return n.Side != hand.UnknownSide })
}

// Prescribed is how many repetitions the dose asks for.
func (e *Exercise) Prescribed() int { return e.Sets * e.Repetitions }

// AnswerKind says what the client answered or did.
type AnswerKind string

// The kinds of answer. Hurt is the "it hurts" control.
const (
	PainBefore AnswerKind = "pain-before"
	PainAfter  AnswerKind = "pain-after"
	Effort     AnswerKind = "effort"
	Hurt       AnswerKind = "hurt"
	SharpPain  AnswerKind = "sharp-pain"
	Note       AnswerKind = "note"
)

// Answer is what the client said.
type Answer struct {
	At       time.Duration `cbor:"at"`
	Exercise int           `cbor:"exercise"`
	Kind     AnswerKind    `cbor:"kind"`
	// Value is nil for an answer that is not a number.
	Value *int   `cbor:"value,omitempty"`
	Text  string `cbor:"text,omitempty"`
}

// Picture is a small picture of the hand, kept around a flagged moment.
type Picture struct {
	Number   int           `cbor:"n"`
	At       time.Duration `cbor:"at"`
	Exercise int           `cbor:"exercise"`
	// Flag is the number of the flag that it was kept for; 0 for none.
	Flag   int `cbor:"flag"`
	Width  int `cbor:"width"`
	Height int `cbor:"height"`
	// Left, Top, Right and Bottom are the part of the camera's picture that it
	// shows, as shares of width and height, so that the points can be drawn in.
	Left   float64 `cbor:"left"`
	Top    float64 `cbor:"top"`
	Right  float64 `cbor:"right"`
	Bottom float64 `cbor:"bottom"`
	JPEG   []byte  `cbor:"jpeg"`
}

// Flag is one fault as the events tell it.
type Flag struct {
	// Number counts the session's flags from 1; reviews speak of it.
	Number, Exercise, Repetition int
	// Kind is the coach's kind of flag, Subject the joint or finger; empty for
	// the movement as a whole.
	Kind, Subject string
	// Side is the hand that it was seen on.
	Side       hand.Side
	Start, End time.Duration
	// Ended is false for a flag that was never seen to end.
	Ended bool
	// PeakDeg, LimitDeg and SEDeg are the worst reading, the limit that it
	// passed and the reading's standard error; for a fault of timing the times
	// took and wanted stand in Numbers of its events.
	PeakDeg, LimitDeg, SEDeg float64
	Took, Wanted             time.Duration
	Say                      string
}

// Flags gathers the flags of the events, by number.
func Flags(events []Event) []Flag {
	var flags []Flag
	at := map[int]int{}
	for i := range events {
		e := &events[i]
		if e.Flag == 0 || e.Kind != FlagRaised && e.Kind != FlagEnded {
			continue
		}
		k, ok := at[e.Flag]
		if !ok {
			k = len(flags)
			at[e.Flag] = k
			flags = append(flags, Flag{})
		}
		flags[k] = flagOf(e)
	}
	return flags
}

// Batch is what happened in about a second: what a Sink keeps in one commit.
type Batch struct {
	// Seq counts the batches of a session from 1.
	Seq int
	// Segments has the stretch that begins with this batch, if one does.
	Segments []Segment
	// Exercises are those that began or changed, each as it stands now.
	Exercises []Exercise
	Samples   []Sample
	Events    []Event
	Answers   []Answer
	Pictures  []Picture
}

// Empty is true where nothing happened.
func (b *Batch) Empty() bool {
	return len(b.Segments)+len(b.Exercises)+len(b.Samples)+len(b.Events)+len(b.Answers)+len(b.Pictures) == 0
}

// Last is the latest time that the batch speaks of.
func (b *Batch) Last() time.Duration {
	var last time.Duration
	for _, s := range b.Segments {
		last = max(last, s.Start)
	}
	for i := range b.Exercises {
		last = max(last, b.Exercises[i].Start, b.Exercises[i].End)
	}
	for i := range b.Samples {
		last = max(last, b.Samples[i].Time)
	}
	for i := range b.Events {
		last = max(last, b.Events[i].At)
	}
	for _, a := range b.Answers {
		last = max(last, a.At)
	}
	return last
}

// Add puts a batch at the end of the session.
func (s *Session) Add(b *Batch) {
	s.Segments = append(s.Segments, b.Segments...)
	for _, e := range b.Exercises {
		found := false
		for i := range s.Exercises {
			if s.Exercises[i].Number == e.Number {
				s.Exercises[i], found = e, true
			}
		}
		if !found {
			s.Exercises = append(s.Exercises, e)
		}
	}
	s.Samples = append(s.Samples, b.Samples...)
	s.Events = append(s.Events, b.Events...)
	s.Answers = append(s.Answers, b.Answers...)
	s.Pictures = append(s.Pictures, b.Pictures...)
	s.Ended = max(s.Ended, b.Last())
}

// Batches cuts the session into batches that each span at most a second of
// samples; together they hold all of it.
func (s *Session) Batches() []Batch {
	const span = time.Second
	first := Batch{Seq: 1, Segments: s.Segments, Exercises: s.Exercises}
	var batches []Batch
	samples, events, answers, pictures := s.Samples, s.Events, s.Answers, s.Pictures
	b := first
	for end := span; ; end += span {
		b.Samples, samples = before(samples, maxPerBatch, end, func(x *Sample) time.Duration { return x.Time })
		b.Events, events = before(events, maxPerBatch, end, func(x *Event) time.Duration { return x.At })
		b.Answers, answers = before(answers, maxPerBatch, end, func(x *Answer) time.Duration { return x.At })
		b.Pictures, pictures = before(pictures, piecePictures, end, func(x *Picture) time.Duration { return x.At })
		if !b.Empty() {
			batches = append(batches, b)
		}
		b = Batch{Seq: len(batches) + 1}
		if len(samples)+len(events)+len(answers)+len(pictures) == 0 {
			return batches
		}
		// A long pause makes no long list of empty batches.
		next := time.Duration(1<<63 - 1)
		if len(samples) > 0 {
			next = min(next, samples[0].Time)
		}
		if len(events) > 0 {
			next = min(next, events[0].At)
		}
		if len(answers) > 0 {
			next = min(next, answers[0].At)
		}
		if len(pictures) > 0 {
			next = min(next, pictures[0].At)
		}
		end = max(end, next/span*span)
	}
}

// before splits a list, in its own order, where the first element reaches end
// or the most that a batch takes is taken.
func before[T any](all []T, most int, end time.Duration, at func(*T) time.Duration) (head, tail []T) {
	n := 0
	for n < len(all) && n < most && at(&all[n]) < end {
		n++
	}
	if n == 0 {
		return nil, all
	}
	return all[:n], all[n:]
}
