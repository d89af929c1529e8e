package goniometry

import (
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/goniometry/calibration"
	"volar/internal/hand"
)

// bench sets up a judge over a straight right hand in the given view, whose
// every joint can be seen and read well.
func bench(t *testing.T, v turn) (*judge, *hand.Observation, *estimate) {
	t.Helper()
	v.side, v.palm = hand.Right, 90
	o := seen(synthetic([hand.NumJoints]float64{}, v), hand.Right)
	p, ok := postureOf(&o)
	require.True(t, ok)
	p.depthOdds = 3
	e := estimate{view: p.view}
	for k := range e.se {
		e.se[k], e.visible[k] = 6, 0.9
	}
	opts := Options{}.withDefaults()
	return &judge{opts: &opts, o: &o, p: &p, m: new(motion), e: &e, steadyYaw: e.view.YawDeg}, &o, &e
}

func TestExtensionIsJudgedInSideViewsOnly(t *testing.T) {
	for _, c := range []struct {
		v    turn
		want hand.Reason
	}{
		{turn{yaw: 0}, hand.WrongView},
		{turn{yaw: 30}, hand.WrongView},
		{turn{yaw: 54}, hand.WrongView},
		{turn{yaw: 56}, hand.NoReason},
		{turn{yaw: 90}, hand.NoReason},
		{turn{yaw: 124}, hand.NoReason},
		{turn{yaw: 126}, hand.WrongView},
		{turn{yaw: 180}, hand.WrongView},
		{turn{yaw: -90}, hand.NoReason},
		{turn{yaw: -56}, hand.NoReason},
		{turn{yaw: -54}, hand.WrongView},
		{turn{yaw: -126}, hand.WrongView},
		{turn{yaw: 90, pitch: 35}, hand.NoReason},
		{turn{yaw: 90, pitch: 45}, hand.WrongView},
		{turn{yaw: 90, pitch: -45}, hand.WrongView},
		{turn{yaw: 90, roll: 77}, hand.NoReason},
	} {
		j, _, _ := bench(t, c.v)
		m := j.measurement(hand.IndexPIP)
		require.True(t, m.Judged, "%+v", c.v)
		require.Equal(t, c.want, m.ExtensionWhy, "%+v", c.v)
		require.Equal(t, c.want == hand.NoReason, m.ExtensionJudged, "%+v", c.v)
	}
}

func TestThumbExtensionNeedsItsOwnProfile(t *testing.T) {
	// The thumb bends about an axis that leans from the palm's normal towards
	// the wrist.
	for _, c := range []struct {
		v    turn
		want bool
	}{
		{turn{yaw: 0}, true}, {turn{yaw: 10}, true}, {turn{yaw: 180}, true}, {turn{yaw: 0, pitch: -30}, true},
		{turn{yaw: 40}, false}, {turn{yaw: 90}, false}, {turn{yaw: -90}, false}, {turn{yaw: 0, pitch: 30}, false},
	} {
		j, _, _ := bench(t, c.v)
		require.Equal(t, c.want, j.measurement(hand.ThumbIP).ExtensionJudged, "%+v", c.v)
	}
}

func TestWhatKeepsAJointFromBeingJudged(t *testing.T) {
	k := hand.MiddlePIP
	for _, c := range []struct {
		name      string
		spoil     func(*judge, *hand.Observation, *estimate)
		why, past hand.Reason
	}{
		{"nothing", func(*judge, *hand.Observation, *estimate) {}, "", ""},
		{"far away", func(j *judge, _ *hand.Observation, _ *estimate) { j.p.palm = 20 }, hand.TooSmall, hand.TooSmall},
		{"dark", func(_ *judge, o *hand.Observation, _ *estimate) { o.Luma = 0.03 }, hand.TooDark, hand.TooDark},
		{"flat", func(_ *judge, o *hand.Observation, _ *estimate) { o.Contrast = 0.005 }, hand.TooDark, hand.TooDark},
		{"brightness unknown", func(_ *judge, o *hand.Observation, _ *estimate) { o.Luma, o.Contrast = 0, 0 }, "", ""},
		{"hand moves fast", func(j *judge, _ *hand.Observation, _ *estimate) { j.m.palms = 5 }, hand.TooFast, hand.TooFast},
		{"hand moves", func(j *judge, _ *hand.Observation, _ *estimate) { j.m.palms = 3 }, "", hand.TooFast},
		{"finger moves fast", func(j *judge, _ *hand.Observation, _ *estimate) { j.m.points[hand.Middle.DIP()] = 9 }, hand.TooFast, hand.TooFast},
		{"finger moves", func(j *judge, _ *hand.Observation, _ *estimate) { j.m.points[hand.Middle.DIP()] = 5 }, "", hand.TooFast},
		{"another finger moves", func(j *judge, _ *hand.Observation, _ *estimate) { j.m.points[hand.Index.DIP()] = 9 }, "", ""},
		{"out of sight", func(_ *judge, _ *hand.Observation, e *estimate) { e.visible[k] = 0.1 }, hand.Hidden, hand.Hidden},
		{"half in sight", func(_ *judge, _ *hand.Observation, e *estimate) { e.visible[k] = 0.4 }, "", hand.Hidden},
		{"behind the index finger", func(j *judge, _ *hand.Observation, _ *estimate) { j.covered[hand.Middle.PIP()] = 0.8 }, "", hand.Hidden},
		{"very uncertain", func(_ *judge, _ *hand.Observation, e *estimate) { e.se[k] = 31 }, hand.Unsure, hand.Unsure},
		{"uncertain", func(_ *judge, _ *hand.Observation, e *estimate) { e.se[k] = 22 }, "", hand.Unsure},
		{"depths in doubt", func(j *judge, _ *hand.Observation, _ *estimate) { j.p.depthOdds = -1 }, "", hand.Unsure},
		{"fingers at the camera", func(_ *judge, _ *hand.Observation, e *estimate) { e.view.PitchDeg = 80 }, hand.WrongView, hand.WrongView},
	} {
		t.Run(c.name, func(t *testing.T) {
			j, o, e := bench(t, turn{yaw: 90})
			c.spoil(j, o, e)
			m := j.measurement(k)
			require.Equal(t, c.why, m.Why)
			require.Equal(t, c.why == "", m.Judged)
			require.Equal(t, c.past, m.ExtensionWhy)
			require.Equal(t, c.past == "", m.ExtensionJudged)
		})
	}
}

