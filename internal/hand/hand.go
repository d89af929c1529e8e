// Package hand is the shared vocabulary of the project: the points, joints,
// fingers and sides that every other package speaks of. It imports nothing of
// the project and computes nothing beyond what the names mean.
//
// # Units and frames
//
// Angles are in degrees with flexion positive and hyperextension negative;
// a straight joint is 0. This is the rule of biomechanics (ISB: Wu et al.
// 2005, J Biomech 38:981-992); clinics write angles in other ways, and only a
// report or a screen turns the number into words.
//
// Image points are in pixels of the whole, unmirrored picture: x to the right,
// y down, z in the same scale with the wrist at 0 and nearer smaller. World
// points are in metres about the middle of the hand. Side is the client's own
// hand, decided once where the picture enters, whatever the screen mirrors.
//
// View: yaw 0 has the palm towards the camera, 90 the radial (thumb) side,
// -90 the ulnar side, 180 the back of the hand. Pitch is positive where the
// fingers lean towards the camera.
//
// Time is the capture time since the session began, from a monotonic clock.
package hand

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// Side is the client's own left or right hand.
type Side int8

// The zero Side is "not known".
const (
	UnknownSide Side = iota
	Left
	Right
)

func (s Side) String() string {
	switch s {
	case Left:
		return "left"
	case Right:
		return "right"
	}
	return "unknown"
}

// Other returns the opposite side.
func (s Side) Other() Side {
	switch s {
	case Left:
		return Right
	case Right:
		return Left
	}
	return UnknownSide
}

// ParseSide reads "left" or "right", in any case.
func ParseSide(s string) (Side, error) {
	switch strings.ToLower(s) {
	case "left":
		return Left, nil
	case "right":
		return Right, nil
	}
	return UnknownSide, fmt.Errorf("side %q is neither left nor right", s)
}

// Finger numbers the digits from the radial side.
type Finger int8

// The five digits.
const (
	Thumb Finger = iota
	Index
	Middle
	Ring
	Little
)

// Fingers are the four long fingers, index to little.
var Fingers = [4]Finger{Index, Middle, Ring, Little}

var fingerNames = [5]string{"thumb", "index", "middle", "ring", "little"}

func (f Finger) String() string {
	if f < Thumb || f > Little {
		return fmt.Sprintf("finger(%d)", int(f))
	}
	return fingerNames[f]
}

// Indices into Points: the order of the 21-point hand model.
const (
	Wrist     = 0
	ThumbCMC  = 1
	ThumbMCP  = 2
	ThumbIPPt = 3
	ThumbTip  = 4
	// NumPoints is how many points a hand has.
	NumPoints = 21
)

// MCP, PIP, DIP and Tip give the point numbers of a long finger's joints.
// For the thumb they give MCP, IP, IP and tip.
func (f Finger) MCP() int {
	if f == Thumb {
		return ThumbMCP
	}
	return 1 + 4*int(f)
}

// PIP is the point number of the middle knuckle.
func (f Finger) PIP() int {
	if f == Thumb {
		return ThumbIPPt
	}
	return 2 + 4*int(f)
}

// DIP is the point number of the end knuckle.
func (f Finger) DIP() int {
	if f == Thumb {
		return ThumbIPPt
	}
	return 3 + 4*int(f)
}

// Tip is the point number of the fingertip.
func (f Finger) Tip() int { return 4 + 4*int(f) }

// Joint is one of the fourteen finger joints that are measured.
type Joint int8

// Joints in the order in which results list them.
const (
	IndexMCP Joint = iota
	IndexPIP
	IndexDIP
	MiddleMCP
	MiddlePIP
	MiddleDIP
	RingMCP
	RingPIP
	RingDIP
	LittleMCP
	LittlePIP
	LittleDIP
	ThumbMP
	ThumbIP
	// NumJoints is how many joints are measured.
	NumJoints = 14
)

// Kind is the level of a joint within its digit.
type Kind int8

// The levels. The thumb has only MP, counted as MCP, and IP.
const (
	MCP Kind = iota
	PIP
	DIP
	IP
)

func (k Kind) String() string { return [...]string{"mcp", "pip", "dip", "ip"}[k] }

// JointOf returns the joint of a long finger.
func JointOf(f Finger, k Kind) Joint {
	if f == Thumb {
		if k == MCP {
			return ThumbMP
		}
		return ThumbIP
	}
	return Joint(3*(int(f)-1) + int(k))
}

// Finger returns the digit that the joint belongs to.
func (j Joint) Finger() Finger {
	if j >= ThumbMP {
		return Thumb
	}
	return Finger(1 + int(j)/3)
}

// Kind returns the level of the joint.
func (j Joint) Kind() Kind {
	switch {
	case j == ThumbMP:
		return MCP
	case j == ThumbIP:
		return IP
	}
	return Kind(int(j) % 3)
}

