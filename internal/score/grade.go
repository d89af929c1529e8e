package score

import "volar/internal/hand"

// Grade is one of four classes; the empty Grade is none.
type Grade string

// The grades.
const (
	Excellent Grade = "excellent"
	Good      Grade = "good"
	Fair      Grade = "fair"
	Poor      Grade = "poor"
)

// Result is a graded sum.
type Result struct {
	// System names the score and its version, for every place that shows the
	// grade.
	System string
	// Complete is false where the sum was incomplete or there was nothing to
	// compare with; Percent is then 0 and Grade empty.
	Complete bool
	Percent  float64
	Grade    Grade
}

// The systems' names, as they are shown.
const (
	ASSHSystem      = "TAM, ASSH grades"
	DegreesSystem   = "TAM, grades by degrees"
	OriginalSystem  = "Strickland, original (1980)"
	AdjustedSystem  = "Strickland, adjusted (1985)"
	normTAM         = 260
	stricklandRange = 175
)

// ASSH grades total active motion against that of the same finger of the other
// hand, or against 260 degrees where that is not known (norm 0): excellent 100 %,
// good over 75 %, fair over 50 %, else poor (HandLab Clinical Pearl 18, 2012,
// on the ASSH's own). The lists leave exactly 50 % open; here it is poor. The
// norm of 260 is for a finger: a thumb without a norm has no grade.
func ASSH(s Sum, f hand.Finger, norm float64) Result {
	r := Result{System: ASSHSystem}
	if norm == 0 && f != hand.Thumb {
		norm = normTAM
	}
	if !s.Complete || !(norm > 0) {
		return r
	}
	r.Complete, r.Percent = true, 100*s.Deg/norm
	switch {
	case r.Percent >= 100:
		r.Grade = Excellent
	case r.Percent > 75:
		r.Grade = Good
	case r.Percent > 50:
		r.Grade = Fair
	default:
		r.Grade = Poor
	}
	return r
}

// Degrees grades total active motion by bands of degrees: a finger from 220
// excellent, from 180 good, from 130 fair; the thumb from 119, 98 and 70
// (classification 217 of the Electronic Textbook of Hand Surgery, whose own
// table ends the thumb's fair band at 79 and so leaves a gap up to 98, which
// looks like a misprint). Percent is of the upper end of the excellent band,
// 260 or 140.
func Degrees(s Sum, f hand.Finger) Result {
	r := Result{System: DegreesSystem}
	if !s.Complete {
		return r
	}
	bands, whole := [3]float64{220, 180, 130}, 260.0
	if f == hand.Thumb {
		bands, whole = [3]float64{119, 98, 70}, 140
	}
	r.Complete, r.Percent, r.Grade = true, 100*s.Deg/whole, band(s.Deg, bands)
	return r
}

// StricklandOriginal grades the motion of the PIP and DIP joints as a share of
// 175 degrees: from 85 % excellent, from 70 % good, from 50 % fair (Strickland
// and Glogovac 1980, J Hand Surg Am 5:537-543).
func StricklandOriginal(s Sum) Result {
	return strickland(s, OriginalSystem, [3]float64{85, 70, 50})
}

// StricklandAdjusted is the same with the later, milder bands: from 75 %
// excellent, from 50 % good, from 25 % fair (Strickland 1985; the bands are
// from memory).
func StricklandAdjusted(s Sum) Result {
	return strickland(s, AdjustedSystem, [3]float64{75, 50, 25})
}

func strickland(s Sum, system string, bands [3]float64) Result {
	r := Result{System: system}
	if !s.Complete {
		return r
	}
	r.Complete, r.Percent = true, 100*s.Deg/stricklandRange
	r.Grade = band(r.Percent, bands)
	return r
}

// band grades by the least values of excellent, good and fair.
func band(x float64, least [3]float64) Grade {
	for i, g := range [...]Grade{Excellent, Good, Fair} {
		if x >= least[i] {
			return g
		}
	}
	return Poor
}
