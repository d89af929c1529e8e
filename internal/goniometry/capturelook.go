package goniometry

import (
	"fmt"
	"image"
	"math"
	"time"

	"volar/internal/hand"
)

// What a capture asks for. It is stricter than what is judged: every later
// reading leans on it.
const (
	// captureLuma and captureContrast are the least brightness and contrast of
	// the hand's region, captureBright the greatest brightness.
	captureLuma, captureContrast, captureBright = 0.12, 0.04, 0.92
	// capturePalm is the shortest palm in pixels: twice what is judged.
	capturePalm = 60.0
	// captureSpeed is the fastest drift in palm lengths a second: points that
	// tremble by 1 % of the palm read as 0.2 to 0.3.
	captureSpeed = 0.5
	// captureYaw and capturePitch are how far the hand may be turned from the
	// wanted view, degrees. With the SE of a yaw, 8, a hand turned right
	// passes.
	captureYaw, capturePitch = 25.0, 30.0
	// captureWrist is the least score with which the wrist must be seen, and
	// captureOpenWrist the same in a straight hand with the palm or the back to
	// the camera: on rendered hands a bare wrist scores 0.83 to 0.91 there, one
	// under a cuff that covers three centimetres of the palm 0.37 to 0.68.
	captureWrist, captureOpenWrist = 0.2, 0.5
	// captureParted is the greatest angle between neighbouring fingers of a
	// straight hand, degrees: fingers side by side read up to about 10.
	captureParted = 16.0
	// straightTo is the mean PIP flexion, degrees, beyond which a hand is not
	// even meant to be straight, and closedFrom how much more bent a fist must
	// be than the straight hand.
	straightTo, closedFrom = 60.0, 25.0
	// captureSwing is how far the mean of the joints may move during a hold,
	// degrees.
	captureSwing = 6.0
	// leastJoints are how many of the twelve finger joints must be judged with
	// the palm or the back to the camera, and leastAside in a side view, where
	// three lie in front.
	leastJoints, leastAside = 6, 2
	// captureGap is the longest trouble that leaves a hold as it is.
	captureGap = 300 * time.Millisecond
)

// look names the first thing that is wrong, and what to do about it.
func (c *Capture) look(s *hand.Sample, o *hand.Observation) (Trouble, string) {
	step := c.opts.Steps[c.step]
	if !s.Found {
		return NoHandSeen, c.wanted()
	}
	if s.Side != c.opts.Side && s.Side != hand.UnknownSide {
		return OtherHand, fmt.Sprintf("use your %s hand", c.opts.Side)
	}
	if t, say := c.lookAtPicture(s, o); t != NoTrouble {
		return t, say
	}
	if s.SpeedPalms > captureSpeed {
		return Moving, "hold your hand still"
	}
	if math.Abs(s.View.PitchDeg) > capturePitch {
		return Turned, "let your fingers point across the picture, not at the camera"
	}
	if d := wrap(s.View.YawDeg - step.YawDeg); math.Abs(d) > captureYaw {
		return Turned, fmt.Sprintf("turn %s towards the camera, about %.0f° more", partAt(step.YawDeg), math.Abs(d))
	}
	if o != nil && o.Angles != nil && o.Angles.Visible[hand.Wrist] < leastWrist(step) {
		return WristCovered, "pull your sleeve back from the wrist"
	}
	if t, say := c.lookAtPose(s, step); t != NoTrouble {
		return t, say
	}
	return NoTrouble, ""
}

func leastWrist(step CaptureStep) float64 {
	if step.Pose == StraightHand && !step.aside() {
		return captureOpenWrist
	}
	return captureWrist
}

// aside reports whether the step shows the hand from one of its sides.
func (s CaptureStep) aside() bool { return math.Abs(math.Sin(s.YawDeg*degree)) > 0.5 }

// lookAtPicture is about light, distance and the picture's edge.
func (c *Capture) lookAtPicture(s *hand.Sample, o *hand.Observation) (Trouble, string) {
	if o != nil && (o.Luma != 0 || o.Contrast != 0) {
		if o.Luma < captureLuma || o.Contrast < captureContrast {
			return TooLittle, "put more light on your hand"
		}
		if o.Luma > captureBright {
			return TooBright, "turn away from the bright light"
		}
	}
	if s.PalmPixels < capturePalm {
		return TooFar, "move your hand closer to the camera"
	}
	if o != nil && c.opts.Picture != (image.Point{}) {
		for _, p := range o.Image {
			if p.X < 0 || p.Y < 0 || p.X > float64(c.opts.Picture.X) || p.Y > float64(c.opts.Picture.Y) {
				return CutOff, "move your hand back until all of it is in the picture"
			}
		}
	}
	return NoTrouble, ""
}

// lookAtPose is about the fingers.
func (c *Capture) lookAtPose(s *hand.Sample, step CaptureStep) (Trouble, string) {
	aside := step.aside()
	judged, front := 0, hand.IndexPIP
	if step.YawDeg < 0 {
		front = hand.LittlePIP
	}
	for j := hand.IndexMCP; j <= hand.LittleDIP; j++ {
		if s.Joints[j].Judged {
			judged++
		}
	}
	least := leastJoints
	if aside {
		least = leastAside
	}
	pip, seen := meanPIP(s)
	switch {
	case aside && !s.Joints[front].Judged:
		return NotSeen, Guide(*s, front, false).Words
	case judged < least || !seen:
		return NotSeen, "show your whole hand, with nothing in it"
	case step.Pose == StraightHand && pip > straightTo:
		return NotThePose, "straighten your fingers as far as they go"
	case step.Pose == FullFist && c.opened && pip < c.open+closedFrom:
		return NotThePose, "close your hand as far as it goes"
	case step.Pose == StraightHand && !aside:
		for _, a := range s.AbductionDeg {
			if a > captureParted {
				return FingersParted, "lay your fingers side by side"
			}
		}
	}
	return NoTrouble, ""
}

// meanPIP is the mean flexion of the PIP joints that are judged.
func meanPIP(s *hand.Sample) (deg float64, ok bool) {
	n := 0.0
	for _, f := range hand.Fingers {
		if m := s.Joints[hand.JointOf(f, hand.PIP)]; m.Judged {
			deg, n = deg+m.RawDeg, n+1
		}
	}
	return deg / math.Max(n, 1), n > 0
}

// meanFlexion is the mean flexion of all finger joints, judged or not, so that
// one which comes into sight does not look like a movement.
func meanFlexion(s *hand.Sample) float64 {
	sum := 0.0
	for j := hand.IndexMCP; j <= hand.LittleDIP; j++ {
		sum += s.Joints[j].RawDeg
	}
	return sum / 12
}
