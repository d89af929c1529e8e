package hand

import (
	"fmt"
	"strings"
)

// Channel is one measured quantity that can drive a movement. The first
// NumJoints channels are the joints, Channel(j) for a Joint j; the others are
// what else of the hand moves in an exercise.
type Channel int8

// The channels beyond the joints.
//
// A spread is the angle between neighbouring long fingers at the knuckles, in
// degrees, positive where they part. A pinch is the distance from the thumb's
// tip to that fingertip, in percent of the palm's length (wrist to middle MCP
// joint): 100 is a palm's length apart. ThumbPalmar and ThumbRadial are the
// thumb's abduction as in ThumbPose, in degrees. HandTilt is the direction of
// the hand's long axis in the picture, in degrees: 0 with the fingers up,
// positive where they lean to the side that the palm faces in a side view. It
// stands for the wrist's flexion where the forearm lies still and upright in
// the picture, and its change does so where it lies still in any direction.
// HandTurn is the yaw of the view in degrees, followed over full turns, so that
// it may leave -180 to 180.
const (
	SpreadIndexMiddle Channel = NumJoints + iota
	SpreadMiddleRing
	SpreadRingLittle
	PinchIndex
	PinchMiddle
	PinchRing
	PinchLittle
	ThumbPalmar
	ThumbRadial
	HandTilt
	HandTurn
	// NumChannels is how many channels there are, the joints included.
	NumChannels = 25
)

var extraNames = [NumChannels - NumJoints]string{
	"index-middle.spread", "middle-ring.spread", "ring-little.spread",
	"index.pinch", "middle.pinch", "ring.pinch", "little.pinch",
	"thumb.palmar", "thumb.radial", "hand.tilt", "hand.turn",
}

// SpreadAfter is the spread between a long finger and the next one on the
// ulnar side; the little finger has none.
func SpreadAfter(f Finger) (Channel, bool) {
	if f < Index || f > Ring {
		return 0, false
	}
	return SpreadIndexMiddle + Channel(f-Index), true
}

// PinchOf is the distance from the thumb's tip to a long finger's; the thumb
// has none.
func PinchOf(f Finger) (Channel, bool) {
	if f < Index || f > Little {
		return 0, false
	}
	return PinchIndex + Channel(f-Index), true
}

// Joint returns the joint that the channel is; ok is false for the others.
func (c Channel) Joint() (j Joint, ok bool) { return Joint(c), c >= 0 && c < NumJoints }

// Finger returns the digit that the channel belongs to: for a spread the one
// on the radial side. ok is false for the hand as a whole.
func (c Channel) Finger() (f Finger, ok bool) {
	switch {
	case c < 0 || c >= HandTilt:
		return 0, false
	case c < NumJoints:
		return Joint(c).Finger(), true
	case c < PinchIndex:
		return Index + Finger(c-SpreadIndexMiddle), true
	case c < ThumbPalmar:
		return Index + Finger(c-PinchIndex), true
	}
	return Thumb, true
}

// Pinch is true for a distance in percent of the palm's length; every other
// channel is in degrees.
func (c Channel) Pinch() bool { return c >= PinchIndex && c <= PinchLittle }

// Unit is "%" for a distance and "°" for an angle.
func (c Channel) Unit() string {
	if c.Pinch() {
		return "%"
	}
	return "°"
}

// String returns the channel's name in files and on the command line, such as
// "index.pip", "index.pinch" or "hand.tilt".
func (c Channel) String() string {
	switch {
	case c < 0 || c >= NumChannels:
		return fmt.Sprintf("channel(%d)", int(c))
	case c < NumJoints:
		return Joint(c).String()
	}
	return extraNames[c-NumJoints]
}

// ParseChannel reads a channel's name as String writes it.
func ParseChannel(s string) (Channel, error) {
	for c := Channel(0); c < NumChannels; c++ {
		if strings.EqualFold(c.String(), s) {
			return c, nil
		}
	}
	return 0, fmt.Errorf("channel %q is not known; channels are the joints such as index.pip, and %s", s, strings.Join(extraNames[:], ", "))
}

// ParseChannels reads a channel's name or a pattern with a star for all, in
// the channels' own order. A star for the level stands for the joints alone,
// so that "index.*" and "*" are what they are for ParseJoints; the others are
// asked for by their level, as in "*.pinch" or "*.spread".
func ParseChannels(s string) ([]Channel, error) {
	s = strings.ToLower(s)
	digit, level, dotted := strings.Cut(s, ".")
	var channels []Channel
	switch {
	case !strings.Contains(s, "*"):
		c, err := ParseChannel(s)
		if err != nil {
			return nil, err
		}
		return []Channel{c}, nil
	case dotted && digit == "*" && level != "*":
		for c := Channel(0); c < NumChannels; c++ {
			if _, l, _ := strings.Cut(c.String(), "."); l == level {
				channels = append(channels, c)
			}
		}
	default:
		joints, err := ParseJoints(s)
		if err != nil {
			return nil, err
		}
		for _, j := range joints {
			channels = append(channels, Channel(j))
		}
	}
	if channels == nil {
		return nil, fmt.Errorf("channels %q match nothing; write a channel such as index.pip or index.pinch, or a star as in *.pip, *.pinch or index.*", s)
	}
	return channels, nil
}

// Channel returns the sample's measurement of a channel, FlexionDeg and RawDeg
// in the channel's own unit. A channel that nobody measured is not judged.
func (s *Sample) Channel(c Channel) Measurement {
	if c < 0 || c >= NumChannels {
		return Measurement{SEDeg: 90, Why: Unsure, ExtensionWhy: Unsure}
	}
	if c < NumJoints {
		return s.Joints[c]
	}
	m := s.Extra[c-NumJoints]
	if !m.Judged && m.Why == NoReason {
		m.SEDeg, m.Why, m.ExtensionWhy = 90, Unsure, Unsure
	}
	return m
}
