package goniometry

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/hand"
)

// Vectors worked by hand: a turn of 15 degrees against the axis is -15, a
// right angle about it +90, collinear 0.
func TestBendVectors(t *testing.T) {
	n := hand.Point{Z: 1}
	u := hand.Point{X: 1}
	s15, c15 := math.Sincos(15 * degree)
	require.InDelta(t, -15, bend(u, hand.Point{X: c15, Y: -s15}, n), 1e-9)
	require.InDelta(t, 90, bend(u, hand.Point{Y: 1}, n), 1e-9)
	require.Zero(t, bend(u, u.Scale(3), n))
	require.Zero(t, bend(hand.Point{}, u, n), "no first bone")
	require.Zero(t, bend(u, hand.Point{}, n), "no second bone")
	require.InDelta(t, 40, bend(u, rotate(u, n, 40).Add(n.Scale(0.7)), n), 1e-9, "what leaves the plane does not count")
}

// A bone in the plane of the picture and a hand rolled about it by psi: the
// picture shows tan(seen) = tan(true)·cos psi. Turned towards the camera
// instead it shows tan(true)/cos psi. Closed form.
func TestBendInThePicture(t *testing.T) {
	rolled := map[[2]float64]float64{
		{10, 10}: 9.9, {10, 20}: 9.4, {10, 30}: 8.7, {10, 45}: 7.1, {10, 60}: 5.0, {10, 90}: 0,
		{30, 10}: 29.6, {30, 20}: 28.5, {30, 30}: 26.6, {30, 45}: 22.2, {30, 60}: 16.1, {30, 90}: 0,
		{60, 10}: 59.6, {60, 20}: 58.4, {60, 30}: 56.3, {60, 45}: 50.8, {60, 60}: 40.9, {60, 90}: 0,
	}
	towards := map[[2]float64]float64{
		{10, 20}: 10.6, {10, 30}: 11.5, {10, 45}: 14.0, {10, 60}: 19.4,
		{30, 20}: 31.6, {30, 30}: 33.7, {30, 45}: 39.2, {30, 60}: 49.1,
	}
	for c, want := range rolled {
		for _, sign := range []float64{1, -1} {
			u := hand.Point{Y: -1}
			v := rotate(u, hand.Point{Z: -1}, sign*c[0])
			v = rotate(v, u, c[1])
			require.InDelta(t, sign*want, bend2(u, v, 1), 0.06, "true %v rolled %v", c[0], c[1])
			require.InDelta(t, -sign*want, bend2(u, v, -1), 0.06, "the other side faces")
			// In space nothing is lost.
			require.InDelta(t, sign*c[0], bend(u, v, rotate(hand.Point{Z: -1}, u, c[1])), 1e-9)
		}
	}
	for c, want := range towards {
		u := hand.Point{Y: -1}
		v := rotate(u, hand.Point{Z: -1}, c[0])
		axis := hand.Point{X: 1}
		require.InDelta(t, want, bend2(rotate(u, axis, c[1]), rotate(v, axis, c[1]), 1), 0.06, "true %v turned %v", c[0], c[1])
	}
}

// The index finger of fist_landmarks.pbtxt in MediaPipe's test data
// (Apache-2.0), world landmarks in metres.
func TestTurnsOfAFist(t *testing.T) {
	var p hand.Points
	p[0] = hand.Point{X: -0.008604, Y: 0.081658, Z: 0.006137}
	p[5] = hand.Point{X: 0.029162, Y: -0.002460, Z: 0.001155}
	p[6] = hand.Point{X: 0.034491, Y: -0.017581, Z: -0.020781}
	p[7] = hand.Point{X: 0.034020, Y: -0.005925, Z: -0.025738}
	p[8] = hand.Point{X: 0.028674, Y: 0.011138, Z: -0.009431}
	got := turns(&p)
	require.InDelta(t, 50.9, got[hand.IndexMCP], 0.05)
	require.InDelta(t, 101.7, got[hand.IndexPIP], 0.05)
	require.InDelta(t, 66.9, got[hand.IndexDIP], 0.05)
}

