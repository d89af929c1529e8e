package main

import (
	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/review"
)

// otherResult is what the client's other hand did, and bothResult what the two
// did together.
type otherResult struct {
	Side        string            `json:"side"`
	Measured    float64           `json:"measured"`
	Repetitions repetitionsResult `json:"repetitions"`
	Holds       []holdResult      `json:"holds"`
	Flags       []flagResult      `json:"flags"`
	NotJudged   []notJudgedResult `json:"not_judged"`
	// Angles are the other hand's own.
	Angles  map[string]angleRange `json:"angles"`
	summary coach.Summary
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
		Repetitions: repetitionsResult{other.Counted, other.Partial, other.Unjudged, repetitionResults(other.Repetitions)},
		Holds:       holdResults(other.Holds), Flags: flagResults(other.Flags), NotJudged: notJudgedResults(other.NotJudged),
		Angles: angleRanges(other.Angles), summary: other,
	}
	r.Both = &bothResult{s.Counted, s.Unjudged, flagResults(s.Flags), s.Flags}
	r.Repetitions.Each = repetitionResults(r.summary.Repetitions)
	nameHolds(r.Holds, r.summary.Holds)
	nameHolds(r.Other.Holds, other.Holds)
	nameFlags(r.Flags, r.summary.Flags)
	nameFlags(r.Other.Flags, other.Flags)
	nameFlags(r.Both.Flags, s.Flags)
	r.fillSets(program.PairAttempts(s))
}

func repetitionResults(reps []coach.Repetition) (out []repetitionResult) {
	for _, r := range reps {
		out = append(out, repetitionResult{r.Side.String(), r.Number, r.Verdict, secs(r.Start), secs(r.End)})
	}
	return out
}

// nameHolds and nameFlags say whose holds and flags are.
func nameHolds(out []holdResult, holds []coach.Hold) {
	for i := range out {
		out[i].Side = sideName(holds[i].Side)
	}
}

func nameFlags(out []flagResult, flags []coach.Flag) {
	for i := range out {
		out[i].Side = sideName(flags[i].Side)
	}
}

// printBoth says what the other hand did.
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
		b.f("%-13s%s\n", map[bool]string{true: "Flags"}[i == 0], flagText(f)+review.HandWords(f.Side))
	}
	o := r.Other
	b.f("\nThe %s hand, followed in %.0f %% of the time\n", o.Side, 100*o.Measured)
	b.counts(o.Repetitions)
	b.holds(o.Holds)
	b.flags(o.summary.Flags)
}
