package draft

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"volar/internal/program"
)

// Words of a limit's end beside a number.
const (
	pastWord = "past"
	freeWord = "free"
)

// ParseEnd reads an end of a limit: a number of degrees short of straight, a
// number and the word past, free, or nothing.
func ParseEnd(text string) (program.End, error) {
	t := strings.ToLower(strings.TrimSpace(text))
	switch t {
	case "":
		return program.End{}, nil
	case freeWord:
		return program.Free(), nil
	case "straight":
		return program.Deg(0), nil
	}
	deg, err := ParseAngle(t)
	if err != nil {
		return program.End{}, err
	}
	return program.Deg(deg), nil
}

// ParseAngle reads an angle as a therapist types it. Signs are refused: some
// clinics write plus for past straight and some for short of it.
func ParseAngle(text string) (float64, error) {
	t := strings.ToLower(strings.TrimSpace(text))
	t = strings.TrimSuffix(t, " straight")
	rest, past := strings.CutSuffix(t, pastWord)
	rest = strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(rest), "°"))
	if strings.ContainsAny(rest, "+-−") {
		return 0, fmt.Errorf("%q has a sign, which clinics read in different ways; write 20 for 20° short of straight, 10 past for 10° past straight", text)
	}
	x, err := strconv.ParseFloat(strings.Replace(rest, ",", ".", 1), 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		return 0, fmt.Errorf("%q is no angle; write 20 for 20° short of straight, 10 past for 10° past straight", text)
	}
	if past {
		return -x, nil
	}
	return x, nil
}

// EndText writes an end as ParseEnd reads it.
func EndText(e program.End) string {
	if e.IsFree() {
		return freeWord
	}
	if deg, ok := e.Deg(); ok {
		return AngleText(deg)
	}
	return ""
}

// AngleText writes an angle as ParseAngle reads it.
func AngleText(deg float64) string {
	if deg < 0 {
		return number(-deg) + " " + pastWord
	}
	return number(deg)
}

// EndWords says an end for a person; lower says which end it is, and nothing
// typed means that the step leaves it as it was.
func EndWords(e program.End, lower bool) string {
	if e.IsFree() {
		return "no limit"
	}
	deg, ok := e.Deg()
	switch {
	case !ok:
		return "as before"
	case lower && deg == 0:
		return "not past straight"
	case lower && deg < 0:
		return "not beyond " + program.AngleWords(deg)
	case lower:
		return "not straighter than " + program.AngleWords(deg)
	}
	return "not bent beyond " + program.AngleWords(deg)
}

func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// parseDate reads a day; empty is none.
func parseDate(text string) (program.Date, error) {
	if strings.TrimSpace(text) == "" {
		return program.Date{}, nil
	}
	return program.ParseDate(strings.TrimSpace(text))
}

var errWhole = errors.New("type a whole number")

func parseWhole(text string) (int, error) {
	n, err := strconv.Atoi(strings.TrimSpace(text))
	if err != nil {
		return 0, errWhole
	}
	return n, nil
}

func parseSeconds(text string) (float64, error) {
	x, err := strconv.ParseFloat(strings.Replace(strings.TrimSpace(text), ",", ".", 1), 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		return 0, errors.New("type a number of seconds")
	}
	return x, nil
}
