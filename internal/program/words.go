package program

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"volar/internal/coach"
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

// LimitWords says the limits of a day for a person, joints with the same ones
// together, such as "all PIP: not past straight".
func LimitWords(l coach.Limits) []string {
	var order []string
	joints := map[string][]hand.Joint{}
	for j := hand.Joint(0); j < hand.NumJoints; j++ {
		var parts []string
		if x := l[j].Lower; x != nil {
			parts = append(parts, lowerWords(Deg(*x)))
		}
		if x := l[j].Upper; x != nil {
			parts = append(parts, upperWords(Deg(*x)))
		}
		if len(parts) == 0 {
			continue
		}
		words := strings.Join(parts, ", ")
		if joints[words] == nil {
			order = append(order, words)
		}
		joints[words] = append(joints[words], j)
	}
	for i, words := range order {
		order[i] = JointsWords(joints[words]) + ": " + words
	}
	return order
}

// JointsWords names several joints for a person, such as "all PIP" or "index
// PIP and index DIP".
func JointsWords(joints []hand.Joint) string {
	var names []string
	for _, k := range []hand.Kind{hand.MCP, hand.PIP, hand.DIP} {
		var of []string
		for _, j := range joints {
			if j.Finger() != hand.Thumb && j.Kind() == k {
				of = append(of, JointWords(j))
			}
		}
		if len(of) == len(hand.Fingers) {
			of = []string{"all " + strings.ToUpper(k.String())}
		}
		names = append(names, of...)
	}
	for _, j := range joints {
		if j.Finger() == hand.Thumb {
			names = append(names, JointWords(j))
		}
	}
	return and(names)
}

// TargetWords says the exercise's targets for a person.
func (e *Exercise) TargetWords() []string { return targetWords(e.Targets) }

// BothLimitWords are LimitWords of the hand that exercises, and those of the
// other hand where they differ, which say whose they are.
func BothLimitWords(own, other coach.Limits, otherSide hand.Side) []string {
	words, more := LimitWords(own), LimitWords(other)
	if slices.Equal(words, more) {
		return words
	}
	for _, w := range more {
		words = append(words, otherSide.String()+" hand, "+w)
	}
	return words
}
