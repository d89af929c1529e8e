package review

import (
	"fmt"
	"math"
	"strings"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/session"
)

// FaultWords puts a kind of flag and its subject into words, such as
// "hyperextension of the index PIP".
func FaultWords(kind, subject string) string {
	kind = strings.ReplaceAll(kind, "-", " ")
	if subject == "" {
		return kind
	}
	return kind + " of the " + subjectWords(subject)
}

// subjectWords writes "index PIP" for index.pip, and "index and middle" for
// index-middle.
func subjectWords(s string) string {
	if digit, level, ok := strings.Cut(s, "."); ok {
		return digit + " " + strings.ToUpper(level)
	}
	return strings.ReplaceAll(s, "-", " and ")
}

// FlagWords tell a flag in one line, with the worst reading, its standard error
// and the limit that it passed: "hyperextension of the index PIP: 20° past
// straight ± 3°; limit straight".
func FlagWords(f *session.Flag) string {
	what := FaultWords(f.Kind, f.Subject)
	switch coach.FlagKind(f.Kind) {
	case coach.Hyperextension, coach.OverFlexion:
		return fmt.Sprintf("%s: %s%s; limit %s", what, AngleWords(f.PeakDeg), PlusMinus(f.SEDeg), AngleWords(f.LimitDeg))
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

// WhoseWords name the hand of a flag, behind what it was, where that is not the
// hand that is usual there: ", left hand".
func WhoseWords(f *session.Flag, usual hand.Side) string {
	if f.Side == hand.UnknownSide || f.Side == usual {
		return ""
	}
	return HandWords(f.Side)
}

// HandWords name a hand behind what is of it, ", left hand"; one that is not known
// is not named.
func HandWords(side hand.Side) string {
	if side == hand.UnknownSide {
		return ""
	}
	return ", " + side.String() + " hand"
}

// AngleWords write an angle to a degree.
func AngleWords(deg float64) string {
	if math.IsNaN(deg) {
		return "not known"
	}
	return program.AngleWords(math.Round(deg))
}

// PlusMinus writes a standard error behind what it is the error of; one that is
// not known is left out.
func PlusMinus(se float64) string {
	if math.IsNaN(se) {
		return ""
	}
	return fmt.Sprintf(" ± %.0f°", math.Max(math.Round(se), 1))
}

// MovementName is the name of a movement of the catalogue; one that is not in
// it keeps its ID.
func MovementName(id string) string {
	m, err := exercise.Find(id)
	if err != nil {
		return id
	}
	return m.Name
}

// Capital lets words begin with a capital.
func Capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
