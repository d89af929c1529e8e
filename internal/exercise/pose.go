package exercise

import "volar/internal/hand"

// FingerPose is a long finger's angles in degrees.
type FingerPose struct {
	MCP, Abduction, PIP, DIP float64
}

// ThumbPose is the thumb's angles in degrees. Palmar and Radial turn the
// metacarpal away from its place beside the index finger, out of the palm's
// plane and in it; Roll is pronation, which turns the pad towards the fingers.
type ThumbPose struct {
	Palmar, Radial, Roll, MP, IP float64
}

// WristPose is the wrist's angles in degrees: flexion and ulnar deviation
// positive.
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
	at := func(a, b float64) float64 { return a + (b-a)*t }
	var o Pose
	for i := range o.Fingers {
		a, b := p.Fingers[i], q.Fingers[i]
		o.Fingers[i] = FingerPose{at(a.MCP, b.MCP), at(a.Abduction, b.Abduction), at(a.PIP, b.PIP), at(a.DIP, b.DIP)}
	}
	a, b := p.Thumb, q.Thumb
	o.Thumb = ThumbPose{at(a.Palmar, b.Palmar), at(a.Radial, b.Radial), at(a.Roll, b.Roll), at(a.MP, b.MP), at(a.IP, b.IP)}
	o.Wrist = WristPose{at(p.Wrist.Flexion, q.Wrist.Flexion), at(p.Wrist.Deviation, q.Wrist.Deviation)}
	return o
}

// Ease maps a share of a movement's time to a share of its way as an
// undisturbed reach does it, without jerk at either end (minimum jerk: Flash
// and Hogan 1985, J Neurosci 5:1688-1703).
func Ease(t float64) float64 {
	t = min(max(t, 0), 1)
	return t * t * t * (10 + t*(6*t-15))
}

// CompositeDeg is the sum of a finger's MCP, PIP and DIP flexion.
func (p Pose) CompositeDeg(f hand.Finger) float64 {
	if f == hand.Thumb {
		return p.Thumb.MP + p.Thumb.IP
	}
	g := p.Fingers[f-hand.Index]
	return g.MCP + g.PIP + g.DIP
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
