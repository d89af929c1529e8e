package goniometry

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
)

// facing returns the directions that the head gives for a hand turned by yaw,
// fingers up: the palm's normal turns about the upright long axis.
func facing(yawDeg float64, side hand.Side) *hand.ModelAngles {
	a := &hand.ModelAngles{Axis: hand.Point{Y: -1}}
	s, c := math.Sincos(yawDeg * degree)
	// At yaw 0 the palm looks at the camera, which is towards -z. With the
	// thumb side coming to the camera a right palm, whose thumb is to the
	// right of the picture, turns to the left.
	a.Normal = hand.Point{X: -s, Z: -c}
	if side == hand.Left {
		a.Normal.X = s
	}
	for j := range a.SpreadDeg {
		a.SpreadDeg[j] = 4
	}
	for i := range a.Visible {
		a.Visible[i] = 1
	}
	return a
}

// stillObservation is a straight right hand seen from the thumb side.
func stillObservation(t *testing.T) hand.Observation {
	t.Helper()
	return seen(synthetic([hand.NumJoints]float64{}, turn{yaw: 80, side: hand.Right, palm: 90}), hand.Right)
}

func TestHeadViewIsTheClientsOwn(t *testing.T) {
	for _, side := range []hand.Side{hand.Left, hand.Right} {
		for yaw := -170.0; yaw <= 180; yaw += 10 {
			v, ok := headView(&hand.Observation{Side: side, Angles: facing(yaw, side)})
			require.True(t, ok)
			require.InDelta(t, yaw, v.YawDeg, 1e-9, "%v hand", side)
			require.InDelta(t, 0, v.PitchDeg, 1e-9)
		}
	}
	_, ok := headView(&hand.Observation{Side: hand.Right, Angles: new(hand.ModelAngles)})
	require.False(t, ok, "no directions, no view")
}

func TestHeadSpeaksAloneAroundStraight(t *testing.T) {
	o := stillObservation(t)
	p, ok := postureOf(&o)
	require.True(t, ok)
	var h headEstimator
	o.Angles = facing(80, o.Side)
	for _, deg := range []float64{-25, -10, 0, 15} {
		for j := range o.Angles.FlexionDeg {
			o.Angles.FlexionDeg[j] = deg
		}
		e := h.estimate(&o, &p)
		for j := range e.flexion {
			require.InDelta(t, deg, e.flexion[j], 1e-9, "%v", hand.Joint(j))
			require.InDelta(t, 4, e.se[j], 1e-9, "%v", hand.Joint(j))
		}
	}
}

func TestHeadAndLandmarksAreJoinedWhereTheyAgree(t *testing.T) {
	var bent [hand.NumJoints]float64
	for j := hand.IndexMCP; j <= hand.LittleDIP; j++ {
		bent[j] = 60
	}
	o := seen(synthetic(bent, turn{yaw: 80, side: hand.Right, palm: 90}), hand.Right)
	p, ok := postureOf(&o)
	require.True(t, ok)
	var h headEstimator
	marks := h.landmarks.estimate(&o, &p)
	o.Angles = facing(80, o.Side)
	joined := 0
	for j := range hand.Joint(hand.NumJoints) {
		if marks.flexion[j] < jointFrom {
			continue
		}
		joined++
		both := math.Hypot(4, marks.se[j])
		share := func(apart float64) float64 {
			deg := marks.flexion[j] + apart*both
			o.Angles.FlexionDeg[j] = deg
			return (deg - h.estimate(&o, &p).flexion[j]) / (deg - marks.flexion[j])
		}
		// Weighted by the inverse squares of the errors; apart, the head alone.
		full := 16 / (both * both)
		require.InDelta(t, full, share(0.5), 1e-9, "%v", j)
		require.InDelta(t, full/2, share((agree+disagree)/2), 1e-9, "%v", j)
		require.InDelta(t, 0, share(disagree), 1e-9, "%v", j)
		require.InDelta(t, 0, share(3), 1e-9, "%v", j)
	}
	require.Greater(t, joined, 8)
}

func TestHeadIsUsedWhereTheModelHasOne(t *testing.T) {
	o := stillObservation(t)
	without := New(Options{}).MeasureStill(o)
	o.Angles = facing(80, o.Side)
	o.Angles.FlexionDeg[hand.IndexPIP] = -17
	with := New(Options{}).MeasureStill(o)
	require.InDelta(t, -17, with.Joints[hand.IndexPIP].RawDeg, 1e-9)
	require.InDelta(t, 80, with.View.YawDeg, 1e-9)
	require.True(t, with.Joints[hand.IndexPIP].ExtensionJudged, "%s", with.Joints[hand.IndexPIP].ExtensionWhy)
	require.NotEqual(t, without.Joints[hand.IndexPIP].RawDeg, with.Joints[hand.IndexPIP].RawDeg)

	// What the head does not see is not judged, whatever angle it gives.
	o.Angles.Visible[hand.Index.PIP()], o.Angles.Visible[hand.Index.DIP()] = 0.3, 0.05
	hidden := New(Options{}).MeasureStill(o)
	require.False(t, hidden.Joints[hand.IndexPIP].Judged)
	require.Equal(t, hand.Hidden, hidden.Joints[hand.IndexPIP].Why)
}

func TestPalmViewNeverJudgesExtension(t *testing.T) {
	// The yaw by the head, and by the points where these are wrong.
	for _, c := range []struct{ head, points float64 }{
		{0, 0}, {30, 30}, {50, 50}, {130, 130}, {180, 180}, {-50, -50}, {-130, -130},
		{0, 80}, {30, 80}, {-30, -80}, {150, 100},
	} {
		o := seen(synthetic([hand.NumJoints]float64{}, turn{yaw: c.points, side: hand.Right, palm: 90}), hand.Right)
		o.Angles = facing(c.head, o.Side)
		s := New(Options{}).MeasureStill(o)
		for j := hand.IndexMCP; j <= hand.LittleDIP; j++ {
			require.False(t, s.Joints[j].ExtensionJudged, "%v at yaw %v", j, c)
		}
	}
}

func TestPointsHaveAWordInTheYaw(t *testing.T) {
	for _, c := range []struct{ head, points, yaw float64 }{
		{58, 45, 58 - 0.3*13},
		{80, 80, 80},
		{-170, 170, -176}, // across the end of the scale
		{80, 150, 80},     // so far apart the points are lost
	} {
		o := seen(synthetic([hand.NumJoints]float64{}, turn{yaw: c.points, side: hand.Right, palm: 90}), hand.Right)
		o.Angles = facing(c.head, o.Side)
		s := New(Options{}).MeasureStill(o)
		require.InDelta(t, c.yaw, s.View.YawDeg, 0.5, "%v", c)
	}
	o := seen(synthetic([hand.NumJoints]float64{}, turn{yaw: 45, side: hand.Right, palm: 90}), hand.Right)
	o.Angles = facing(58, o.Side)
	require.Equal(t, hand.WrongView, New(Options{}).MeasureStill(o).Joints[hand.IndexPIP].ExtensionWhy)
}
