package program

import (
	"math"

	"volar/internal/exercise"
	"volar/internal/hand"
)

// What a view shows of a joint past straight. The figures are those by which
// the estimator judges single pictures, here for a hand that is held as the
// view says.
const (
	// nearStraightDeg: a lower limit below it asks whether the joint passes
	// straight, which only a view along the joint's axis shows; above it the
	// amount of bend answers.
	nearStraightDeg = 15
	sideFrom        = 55
	sideTo          = 125
	// thumbWithin is how far from the palm or the back the camera may look to
	// see the thumb bend in profile.
	thumbWithin = 40
)

// showsExtension reports whether the view can show that the joint passes
// straight; why says why not.
func showsExtension(v exercise.View, j hand.Joint) (ok bool, why string) {
	yaw := math.Abs(v.YawDeg)
	side := yaw >= sideFrom && yaw <= sideTo
	switch f := j.Finger(); {
	case f == hand.Thumb:
		if yaw > thumbWithin && yaw < 180-thumbWithin {
			return false, "the thumb bends in profile only where the palm or the back faces the camera"
		}
	case !side:
		return false, "a finger shows it only from the side"
	case v.YawDeg > 0 && f != hand.Index || v.YawDeg < 0 && f != hand.Little:
		return false, "from the side only the finger in front shows it"
	}
	return true, ""
}
