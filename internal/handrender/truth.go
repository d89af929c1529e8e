package handrender

import (
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
}
