package handrender

import (
	"math"

	"volar/internal/hand"
)

// A pose is the same thing wherever a hand is described; package hand has it.
type (
	Pose       = hand.Pose
	FingerPose = hand.FingerPose
	ThumbPose  = hand.ThumbPose
	WristPose  = hand.WristPose
)

// all gives the four long fingers the same flexion, with the abduction of a
// relaxed hand.
func all(mcp, pip, dip float64) Pose {
	var p Pose
	for i, a := range [4]float64{5, 0, 4, 9} {
		p.Fingers[i] = FingerPose{MCP: mcp, Abduction: a, PIP: pip, DIP: dip}
	}
	return p
}

// Thumb postures that go with the hand positions below.
var (
	thumbBeside = ThumbPose{Palmar: 4, Radial: 8, MP: 6, IP: 4}
	thumbOver   = ThumbPose{Palmar: 46, Radial: 0, Roll: 10, MP: 38, IP: 52}
)

// Straight is the open hand, fingers slightly apart.
func Straight() Pose { p := all(0, 0, 0); p.Thumb = thumbBeside; return p }

// Hook is the hook fist: MCP straight, PIP and DIP bent.
func Hook() Pose { p := all(0, 98, 62); p.Thumb = thumbBeside; return p.Couple() }

// FullFist is the composite fist with the thumb over the fingers.
func FullFist() Pose { p := all(88, 104, 68); p.Thumb = thumbOver; return p.Couple() }

// StraightFist has MCP and PIP bent and DIP straight.
func StraightFist() Pose { p := all(84, 100, 2); p.Thumb = thumbBeside; return p.Couple() }

// Tabletop has MCP at a right angle and the fingers straight.
func Tabletop() Pose { p := all(88, 2, 2); p.Thumb = thumbBeside; return p.Couple() }

// Relaxed is the resting cascade: each finger a little more bent than its
// radial neighbour.
func Relaxed() Pose {
	p := all(20, 28, 12)
	for i := range p.Fingers {
		f := &p.Fingers[i]
		f.MCP += 5 * float64(i)
		f.PIP += 4 * float64(i)
	}
	p.Thumb = ThumbPose{Palmar: 22, Radial: 6, MP: 12, IP: 18}
	return p
}

// Pinch is tip pinch of thumb and index finger, the others half open. The pads
// meet on the built-in hand; Renderer.Oppose does the same on any hand.
func Pinch() Pose {
	p := all(28, 32, 14)
	p.Fingers[0] = FingerPose{MCP: 54, Abduction: -1.6, PIP: 62, DIP: 22}
	p.Thumb = ThumbPose{Palmar: 37, Radial: -1, Roll: 14, MP: 20, IP: 27}
	return p
}

// Hyperextended is the open hand with every PIP joint past straight by deg
// and the DIP joints bent, as in a lax swan-neck posture.
func Hyperextended(deg float64) Pose {
	p := all(10, -math.Abs(deg), 0.7*math.Abs(deg))
	p.Thumb = thumbBeside
	return p
}
