package reading

import (
	"cmp"
	"context"
	"slices"
	"time"

	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/review"
	"volar/internal/session"
	"volar/internal/vault"
)

// file is a session with what was said of it and the program that it followed.
type file struct {
	r       *Reader
	s       *session.Session
	entry   vault.Entry
	reviews []review.Review
	// others are the reviews of the client's other sessions.
	others  map[session.ID][]review.Review
	history *program.History
	moments []review.Moment
	// both are the numbers of the exercises in which both hands were recorded.
	both    map[int]bool
	spans   []review.Span
	looking review.Looking
}

// open reads a session and all that belongs to it.
func open(ctx context.Context, r *Reader, id session.ID) (*file, error) {
	f := &file{r: r}
	var err error
	if f.s, err = r.opt.Store.Session(ctx, id); err != nil {
		return nil, err
	}
	list, err := r.opt.Store.Sessions(ctx, vault.Filter{Client: f.s.Client, IDPrefix: id.String(), Limit: 1})
	if err != nil {
		return nil, err
	}
	if len(list) == 1 {
		f.entry = list[0]
	}
	if f.others, err = r.opt.Store.ReviewsOf(ctx, f.s.Client); err != nil {
		return nil, err
	}
	f.reviews = f.others[id]
	if f.history, err = r.opt.Store.History(ctx, f.s.Client); err != nil {
		return nil, err
	}
	f.spans = review.Spans(f.s)
	f.moments = review.Moments(f.s, f.reviews)
	f.both = map[int]bool{}
	for i := range f.s.Samples {
		x := &f.s.Samples[i]
		if e := review.ExerciseAt(f.s, x.Time); e != nil && x.Found && e.Side != hand.UnknownSide && x.Side == e.Side.Other() {
			f.both[e.Number] = true
		}
	}
	f.looking.Act(r.opt.Now())
	return f, nil
}

// writable is false where nothing can be said of the session.
func (f *file) writable() bool { return !f.r.opt.Store.ReadOnly() && f.s.State != session.Open }

// say keeps what was said, with how long it was looked at since the last time.
func (f *file) say(v review.Review) error {
	v.Session, v.Client = f.s.ID, f.s.Client
	v.Seconds = f.looking.Take(f.r.opt.Now())
	if err := f.r.leave(v); err != nil {
		return err
	}
	var err error
	if f.reviews, err = f.r.opt.Store.Reviews(f.r.ctx, f.s.ID); err != nil {
		return err
	}
	f.others[f.s.ID] = f.reviews
	f.moments = review.Moments(f.s, f.reviews)
	if v.Read && f.entry.Read.IsZero() {
		f.entry.Read = f.r.opt.Now()
	}
	return nil
}

// closeUp keeps the time that was spent and not kept yet. That it could not be
// kept is no reason to hold anybody up.
func (f *file) closeUp() {
	if !f.writable() {
		return
	}
	var v review.Review
	v.Session, v.Client = f.s.ID, f.s.Client
	if v.Seconds = f.looking.Take(f.r.opt.Now()); v.Seconds > 0 {
		_ = f.r.leave(v)
	}
}

// act notes that somebody is looking.
func (f *file) act() { f.looking.Act(f.r.opt.Now()) }

// rate is the program's hit rate for the client.
func (f *file) rate() review.HitRate { return review.Rate(f.others) }

// of is true for a moment of a hand; an unknown side is any.
func of(m *review.Moment, side hand.Side) bool {
	return m.Side == hand.UnknownSide || side == hand.UnknownSide || m.Side == side
}

// spansOf are the repetitions and holds of a hand, and those of which the recording
// does not say whose they are.
func (f *file) spansOf(side hand.Side) []review.Span {
	var list []review.Span
	for i := range f.spans {
		if f.spans[i].Of(side) {
			list = append(list, f.spans[i])
		}
	}
	return list
}

// whose names the hand of a moment where the exercise takes both.
func (f *file) whose(m *review.Moment) string {
	if !f.both[m.Exercise] || m.Side == hand.UnknownSide {
		return ""
	}
	return ", " + m.Side.String() + " hand"
}

// limits are those of a hand that held in an exercise, as the flags have them
// where the program's version is not here.
func (f *file) limits(e *session.Exercise, side hand.Side) coach.Limits {
	l, ok := review.LimitsOf(f.history, f.s, e, side)
	if ok || e == nil {
		return l
	}
	l = coach.Limits{}
	for i := range f.moments {
		m := &f.moments[i]
		j, err := hand.ParseJoint(m.Subject)
		if err != nil || m.Exercise != e.Number || !of(m, side) {
			continue
		}
		switch coach.FlagKind(m.Kind) {
		case coach.Hyperextension:
			l[j] = coach.Limit{Lower: &m.LimitDeg, Upper: l[j].Upper}
		case coach.OverFlexion:
			l[j] = coach.Limit{Lower: l[j].Lower, Upper: &m.LimitDeg}
		}
	}
	return l
}

// joints are the joints of a hand worth a trace in an exercise: flagged ones first, then
// those with a limit, then all that were seen, proximal and radial first.
func (f *file) joints(e *session.Exercise, side hand.Side) []hand.Joint {
	if e == nil {
		return nil
	}
	var list []hand.Joint
	add := func(j hand.Joint) {
		if !slices.Contains(list, j) {
			list = append(list, j)
		}
	}
	for i := range f.moments {
		if j, err := hand.ParseJoint(f.moments[i].Subject); err == nil && f.moments[i].Exercise == e.Number && of(&f.moments[i], side) {
			add(j)
		}
	}
	limits := f.limits(e, side)
	for j := range hand.Joint(hand.NumJoints) {
		if limits[j].Lower != nil || limits[j].Upper != nil {
			add(j)
		}
	}
	for _, x := range e.Ranges {
		if side == hand.UnknownSide || cmp.Or(x.Side, e.Side) == side {
			add(x.Joint)
		}
	}
	if len(list) == 0 {
		for j := range hand.Joint(hand.NumJoints) {
			add(j)
		}
	}
	return list
}

// momentAt is the number in moments of the flagged moment that a time belongs
// to: the one whose flag is nearest, and of several at once the one whose worst
// reading is; -1 where none is.
func (f *file) momentAt(at time.Duration) int {
	best, far, off := -1, time.Duration(1<<62), time.Duration(0)
	for i := range f.moments {
		m := &f.moments[i]
		if at < m.From || at > m.To {
			continue
		}
		d := max(m.Start-at, at-max(m.End, m.Start), 0)
		w := (m.Worst - at).Abs()
		if d < far || d == far && w < off {
			best, far, off = i, d, w
		}
	}
	return best
}
