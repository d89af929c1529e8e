package home

import (
	"errors"

	"volar/internal/program"
	"volar/internal/session"
	"volar/internal/stage"
	"volar/internal/today"
)

// sitting is one session: from the first exercise until the client is back at
// today's list.
type sitting struct {
	stage *stage.Stage
	// rec is nil where the client chose to go on without keeping anything.
	rec *session.Recorder
	// pain is the latest answer, which is the pain before the next exercise.
	pain *int
}

// plan is today's list with the program that it comes from.
type plan struct {
	today.Day
	program program.Resolved
	// trial is true where there is no program and an exercise may be tried.
	trial bool
}

func (h *Home) day() (plan, error) {
	now := h.opt.Clock()
	r, ok, err := h.store.Program(now)
	if err != nil {
		return plan{}, err
	}
	if !ok {
		if r, err = today.Trial(h.trialSide, now); err != nil {
			return plan{}, err
		}
	}
	loc := r.Program.Location()
	past, err := h.store.Past(now.AddDate(0, 0, -8))
	if err != nil {
		return plan{}, err
	}
	d := today.Plan(r, past, now, loc)
	if d.Stopped == "" && h.endedOn == program.DateOf(now, loc) {
		d.Stopped = h.ended
	}
	return plan{d, r, !ok}, nil
}

// sit begins a sitting where there is none, in the background since a camera
// and models take their time, and then goes on with then.
func (h *Home) sit(p *plan, then func()) { h.sitKeeping(p, true, then) }

func (h *Home) sitKeeping(p *plan, keep bool, then func()) {
	if h.sitting != nil {
		then()
		return
	}
	h.show(newWait(h, "The camera and the hand model are being prepared."))
	waiting := h.router.Screen()
	h.background(func() {
		s, err := h.newSitting(p, keep)
		h.opt.Do(func() {
			var no *cannotKeep
			switch {
			case errors.As(err, &no):
				h.show(newUnkeepable(h, no, p, then))
			case err != nil:
				h.trouble("The exercise cannot begin", err, h.today)
			case h.ctx.Err() != nil || h.router.Screen() != waiting:
				s.stage.Close()
				s.close()
			default:
				h.sitting = s
				then()
			}
		})
	})
}

func (h *Home) newSitting(p *plan, keep bool) (*sitting, error) {
	<-h.loaded
	if h.failed != nil {
		return nil, h.failed
	}
	name, version := p.program.Program.Client, p.program.Program.Version
	if p.trial {
		name, version = "", 0
	}
	at := &sitting{}
	if keep {
		rec, err := h.store.Record(name, version)
		if err != nil {
			return nil, &cannotKeep{err}
		}
		at.rec = rec
	}
	s, err := stage.Open(stage.Options{Engine: h.engine, Threads: h.opt.Threads, Open: h.opt.Camera, Wake: h.wake, Events: h.sounds})
	if err != nil {
		at.close()
		return nil, err
	}
	at.stage = s
	return at, nil
}

// endSitting lets go of the camera and closes the session. Where not all of it
// is kept yet the sitting stays, so that it can be tried again.
func (h *Home) endSitting() error {
	s := h.sitting
	if s == nil {
		return nil
	}
	if w := s.stage.Measures().Work; w > 0 {
		h.works = w
	}
	s.stage.Close()
	if err := s.flush(); err != nil {
		return err
	}
	h.sitting = nil
	if err := s.close(); err != nil {
		return err
	}
	if s.rec != nil && h.opt.Kept != nil {
		h.opt.Kept()
	}
	return nil
}

// flush waits until all is kept, or returns why not.
func (s *sitting) flush() error {
	if s.rec == nil {
		return nil
	}
	return s.rec.Flush()
}

// close ends the session, whether or not all of it is kept.
func (s *sitting) close() error {
	if s.rec == nil {
		return nil
	}
	return s.rec.Close()
}
