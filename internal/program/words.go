package program

import (
	"fmt"
	"strconv"
	"strings"

	"volar/internal/exercise"
	"volar/internal/hand"
)

// trim writes a number without needless zeros.
func trim(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// AngleWords says an angle for a person, without a sign.
func AngleWords(deg float64) string {
	switch {
	case deg == 0:
		return "straight"
	case deg < 0:
		return trim(-deg) + "° past straight"
	}
	return trim(deg) + "°"
}

// JointWords names a joint for a person, such as "index PIP".
func JointWords(j hand.Joint) string {
	digit, level, _ := strings.Cut(j.String(), ".")
	return digit + " " + strings.ToUpper(level)
}

// Words names the joints for a person, such as "all PIP" or "index PIP and
// middle PIP".
func (j Joints) Words() string {
	var parts []string
	for s := range strings.SplitSeq(string(j), ",") {
		digit, level, _ := strings.Cut(strings.ToLower(strings.TrimSpace(s)), ".")
		switch {
		case digit == "*" && (level == "*" || level == ""):
			parts = append(parts, "all joints")
		case digit == "*":
			parts = append(parts, "all "+strings.ToUpper(level))
		case level == "*":
			parts = append(parts, "all joints of the "+digit)
		default:
			parts = append(parts, digit+" "+strings.ToUpper(level))
		}
	}
	return and(parts)
}

// and joins a list as a sentence does.
func and(s []string) string {
	if len(s) < 2 {
		return strings.Join(s, "")
	}
	return strings.Join(s[:len(s)-1], ", ") + " and " + s[len(s)-1]
}

// DoseWords says a dose for a person.
func DoseWords(d exercise.Dose) string {
	t := plural(d.Sets, "set") + " of " + plural(d.Repetitions, "repetition")
	if d.HoldSeconds > 0 {
		t += ", hold " + trim(d.HoldSeconds) + " s"
	}
	if d.RestSeconds > 0 && d.Sets > 1 {
		t += ", rest " + trim(d.RestSeconds) + " s"
	}
	return t + ", " + plural(d.TimesADay, "time") + " a day, " + plural(d.DaysAWeek, "day") + " a week"
}

func plural(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}
