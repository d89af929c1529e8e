package report

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/review"
	"volar/internal/score"
	"volar/internal/session"
)

// Input is what a report is made of.
type Input struct {
	Client string
	Side   hand.Side
	// From and To are the first and last day.
	From, To program.Date
	// Made is when the report is made, and Zone the zone of its dates.
	Made time.Time
	Zone *time.Location
	// History is every version of the program; nil where there was none.
	History *program.History
	// Sessions of the client; those outside the days are left out.
	Sessions []*session.Session
	Reviews  map[session.ID][]review.Review
	// Baseline is the client's own range at the start, and BaselineOn when it
	// was taken; nil where none was.
	Baseline   map[hand.Joint]coach.Range
	BaselineOn program.Date
	// Note is what the therapist wrote for this report.
	Note review.Note
	// Style is how ranges are written; empty is score.NeutralZero.
	Style score.Style
	// Norms stand beside the ranges; nil is the set "aaos-1994".
	Norms *score.NormSet
	// Software names program and version.
	Software string
}

// Report is what is reported.
type Report struct {
	Input
	// Sessions within the days, oldest first.
	Sessions []*session.Session
	Summary  []review.Summary
	Doses    []Dose
	Adhered  review.Adherence
	// Hands of which the sessions have ranges, that of the report first.
	Hands    []hand.Side
	Ranges   []Range
	Flags    []Flag
	Unjudged []Unjudged
	Steady   []Steady
	Pain     []Pain
	HitRate  review.HitRate
	// Minutes is how long sessions of these days were looked at.
	Minutes float64
	// Changes of the program within the days, oldest first.
	Changes []VersionChange
}

// Dose is one exercise as prescribed on the last day, and what was done of it.
type Dose struct {
	Item, Movement, Object string
	View                   exercise.View
	Dose                   exercise.Dose
	Limits                 string
	// Prescribed and Done repetitions within the days.
	Prescribed float64
	Done       int
	Stopped    bool
	// Hands say what each hand did of an exercise of two; nil for others.
	Hands []review.Did
}

// Range is a joint's range: at the start of the days and at their end, each
// the median of a week, beside the baseline. Those of the report's own hand come
// first.
type Range struct {
	Joint hand.Joint
	Side  hand.Side
	// Weeks in which it was seen, of which First and Last are the ends.
	Weeks       []review.Week
	First, Last review.Week
	// Baseline is nil where there is none of this hand.
	Baseline *coach.Range
}

// Steady is a middle knuckle that read past straight whenever it was straight, in
// some of the sessions, so that nothing was flagged there.
type Steady struct {
	// Standing has the median over those sessions.
	review.Standing
	Sessions int
}

// Flag is one flag with where it happened.
type Flag struct {
	session.Flag
	Session   session.ID
	Day       program.Date
	Exercise  string
	Judgement review.Judgement
	// Picture is the first kept picture of it; nil where there is none.
	Picture *session.Picture
	// Pose is the hand as it was measured at the flag's worst, and HasPose
	// whether every joint was.
	Pose    hand.Pose
	HasPose bool
}

// Unjudged says how often a joint could not be judged, over the sessions whose
// exercises watch it.
type Unjudged struct {
	Joint     hand.Joint
	Side      hand.Side
	Extension bool
	// Share of the time, 0 to 1, and the most frequent reason.
	Share float64
	Why   hand.Reason
}

// Pain is the pain of one session.
type Pain struct {
	Day           program.Date
	Before, After *int
	Stopped       bool
}

// VersionChange is a new version of the program.
type VersionChange struct {
	Day     program.Date
	Version int
	Words   []string
}

// ErrNothing says that there is nothing to report.
var ErrNothing = errors.New("no session in these days")

// Gather computes a report.
func Gather(in Input) (*Report, error) {
	if in.Zone == nil {
		in.Zone = time.UTC
	}
	in.Style = cmp.Or(in.Style, score.NeutralZero)
	if in.Norms == nil {
		in.Norms, _ = score.FindNormSet("aaos-1994")
	}
	switch {
	case in.Client == "":
		return nil, errors.New("report: no client is named")
	case in.To.Before(in.From):
		return nil, fmt.Errorf("report: the last day, %s, comes before the first, %s", in.To, in.From)
	}
	r := &Report{Input: in}
	for _, s := range in.Sessions {
		if d := review.LocalDay(s.Started, s.Zone); s.Client == in.Client && !d.Before(in.From) && !in.To.Before(d) {
			r.Sessions = append(r.Sessions, s)
		}
	}
	if len(r.Sessions) == 0 {
		return nil, fmt.Errorf("client %s, %s to %s: %w", in.Client, in.From, in.To, ErrNothing)
	}
	slices.SortStableFunc(r.Sessions, func(a, b *session.Session) int { return a.Started.Compare(b.Started) })
	marks := map[session.ID][]review.Review{}
	for _, s := range r.Sessions {
		r.Summary = append(r.Summary, review.Summarize(s))
		reviews := in.Reviews[s.ID]
		marks[s.ID] = reviews
		for _, v := range reviews {
			r.Minutes += float64(v.Seconds) / 60
		}
		r.session(s, reviews)
	}
	r.HitRate = review.Rate(marks)
	r.doses()
	r.Hands = review.Hands(r.Sessions, r.Side)
	r.ranges()
	r.unjudged()
	r.steady()
	r.changes()
	return r, nil
}

