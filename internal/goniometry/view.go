package goniometry

import (
	"math"

	"volar/internal/hand"
)

// viewOf reads the turn of the hand towards the camera from its frame in the
// picture. Yaw turns about the hand's long axis, so it does not depend on how
// the hand is rolled in the picture; it loses its meaning as the pitch nears
// 90 degrees and the long axis points at the camera.
func viewOf(f frame) hand.View {
	return hand.View{
		YawDeg:   math.Atan2(-f.radial.Z, -f.palmar.Z) / degree,
		PitchDeg: math.Asin(clamp(-f.distal.Z, -1, 1)) / degree,
	}
}

// wrap brings an angle in degrees into (-180, 180].
func wrap(deg float64) float64 {
	d := math.Mod(deg, 360)
	switch {
	case d > 180:
		d -= 360
	case d <= -180:
		d += 360
	}
	return d
}

func clamp(x, lo, hi float64) float64 { return math.Max(lo, math.Min(hi, x)) }
