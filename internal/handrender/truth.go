package handrender

import (
	"math"

	"volar/internal/hand"
)

// Truth is what is known of a rendered hand.
type Truth struct {
	Side hand.Side
	// FlexionDeg are the fourteen joint angles, AbductionDeg the four
	// fingers' abduction, as the pose says, degrees.
	FlexionDeg   [hand.NumJoints]float64
	AbductionDeg [4]float64
	// View is how the palm is turned to the line of sight of its middle MCP
	// joint; it equals the scene's View for a hand in the middle of the
	// picture.
	View hand.View
	// Image are the landmarks in pixels of the picture or crop, with Z in the
	// same scale from the wrist on, nearer smaller.
	Image hand.Points
	// World are the landmarks in camera axes: metres, x right, y down, z away
	// from the camera.
	World hand.Points
	// Visible says whether the surface over a landmark is in the picture and
	// not hidden.
	Visible [hand.NumPoints]bool
	// Normal points out of the palm and Axis from the wrist to the middle MCP
	// joint, unit vectors in the axes of the picture or crop: x right, y down,
	// z away from the camera.
	Normal, Axis hand.Point
	// Extra are the channels beyond the joints, in the order of hand.Channel.
	Extra [hand.NumChannels - hand.NumJoints]float64
}

// Channel is the true value of a channel. The yaw of HandTurn lies between
// -180 and 180.
func (t *Truth) Channel(c hand.Channel) float64 {
	if j, ok := c.Joint(); ok {
		return t.FlexionDeg[j]
	}
	return t.Extra[c-hand.NumJoints]
}

// setExtra works out the channels beyond the joints: distances and directions
// from the posed skeleton, abduction from the pose, which defines it.
func (t *Truth) setExtra(p *Pose) {
	set := func(c hand.Channel, x float64) { t.Extra[c-hand.NumJoints] = x }
	for i, f := range hand.Fingers[:3] {
		c, _ := hand.SpreadAfter(f)
		a, b := p.Fingers[i].Abduction*radialSign(f), p.Fingers[i+1].Abduction*radialSign(f+1)
		set(c, a-b)
	}
	palm := t.World[hand.Middle.MCP()].Sub(t.World[hand.Wrist]).Norm()
	for _, f := range hand.Fingers {
		c, _ := hand.PinchOf(f)
		set(c, 100*t.World[f.Tip()].Sub(t.World[hand.Thumb.Tip()]).Norm()/palm)
	}
	set(hand.ThumbPalmar, p.Thumb.Palmar)
	set(hand.ThumbRadial, p.Thumb.Radial)
	// Up the picture is -y. The hand leans to the palm's side where it turns
	// the way that leads from its axis to the palm's normal.
	tilt := math.Atan2(t.Axis.X, -t.Axis.Y) * 180 / math.Pi
	if t.Axis.X*t.Normal.Y < t.Axis.Y*t.Normal.X {
		tilt = -tilt
	}
	set(hand.HandTilt, tilt)
	set(hand.HandTurn, t.View.YawDeg)
}
