package today

import (
	"fmt"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/program"
)

// trialClient stands in the program of somebody who has none.
const trialClient = "C-000"

// Trial is what may be tried without a program: every movement of the
// catalogue that the camera judges, with its usual dose, once a day.
func Trial(side hand.Side, now time.Time) (program.Resolved, error) {
	all, err := exercise.Catalogue()
	if err != nil {
		return program.Resolved{}, err
	}
	var ids []string
	for _, m := range all {
		if m.Kind != exercise.Unmeasured {
			ids = append(ids, m.ID)
		}
	}
	p, _, err := program.New(program.Options{Client: trialClient, Side: program.Side(side), Dominant: program.Side(side), Exercises: ids, Now: now}, program.Source{})
	if err != nil {
		return program.Resolved{}, fmt.Errorf("list what may be tried: %w", err)
	}
	r := p.At(now, now.Location())
	for i := range r.Exercises {
		r.Exercises[i].Dose.TimesADay = 1
	}
	return r, nil
}
