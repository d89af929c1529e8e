package exercise

import "volar/internal/hand"

// A pose is the same thing wherever a hand is described; package hand has it.
type (
	Pose       = hand.Pose
	FingerPose = hand.FingerPose
	ThumbPose  = hand.ThumbPose
	WristPose  = hand.WristPose
)

// Ease maps a share of a movement's time to a share of its way as an
// undisturbed reach does it, without jerk at either end (minimum jerk: Flash
// and Hogan 1985, J Neurosci 5:1688-1703).
func Ease(t float64) float64 {
	t = min(max(t, 0), 1)
	return t * t * t * (10 + t*(6*t-15))
}

// bounds are the angles that a hand can be asked for, in degrees. They are
// wide: lax joints pass every norm, and a limit outside them is a slip of the
// pen (from memory; norms end at MCP -45 to 105, PIP -9 to 120, DIP -6 to 90,
// thumb MP -32 to 90, IP -15 to 90).
var bounds = map[hand.Kind][2]float64{
	hand.MCP: {-60, 120},
	hand.PIP: {-45, 130},
	hand.DIP: {-45, 110},
	hand.IP:  {-60, 110},
}

// Possible returns the least and the greatest angle in degrees that makes
// sense for the joint; what lies outside is refused as a slip of the pen.
func Possible(j hand.Joint) (least, greatest float64) {
	b := bounds[j.Kind()]
	return b[0], b[1]
}
