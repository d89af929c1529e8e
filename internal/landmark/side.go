package landmark

import (
	"math"
	"time"

	"volar/internal/hand"
)

// How sure a followed hand's side is, and when it may change. A hand does not
// change sides, so a change only ever mends a first impression that was wrong.
const (
	// sideMemory is the time over which scores are averaged.
	sideMemory = time.Second
	// sideMargin is how far beyond even the mean must be to change the side.
	sideMargin = 0.2
	// sidePatience is how long the mean must have been there.
	sidePatience = 100 * time.Millisecond
)

// sideEvidence settles the side of a followed hand from the model's score for
// each picture. The zero value knows nothing.
type sideEvidence struct {
	side    hand.Side
	right   float64       // mean score for the right hand
	age     time.Duration // since the first score
	last    time.Duration
	against time.Duration // how long the mean has spoken for the other side
}

// add takes the score of one more picture.
func (e *sideEvidence) add(rightScore float64, at time.Duration) {
	if e.side == hand.UnknownSide {
		*e = sideEvidence{right: rightScore, last: at, side: scoredSide(rightScore)}
		return
	}
	dt := max(0, at-e.last)
	e.last = at
	e.age += dt
	// A plain mean at first, so that a wrong first picture is soon outvoted,
	// then one that forgets.
	gain := 1 - math.Exp(-float64(dt)/float64(sideMemory))
	if e.age > 0 {
		gain = max(gain, float64(dt)/float64(dt+e.age))
	}
	e.right += gain * (rightScore - e.right)

	if contrary := e.right - 0.5; (e.side == hand.Right && contrary > -sideMargin) || (e.side == hand.Left && contrary < sideMargin) {
		e.against = 0
		return
	}
	if e.against += dt; e.against >= sidePatience {
		e.side, e.against = e.side.Other(), 0
	}
}

// score is how sure the side is, 0.5 to 1.
func (e *sideEvidence) score() float64 {
	s := e.right
	if e.side == hand.Left {
		s = 1 - s
	}
	return max(0.5, s)
}

// scoredSide is the side that one score alone speaks for.
func scoredSide(rightScore float64) hand.Side {
	if rightScore > 0.5 {
		return hand.Right
	}
	return hand.Left
}
