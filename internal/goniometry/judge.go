package goniometry

import (
	"math"

	"volar/internal/hand"
)

// What a joint needs to be judged. Limits that are not geometry were set where
// the error on rendered hands begins to rise; see calibration.ErrorTable.
const (
	// hiddenBelow is the probability of being seen under which a joint counts
	// as hidden where points alone speak, and headHiddenBelow the same for the
	// angle head's score. On rendered test crops, of the joints that can be seen
	// 98.7 % are judged then, of those that cannot 81 % are not, and 89 % amid
	// movements of the catalogue (97.7 and 89, 93 % at 0.5; 95.3 and 93, 96 % at
	// 0.6). At 0.5 a hand round a roll, seen from the side, was left with too
	// little that is judged to be followed. What cannot be seen and is judged all
	// the same carries an error that nearly holds: of PIP joints out of sight 64 %
	// lie within one of the head's stated spreads and 90 % within two.
	hiddenBelow, headHiddenBelow = 0.2, 0.4
	// freeFrom is the score from which a joint's outline may show whether it is
	// past straight, and wholeFrom the same for a finger behind another where
	// the angle head speaks.
	freeFrom, wholeFrom = 0.5, 0.9
	// coveredFrom is how far a point may lie behind another part of the hand
	// while its outline is called free.
	coveredFrom = 0.5
	// steepDeg is the pitch beyond which the hand's long axis points at the
	// camera or away, and no angle can be read; sideSteepDeg the one beyond
	// which a side view is no longer one.
	steepDeg, sideSteepDeg = 65, 40
	// unsureDeg is the standard error from which a number is not worth
	// comparing with anything, and sideUnsureDeg from which it cannot tell a
	// joint past straight from a straight one.
	unsureDeg, sideUnsureDeg = 30, 20
	// surelyBentDeg is the flexion that is left of a reading after two standard
	// errors from which a joint is not past straight, however it is seen.
	surelyBentDeg = 20
	// A joint shows whether it is past straight in a view from the side: yaw
	// within these bounds on either side, which costs a 10 degree bend no more
	// than two degrees in the picture (tan seen = tan true · cos of the turn
	// out of the side view, 35 degrees at most: 8.2 of 10).
	sideFrom, sideTo = 55, 125
	// thumbAxisZ is much the same for the thumb, whose axis lies elsewhere: the
	// camera within 40 degrees of it.
	thumbAxisZ = 0.766
	// surelyOdds is how far the evidence on the depths must speak for one way:
	// nine to one.
	surelyOdds = 2.2
)

// judge decides what may be said of each joint of one picture.
type judge struct {
	opts *Options
	o    *hand.Observation
	p    *posture
	m    *motion
	e    *estimate
	// steadyYaw is the yaw over time that a side view is judged by.
	steadyYaw float64
	// covered says how far each point lies behind another part of the hand.
	covered [hand.NumPoints]float64
}

// measurement is one joint's; FlexionDeg is the same as RawDeg.
func (j *judge) measurement(k hand.Joint) hand.Measurement {
	m := hand.Measurement{FlexionDeg: j.e.flexion[k], RawDeg: j.e.flexion[k], SEDeg: j.e.se[k]}
	m.Why = j.why(k)
	m.Judged = m.Why == hand.NoReason
	m.ExtensionWhy = m.Why
	if m.Judged {
		m.ExtensionWhy = j.whyNotExtension(k)
	}
	m.ExtensionJudged = m.ExtensionWhy == hand.NoReason
	return m
}

// why says why the joint's angle cannot be judged, or NoReason.
func (j *judge) why(k hand.Joint) hand.Reason {
	switch {
	case j.p.palm < j.opts.MinPalmPixels:
		return hand.TooSmall
	case j.tooDark():
		return hand.TooDark
	case j.tooFast(k, 1):
		return hand.TooFast
	case math.Abs(j.e.view.PitchDeg) > steepDeg:
		return hand.WrongView
	case j.e.visible[k] < j.hiddenBelow():
		return hand.Hidden
	case j.e.se[k] > unsureDeg:
		return hand.Unsure
	}
	return hand.NoReason
}

func (j *judge) hiddenBelow() float64 {
	if j.e.signed {
		return headHiddenBelow
	}
	return hiddenBelow
}

// whyNotExtension says why the picture cannot show whether a joint that can be
// judged is past straight, or NoReason.
func (j *judge) whyNotExtension(k hand.Joint) hand.Reason {
	switch {
	case !j.profile(k):
		return hand.WrongView
	case j.surelyBent(k):
		return hand.NoReason
	case j.e.visible[k] < freeFrom, !j.free(k):
		return hand.Hidden
	case j.tooFast(k, 0.5):
		return hand.TooFast
	case j.e.se[k] > sideUnsureDeg, !j.e.signed && math.Abs(j.p.depthOdds) < surelyOdds:
		return hand.Unsure
	}
	return hand.NoReason
}

// surelyBent reports whether a joint on the finger in front is bent so far that
// its error cannot hide that it is past straight, which is all that is asked:
// the middle knuckle of a fist seen from the side is no "cannot see".
func (j *judge) surelyBent(k hand.Joint) bool {
	return j.e.signed && j.nearest(k) && j.e.flexion[k]-2*j.e.se[k] > surelyBentDeg
}

// free reports whether the outline of the joint stands by itself. By the points
// alone that is where nothing lies before it. The angle head reads the finger
// in front of the others whatever lies behind it, but lets one behind borrow
// its outline (on a rendered hand, an index finger 18 degrees past straight
// drew the middle one to 10), so that one must be seen nearly whole.
func (j *judge) free(k hand.Joint) bool {
	a, b, c := k.Triple()
	if j.e.signed {
		return j.nearest(k) || j.e.visible[k] >= wholeFrom
	}
	return math.Max(j.covered[a], math.Max(j.covered[b], j.covered[c])) <= coveredFrom
}

// nearest reports whether the joint is on the finger that a side view shows in
// front of the others.
func (j *judge) nearest(k hand.Joint) bool {
	if j.steadyYaw > 0 {
		return k.Finger() == hand.Index || k.Finger() == hand.Thumb
	}
	return k.Finger() == hand.Little
}

// profile reports whether the camera looks along the joint's flexion axis.
func (j *judge) profile(k hand.Joint) bool {
	if math.Abs(j.e.view.PitchDeg) > sideSteepDeg {
		return false
	}
	if k.Finger() == hand.Thumb {
		return math.Abs(j.p.imageF.thumbAxis().Z) >= thumbAxisZ
	}
	steady, now := math.Abs(j.steadyYaw), math.Abs(j.e.view.YawDeg)
	return steady >= sideFrom && steady <= sideTo && now >= sideFrom-steadyReach && now <= sideTo+steadyReach
}

// tooDark goes by the brightness of the region that the points were read from.
// A region without either number was not measured.
func (j *judge) tooDark() bool {
	if j.o.Luma == 0 && j.o.Contrast == 0 {
		return false
	}
	return j.o.Luma < j.opts.MinLuma || j.o.Contrast < j.opts.MinContrast
}

// tooFast compares the speed of the hand and of the joint's own points with a
// share of what is allowed.
func (j *judge) tooFast(k hand.Joint, share float64) bool {
	a, b, c := k.Triple()
	v := math.Max(j.m.points[a], math.Max(j.m.points[b], j.m.points[c]))
	return j.m.palms > share*j.opts.MaxPalms || v > share*j.opts.MaxPointPalms
}
