package main

import (
	"math"

	"volar/internal/hand"
	"volar/internal/handrender"
)

// sight says whether a question about a joint can be answered from a picture,
// by what the renderer knows of it.
type sight int8

const (
	// partly is what lies between: seen by half, or turned by half. The
	// program may answer or not; it is counted neither way.
	partly sight = iota
	// plain: whoever looks at the picture can tell.
	plain
	// hidden: nobody can.
	hidden
)

// The two questions, in the words that stand on the board.
const (
	angleWords = "Whether a joint's angle can be seen: it can where the skin over the joint and over the next point towards the fingertip is in the picture and not behind anything, " +
		"and the hand's long axis is turned at most 40° towards or away from the camera; it cannot where neither of the two is in sight. What lies between is counted neither way."
	extensionWords = "Whether a PIP joint is past straight can be seen: it can in a side view (yaw within 20° of 90°, the long axis at most 25° out of the picture) on the finger in front, " +
		"where the joint and the two points beside it are in sight; it cannot within 35° of the palm or back view, nor where the joint and the next point are both out of sight."
)

// angleSight says whether a joint's angle can be seen.
func angleSight(t *handrender.Truth, j hand.Joint) sight {
	_, own, next := j.Triple()
	switch {
	case !t.Visible[own] && !t.Visible[next]:
		return hidden
	case t.Visible[own] && t.Visible[next] && math.Abs(t.View.PitchDeg) <= 40:
		return plain
	}
	return partly
}

// extensionSight says whether it can be seen that a PIP joint is past straight.
func extensionSight(t *handrender.Truth, j hand.Joint) sight {
	before, own, next := j.Triple()
	yaw := math.Abs(t.View.YawDeg)
	front := hand.Index
	if t.View.YawDeg < 0 {
		front = hand.Little
	}
	switch {
	case yaw <= 35 || yaw >= 145, !t.Visible[own] && !t.Visible[next]:
		return hidden
	case math.Abs(yaw-90) <= 20 && math.Abs(t.View.PitchDeg) <= 25 && j.Finger() == front &&
		t.Visible[before] && t.Visible[own] && t.Visible[next]:
		return plain
	}
	return partly
}