// String returns the joint's name in files and on the command line, such as
// "index.pip" or "thumb.ip".
func (j Joint) String() string {
	switch {
	case j < 0 || j >= NumJoints:
		return fmt.Sprintf("joint(%d)", int(j))
	case j == ThumbMP:
		return "thumb.mp"
	}
	return j.Finger().String() + "." + j.Kind().String()
}

// ParseJoint reads a joint's name as String writes it.
func ParseJoint(s string) (Joint, error) {
	for j := Joint(0); j < NumJoints; j++ {
		if strings.EqualFold(j.String(), s) {
			return j, nil
		}
	}
	return 0, fmt.Errorf("joint %q is not known; joints are index|middle|ring|little . mcp|pip|dip and thumb . mp|ip", s)
}

// ParseJoints reads a joint's name or a pattern with a star for all: "*.pip"
// is the four middle knuckles, "index.*" the index finger's three joints,
// "thumb.*" the thumb's two, "*" every joint. Joints come in their own order.
func ParseJoints(s string) ([]Joint, error) {
	if s == "*" {
		s = "*.*"
	}
	if !strings.Contains(s, "*") {
		j, err := ParseJoint(s)
		if err != nil {
			return nil, err
		}
		return []Joint{j}, nil
	}
	wantDigit, wantLevel, _ := strings.Cut(strings.ToLower(s), ".")
	var joints []Joint
	for j := Joint(0); j < NumJoints; j++ {
		digit, level, _ := strings.Cut(j.String(), ".")
		if (wantDigit == "*" || wantDigit == digit) && (wantLevel == "*" || wantLevel == level) {
			joints = append(joints, j)
		}
	}
	if joints == nil {
		return nil, fmt.Errorf("joints %q match nothing; write a joint such as index.pip, or a star as in *.pip or index.*", s)
	}
	return joints, nil
}

// Triple returns the three points whose bend is the joint's angle: the one
// before, the joint itself, the one after.
func (j Joint) Triple() (a, b, c int) {
	if j >= ThumbMP {
		b = ThumbMCP + int(j-ThumbMP)
		return b - 1, b, b + 1
	}
	f := j.Finger()
	switch j.Kind() {
	case MCP:
		return Wrist, f.MCP(), f.PIP()
	case PIP:
		return f.MCP(), f.PIP(), f.DIP()
	}
	return f.PIP(), f.DIP(), f.Tip()
}

// Point is a position; the field that holds it names the unit.
type Point struct{ X, Y, Z float64 }

// Sub returns p - q.
func (p Point) Sub(q Point) Point { return Point{p.X - q.X, p.Y - q.Y, p.Z - q.Z} }

// Add returns p + q.
func (p Point) Add(q Point) Point { return Point{p.X + q.X, p.Y + q.Y, p.Z + q.Z} }

// Scale returns s p.
func (p Point) Scale(s float64) Point { return Point{s * p.X, s * p.Y, s * p.Z} }

// Dot returns the scalar product.
func (p Point) Dot(q Point) float64 { return p.X*q.X + p.Y*q.Y + p.Z*q.Z }

// Cross returns the vector product p x q.
func (p Point) Cross(q Point) Point {
	return Point{p.Y*q.Z - p.Z*q.Y, p.Z*q.X - p.X*q.Z, p.X*q.Y - p.Y*q.X}
}

// Norm returns the Euclidean length.
func (p Point) Norm() float64 { return math.Sqrt(p.Dot(p)) }

// Points are the 21 landmarks of a hand in the order of the constants above.
type Points [NumPoints]Point

// Region is a rotated square in the picture: the part that the landmark model
// was shown. Centre and size in pixels of the picture, rotation in radians,
// clockwise on the screen, 0 where the fingers point up.
type Region struct {
	CX, CY, Size, Rotation float64
}

// Observation is one hand as found in one picture, before any goniometry.
type Observation struct {
	// Time is the capture time of the picture since the session began.
	Time time.Duration
	// Track stays the same while the same hand is followed from picture to
	// picture; a hand that was lost comes back with a new number.
	Track int
	// Side is the client's own hand; SideScore is 0.5 to 1.
	Side      Side
	SideScore float64
	// SideGuessed is true of a hand that was seen from the side only, where it looks
	// like the mirror image of the other one: Side is then a guess, and whoever
	// knows which hand exercises knows better.
	SideGuessed bool
	// SeenSide is the side that this picture alone speaks for. Where it is not
	// the client's own, a hand seen from the side has been taken for the mirror
	// image of itself, and the depths of its points are turned round.
	SeenSide Side
	// Presence is the model's score that a hand is there, 0 to 1.
	Presence float64
	// Image holds the points in pixels of the picture, World in metres.
	Image, World Points
	// Shown are the points as they are to be drawn, in pixels of the picture: Image,
	// but with the long fingers where a model that reads angles sees them, which in
	// views from the side is nearer to where they are. Angles of joints are
	// calibrated to Image. It is zero where nothing but Image is known.
	Shown Points
	// Region is the part of the picture the points were read from.
	Region Region
	// Luma is the mean brightness of the region, 0 black to 1 white, and
	// Contrast the standard deviation of brightness there.
	Luma, Contrast float64
	// Angles is what the landmark model's own angle outputs say where the
	// model has them; nil for a model that gives only points.
	Angles *ModelAngles
}