// views are turns from every side.
var views = []turn{
	{yaw: 0}, {yaw: 45}, {yaw: 90}, {yaw: 135}, {yaw: 180}, {yaw: -45}, {yaw: -90}, {yaw: -135},
	{yaw: 75, pitch: 25, roll: 30}, {yaw: 100, pitch: -30, roll: -140}, {yaw: -80, pitch: 20, roll: 75}, {yaw: 10, pitch: -50, roll: 180},
}

// Exact points give exact angles, with the sign the same for both sides and
// from every view.
func TestFlexionOfSyntheticHands(t *testing.T) {
	poses := map[string][hand.NumJoints]float64{
		"straight":      {},
		"fist":          {80, 100, 60, 82, 102, 60, 84, 102, 58, 86, 100, 55, 30, 50},
		"hook":          {0, 95, 62, 2, 96, 60, 0, 95, 60, 3, 90, 58, 5, 5},
		"hyperextended": {10, -18, 15, 8, -20, 12, 10, -15, 10, 12, -22, 18, -8, -20},
		"tabletop":      {88, 2, 2, 88, 0, 3, 85, 4, 0, 86, 0, 0, 10, 0},
		"one past":      {0, 5, 3, 0, -12, 8, 0, 5, 3, 0, 5, 3, 0, 0},
	}
	for name, want := range poses {
		for _, v := range views {
			for _, side := range []hand.Side{hand.Left, hand.Right} {
				t.Run(fmt.Sprintf("%s %v yaw %v", name, side, v.yaw), func(t *testing.T) {
					v.side, v.palm, v.x, v.y = side, 90, 300, 200
					o := seen(synthetic(want, v), side)
					p, ok := postureOf(&o)
					require.True(t, ok)
					for j, got := range p.imageF.flexion(&p.image) {
						require.InDelta(t, want[j], got, 1e-6, "%v", hand.Joint(j))
					}
					require.InDelta(t, 0, math.Remainder(v.yaw-p.view.YawDeg, 360), 1e-6)
					require.InDelta(t, v.pitch, p.view.PitchDeg, 1e-6)
					require.InDelta(t, 90, p.palm, 1e-6)
				})
			}
		}
	}
}

// A mirrored picture of the other hand is the same hand.
func TestMirroringChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := anyHand(t)
		m := o
		m.Side, m.SeenSide = o.Side.Other(), o.SeenSide.Other()
		m.Image, m.World = mirrored(o.Image), mirrored(o.World)
		requireSameAngles(t, New(Options{}).MeasureStill(o), New(Options{}).MeasureStill(m), 1e-6)
	})
}

// Neither place nor roll nor, for the angles, size in the picture matter.
func TestMovingAndRollingChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := anyHand(t)
		m := o
		s, roll := rapid.Float64Range(0.5, 3).Draw(t, "scale"), rapid.Float64Range(-180, 180).Draw(t, "roll")
		shift := hand.Point{X: rapid.Float64Range(-500, 500).Draw(t, "x"), Y: rapid.Float64Range(-500, 500).Draw(t, "y")}
		for i := range m.Image {
			m.Image[i] = rotate(o.Image[i], hand.Point{Z: 1}, roll).Scale(s).Add(shift)
			m.World[i] = rotate(o.World[i], hand.Point{Z: 1}, roll)
		}
		a, b := New(Options{}).MeasureStill(o), New(Options{}).MeasureStill(m)
		requireSameAngles(t, a, b, 1e-5)
		require.InDelta(t, a.PalmPixels*s, b.PalmPixels, 1e-6*b.PalmPixels)
	})
}

