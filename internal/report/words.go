package report

import (
	"fmt"
	"math"
	"time"

	"volar/internal/coach"
	"volar/internal/review"
	"volar/internal/score"
)

// caution is in every printout (common practice).
const caution = "Begin only with the consent of the clinician who knows your hand. Work gently and below pain. Mild tiredness afterwards is common; " +
	"pain that stabs, burns or radiates, new numbness, swelling, or a joint that locks means stop and call your therapist."

// method says how the angles were made.
const method = "Joint angles are estimates from the picture of one camera, by a model that finds the hand and reads its joints; no goniometer was used. " +
	"The ± is the standard error that the program states for one reading: two of three readings should lie within it, most within twice of it. " +
	"It was tested on rendered hands and on photographs; how far a joint goes past straight has not been compared with a goniometer on real hands, " +
	"and is judged only where the camera sees the finger from the side. What the view did not show is called not judged."

// motion turns a reach into what sums and styles take.
func motion(r review.Reach) score.Motion {
	known := func(se float64) float64 {
		if math.IsNaN(se) {
			return 0
		}
		return se
	}
	return score.Motion{
		Extension: score.Reading{Deg: r.MinDeg, SEDeg: known(r.MinSE), Judged: r.MinJudged},
		Flexion:   score.Reading{Deg: r.MaxDeg, SEDeg: known(r.MaxSE), Judged: true},
	}
}

// BaselineWords writes a baseline's range in the report's style.
func (r *Report) BaselineWords(b coach.Range) string {
	return r.Style.Write(score.Motion{Extension: score.Judged(math.Min(b.Start, b.End)), Flexion: score.Judged(math.Max(b.Start, b.End))}, 1)
}

// RangeWords writes a reach in the report's style, with the larger error.
func (r *Report) RangeWords(x review.Reach) string {
	se := x.MaxSE
	if x.MinJudged && (x.MinSE > se || math.IsNaN(se)) {
		se = x.MinSE
	}
	return r.Style.Write(motion(x), 1) + review.PlusMinus(se)
}

// share writes a share in per cent.
func share(x float64) string {
	if math.IsNaN(x) {
		return "–"
	}
	return fmt.Sprintf("%.0f %%", 100*x)
}

// clock writes a time within a session.
func clock(d time.Duration) string {
	s := int(d.Round(time.Second).Seconds())
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

// painWords writes pain before and after.
func painWords(before, after *int) string {
	one := func(n *int) string {
		if n == nil {
			return "–"
		}
		return fmt.Sprint(*n)
	}
	return one(before) + " → " + one(after)
}
