package goniometry

import (
	"math"

	"volar/internal/goniometry/calibration"
	"volar/internal/hand"
)

// An estimator says what one picture shows of every joint, whether or not it
// may be judged.
type estimator interface {
	estimate(o *hand.Observation, p *posture) estimate
}

// estimate is the answer of an estimator; angles in degrees.
type estimate struct {
	flexion, se [hand.NumJoints]float64
	// visible is the probability, 0 to 1, that the joint's surface and the
	// bone beyond it are in sight.
	visible [hand.NumJoints]float64
	view    hand.View
	// signed is true where the sign of an angle does not hang on the depths
	// of the points.
	signed bool
}

// definitionSE is what two ways of laying a joint's bones differ by in degrees
// at the MCP joints and the thumb's MP, where skin, palm and metacarpal do not
// run along one another: two marker sets in use for motion capture repeat to
// 5.1 and 3.7 degrees (Fischer et al. 2020, Appl Sci 10:6436), so that they
// agree to no better than 6.3. A goniometer laid on the back of the hand is a
// third way, and the stated error is to hold against it.
const definitionSE = 6.3

// widen adds what lies in the definition of an angle to its error.
func (e *estimate) widen() {
	for j := range hand.Joint(hand.NumJoints) {
		if j.Kind() == hand.MCP {
			e.se[j] = math.Hypot(e.se[j], definitionSE)
		}
	}
}

// landmarkEstimator corrects the bends that the landmarks show by what was
// learned on rendered hands. The zero value is ready.
type landmarkEstimator struct{ scratch calibration.Scratch }

// Flexion outside these bounds is no joint's; the widest published active
// ranges are about -40 to 130 (generalised laxity, and PIP in a full fist).
const minFlexion, maxFlexion = -45, 130

func (l *landmarkEstimator) estimate(_ *hand.Observation, p *posture) estimate {
	var e estimate
	b := p.bends()
	x := p.viewFeatures(&b)
	yaw := calibration.ReadYaw(calibration.Fitted.View.Run(x[:], &l.scratch))
	e.view = hand.View{YawDeg: yaw.Deg, PitchDeg: p.view.PitchDeg, SEDeg: calibration.Errors.YawSE(yaw)}
	for f := hand.Thumb; f <= hand.Little; f++ {
		net := &calibration.Fitted.Finger
		if f == hand.Thumb {
			net = &calibration.Fitted.Thumb
		}
		x := p.digitFeatures(f, &b)
		out := net.Run(x[:], &l.scratch)
		for k := range calibration.Joints(len(out)) {
			j := jointAt(f, k)
			r := calibration.Read(out, k).Blended(b.whole(j))
			e.flexion[j] = clamp(r.FlexionDeg, minFlexion, maxFlexion)
			e.se[j] = calibration.Errors.SE(j, r, yaw.Deg)
			e.visible[j] = r.Visible
		}
	}
	return e
}

// jointAt returns the k-th joint of a digit from the palm outwards.
func jointAt(f hand.Finger, k int) hand.Joint {
	if f == hand.Thumb {
		return hand.ThumbMP + hand.Joint(k)
	}
	return hand.JointOf(f, hand.Kind(k))
}

// Description is a hand as the calibration sees it.
type Description struct {
	// Digits hold the numbers that describe each digit, thumb first.
	Digits [5][calibration.FeatureCount]float64
	// View describes the whole hand.
	View [calibration.ViewFeatureCount]float64
	// ImageDeg and WorldDeg are the whole angles between the bones in the
	// image and in the world points, uncorrected.
	ImageDeg, WorldDeg [hand.NumJoints]float64
	// FrameDeg are the signed bends of the image points about the hand's own
	// axes, uncorrected.
	FrameDeg [hand.NumJoints]float64
}

// Describe returns what the calibration program fits on, the depths settled by
// the given weights. It reports false where the points have collapsed.
func Describe(o hand.Observation, depth *calibration.Depth) (Description, bool) {
	var d Description
	p, ok := postureOf(&o)
	if !ok {
		return d, false
	}
	p.weigh(&o, depth)
	p.settle()
	b := p.bends()
	for f := range d.Digits {
		d.Digits[f] = p.digitFeatures(hand.Finger(f), &b)
	}
	d.ImageDeg, d.WorldDeg, d.FrameDeg = b.imageAbs, b.worldAbs, b.image
	d.View = p.viewFeatures(&b)
	return d, true
}

// DescribeDepth returns what tells whether the depths of a hand's points are
// the right way round, and the yaw if they are; if not, the yaw is its
// negative.
func DescribeDepth(o hand.Observation) (evidence [calibration.DepthCount]float64, yawDeg float64, ok bool) {
	p, ok := postureOf(&o)
	if !ok {
		return evidence, 0, false
	}
	return p.depthEvidence(&o), p.view.YawDeg, true
}
