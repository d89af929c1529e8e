package goniometry

import (
	"fmt"
	"math"

	"volar/internal/hand"
)

// Guidance says what would let a joint be judged that cannot be judged now.
type Guidance struct {
	// TurnDeg is the least turn of the hand about its long axis that would do,
	// in degrees of yaw: positive from the palm to the thumb side. It is 0
	// where no turn is needed or none would help.
	TurnDeg float64
	// Words say it to the client, one instruction, no full stop. They are
	// empty where the joint can be judged already.
	Words string
}

// turnMargin is how far inside a view's bounds a turn should end, in degrees:
// the error of the yaw.
const turnMargin = 10

// Guide says how the hand should be turned or held for a joint to be judged,
// or, with extension, for the picture to show whether it is past straight. For
// a sample in which nothing is missing the Guidance is empty.
func Guide(s hand.Sample, j hand.Joint, extension bool) Guidance {
	if j < 0 || j >= hand.NumJoints {
		return Guidance{}
	}
	m := s.Joints[j]
	ok, why := m.Judged, m.Why
	if extension {
		ok, why = m.ExtensionJudged, m.ExtensionWhy
	}
	if !s.Found {
		ok, why = false, hand.NoHand
	}
	switch {
	case ok:
		return Guidance{}
	case why == hand.NoHand:
		return Guidance{Words: "hold your whole hand before the camera"}
	case why == hand.TooSmall:
		return Guidance{Words: "move your hand closer to the camera"}
	case why == hand.TooDark:
		return Guidance{Words: "put more light on your hand"}
	case why == hand.TooFast:
		return Guidance{Words: "move more slowly"}
	case why == hand.WrongView && math.Abs(s.View.PitchDeg) > steep(extension):
		return Guidance{Words: "let your fingers point across the picture, not at the camera"}
	case extension && j.Finger() == hand.Thumb:
		return thumbTurn(s)
	case extension:
		return sideTurn(s, j.Finger(), why)
	case why == hand.Hidden:
		return openTurn(s, j.Finger())
	}
	return Guidance{Words: "hold your hand still, with nothing before it"}
}

func steep(extension bool) float64 {
	if extension {
		return sideSteepDeg
	}
	return steepDeg
}

// sideTurn brings the side of the hand to the camera on which the finger lies.
func sideTurn(s hand.Sample, f hand.Finger, why hand.Reason) Guidance {
	// From either side the two middle fingers lie behind another.
	inFront := hand.Index
	side := 1.0
	if f == hand.Ring || f == hand.Little {
		inFront, side = hand.Little, -1
	}
	turn := turnInto(s.View.YawDeg, side*sideFrom, side*sideTo)
	switch {
	case turn != 0:
		return Guidance{TurnDeg: turn, Words: turnWords(s, side, turn)}
	case f != inFront:
		return Guidance{Words: fmt.Sprintf("bend your %s finger out of the way, so that the %s finger is seen from the side", inFront, f)}
	case why == hand.Hidden:
		return Guidance{Words: fmt.Sprintf("take away what is before your %s finger", f)}
	}
	return Guidance{Words: "hold your hand still, with nothing before it"}
}

// turnWords tell which part of the hand is to come to the camera and how the
// arm makes it easy: with the forearm across the body the thumb side faces
// forward where the palm is up, the other side where it is down.
func turnWords(s hand.Sample, side, turn float64) string {
	part, palm := "thumb", "up"
	if side < 0 {
		part, palm = "little finger", "down"
	}
	words := fmt.Sprintf("turn your %s towards the camera, about %.0f°", part, math.Abs(turn))
	switch s.Side {
	case hand.Right:
		return words + fmt.Sprintf("; easiest with the fingers pointing to your left and the palm %s", palm)
	case hand.Left:
		return words + fmt.Sprintf("; easiest with the fingers pointing to your right and the palm %s", palm)
	}
	return words
}

// openTurn brings the palm or the back of the hand to the camera, from where
// the fingers do not hide one another. A folded finger is hidden from the back
// by the hand itself, and from the palm by its own tip.
func openTurn(s hand.Sample, f hand.Finger) Guidance {
	y := wrap(s.View.YawDeg)
	palm, back := turnInto(y, -openTo, openTo), turnInto(wrap(y+180), -openTo, openTo)
	folded := f != hand.Thumb && s.Joints[hand.JointOf(f, hand.MCP)].RawDeg+s.Joints[hand.JointOf(f, hand.PIP)].RawDeg > foldedAwayDeg
	switch {
	case folded && palm == 0:
		return Guidance{Words: fmt.Sprintf("turn your hand a little to either side, so that your %s is seen", digit(f))}
	case palm == 0 || back == 0 && !folded:
		return Guidance{Words: fmt.Sprintf("take away what is before your %s", digit(f))}
	case folded || math.Abs(palm) <= math.Abs(back):
		return Guidance{TurnDeg: palm, Words: fmt.Sprintf("turn your palm towards the camera, about %.0f°", math.Abs(palm))}
	}
	return Guidance{TurnDeg: back, Words: fmt.Sprintf("turn the back of your hand towards the camera, about %.0f°", math.Abs(back))}
}

// foldedAwayDeg is the MCP and PIP flexion together from which a finger lies
// over the palm, a right angle.
const foldedAwayDeg = 90

// openTo is the yaw, from the palm or from the back, up to which the fingers
// lie side by side in the picture.
const openTo = 45

// thumbTurn brings the palm to the camera: from there the thumb's own bending
// is seen from its side.
func thumbTurn(s hand.Sample) Guidance {
	if turn := turnInto(s.View.YawDeg, -thumbTo, thumbTo); turn != 0 {
		return Guidance{TurnDeg: turn, Words: fmt.Sprintf("turn your palm towards the camera, about %.0f°", math.Abs(turn))}
	}
	return Guidance{Words: "take away what is before your thumb"}
}

// thumbTo is the yaw up to which the camera looks along the axis of the
// thumb's joints while the hand is upright; see profile.
const thumbTo = 30

func digit(f hand.Finger) string {
	if f == hand.Thumb {
		return "thumb"
	}
	return f.String() + " finger"
}

// turnInto is the least turn, in degrees, that brings a yaw between two bounds
// and turnMargin beyond the nearer; 0 where it lies between them. The bounds
// are less than a half turn apart.
func turnInto(yaw, a, b float64) float64 {
	if a > b {
		a, b = b, a
	}
	middle, half := (a+b)/2, (b-a)/2
	d := wrap(yaw - middle)
	if math.Abs(d) <= half {
		return 0
	}
	return math.Copysign(half-turnMargin, d) - d
}
