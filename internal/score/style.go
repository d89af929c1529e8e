package score

import (
	"fmt"
	"math"
)

// Style is a way to write a joint's range of motion down. The trade has no
// single rule of signs (Mulder and Wittmeier 2009, Physiother Can 61:266-267),
// so that every page of numbers carries the style's legend.
type Style string

// The styles.
const (
	// NeutralZero writes three numbers without signs, extension, zero and
	// flexion; the zero stands where the joint passes straight, and moves to
	// the side that is not reached.
	NeutralZero Style = "neutral-zero"
	// PlusMinus writes extension and flexion; plus is past straight, minus
	// short of straight (American Society of Hand Therapists, from memory).
	PlusMinus Style = "plus-minus"
)

// Legend explains the style to a reader.
func (s Style) Legend() string {
	if s == PlusMinus {
		return "Extension/flexion in degrees: +10/100 goes 10° past straight and bends to 100°; −20/90 stops 20° short of straight and bends to 90°; 0/90 straightens exactly. ? was not judged."
	}
	return "Neutral-zero method, extension–zero–flexion in degrees: 10–0–100 goes 10° past straight and bends to 100°; 0–20–90 stops 20° short of straight and bends to 90°; 0–15–15 is stiff at 15°. ? was not judged."
}

// Write writes a joint's motion, rounded to whole multiples of step degrees; 0
// is 1. A reading that was not judged is a question mark.
func (s Style) Write(m Motion, step float64) string {
	if step <= 0 {
		step = 1
	}
	// Adding zero turns a negative zero into a plain one.
	round := func(r Reading) float64 { return math.Round(r.Deg/step)*step + 0 }
	e, f := round(m.Extension), round(m.Flexion)
	text := func(x float64) string { return fmt.Sprintf("%g", math.Abs(x)) }
	hasE, hasF := m.Extension.ok(), m.Flexion.ok()
	if s == PlusMinus {
		left, right := "?", "?"
		if hasE {
			left = text(e)
			if e < 0 {
				left = "+" + left
			} else if e > 0 {
				left = "−" + left
			}
		}
		if hasF {
			right = text(f)
			// A joint that cannot be bent up to straight.
			if f < 0 {
				right = "+" + right
			}
		}
		return left + "/" + right
	}
	switch {
	case !hasE && !hasF:
		return "?–?–?"
	case !hasF && e > 0:
		return "0–" + text(e) + "–?"
	case !hasF:
		return text(e) + "–0–?"
	case !hasE && f < 0:
		return "?–" + text(f) + "–0"
	case !hasE:
		// Whether straight is reached is not known, so neither is where the
		// zero stands.
		return "?–?–" + text(f)
	case e > 0:
		return "0–" + text(e) + "–" + text(f)
	case f < 0:
		return text(e) + "–" + text(f) + "–0"
	}
	return text(e) + "–0–" + text(f)
}
