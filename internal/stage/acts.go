package stage

import (
	"errors"
	"time"

	"volar/internal/camera"
	"volar/internal/coach"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/live"
	"volar/internal/session"
)

// checking is the act of checking the camera.
type checking struct {
	*checker
}

func (c *checking) seen(f *camera.Frame, s *live.Seen) {
	c.see(f.Time, s, f.Image.Rect.Dx(), f.Image.Rect.Dy())
}

func (c *checking) unseen(at time.Duration) { c.see(at, &live.Seen{}, 1, 1) }

func (c *checking) show(v *View) {
	now := c.now
	v.Check = &now
}

// Check begins to check the camera for what is wanted, until something else
// begins.
func (s *Stage) Check(o CheckOptions) {
	s.do(func(time.Duration) {
		s.watcher.Watch(live.WatcherOptions{Side: o.Side, Both: o.Both})
		s.act, s.cue = &checking{checker: newChecker(o)}, Cue{}
	})
}

// Performance is an exercise that is going to be done.
type Performance struct {
	Practice coach.PracticeConfig
	// Goniometry is how the exercising hand is measured, OtherGoniometry the
	// other.
	Goniometry, OtherGoniometry goniometry.Options
	// Recorder keeps what happens; nil keeps nothing. Exercise is what it is
	// told of the exercise.
	Recorder *session.Recorder
	Exercise session.Exercise
}

// performing is the act of doing an exercise.
type performing struct {
	s        *Stage
	practice *coach.Practice
	cfg      coach.PracticeConfig
	rec      *session.Recorder
	number   int
	summary  *coach.PracticeSummary
	// lost is the first thing that the recorder refused for good; full is why
	// it takes no more pictures at the moment.
	lost, full error
}

// Perform begins an exercise, which waits for Start. The error says what makes
// no sense in it.
func (s *Stage) Perform(p Performance) error {
	practice, err := coach.NewPractice(p.Practice)
	if err != nil {
		return err
	}
	s.do(func(at time.Duration) {
		s.watcher.Watch(live.WatcherOptions{
			Side: p.Practice.Coach.Side, Both: p.Practice.Coach.Movement.Hands == 2,
			Goniometry: p.Goniometry, OtherGoniometry: p.OtherGoniometry,
		})
		a := &performing{s: s, practice: practice, cfg: p.Practice, rec: p.Recorder}
		if a.rec != nil {
			p.Exercise.Start = at
			var err error
			a.number, err = a.rec.StartExercise(p.Exercise)
			a.kept(err)
		}
		s.act, s.cue = a, Cue{}
	})
	return nil
}

func (a *performing) seen(f *camera.Frame, s *live.Seen) {
	events := a.push(s)
	a.take(events)
	if a.rec == nil || a.summary != nil {
		return
	}
	frame := session.Frame{Sample: s.Sample, Hand: s.Hand, Width: f.Image.Rect.Dx(), Height: f.Image.Rect.Dy(), Picture: f.Image, Events: events}
	a.full = a.rec.Frame(frame)
	if s.Other.Sample.Found {
		a.full = errors.Join(a.full, a.rec.Frame(session.Frame{Sample: s.Other.Sample, Hand: s.Other.Hand, Width: frame.Width, Height: frame.Height}))
	}
}

// kept takes what the recorder said to something that does not come again.
func (a *performing) kept(err error) {
	if a.lost == nil {
		a.lost = err
	}
}

// unkept is why something is not kept.
func (a *performing) unkept() error {
	if a.rec == nil || a.lost != nil {
		return a.lost
	}
	if err := a.rec.Status().Err; err != nil {
		return err
	}
	return a.full
}

func (a *performing) unseen(at time.Duration) {
	a.note(a.practice.Push(hand.Sample{Time: at}))
}

// push gives the practice what was seen: one hand, or both by their side.
func (a *performing) push(s *live.Seen) []coach.Event {
	own, other := s.Sample, s.Other.Sample
	switch {
	case a.cfg.Coach.Movement.Hands != 2:
		return a.practice.Push(own)
	case own.Found && own.Side == hand.Right, !own.Found && other.Side == hand.Left:
		return a.practice.PushPair(other, own)
	}
	return a.practice.PushPair(own, other)
}

// take shows and sounds what the coach had to say.
func (a *performing) take(events []coach.Event) {
	for _, e := range events {
		if c, ok := e.(coach.Cue); ok {
			a.s.cue = Cue{Text: c.Text, Warning: c.Urgent, At: c.When()}
		}
	}
	if len(events) > 0 && a.s.opt.Events != nil {
		a.s.opt.Events(events)
	}
}

// note takes events that came without a picture.
func (a *performing) note(events []coach.Event) {
	a.take(events)
	if a.rec == nil || a.summary != nil {
		return
	}
	for _, e := range events {
		a.kept(a.rec.Event(e))
	}
}

