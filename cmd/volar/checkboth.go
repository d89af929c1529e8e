package main

import (
	"time"

	"volar/internal/coach"
	"volar/internal/hand"
)

// setResult is one set of a recording. A video does not say where a set ends,
// so the prescribed number of repetitions makes one.
type setResult struct {
	Counted int     `json:"counted"`
	StartS  float64 `json:"start_s"`
	EndS    float64 `json:"end_s"`
}

// otherResult is what the client's other hand did, and bothResult what the two
// did together.
type otherResult struct {
	Side        string            `json:"side"`
	Measured    float64           `json:"measured"`
	Repetitions repetitionsResult `json:"repetitions"`
	Holds       []holdResult      `json:"holds"`
	Flags       []flagResult      `json:"flags"`
	NotJudged   []notJudgedResult `json:"not_judged"`
	summary     coach.Summary
}

type bothResult struct {
	Counted  int          `json:"counted"`
	Unjudged int          `json:"unjudged"`
	Flags    []flagResult `json:"flags"`
	flags    []coach.Flag
}

// fillBoth enters the other hand and what the two did together.
func (r *checkResult) fillBoth(s coach.PairSummary, side hand.Side) {
	other := s.Left
	if side == hand.Left {
		other = s.Right
	}
	r.Other = &otherResult{
		Side: side.Other().String(), Measured: round(other.Measured, 3),
		Repetitions: repetitionsResult{other.Counted, other.Partial, other.Unjudged},
		Holds:       holdResults(other.Holds), Flags: flagResults(other.Flags), NotJudged: notJudgedResults(other.NotJudged), summary: other,
	}
	r.Both = &bothResult{s.Counted, s.Unjudged, flagResults(s.Flags), s.Flags}
	var done []span
	for _, p := range s.Repetitions {
		done = append(done, span{p.Start, p.End})
	}
	r.fillSets(done)
}

// fillOne enters the sets of one hand.
func (r *checkResult) fillOne(s coach.Summary) {
	var done []span
	for _, p := range s.Repetitions {
		if p.Verdict == coach.Counted {
			done = append(done, span{p.Start, p.End})
		}
	}
	r.fillSets(done)
}

type span struct{ start, end time.Duration }

// fillSets puts counted repetitions into sets, where a program says how many
// make one.
func (r *checkResult) fillSets(done []span) {
	if r.Program == nil || r.Program.Repetitions == 0 {
		return
	}
	for i, d := range done {
		if i%r.Program.Repetitions == 0 {
			r.Sets = append(r.Sets, setResult{StartS: secs(d.start)})
		}
		set := &r.Sets[len(r.Sets)-1]
		set.Counted, set.EndS = set.Counted+1, secs(d.end)
	}
}

// printSets says how the sets went, and printBoth the other hand.
func (r *checkResult) printSets(b *printer) {
	if r.Program == nil || r.Program.Repetitions == 0 {
		return
	}
	for i, s := range r.Sets {
		b.f("%-13s%d of %d: %d of %d repetitions, %.1f to %.1f s\n", map[bool]string{true: "Sets"}[i == 0], i+1, r.Program.Sets, s.Counted, r.Program.Repetitions, s.StartS, s.EndS)
	}
	if len(r.Sets) == 0 {
		b.f("Sets         none of %d begun\n", r.Program.Sets)
	}
}

func (r *checkResult) printBoth(b *printer) {
	if r.Both == nil {
		return
	}
	b.f("Both hands   %d counted", r.Both.Counted)
	if n := r.Both.Unjudged; n > 0 {
		b.f(", %d could not be judged", n)
	}
	b.f("\n")
	for i, f := range r.Both.flags {
		b.f("%-13s%s\n", map[bool]string{true: "Flags"}[i == 0], flagText(f))
	}
	o := r.Other
	b.f("\nThe %s hand, followed in %.0f %% of the time\n", o.Side, 100*o.Measured)
	b.counts(o.Repetitions)
	b.holds(o.Holds)
	b.flags(o.summary.Flags)
}
