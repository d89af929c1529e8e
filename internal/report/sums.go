package report

import (
	"fmt"

	"volar/internal/hand"
	"volar/internal/score"
)

// FingerSums are a finger's joint motions of the last week seen, summed up as
// the trade does. A sum with a joint that was not judged is not complete.
type FingerSums struct {
	Finger hand.Finger
	// Composite is composite flexion, TAM total active motion, and Between the
	// motion of the joints between the phalanges.
	Composite, TAM, Between score.Sum
	// ASSH grades TAM; Original and Adjusted grade Between.
	ASSH, Original, Adjusted score.Result
}

// Sums are those of all five digits of the report's hand.
func (r *Report) Sums() []FingerSums {
	last := map[hand.Joint]score.Motion{}
	for _, x := range r.Ranges {
		if x.Side == r.Hands[0] {
			last[x.Joint] = motion(x.Last.Reach)
		}
	}
	all := make([]FingerSums, 0, len(hand.Fingers))
	for _, f := range hand.Fingers {
		d := score.Digit{Finger: f, MCP: last[hand.JointOf(f, hand.MCP)], PIP: last[hand.JointOf(f, hand.PIP)], DIP: last[hand.JointOf(f, hand.DIP)]}
		x := FingerSums{Finger: f, Composite: score.CompositeFlexion(d), TAM: score.TotalMotion(d, score.Options{}), Between: score.InterphalangealMotion(d, score.Options{})}
		x.ASSH, x.Original, x.Adjusted = score.ASSH(x.TAM, f, 0), score.StricklandOriginal(x.Between), score.StricklandAdjusted(x.Between)
		all = append(all, x)
	}
	return all
}

// GradeWords writes a graded sum.
func GradeWords(x score.Result, s score.Sum) string {
	if !x.Complete {
		return "incomplete"
	}
	return fmt.Sprintf("%.0f° (%.0f %%): %s", s.Deg, x.Percent, x.Grade)
}
