package arom

import (
	"fmt"
	"math"

	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/score"
)

// Reading is one joint's angle with what is known of it.
type Reading struct {
	Deg, SEDeg float64
	// Judged is false where there is no number; Why says why, as far as known.
	Judged bool
	Why    hand.Reason
	// PastJudged is true where it could be seen whether the joint is past
	// straight.
	PastJudged bool
	// Known is true for an angle that a therapist measured with a goniometer.
	Known bool
}

// Words say the reading: "41° ± 5°", "12° past straight ± 4°", "near straight
// ± 5°", "not judged (hidden)".
func (r Reading) Words() string {
	switch {
	case !r.Judged && r.Why == hand.NoReason:
		return "not judged"
	case !r.Judged:
		return fmt.Sprintf("not judged (%s)", r.Why)
	case r.Known:
		return program.AngleWords(whole(r.Deg)) + " (goniometer)"
	}
	return fmt.Sprintf("%s ± %.0f°", r.angle(), math.Max(math.Round(r.SEDeg), 1))
}

func (r Reading) angle() string {
	if !r.PastJudged && whole(r.Deg) <= 0 {
		return "near straight"
	}
	return program.AngleWords(whole(r.Deg))
}

// whole rounds to a degree and has no negative zero.
func whole(deg float64) float64 { return math.Round(deg) + 0 }

// score is the reading as sums take it. What may or may not be past straight
// counts as straight.
func (r Reading) score() score.Reading {
	out := score.Reading{Deg: r.Deg, SEDeg: r.SEDeg, Judged: r.Judged}
	if !r.PastJudged && !r.Known {
		out.Deg = math.Max(out.Deg, 0)
	}
	return out
}

// ReadingOf is what a picture or a moment said of a joint.
func ReadingOf(m hand.Measurement) Reading {
	return Reading{Deg: m.FlexionDeg, SEDeg: m.SEDeg, Judged: m.Judged, Why: m.Why, PastJudged: m.ExtensionJudged}
}

// recorded is a joint's angle in a pose as the baseline has it: what was
// measured with a goniometer, else what was read with the least error, in the
// straight hand first where the view shows whether the joint is past straight.
func recorded(b *goniometry.Baseline, pose goniometry.BaselinePose, j hand.Joint) Reading {
	var best Reading
	for i := range b.Views {
		r, ok := b.Views[i].Joints[j.String()]
		if !ok || b.Views[i].Pose != pose {
			continue
		}
		x := Reading{Deg: r.ReadDeg, SEDeg: r.SEDeg, Judged: true, PastJudged: r.ShowsPastStraight}
		if r.KnownDeg != nil {
			x = Reading{Deg: *r.KnownDeg, SEDeg: goniometerSE, Judged: true, PastJudged: true, Known: true}
		}
		if better(&x, &best, pose) {
			best = x
		}
	}
	return best
}

// goniometerSE is a goniometer's own standard error: repeats by one rater lie
// within 4 to 5 degrees in 95 of 100 (Ellis and Bruton 2002, Clin Rehabil).
const goniometerSE = 2.3

func better(x, than *Reading, pose goniometry.BaselinePose) bool {
	switch {
	case !than.Judged:
		return true
	case x.Known != than.Known:
		return x.Known
	case pose == goniometry.StraightHand && x.PastJudged != than.PastJudged:
		return x.PastJudged
	}
	return x.SEDeg < than.SEDeg
}
