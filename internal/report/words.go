package report

import (
	"fmt"
	"math"
	"strings"
	"time"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/program"
	"volar/internal/review"
	"volar/internal/score"
	"volar/internal/session"
)

// caution is in every printout (common practice).
const caution = "Begin only with the consent of the clinician who knows your hand. Work gently and below pain. Mild tiredness afterwards is common; " +
	"pain that stabs, burns or radiates, new numbness, swelling, or a joint that locks means stop and call your therapist."

// method says how the angles were made.
const method = "Joint angles are estimates from the picture of one camera, by a model that finds the hand and reads its joints; no goniometer was used. " +
	"The ± is the standard error that the program states for one reading: two of three readings should lie within it, most within twice of it. " +
	"It was tested on rendered hands and on photographs; how far a joint goes past straight has not been compared with a goniometer on real hands, " +
	"and is judged only where the camera sees the finger from the side. What the view did not show is called not judged."

// angle writes an angle for a person, rounded to a degree.
func angle(deg float64) string {
	if math.IsNaN(deg) {
		return "not known"
	}
	return program.AngleWords(math.Round(deg))
}

// plusMinus writes a standard error.
func plusMinus(se float64) string {
	if math.IsNaN(se) {
		return ""
	}
	return fmt.Sprintf(" ± %.0f°", math.Max(math.Round(se), 1))
}

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
	return r.Style.Write(motion(x), 1) + plusMinus(se)
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

// flagWords tells a flag in one line.
func flagWords(f *session.Flag) string {
	what := review.FaultWords(f.Kind, f.Subject)
	switch coach.FlagKind(f.Kind) {
	case coach.Hyperextension, coach.OverFlexion:
		return fmt.Sprintf("%s: %s; limit %s", what, angle(f.PeakDeg)+plusMinus(f.SEDeg), angle(f.LimitDeg))
	case coach.IncompleteGrip:
		return fmt.Sprintf("%s: bent %.0f° of %.0f° in all", what, f.PeakDeg, f.LimitDeg)
	case coach.ShortHold, coach.TooFast:
		return fmt.Sprintf("%s: %.1f s of %.1f s", what, f.Took.Seconds(), f.Wanted.Seconds())
	}
	if f.Say != "" {
		return what + ": " + f.Say
	}
	return what
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

func sentence(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// movementName is the name of a movement of the catalogue; one that is not in
// it keeps its ID.
func movementName(id string) string {
	m, err := exercise.Find(id)
	if err != nil {
		return id
	}
	return m.Name
}
