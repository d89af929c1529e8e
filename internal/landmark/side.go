package landmark

import (
	"math"
	"time"

	"volar/internal/hand"
)

// How sure a followed hand's side is, and when it may change. A hand does not
// change sides, so a change only ever mends a first impression that was wrong.
const (
	// sideMemory is the time over which scores are averaged, in views of the
	// palm or the back.
	sideMemory = time.Second
	// leastSideWeight is what a picture counts for that shows the hand from the
	// side, where it looks like the mirror image of the other one: on rendered hands
	// 99 % of scores are right up to 36 degrees from the palm, 89 % at 45, and about
	// half of them from 55 degrees on.
	leastSideWeight = 0.03
	// alikeUpTo is how far apart, in samples of the crop, the network and the angle
	// head may have the fingers for the network to be believed in full, and
	// unlikeFrom from where on it is not believed at all: what it takes for the
	// other hand it often reads in another place, too. Of 2500 hard rendered crops
	// seen from the side 88 % of scores are right up to 8 samples, 75 % to 12, 57 %
	// to 18, and 38 % beyond.
	alikeUpTo, unlikeFrom = 8.0, 18.0
	// sideMargin is how far beyond even the mean must be to change the side.
	sideMargin = 0.2
	// firstScore is the time that the first score counts for, a picture's.
	firstScore = 33 * time.Millisecond
	// sidePatience is how long the mean must have been there.
	sidePatience = 100 * time.Millisecond
	// tellsSide is the weight from which a picture tells the side, 45 degrees from
	// the palm or the back, and sideTold what such pictures must weigh, in seconds,
	// for the side to be more than a guess in others, too; about ten at 30 a second.
	tellsSide = 0.25
	sideTold  = 0.3
)

// sideEvidence settles the side of a followed hand from the model's score for
// each picture. The zero value knows nothing.
type sideEvidence struct {
	side    hand.Side
	right   float64 // mean score for the right hand
	weight  float64 // of all scores since the first, in seconds
	last    time.Duration
	against time.Duration // how long the mean has spoken for the other side
	told    float64       // the part of weight that is of pictures which tell the side
	tells   bool          // the latest picture is one of them
	beside  bool          // the side follows from that of the hand beside it
}

// add takes the score of one more picture, which counts for a weight of 0 to 1.
func (e *sideEvidence) add(rightScore, weight float64, at time.Duration) {
	dt := max(0, at-e.last)
	first := e.side == hand.UnknownSide
	if first {
		*e = sideEvidence{right: rightScore, side: scoredSide(rightScore)}
		dt = firstScore
	}
	e.last = at
	more := weight * dt.Seconds()
	e.weight += more
	if e.tells = weight >= tellsSide; e.tells {
		e.told += more
	}
	if first {
		return
	}
	// A plain mean at first, so that a wrong first picture is soon outvoted,
	// then one that forgets as new evidence comes in.
	gain := 1 - math.Exp(-more/sideMemory.Seconds())
	if e.weight > 0 {
		gain = max(gain, more/e.weight)
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

// plain is the time in views of the palm or the back after which a side is not
// doubted for the sake of another hand.
const plain = 0.5 // seconds

// speaks is how strongly what was seen speaks for the right hand, or, below 0,
// for the left: the mean's lean times the time it was gathered in, in seconds.
func (e *sideEvidence) speaks() float64 { return (e.right - 0.5) * (e.weight + firstScore.Seconds()) }

// parted gives the two hands of one body, which are taken for the same side, a
// side each: the one of which less is known has the other. Two of which both
// have plainly been seen are left as they are: they are of two people. Beside a
// hand whose side is no guess the side of the other is none.
func parted(a, b *sideEvidence) {
	if a.side == b.side && min(a.weight, b.weight) < plain {
		less := a
		if math.Abs(b.speaks()) < math.Abs(a.speaks()) {
			less = b
		}
		less.side = less.side.Other()
		// What it was taken for does not speak for it now.
		less.right, less.against = 0.5, 0
	}
	if a.side != b.side && !(a.guessed() && b.guessed()) {
		a.beside, b.beside = true, true
	}
}

// guessed is true while most of what is known of the side comes from pictures that
// do not tell it, and while too few have told for one that does not.
func (e *sideEvidence) guessed() bool {
	return !e.beside && (e.told < e.weight/2 || e.told < sideTold && !e.tells)
}

// score is how sure the side is, 0.5 to 1.
func (e *sideEvidence) score() float64 {
	s := e.right
	if e.side == hand.Left {
		s = 1 - s
	}
	return max(0.5, s)
}

// sideWeight says how much a picture can tell of a hand's side: all of it with
// the palm or the back to the camera, next to nothing from the side, and nothing
// where the fingers lie elsewhere than the network has them. A model that does not
// give the palm's direction is believed in full.
func (r *reading) sideWeight() float64 {
	if r.angles == nil || r.angles.Normal == (hand.Point{}) {
		return 1
	}
	z := r.angles.Normal.Z
	return max(leastSideWeight, z*z*z*z) * r.agreement()
}

// agreement is 1 where network and angle head have the fingers in the same place,
// 0 where they do not.
func (r *reading) agreement() float64 {
	return min(max((unlikeFrom-r.apart)/(unlikeFrom-alikeUpTo), 0), 1)
}

// scoredSide is the side that one score alone speaks for.
func scoredSide(rightScore float64) hand.Side {
	if rightScore > 0.5 {
		return hand.Right
	}
	return hand.Left
}