// session adds one session's flags and pain.
func (r *Report) session(s *session.Session, reviews []review.Review) {
	day := review.LocalDay(s.Started, s.Zone)
	m := review.Summarize(s)
	r.Pain = append(r.Pain, Pain{day, m.PainBefore, m.PainAfter, m.Hurt})
	for _, moment := range review.Moments(s, reviews) {
		f := Flag{Flag: moment.Flag, Session: s.ID, Day: day, Judgement: moment.Judgement}
		for i := range s.Exercises {
			if s.Exercises[i].Number == moment.Flag.Exercise {
				f.Exercise = s.Exercises[i].Movement
			}
		}
		for i := range s.Pictures {
			if len(moment.Pictures) > 0 && s.Pictures[i].Number == moment.Pictures[0] {
				f.Picture = &s.Pictures[i]
			}
		}
		f.Pose, f.HasPose = poseAt(s, &moment)
		r.Flags = append(r.Flags, f)
	}
}

// poseAt is the measured hand at the worst moment of a flag on a joint.
func poseAt(s *session.Session, m *review.Moment) (hand.Pose, bool) {
	if _, err := hand.ParseJoint(m.Subject); err != nil {
		return hand.Pose{}, false
	}
	x := review.SampleAt(s, m.Worst, m.Side)
	if x == nil || !x.Found {
		return hand.Pose{}, false
	}
	p, _ := review.PoseOf(x)
	return p, true
}

// resolve gives the program in force on a day.
func (r *Report) resolve(d program.Date) (program.Resolved, bool) {
	if r.History == nil {
		return program.Resolved{}, false
	}
	// A change in the afternoon counts from the next day; a first program that
	// was written in the afternoon holds already.
	for _, hour := range []int{12, 24} {
		at := time.Date(d.Year, d.Month, d.Day, hour, 0, 0, -1, r.Zone)
		if q, ok := r.History.Resolve(at, r.Zone); ok && q.InForce {
			return q, true
		}
	}
	return program.Resolved{}, false
}

// doses compares dose and deed.
func (r *Report) doses() {
	done := review.DoneIn(r.Sessions)
	r.Adhered = review.Adhered(done, r.From, r.To, r.resolve)
	byItem := map[string]*Dose{}
	var order []string
	for d := r.From; !r.To.Before(d); d = d.AddDays(1) {
		q, ok := r.resolve(d)
		if !ok {
			continue
		}
		for i := range q.Exercises {
			e := &q.Exercises[i]
			x := byItem[e.ID]
			if x == nil {
				x = &Dose{Item: e.ID}
				byItem[e.ID] = x
				order = append(order, e.ID)
			}
			x.Movement, x.Object, x.View, x.Dose = e.Movement.Name, e.Object.Name, e.View, e.Dose
			x.Limits = bothLimits(e)
			x.Prescribed += float64(e.Dose.Sets*e.Dose.Repetitions*e.Dose.TimesADay*e.Dose.DaysAWeek) / 7
		}
	}
	for _, d := range done {
		x := byItem[d.Item]
		if x == nil {
			// Done without being prescribed: it is reported, with no dose.
			x = &Dose{Item: d.Item, Movement: d.Item}
			byItem[d.Item] = x
			order = append(order, d.Item)
		}
		x.Done += d.Repetitions
	}
	for _, s := range r.Sessions {
		spans := review.Spans(s)
		for i := range s.Exercises {
			e := &s.Exercises[i]
			x := byItem[cmp.Or(e.Item, e.Movement)]
			if x == nil {
				continue
			}
			x.Stopped = x.Stopped || e.Outcome == session.Stopped
			for _, d := range review.ByHand(e, spans) {
				x.did(d)
			}
		}
	}
	for _, id := range order {
		r.Doses = append(r.Doses, *byItem[id])
	}
}

// did adds what a hand did.
func (d *Dose) did(by review.Did) {
	for i := range d.Hands {
		if d.Hands[i].Side == by.Side {
			d.Hands[i] = d.Hands[i].Add(by)
			return
		}
	}
	d.Hands = append(d.Hands, by)
}

// bothLimits writes the limits of the hand that exercises, and those of the other
// hand where they differ.
func bothLimits(e *program.Prescribed) string {
	own, other := limitWords(e.Limits), limitWords(e.OtherLimits)
	if other == "" || other == own {
		return own
	}
	return strings.TrimPrefix(own+"; "+e.Side.Other().String()+" hand: "+other, "; ")
}

// limitWords writes limits joint by joint, alike ones together.
func limitWords(l coach.Limits) string {
	var parts []string
	byWords := map[string][]string{}
	var order []string
	for j := hand.Joint(0); j < hand.NumJoints; j++ {
		w := oneLimit(l[j])
		if w == "" {
			continue
		}
		if byWords[w] == nil {
			order = append(order, w)
		}
		byWords[w] = append(byWords[w], program.JointWords(j))
	}
	for _, w := range order {
		parts = append(parts, strings.Join(byWords[w], ", ")+": "+w)
	}
	return strings.Join(parts, "; ")
}

