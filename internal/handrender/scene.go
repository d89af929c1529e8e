package handrender

import (
	"image"

	"volar/internal/hand"
)

// RGB is a colour as on a screen (sRGB), each channel 0 to 1.
type RGB struct{ R, G, B float64 }

// View turns the hand before the camera, degrees. Yaw 0 shows the palm, 90
// the radial (thumb) side, -90 the ulnar side, 180 the back, for a left hand as
// for a right one. Pitch is positive where the fingers lean towards the
// camera. Roll turns the picture of the hand clockwise on the screen; at 0 the
// fingers point up. The order is yaw, pitch, roll.
type View struct{ Yaw, Pitch, Roll float64 }

// Camera is a pinhole camera that looks at the middle MCP joint.
type Camera struct {
	// Distance to the middle MCP joint in metres; 0 = 0.42.
	Distance float64
	// HFOV is the horizontal field of view in degrees; 0 = 62, a common
	// laptop camera.
	HFOV float64
	// OffsetX and OffsetY move the hand right and down in the picture, as a
	// share of the picture's width and height: 0.5 is the edge.
	OffsetX, OffsetY float64
}

// Skin is how the skin looks. In the strengths 0 means the usual amount and a
// negative number none.
type Skin struct {
	// Tone runs from 0, very light, to 1, very dark.
	Tone float64
	// Tint multiplies the colour; the zero Tint leaves it.
	Tint RGB
	// Palm is how much lighter the palm is than the back; usual 1, and the
	// difference grows with Tone.
	Palm float64
	// Redness of fingertips, knuckles and palm; Mottle, the uneven colour;
	// Creases at the joints and in the palm; Nails, how much they stand out;
	// Gloss; Grain, the fine relief; Veins on the back; Spots, as of age,
	// usual 0.
	Redness, Mottle, Creases, Nails, Gloss, Grain, Veins float64
	Spots                                                float64
	// NailColour paints the nails where it is not the zero colour.
	NailColour RGB
	// Seed picks the pattern.
	Seed uint32
}

// Light is one main light with shadow, a fill light without and light from
// everywhere. In the strengths 0 means the usual amount and a negative number
// none.
type Light struct {
	// Azimuth and Elevation say where the main light stands as seen from the
	// hand: 0, 0 at the camera, azimuth positive to the right of the picture,
	// elevation positive up. Both 0 = -35, 45.
	Azimuth, Elevation float64
	// Key, Fill and Ambient are strengths; usual 1, 1, 1.
	Key, Fill, Ambient float64
	// FillAzimuth and FillElevation place the fill light; both 0 = 60, 5.
	FillAzimuth, FillElevation float64
	// Colours of the three; zero = white.
	KeyColour, FillColour, AmbientColour RGB
	// Shadow is how dark the shadow is and Occlusion how dark narrow gaps
	// are; usual 1.
	Shadow, Occlusion float64
}

// BackgroundKind says what is behind the hand.
type BackgroundKind int8

// The backgrounds. Clutter is a procedural room of shelves, boxes, cloth and
// window light, out of focus.
const (
	Gradient BackgroundKind = iota
	Plain
	Clutter
	Picture
)

// Background is what is behind the hand.
type Background struct {
	Kind   BackgroundKind
	Colour RGB // zero = a light grey
	Seed   uint32
	// Image is shown by kind Picture, scaled to fill.
	Image *image.RGBA
}

// Sleeve covers the forearm. The zero Sleeve is a bare forearm.
type Sleeve struct {
	On bool
	// Start is the distance of the cuff from the wrist, metres, towards the
	// elbow; 0 = 0.015.
	Start float64
	// Loose widens the sleeve, 0 = 0.006 m off the skin.
	Loose  float64
	Fabric Fabric // zero colour = dark blue
}

// Picture effects after the rendering.
type Effects struct {
	// Exposure in stops; 0 leaves it.
	Exposure float64
	// Blur is the standard deviation of the defocus in pixels.
	Blur float64
	// Noise is the standard deviation of the sensor noise in grey levels of
	// 255 at mid grey; NoiseSeed should change from frame to frame.
	Noise     float64
	NoiseSeed uint32
}

// Scene is everything in one picture. The zero Scene is a straight right hand
// of light skin, palm to the camera, before a grey wall.
type Scene struct {
	// Hand replaces the renderer's own mesh where it is not nil.
	Hand  *Hand
	Shape Shape
	Pose  Pose
	// Side is the client's own hand; UnknownSide counts as Right.
	Side       hand.Side
	View       View
	Camera     Camera
	Skin       Skin
	Light      Light
	Background Background
	Sleeve     Sleeve
	Object     Object
	Worn       Worn
	Effects    Effects
	// ForearmStill keeps the forearm in its place and lets the hand turn about
	// the wrist, as over a table edge. Otherwise the hand keeps its place and
	// the forearm moves.
	ForearmStill bool
	// Behind is a second hand, or a third, drawn behind this one; nil is none.
	// It has its own pose, view, camera, skin and object; its background and
	// its effects are not used. A crop does not show it.
	Behind *Scene
}

func or(x, usual float64) float64 {
	if x == 0 {
		return usual
	}
	return x
}

// strength reads a field in which 0 is usual and negative none.
func strength(x float64) float64 {
	switch {
	case x == 0:
		return 1
	case x < 0:
		return 0
	}
	return x
}

func (c RGB) or(usual RGB) RGB {
	if c == (RGB{}) {
		return usual
	}
	return c
}