// Whatever the points, every number that comes out is a number.
func TestNoNaNFromAnyPoints(t *testing.T) {
	odd := rapid.SampledFrom([]float64{0, 1, -1, 1e-300, 1e300, 5e-324, math.NaN(), math.Inf(1), math.Inf(-1), 100})
	rapid.Check(t, func(t *rapid.T) {
		var o hand.Observation
		o.Side = rapid.SampledFrom([]hand.Side{hand.UnknownSide, hand.Left, hand.Right}).Draw(t, "side")
		same := rapid.Bool().Draw(t, "collapsed")
		for i := range o.Image {
			if same && i > 0 {
				o.Image[i], o.World[i] = o.Image[0], o.World[0]
				continue
			}
			o.Image[i] = hand.Point{X: odd.Draw(t, "x"), Y: odd.Draw(t, "y"), Z: odd.Draw(t, "z")}
			o.World[i] = hand.Point{X: odd.Draw(t, "x"), Y: odd.Draw(t, "y"), Z: odd.Draw(t, "z")}
		}
		g := New(Options{})
		for _, s := range []hand.Sample{g.MeasureStill(o), g.Measure(o), g.Measure(o)} {
			for j, m := range s.Joints {
				require.False(t, math.IsNaN(m.FlexionDeg+m.RawDeg+m.SEDeg), "%v", hand.Joint(j))
				require.False(t, math.IsInf(m.FlexionDeg+m.RawDeg+m.SEDeg, 0), "%v", hand.Joint(j))
				if !m.Judged {
					require.False(t, m.ExtensionJudged)
					require.NotEmpty(t, m.Why)
				}
			}
			require.False(t, math.IsNaN(s.View.YawDeg+s.View.PitchDeg+s.View.SEDeg+s.PalmPixels+s.SpeedPalms))
		}
	})
}

// Where two bones fall into one point the hand still has the other angles.
func TestCollapsedFingerLeavesTheOthers(t *testing.T) {
	want := [hand.NumJoints]float64{20, 30, 15, 20, 30, 15, 20, 30, 15, 20, 30, 15, 10, 10}
	o := seen(synthetic(want, turn{yaw: 60, side: hand.Right, palm: 90}), hand.Right)
	for i := hand.Index.PIP(); i <= hand.Index.Tip(); i++ {
		o.Image[i], o.World[i] = o.Image[hand.Index.MCP()], o.World[hand.Index.MCP()]
	}
	p, ok := postureOf(&o)
	require.True(t, ok)
	got := p.imageF.flexion(&p.image)
	require.Zero(t, got[hand.IndexPIP])
	require.InDelta(t, 30, got[hand.MiddlePIP], 1e-6)
}

// anyHand draws a hand in a plausible posture and view, its points disturbed.
func anyHand(t *rapid.T) hand.Observation {
	var a [hand.NumJoints]float64
	for j := range a {
		a[j] = rapid.Float64Range(-20, 95).Draw(t, "angle")
	}
	v := turn{
		yaw: rapid.Float64Range(-179, 179).Draw(t, "yaw"), pitch: rapid.Float64Range(-40, 40).Draw(t, "pitch"),
		roll: rapid.Float64Range(-180, 180).Draw(t, "roll"), side: rapid.SampledFrom([]hand.Side{hand.Left, hand.Right}).Draw(t, "side"),
		palm: 80, x: 200, y: 150,
	}
	o := seen(synthetic(a, v), v.side)
	for i := range o.Image {
		o.Image[i] = o.Image[i].Add(hand.Point{X: rapid.Float64Range(-3, 3).Draw(t, "dx"), Y: rapid.Float64Range(-3, 3).Draw(t, "dy"), Z: rapid.Float64Range(-6, 6).Draw(t, "dz")})
	}
	return o
}

func requireSameAngles(t require.TestingT, a, b hand.Sample, tol float64) {
	for j := range a.Joints {
		require.InDelta(t, a.Joints[j].RawDeg, b.Joints[j].RawDeg, tol, "%v", hand.Joint(j))
		require.InDelta(t, a.Joints[j].SEDeg, b.Joints[j].SEDeg, tol, "%v", hand.Joint(j))
	}
	require.InDelta(t, 0, math.Remainder(a.View.YawDeg-b.View.YawDeg, 360), tol)
	require.InDelta(t, a.View.PitchDeg, b.View.PitchDeg, tol)
}