// Drawn returns the points to draw: Shown where they are known, else Image.
func (o *Observation) Drawn() *Points {
	if o.Shown == (Points{}) {
		return &o.Image
	}
	return &o.Shown
}

// ModelAngles are the outputs of a landmark model that reads joint angles
// from its own feature maps.
type ModelAngles struct {
	// FlexionDeg and SpreadDeg are each joint's angle and the standard
	// deviation that the model states for it, both in degrees.
	FlexionDeg, SpreadDeg [NumJoints]float64
	// Normal is the direction out of the palm and Axis the direction from the
	// wrist to the middle MCP joint, both unit vectors in the picture's axes:
	// x right, y down, z away from the camera.
	Normal, Axis Point
	// Visible is the model's score, 0 to 1, that each point can be seen.
	Visible [NumPoints]float64
	// BendDeg is, for index to little finger, the angle in degrees at the MCP
	// between the line from the wrist and the proximal phalanx: unsigned, the
	// spreading of the fingers and the slant of the metacarpal in it, as
	// pictures with true points but no palm plane have it.
	BendDeg [4]float64
}

// View is how the hand is turned towards the camera, in degrees.
type View struct {
	YawDeg, PitchDeg float64
	// SEDeg is the standard error of the yaw.
	SEDeg float64
}

// Name puts the view in the trade's words.
func (v View) Name() string {
	y := math.Mod(v.YawDeg+540, 360) - 180
	switch {
	case math.Abs(y) <= 35:
		return "palmar"
	case math.Abs(y) >= 145:
		return "dorsal"
	case y > 0 && y < 55:
		return "oblique palmar-radial"
	case y > 0 && y <= 125:
		return "radial"
	case y > 0:
		return "oblique dorsal-radial"
	case y > -55:
		return "oblique palmar-ulnar"
	case y >= -125:
		return "ulnar"
	}
	return "oblique dorsal-ulnar"
}

// Reason says why a joint could not be judged.
type Reason string

// The reasons. The empty Reason goes with a joint that can be judged.
const (
	NoReason  Reason = ""
	WrongView Reason = "wrong view"
	Hidden    Reason = "hidden"
	TooSmall  Reason = "too small"
	TooFast   Reason = "too fast"
	TooDark   Reason = "too dark"
	NoHand    Reason = "no hand"
	Unsure    Reason = "too uncertain"
)

// Measurement is one joint's angle with what is known about its error.
type Measurement struct {
	// FlexionDeg is the best estimate of the angle now; RawDeg is what this
	// one picture alone says, before any filter over time.
	FlexionDeg, RawDeg float64
	// SEDeg is the standard error of FlexionDeg in degrees.
	SEDeg float64
	// Judged is true where the angle may be compared with a norm or an upper
	// limit; Why says why not.
	Judged bool
	Why    Reason
	// ExtensionJudged is true where this view can also show whether the joint
	// is past straight; ExtensionWhy says why not. It is never true unless
	// Judged is.
	ExtensionJudged bool
	ExtensionWhy    Reason
}

// Sample is what the goniometer says of one hand at one moment. A Sample
// with Found false stands for a picture in which the wanted hand was not seen.
type Sample struct {
	Time   time.Duration
	Found  bool
	Side   Side
	Track  int
	View   View
	Joints [NumJoints]Measurement
	// PalmPixels is the length from the wrist to the middle MCP joint in the
	// picture, corrected for foreshortening, in pixels.
	PalmPixels float64
	// SpeedPalms is how fast the hand as a whole moves, in palm lengths a
	// second.
	SpeedPalms float64
	// AbductionDeg is the angle between neighbouring long fingers at the
	// knuckles: index-middle, middle-ring, ring-little; NaN where not seen.
	AbductionDeg [3]float64
	// Extra holds the channels beyond the joints, from SpreadIndexMiddle on, in
	// each channel's own unit; the zero value is not judged. Channel reads it.
	Extra [NumChannels - NumJoints]Measurement
	// Palm is the middle of the palm in pixels of the picture; it is the zero
	// Point where nobody measured it.
	Palm Point
}
