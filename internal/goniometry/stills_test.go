package goniometry

import (
	"encoding/json"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/goniometry/calibration"
	"volar/internal/hand"
)

// still is what the tracker saw of a rendered hand at known angles. The file
// is written by scripts/calibrate -stills; none of its hands took part in the
// fit.
type still struct {
	Side       string                     `json:"side"`
	SeenSide   string                     `json:"seen_side"`
	Image      [hand.NumPoints][3]float64 `json:"image_px"`
	World      [hand.NumPoints][3]float64 `json:"world_m"`
	FlexionDeg [hand.NumJoints]float64    `json:"flexion_deg"`
	YawDeg     float64                    `json:"yaw_deg"`
	Visible    [hand.NumPoints]bool       `json:"visible"`
}

func stills(t *testing.T) []still {
	t.Helper()
	b, err := os.ReadFile("../../testdata/goniometry/stills.json")
	require.NoError(t, err)
	var s []still
	require.NoError(t, json.Unmarshal(b, &s))
	require.Len(t, s, 160)
	return s
}

func (s *still) observation(t *testing.T) hand.Observation {
	t.Helper()
	o := hand.Observation{Presence: 1}
	var err error
	o.Side, err = hand.ParseSide(s.Side)
	require.NoError(t, err)
	o.SeenSide, err = hand.ParseSide(s.SeenSide)
	require.NoError(t, err)
	for i := range s.Image {
		o.Image[i] = hand.Point{X: s.Image[i][0], Y: s.Image[i][1], Z: s.Image[i][2]}
		o.World[i] = hand.Point{X: s.World[i][0], Y: s.World[i][1], Z: s.World[i][2]}
	}
	return o
}

// The bounds are what was measured on these hands, and a tenth.
func TestErrorOnRenderedStills(t *testing.T) {
	bounds := [calibration.Levels]float64{13.6, 15.4, 10.4, 11, 16.8}
	var sum, whole, n, inside [calibration.Levels]float64
	g := New(Options{})
	for _, s := range stills(t) {
		o := s.observation(t)
		m := g.MeasureStill(o)
		d, ok := Describe(o, &calibration.FittedDepth)
		require.True(t, ok)
		for j, want := range s.FlexionDeg {
			l := calibration.LevelOf(hand.Joint(j))
			err := math.Abs(m.Joints[j].RawDeg - want)
			sum[l] += err
			whole[l] += math.Abs((d.ImageDeg[j]+d.WorldDeg[j])/2 - want)
			n[l]++
			if err <= 2*m.Joints[j].SEDeg {
				inside[l]++
			}
		}
	}
	for l, name := range calibration.LevelNames {
		t.Logf("%-9s mean error %.1f, of the uncorrected bends %.1f, within 2 SE %.2f", name, sum[l]/n[l], whole[l]/n[l], inside[l]/n[l])
		require.Less(t, sum[l]/n[l], bounds[l], name)
		require.Less(t, sum[l], 0.9*whole[l], "%s: the correction must earn its place", name)
		require.Greater(t, inside[l]/n[l], 0.88, "%s: the stated error must hold", name)
	}
}

// Side views keep their yaw, except where the depths were taken the wrong way
// round.
func TestYawOnRenderedStills(t *testing.T) {
	var off []float64
	wrong := 0
	g := New(Options{})
	all := stills(t)
	for _, s := range all {
		if y := math.Abs(s.YawDeg); y < 45 || y > 120 {
			continue
		}
		d := math.Abs(math.Remainder(g.MeasureStill(s.observation(t)).View.YawDeg-s.YawDeg, 360))
		if d > 60 {
			wrong++
			continue
		}
		off = append(off, d)
	}
	require.Greater(t, len(off), 50)
	sum := 0.0
	for _, d := range off {
		sum += d
	}
	t.Logf("%d side views, yaw off by %.1f in the mean, the wrong way round in %d", len(off)+wrong, sum/float64(len(off)), wrong)
	require.Less(t, sum/float64(len(off)), 10.0)
	require.Less(t, float64(wrong), 0.12*float64(len(off)+wrong))
}

// What is read past straight comes from the image points: bending the PIP of
// the world points alone hardly moves it.
func TestHyperextensionRestsOnImagePoints(t *testing.T) {
	at := func(image, world float64) float64 {
		v := turn{yaw: 80, side: hand.Right, palm: 90}
		o := seen(synthetic(pips(image), v), hand.Right)
		o.World = seen(synthetic(pips(world), v), hand.Right).World
		return New(Options{}).MeasureStill(o).Joints[hand.IndexPIP].RawDeg
	}
	byImage, byWorld := at(0, 0)-at(-20, 0), at(0, 0)-at(0, -20)
	t.Logf("20 degrees past straight in the image points move the reading by %.1f, in the world points by %.1f", byImage, byWorld)
	require.Greater(t, byImage, 8.0)
	require.Less(t, math.Abs(byWorld), byImage/3)
}

func pips(deg float64) (a [hand.NumJoints]float64) {
	for _, f := range hand.Fingers {
		a[hand.JointOf(f, hand.PIP)] = deg
	}
	return a
}