func oneLimit(l coach.Limit) string {
	var w []string
	switch {
	case l.Lower == nil:
	case *l.Lower == 0:
		w = append(w, "not past straight")
	case *l.Lower < 0:
		w = append(w, "not beyond "+program.AngleWords(*l.Lower))
	default:
		w = append(w, fmt.Sprintf("not straighter than %s short of straight", program.AngleWords(*l.Lower)))
	}
	if l.Upper != nil {
		w = append(w, "not bent beyond "+program.AngleWords(*l.Upper))
	}
	return strings.Join(w, ", ")
}

// ranges takes the first and the last week in which each joint of each hand was
// seen.
func (r *Report) ranges() {
	for _, side := range r.Hands {
		for j := hand.Joint(0); j < hand.NumJoints; j++ {
			weeks := review.Weekly(r.Sessions, side, j)
			if len(weeks) == 0 {
				continue
			}
			x := Range{Joint: j, Side: side, Weeks: weeks, First: weeks[0], Last: weeks[len(weeks)-1]}
			// A baseline is of the report's hand, or of the only one there is.
			if b, ok := r.Baseline[j]; ok && (side == r.Side || r.Side == hand.UnknownSide && len(r.Hands) == 1) {
				x.Baseline = &b
			}
			r.Ranges = append(r.Ranges, x)
		}
	}
}

// unjudged averages what could not be judged over the time of the sets, each hand
// over those in which it was to be judged.
func (r *Report) unjudged() {
	type key struct {
		j    hand.Joint
		side hand.Side
		ext  bool
	}
	lost, why := map[key]float64{}, map[key]map[hand.Reason]float64{}
	total := map[hand.Side]float64{}
	for _, s := range r.Sessions {
		for i := range s.Exercises {
			e := &s.Exercises[i]
			d := s.Watched(e).Seconds()
			if d <= 0 {
				continue
			}
			own := cmp.Or(e.Side, r.Hands[0])
			total[own] += d
			if e.TwoHands() {
				total[own.Other()] += d
			}
			for _, n := range e.NotJudged {
				k := key{n.Joint, cmp.Or(n.Side, own), n.Extension}
				lost[k] += n.Share * d
				if why[k] == nil {
					why[k] = map[hand.Reason]float64{}
				}
				why[k][n.Why] += n.Share * d
			}
		}
	}
	for k, t := range lost {
		u := Unjudged{Joint: k.j, Side: k.side, Extension: k.ext, Share: t / total[k.side]}
		most := 0.0
		for w, d := range why[k] {
			if d > most || d == most && w < u.Why {
				u.Why, most = w, d
			}
		}
		r.Unjudged = append(r.Unjudged, u)
	}
	rank := func(u Unjudged) int {
		n := 4 * int(u.Joint)
		if u.Side != r.Hands[0] {
			n += 4 * int(hand.NumJoints)
		}
		if u.Extension {
			n++
		}
		return n
	}
	slices.SortFunc(r.Unjudged, func(a, b Unjudged) int { return cmp.Compare(rank(a), rank(b)) })
}

// steady gathers the joints that read past straight all the time.
func (r *Report) steady() {
	type key struct {
		joint string
		side  hand.Side
	}
	read := map[key][]float64{}
	for i := range r.Summary {
		for _, s := range r.Summary[i].Standing {
			// A hand that a session need not name is the one it was for.
			k := key{s.Joint, cmp.Or(s.Side, r.sideOf(i), r.Hands[0])}
			read[k] = append(read[k], s.Deg)
		}
	}
	for _, side := range r.Hands {
		for j := hand.Joint(0); j < hand.NumJoints; j++ {
			deg := read[key{j.String(), side}]
			if len(deg) == 0 {
				continue
			}
			slices.Sort(deg)
			n := len(deg)
			x := Steady{review.Standing{Joint: j.String(), Deg: (deg[(n-1)/2] + deg[n/2]) / 2}, n}
			if side != r.Side {
				x.Standing.Side = side
			}
			r.Steady = append(r.Steady, x)
		}
	}
}

// sideOf is the one hand of a session of one hand.
func (r *Report) sideOf(session int) hand.Side {
	return review.Hands(r.Sessions[session:session+1], hand.UnknownSide)[0]
}

// changes lists the program's versions that came into force within the days.
func (r *Report) changes() {
	if r.History == nil {
		return
	}
	v := r.History.Versions()
	for i, p := range v {
		if p.ValidFrom.Before(r.From) || r.To.Before(p.ValidFrom) {
			continue
		}
		c := VersionChange{Day: p.ValidFrom, Version: p.Version}
		if i > 0 {
			for _, d := range program.Diff(v[i-1], p) {
				c.Words = append(c.Words, d.Text)
			}
		}
		r.Changes = append(r.Changes, c)
	}
}
