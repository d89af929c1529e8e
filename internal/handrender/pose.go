package handrender

import (
	"math"

	"volar/internal/hand"
)

// FingerPose is a long finger's angles in degrees: flexion positive,
// hyperextension negative.
//
// MCP is the angle of the proximal phalanx out of the plane of the palm; PIP
// and DIP are the bends between neighbouring phalanges. Abduction turns the
// finger in the plane of the palm, 0 parallel to the line from the wrist to
// the middle MCP joint; positive leads away from the middle finger, and for
// the middle finger itself towards the thumb.
type FingerPose struct {
	MCP, Abduction, PIP, DIP float64
}

// ThumbPose is the thumb's angles in degrees. Palmar and Radial turn the
// metacarpal away from its place beside the index finger: palmar abduction out
// of the palm's plane, radial abduction in it; Roll is pronation, which turns
// the pad towards the fingers. All three are 0 at the rest pose of the mesh.
// MP and IP are exact bends between neighbouring bones, 0 straight.
type ThumbPose struct {
	Palmar, Radial, Roll, MP, IP float64
}

// WristPose is the wrist's angles in degrees: flexion and ulnar deviation
// positive. The hand keeps its place and the forearm moves.
type WristPose struct {
	Flexion, Deviation float64
}

// Pose is a hand's angles; the zero Pose is straight and flat.
type Pose struct {
	Fingers [4]FingerPose // index to little
	Thumb   ThumbPose
	Wrist   WristPose
}

// Flexion lists the fourteen joint angles in the order of hand.Joint.
func (p Pose) Flexion() (a [hand.NumJoints]float64) {
	for i, f := range p.Fingers {
		a[3*i], a[3*i+1], a[3*i+2] = f.MCP, f.PIP, f.DIP
	}
	a[hand.ThumbMP], a[hand.ThumbIP] = p.Thumb.MP, p.Thumb.IP
	return a
}

// WithFlexion returns the pose with its fourteen joint angles replaced.
func (p Pose) WithFlexion(a [hand.NumJoints]float64) Pose {
	for i := range p.Fingers {
		f := &p.Fingers[i]
		f.MCP, f.PIP, f.DIP = a[3*i], a[3*i+1], a[3*i+2]
	}
	p.Thumb.MP, p.Thumb.IP = a[hand.ThumbMP], a[hand.ThumbIP]
	return p
}

// Blend returns the pose a share t of the way from p to q, angle by angle.
func (p Pose) Blend(q Pose, t float64) Pose {
	l := func(a, b float64) float64 { return a + (b-a)*t }
	var o Pose
	for i := range o.Fingers {
		a, b := p.Fingers[i], q.Fingers[i]
		o.Fingers[i] = FingerPose{l(a.MCP, b.MCP), l(a.Abduction, b.Abduction), l(a.PIP, b.PIP), l(a.DIP, b.DIP)}
	}
	a, b := p.Thumb, q.Thumb
	o.Thumb = ThumbPose{l(a.Palmar, b.Palmar), l(a.Radial, b.Radial), l(a.Roll, b.Roll), l(a.MP, b.MP), l(a.IP, b.IP)}
	o.Wrist = WristPose{l(p.Wrist.Flexion, q.Wrist.Flexion), l(p.Wrist.Deviation, q.Wrist.Deviation)}
	return o
}

// fistAbduction is where the fingers lie in a full fist: side by side, their
// tips towards the scaphoid (common practice). The little finger is turned
// most because the palm's ulnar side folds.
var fistAbduction = [4]float64{2, 0, 1, 3}

// Couple returns the pose with abduction as anatomy allows it: the collateral
// ligaments are slack in extension and tight in flexion, so that a finger
// spreads freely when straight and not at all with its MCP joint at 90 degrees
// (common practice). Flexion angles are kept as they are. Callers that want
// exact abduction leave Couple out.
func (p Pose) Couple() Pose {
	for i := range p.Fingers {
		f := &p.Fingers[i]
		t := smoothstep(10, 80, f.MCP)
		// Bending the PIP alone also draws the fingers together a little.
		t = max(t, 0.6*smoothstep(30, 90, f.PIP))
		f.Abduction += (fistAbduction[i] - f.Abduction) * t
	}
	return p
}

// all gives the four long fingers the same flexion, with the abduction of a
// relaxed hand.
func all(mcp, pip, dip float64) Pose {
	var p Pose
	for i, a := range [4]float64{5, 0, 4, 9} {
		p.Fingers[i] = FingerPose{mcp, a, pip, dip}
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
