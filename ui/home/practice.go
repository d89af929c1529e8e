package home

import (
	"errors"

	"volar/internal/coach"
	"volar/internal/program"
	"volar/internal/session"
	"volar/internal/stage"
	"volar/internal/today"
)

// perform gives an exercise to the stage, where it waits for its start.
func (h *Home) perform(p *plan, it *today.Item) error {
	own, err := h.store.Own(it.Side)
	if err != nil {
		return err
	}
	clean, err := h.store.Clean(it.ID)
	if err != nil {
		return err
	}
	cfg, err := it.Practice(own, clean)
	if err != nil {
		return err
	}
	perf := stage.Performance{
		Practice:   cfg,
		Goniometry: own.Goniometry,
		Recorder:   h.sitting.rec,
		Exercise: session.Exercise{
			Item: it.ID, Movement: it.Movement.ID, Side: it.Side,
			Object: it.Object.ID, Grade: string(it.Object.Grade),
			Sets: it.Dose.Sets, Repetitions: it.Dose.Repetitions, Hold: it.Dose.Hold(),
		},
	}
	if it.Movement.Hands == 2 {
		other, err := h.store.Own(it.Side.Other())
		if err != nil {
			return err
		}
		perf.OtherGoniometry = other.Goniometry
	}
	if err := h.sitting.stage.Perform(perf); err != nil {
		return err
	}
	if n := h.sitting.pain; n != nil {
		h.sitting.stage.PainBefore(*n)
	}
	return nil
}

// prepare checks the camera and then begins.
func (h *Home) prepare(p *plan, it *today.Item) { h.show(newCheck(h, p, it)) }

// begin shows the exercise before the camera, waiting for its start.
func (h *Home) begin(p *plan, it *today.Item) {
	if err := h.perform(p, it); err != nil {
		h.trouble("The exercise cannot begin", err, h.today)
		return
	}
	h.show(newLive(h, p, it))
}

// hurtBefore is "it hurts" before the exercise has begun: it is recorded with
// the exercise that was about to begin.
func (h *Home) hurtBefore(p *plan, it *today.Item) {
	h.sit(p, func() {
		if err := h.perform(p, it); err != nil {
			h.trouble("The exercise cannot begin", err, h.today)
			return
		}
		h.hurtNow(p, it)
	})
}

// hurtNow stops the running exercise and asks how much it hurts.
func (h *Home) hurtNow(p *plan, it *today.Item) {
	h.sitting.stage.Hurt()
	h.show(newPain(h, hurting, p, it))
}

// finish ends the exercise and waits, in the background, until it is saved.
func (h *Home) finish(item string, then func(s coach.PracticeSummary, saved error)) {
	at := h.sitting
	at.stage.Finish(func(s coach.PracticeSummary, err error) {
		h.background(func() {
			if at.rec != nil {
				err = errors.Join(err, at.flush(), h.store.KeepClean(item, s.Clean))
			}
			h.opt.Do(func() {
				if h.sitting == at {
					then(s, err)
				}
			})
		})
	})
}

// after leads on from the client's answer on pain.
func (h *Home) after(p *plan, it *today.Item, st coach.PracticeStatus) {
	switch {
	case st.StopReason.EndsSession():
		h.ended, h.endedOn = st.StopReason, program.DateOf(h.opt.Clock(), p.program.Program.Location())
		h.finish(it.ID, func(s coach.PracticeSummary, saved error) { h.show(newStopped(h, st.StopReason, saved)) })
	case st.State == coach.Stopped && st.MayGoOn:
		h.show(newGoOn(h, p, it))
	default:
		h.show(newEffort(h, p, it))
	}
}

// end finishes the exercise and shows what came of it.
func (h *Home) end(it *today.Item) {
	h.finish(it.ID, func(s coach.PracticeSummary, saved error) {
		p, err := h.day()
		if err != nil {
			h.trouble("The program cannot be read", err, h.today)
			return
		}
		h.show(newSummary(h, &p, it, s, saved))
	})
}
