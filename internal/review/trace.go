package review

import (
	"cmp"
	"math"
	"slices"
	"time"

	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/session"
)

// Point is one reading of a trace.
type Point struct {
	At time.Duration `json:"at_ns"`
	// Deg is the angle, SE its standard error.
	Deg float64 `json:"deg"`
	SE  float64 `json:"se_deg"`
	// Extension is true where the view also showed whether the joint was past
	// straight.
	Extension bool `json:"extension_judged"`
}

// Trace is the course of one joint's angle in one exercise.
type Trace struct {
	Joint hand.Joint
	// Runs are stretches without a gap; between them the joint could not be
	// judged, and a line must not be drawn across.
	Runs [][]Point
	// Limit is what was in force then.
	Limit coach.Limit
	// Judged is the share of the samples in which the joint was judged.
	Judged float64
}

// gap is the longest time between two readings that a line bridges: the coach
// bridges drop-outs of as much.
const gap = 300 * time.Millisecond

// TraceOf reads the course of a hand's joint out of a session; an unknown side
// is the exercise's. Limits are those that were in force on the day.
func TraceOf(s *session.Session, exercise int, side hand.Side, j hand.Joint, limits coach.Limits) Trace {
	t := Trace{Joint: j, Limit: limits[j]}
	from, to, own, ok := span(s, exercise)
	if !ok {
		return t
	}
	side = cmp.Or(side, own)
	var run []Point
	total, judged := 0, 0
	for i := range s.Samples {
		x := &s.Samples[i]
		if x.Time < from || x.Time > to || !ofSide(x, side) {
			continue
		}
		total++
		m := &x.Joints[j]
		if !x.Found || !m.Judged {
			continue
		}
		judged++
		p := Point{x.Time, m.FlexionDeg, m.SEDeg, m.ExtensionJudged}
		if n := len(run); n > 0 && p.At-run[n-1].At > gap {
			t.Runs = append(t.Runs, run)
			run = nil
		}
		run = append(run, p)
	}
	if len(run) > 0 {
		t.Runs = append(t.Runs, run)
	}
	if total > 0 {
		t.Judged = float64(judged) / float64(total)
	}
	return t
}

// span is the time of an exercise, and its hand; one that never ended reaches to
// the end.
func span(s *session.Session, number int) (from, to time.Duration, side hand.Side, ok bool) {
	for i := range s.Exercises {
		if e := &s.Exercises[i]; e.Number == number {
			if e.End <= e.Start {
				return e.Start, s.Ended, e.Side, true
			}
			return e.Start, e.End, e.Side, true
		}
	}
	return 0, 0, hand.UnknownSide, false
}

// Moment is a flag with what there is to see of it.
type Moment struct {
	session.Flag
	// From and To are the stretch to look at: the flag and a little around it.
	From, To time.Duration
	// Worst is when the joint read nearest to the flag's peak; its start for a
	// flag that is of no joint.
	Worst time.Duration
	// Pictures are the numbers of the kept pictures of it.
	Pictures []int
	// Judgement is the therapist's, empty where there is none.
	Judgement Judgement
}

// around is how much before and after a flag is shown.
const around = 2 * time.Second

// Moments lists the flags of a session in the order of their start, with the
// latest judgement of each.
func Moments(s *session.Session, reviews []Review) []Moment {
	judged := judgements(reviews)
	var list []Moment
	for _, f := range session.Flags(s.Events) {
		m := Moment{Flag: f, From: max(f.Start-around, 0), To: min(max(f.End, f.Start)+around, s.Ended), Worst: worst(s, &f), Judgement: judged[f.Number]}
		for i := range s.Pictures {
			if p := &s.Pictures[i]; p.Flag == f.Number {
				m.Pictures = append(m.Pictures, p.Number)
			}
		}
		list = append(list, m)
	}
	slices.SortStableFunc(list, func(a, b Moment) int { return int(a.Start - b.Start) })
	return list
}

// worst is the time of the reading nearest to a flag's peak.
func worst(s *session.Session, f *session.Flag) time.Duration {
	j, err := hand.ParseJoint(f.Subject)
	if err != nil {
		return f.Start
	}
	at, off := f.Start, math.Inf(1)
	for i := range s.Samples {
		x := &s.Samples[i]
		if x.Time < f.Start || x.Time > f.End || !x.Found || !x.Joints[j].Judged || !ofSide(x, f.Side) {
			continue
		}
		if d := math.Abs(x.Joints[j].FlexionDeg - f.PeakDeg); d < off {
			at, off = x.Time, d
		}
	}
	return at
}