func (a *performing) answer(x session.Answer) {
	if a.rec != nil && a.summary == nil {
		x.Exercise = a.number
		a.kept(a.rec.Answer(x))
	}
}

func (a *performing) show(v *View) {
	st := a.practice.Status()
	v.Practice = &st
	if a.rec != nil {
		v.Saving, v.Unkept = a.rec.Status(), a.unkept()
	}
}

// with runs a function on the running exercise; without one it does nothing.
func (s *Stage) with(f func(a *performing, at time.Duration)) {
	s.do(func(at time.Duration) {
		if a, ok := s.act.(*performing); ok {
			f(a, at)
		}
	})
}

// Start begins the first set, or ends a rest early.
func (s *Stage) Start() {
	s.with(func(a *performing, at time.Duration) { a.note(a.practice.Start(at)) })
}

// Pause halts the exercise, and GoOn ends that, or goes on after "it hurts".
func (s *Stage) Pause() {
	s.with(func(a *performing, at time.Duration) { a.note(a.practice.Pause(at)) })
}

// GoOn ends a pause, or goes on after "it hurts" where the answer allows it.
func (s *Stage) GoOn() {
	s.with(func(a *performing, at time.Duration) { a.note(a.practice.GoOn(at)) })
}

// Skip leaves out what remains of the set, or the coming one.
func (s *Stage) Skip() {
	s.with(func(a *performing, at time.Duration) { a.note(a.practice.Skip(at)) })
}

// SayDone is the client's word that a set is done which the camera cannot
// judge.
func (s *Stage) SayDone() {
	s.with(func(a *performing, at time.Duration) { a.note(a.practice.SayDone(at)) })
}

// Hurt stops the set.
func (s *Stage) Hurt() {
	s.with(func(a *performing, at time.Duration) {
		a.answer(session.Answer{At: at, Kind: session.Hurt})
		a.note(a.practice.Hurt(at))
	})
}

// PainBefore is the client's pain before the exercise, 0 to 10.
func (s *Stage) PainBefore(n int) {
	s.with(func(a *performing, at time.Duration) {
		a.scored(at, session.PainBefore, n, func() ([]coach.Event, error) { return a.practice.PainBefore(at, n) })
	})
}

// PainAfter is the client's pain after a set or after all, 0 to 10, and
// whether it is sharp or shooting. Then is called on the stage goroutine with
// what follows from it.
func (s *Stage) PainAfter(n int, sharp bool, then func(coach.PracticeStatus)) {
	s.with(func(a *performing, at time.Duration) {
		if sharp {
			a.answer(session.Answer{At: at, Kind: session.SharpPain})
		}
		a.scored(at, session.PainAfter, n, func() ([]coach.Event, error) { return a.practice.PainAfter(at, n, sharp) })
		then(a.practice.Status())
	})
}

// Effort is how hard it was for the client, 0 to 10.
func (s *Stage) Effort(n int) {
	s.with(func(a *performing, at time.Duration) {
		a.scored(at, session.Effort, n, func() ([]coach.Event, error) { return a.practice.EffortAfter(at, n) })
	})
}

// scored takes an answer from 0 to 10; one outside is a caller's error, and
// changes nothing.
func (a *performing) scored(at time.Duration, kind session.AnswerKind, n int, give func() ([]coach.Event, error)) {
	events, err := give()
	if err != nil {
		return
	}
	a.answer(session.Answer{At: at, Kind: kind, Value: &n})
	a.note(events)
}

// Note keeps a note of the client's, also once the exercise is finished.
func (s *Stage) Note(text string) {
	s.with(func(a *performing, at time.Duration) {
		if a.rec != nil {
			a.kept(a.rec.Answer(session.Answer{At: at, Exercise: a.number, Kind: session.Note, Text: text}))
		}
	})
}

// ErrNoExercise says that no exercise is being done.
var ErrNoExercise = errors.New("no exercise is being done")

// Finish ends the exercise, notes in the recording what became of it, and
// gives the summary to got, which is called on the stage goroutine, with the
// error that says what of it is not kept. A second call gives the same summary.
func (s *Stage) Finish(got func(coach.PracticeSummary, error)) {
	s.do(func(at time.Duration) {
		a, ok := s.act.(*performing)
		if !ok {
			got(coach.PracticeSummary{}, ErrNoExercise)
			return
		}
		sum := a.finish(at)
		got(sum, a.unkept())
	})
}

func (a *performing) finish(at time.Duration) coach.PracticeSummary {
	if a.summary == nil {
		sum := a.practice.Finish(at)
		a.note(sum.Last)
		a.summary = &sum
		if a.rec != nil {
			a.kept(a.rec.FinishExercise(a.number, at, func(e *session.Exercise) { Record(e, &sum) }))
		}
	}
	return *a.summary
}

// Rest ends what is being done and only shows the camera's picture.
func (s *Stage) Rest() {
	s.do(func(time.Duration) { s.act, s.cue = nil, Cue{} })
}
