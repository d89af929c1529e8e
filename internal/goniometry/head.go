package goniometry

import (
	"math"

	"volar/internal/hand"
)

// headEstimator reads what the landmark model's own angle outputs say and
// joins it with the landmark estimator's answer.
//
// Around straight, where the landmarks lose the sign of an angle, the angle
// head alone speaks. Where a joint is bent both are used, each by the inverse
// square of its stated error: the two err for different reasons, the head
// because it was trained on rendered hands, the landmarks because they shrink
// an angle.
//
// That holds while the two agree by what they state. Where they do not, one of
// them is lost, and in the joints that bend by themselves it is the landmarks:
// an end joint bent over straight ones they put where it mostly is then, nearly
// straight. So the further apart the two are the less the landmarks count.
type headEstimator struct{ landmarks landmarkEstimator }

const (
	// aloneBelow and jointFrom are the angles, in degrees, up to which the
	// head alone speaks and from which both are joined in full.
	aloneBelow, jointFrom = 15.0, 35.0
	// agree and disagree are the distances between the two, in standard errors
	// of their difference, up to which they are joined in full and from which
	// the head alone speaks. On photographs of known truth the mean errors are the
	// same to 0.2 degrees with it and without. An end joint bent alone by 58
	// degrees reads 53 to 66 on rendered hands of unseen shapes (models/README.md),
	// and without it, on the renderer's own hand, 15 to 27.
	agree, disagree = 0.75, 1.75
	// headYawSE is the standard error of the yaw that the head gives, in
	// degrees.
	headYawSE = 8.0
	// pointsShare is how far the yaw goes from the head's towards that of the
	// points, and apartDeg the difference from which the points are taken to be
	// lost. On 378 rendered hands kept apart the head alone is off by 5.8 degrees,
	// the points by 12; on photographs of known truth, which it was not trained on,
	// the palm by the head is 14 degrees off and by the points in the frame used here
	// 8.5 (models/README.md). With 0.3 it is 6.8 on the renders, 98 % of the side views
	// there are taken for one and 8 % of the oblique ones (yaw 33 to 50), by the
	// head alone 98 and 9 %.
	pointsShare, apartDeg = 0.3, 60
)

func (h *headEstimator) estimate(o *hand.Observation, p *posture) estimate {
	e := h.landmarks.estimate(o, p)
	a := o.Angles
	if v, ok := headView(o); ok {
		if d := wrap(p.view.YawDeg - v.YawDeg); math.Abs(d) < apartDeg {
			v.YawDeg = wrap(v.YawDeg + pointsShare*d)
		}
		e.view = v
	}
	e.signed = true
	for j := range hand.Joint(hand.NumJoints) {
		deg, se := a.FlexionDeg[j], math.Max(a.SpreadDeg[j], 1)
		share := clamp((deg-aloneBelow)/(jointFrom-aloneBelow), 0, 1)
		both := math.Hypot(se, e.se[j])
		share *= clamp((disagree-math.Abs(deg-e.flexion[j])/both)/(disagree-agree), 0, 1)
		// With share 0 the weight of the landmarks is 0, with 1 that of their
		// inverse variance.
		w := share * se * se / (both * both)
		e.flexion[j] = clamp(deg+w*(e.flexion[j]-deg), minFlexion, maxFlexion)
		// The errors are not independent, so joining is taken to bring the
		// larger part down to the weighted mean and no further.
		e.se[j] = se + w*(e.se[j]-se)
		_, b, c := j.Triple()
		// On rendered hands the mean told hidden joints from seen ones better
		// than the lesser of the two.
		e.visible[j] = (a.Visible[b] + a.Visible[c]) / 2
	}
	return e
}

// headView is the view by the directions that the head gives.
func headView(o *hand.Observation) (hand.View, bool) {
	n, d := o.Angles.Normal, o.Angles.Axis
	if o.Side == hand.Left {
		n.X, d.X = -n.X, -d.X
	}
	d = unit(d)
	n = unit(n.Sub(along(n, d)))
	f := frame{radial: d.Cross(n), distal: d, palmar: n}
	if n == (hand.Point{}) || d == (hand.Point{}) {
		return hand.View{}, false
	}
	v := viewOf(f)
	v.SEDeg = headYawSE
	return v, true
}
