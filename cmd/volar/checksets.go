package main

import (
	"fmt"

	"volar/internal/exercise"
	"volar/internal/program"
)

// setResult is one set of a recording, and restResult what lies between two.
type setResult struct {
	Counted int     `json:"counted"`
	StartS  float64 `json:"start_s"`
	EndS    float64 `json:"end_s"`
}

type restResult struct {
	StartS  float64 `json:"start_s"`
	EndS    float64 `json:"end_s"`
	RestedS float64 `json:"rested_s"`
	WantedS float64 `json:"wanted_s"`
	// Verdict is empty where no rest is prescribed.
	Verdict program.RestVerdict `json:"verdict,omitempty"`
}

// fillSets puts what was tried into sets with rests between, where a program
// says how many repetitions make one.
func (r *checkResult) fillSets(attempts []program.Attempt) {
	if r.Program == nil {
		return
	}
	dose := exercise.Dose{Sets: r.Program.Sets, Repetitions: r.Program.Repetitions, RestSeconds: r.Program.RestS}
	sets := program.SetsOf(attempts, dose)
	for _, s := range sets {
		r.Sets = append(r.Sets, setResult{s.Counted, secs(s.Start), secs(s.End)})
	}
	for _, t := range program.RestsOf(sets, dose) {
		r.Rests = append(r.Rests, restResult{secs(t.Start), secs(t.End), secs(t.End - t.Start), secs(t.Wanted), t.Verdict})
	}
}

// printSets says how the sets and the rests between them went.
func (r *checkResult) printSets(b *printer) {
	if r.Program == nil {
		return
	}
	for i, s := range r.Sets {
		which := fmt.Sprintf("%d of %d", i+1, r.Program.Sets)
		if i >= r.Program.Sets {
			which = fmt.Sprintf("%d, beyond the %d", i+1, r.Program.Sets)
		}
		b.f("%-13s%s: %d of %d repetitions, %.1f to %.1f s\n", map[bool]string{true: "Sets"}[i == 0], which, s.Counted, r.Program.Repetitions, s.StartS, s.EndS)
	}
	if len(r.Sets) == 0 {
		b.f("Sets         none of %d begun\n", r.Program.Sets)
	}
	for i, t := range r.Rests {
		b.f("%-13s%d.  %4.1f to %4.1f s  rested %.1f s", map[bool]string{true: "Rests"}[i == 0], i+1, t.StartS, t.EndS, t.RestedS)
		if t.WantedS > 0 {
			b.f(" of %s s  %s", trim(t.WantedS), restWords[t.Verdict])
		}
		b.f("\n")
	}
}

var restWords = map[program.RestVerdict]string{
	program.RestKept: "as prescribed", program.RestShort: "shorter than prescribed", program.RestLong: "longer than prescribed",
}