// The middle knuckle of a fist is not past straight, whatever hides it or makes
// its angle uncertain; one that may be nearly straight is not known to be so.
func TestWhatIsClearlyBentIsNotPastStraight(t *testing.T) {
	for _, c := range []struct {
		k      hand.Joint
		deg    float64
		signed bool
		want   hand.Reason
	}{
		{hand.IndexPIP, 75, true, hand.NoReason},
		{hand.IndexPIP, 55, true, hand.Unsure},
		{hand.IndexPIP, 75, false, hand.Unsure},
		{hand.MiddlePIP, 75, true, hand.Unsure},
	} {
		j, _, e := bench(t, turn{yaw: 90})
		e.signed, e.se[c.k], e.flexion[c.k] = c.signed, 22, c.deg
		e.visible[hand.MiddlePIP] = 0.95
		require.Equal(t, c.want, j.measurement(c.k).ExtensionWhy, "%+v", c)
	}
}

func TestOptionsSetTheLimits(t *testing.T) {
	j, o, _ := bench(t, turn{yaw: 90})
	j.opts = &Options{MinPalmPixels: 100, MinLuma: 0.06, MinContrast: 0.02, MaxPalms: 4, MaxPointPalms: 8}
	require.Equal(t, hand.TooSmall, j.measurement(hand.IndexPIP).Why)
	_ = o
	require.Equal(t, Options{MinPalmPixels: 7, MinLuma: 0.06, MinContrast: 0.02, MaxPalms: 4, MaxPointPalms: 8}, Options{MinPalmPixels: 7}.withDefaults())
}

// In a radial view the index finger lies in front: what is behind it is
// covered, itself never.
func TestCoveredInASideView(t *testing.T) {
	o := seen(synthetic([hand.NumJoints]float64{}, turn{yaw: 90, side: hand.Left, palm: 90}), hand.Left)
	p, _ := postureOf(&o)
	c := p.covered()
	require.Less(t, c[hand.Index.PIP()], 0.1)
	require.Less(t, c[hand.Index.DIP()], 0.1)
	require.Greater(t, c[hand.Middle.PIP()], 0.5)
	require.Greater(t, c[hand.Little.PIP()], 0.5)

	o = seen(synthetic([hand.NumJoints]float64{}, turn{yaw: -90, side: hand.Left, palm: 90}), hand.Left)
	p, _ = postureOf(&o)
	c = p.covered()
	require.Less(t, c[hand.Little.DIP()], 0.1, "from the ulnar side the little finger lies in front")
	require.Greater(t, c[hand.Middle.PIP()], 0.5)

	// Palm to the camera nothing hides a straight hand.
	o = seen(synthetic([hand.NumJoints]float64{}, turn{side: hand.Right, palm: 90}), hand.Right)
	p, _ = postureOf(&o)
	for i, v := range p.covered() {
		require.Less(t, v, 0.5, "point %d", i)
	}
}

// Depths that are turned round, with the model naming the other hand, are
// turned back: the angles and the view are those of the hand itself.
func TestDepthsTurnedRound(t *testing.T) {
	fist := [hand.NumJoints]float64{60, 80, 40, 62, 82, 40, 64, 82, 40, 66, 80, 40, 20, 30}
	slight := [hand.NumJoints]float64{5, 6, 3, 5, 6, 3, 5, 6, 3, 5, 6, 3, 5, 5}
	for _, c := range []struct {
		name  string
		pose  [hand.NumJoints]float64
		named hand.Side // by the model
	}{
		{"fist", fist, hand.Right}, {"fist", fist, hand.Left}, {"nearly straight", slight, hand.Left},
	} {
		o := seen(synthetic(c.pose, turn{yaw: 85, side: hand.Right, palm: 90}), hand.Right)
		o.SeenSide = c.named
		for i := range o.Image {
			o.Image[i].Z, o.World[i].Z = -o.Image[i].Z, -o.World[i].Z
		}
		p, ok := postureOf(&o)
		require.True(t, ok)
		p.weigh(&o, &calibration.FittedDepth)
		p.settle()
		require.InDelta(t, 85, p.view.YawDeg, 1e-6, "%s, named %v", c.name, c.named)
		for j, got := range p.imageF.flexion(&p.image) {
			require.InDelta(t, c.pose[j], got, 1e-6, "%s %v", c.name, hand.Joint(j))
		}
	}
	// Straight fingers and the right name leave the depths alone.
	o := seen(synthetic(slight, turn{yaw: 85, side: hand.Right, palm: 90}), hand.Right)
	p, _ := postureOf(&o)
	p.weigh(&o, &calibration.FittedDepth)
	p.settle()
	require.InDelta(t, 85, p.view.YawDeg, 1e-6)
}
