package hand

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

// Flexion lists the fourteen joint angles in the order of Joint.
func (p Pose) Flexion() (a [NumJoints]float64) {
	for i, f := range p.Fingers {
		a[3*i], a[3*i+1], a[3*i+2] = f.MCP, f.PIP, f.DIP
	}
	a[ThumbMP], a[ThumbIP] = p.Thumb.MP, p.Thumb.IP
	return a
}

// WithFlexion returns the pose with its fourteen joint angles replaced.
func (p Pose) WithFlexion(a [NumJoints]float64) Pose {
	for i := range p.Fingers {
		f := &p.Fingers[i]
		f.MCP, f.PIP, f.DIP = a[3*i], a[3*i+1], a[3*i+2]
	}
	p.Thumb.MP, p.Thumb.IP = a[ThumbMP], a[ThumbIP]
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
		t := ramp(10, 80, f.MCP)
		// Bending the PIP alone also draws the fingers together a little.
		t = max(t, 0.6*ramp(30, 90, f.PIP))
		f.Abduction += (fistAbduction[i] - f.Abduction) * t
	}
	return p
}

// CompositeDeg is the sum of a finger's MCP, PIP and DIP flexion.
func (p Pose) CompositeDeg(f Finger) float64 {
	if f == Thumb {
		return p.Thumb.MP + p.Thumb.IP
	}
	g := p.Fingers[f-Index]
	return g.MCP + g.PIP + g.DIP
}

// ramp rises smoothly from 0 at a to 1 at b.
func ramp(a, b, x float64) float64 {
	t := min(max((x-a)/(b-a), 0), 1)
	return t * t * (3 - 2*t)
}
