package goniometry

import (
	"encoding/json"
	"math"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"volar/internal/hand"
	"volar/internal/strictyaml"
)

func deg(x float64) *float64 { return &x }

// recorded is a baseline of three views with the given PIP readings.
func recorded(palm, side, fist float64) *Baseline {
	joints := func(pip float64, past bool) map[string]BaselineJoint {
		return map[string]BaselineJoint{
			"index.pip": {ReadDeg: pip, SEDeg: 5, ScatterDeg: 1.5, ShowsPastStraight: past},
			"index.dip": {ReadDeg: 2, SEDeg: 5, ScatterDeg: 1.5, ShowsPastStraight: past},
		}
	}
	return &Baseline{
		Version: BaselineVersion, Side: "left", CapturedAt: time.Date(2026, 3, 2, 8, 30, 0, 0, time.UTC), Estimator: "a", PalmMM: 92.5,
		Views: []BaselineView{
			{Pose: StraightHand, YawDeg: 3, PitchDeg: 4, Pictures: 45, Joints: joints(palm, false)},
			{Pose: FullFist, YawDeg: -2, PitchDeg: 8, Pictures: 40, Joints: joints(fist, false)},
			{Pose: StraightHand, YawDeg: 88, PitchDeg: 2, Pictures: 42, Joints: joints(side, true)},
		},
	}
}

func TestBaselineGoesThroughJSONAndYAML(t *testing.T) {
	b := recorded(8, 3, 90)
	b.Views[1].Joints["index.pip"] = BaselineJoint{ReadDeg: 90, SEDeg: 7, KnownDeg: deg(101)}
	text, err := b.Encode()
	require.NoError(t, err)
	got, err := DecodeBaseline(text)
	require.NoError(t, err)
	require.Equal(t, b, got)

	const file = `version: 1
side: right
captured_at: 2026-03-02T08:30:00Z
views:
  - {pose: straight, yaw_deg: 88, pitch_deg: 2, pictures: 40, joints: {index.pip: {read_deg: 3, se_deg: 5, known_deg: -6, shows_past_straight: true}}}
`
	var y Baseline
	_, err = strictyaml.Decode([]byte(file), &y)
	require.NoError(t, err)
	require.NoError(t, y.Check())
	require.InDelta(t, -6, *y.Views[0].Joints["index.pip"].KnownDeg, 0)
}

func TestBaselineIsChecked(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		spoil func(*Baseline)
		says  string
	}{
		{func(b *Baseline) { b.Version = 2 }, "version 2"},
		{func(b *Baseline) { b.Side = "Left" }, "neither left nor right"},
		{func(b *Baseline) { b.CapturedAt = time.Time{} }, "captured_at"},
		{func(b *Baseline) { b.PalmMM = 9.2 }, "palm_mm"},
		{func(b *Baseline) { b.PalmMM = nan }, "palm_mm"},
		{func(b *Baseline) { b.Views = nil }, "0 views"},
		{func(b *Baseline) { b.Views = make([]BaselineView, 13) }, "13 views"},
		{func(b *Baseline) { b.Views[1].Pose = "hook" }, "view 2: pose"},
		{func(b *Baseline) { b.Views[0].YawDeg = 190 }, "does not exist"},
		{func(b *Baseline) { b.Views[0].PitchDeg = nan }, "does not exist"},
		{func(b *Baseline) { b.Views[0].Pictures = 0 }, "0 pictures"},
		{func(b *Baseline) { b.Views[0].Joints = nil }, "no joints"},
		{func(b *Baseline) { b.Views[0].Joints["index"] = BaselineJoint{SEDeg: 1} }, "not known"},
		{func(b *Baseline) { b.Views[0].Joints["index.pip"] = BaselineJoint{ReadDeg: 140, SEDeg: 1} }, "read_deg"},
		{func(b *Baseline) { b.Views[0].Joints["index.pip"] = BaselineJoint{ReadDeg: 4} }, "se_deg"},
		{func(b *Baseline) {
			b.Views[0].Joints["index.pip"] = BaselineJoint{ReadDeg: 4, SEDeg: 1, ScatterDeg: -1}
		}, "scatter_deg"},
		{func(b *Baseline) {
			b.Views[0].Joints["index.pip"] = BaselineJoint{ReadDeg: 4, SEDeg: 1, KnownDeg: deg(-90)}
		}, "known_deg"},
		{func(b *Baseline) { b.Views[0].Pose = MeasuredPose }, "needs known_deg"},
	} {
		b := recorded(8, 3, 90)
		c.spoil(b)
		err := b.Check()
		require.ErrorContains(t, err, c.says)
		_, err = b.Encode()
		require.Error(t, err)
		o := straightAt(200)
		require.Equal(t, New(Options{}).MeasureStill(o).Joints, New(Options{Baseline: b}).MeasureStill(o).Joints, "an unsound baseline corrects nothing")
	}
	for _, text := range []string{"", "{}", "null", `{"version":1,"colour":2}`} {
		_, err := DecodeBaseline([]byte(text))
		require.Error(t, err)
	}
	text, err := recorded(8, 3, 90).Encode()
	require.NoError(t, err)
	_, err = DecodeBaseline(append(text, " {}"...))
	require.ErrorContains(t, err, "after its end")
	_, err = DecodeBaseline(make([]byte, maxBaselineBytes+1))
	require.ErrorContains(t, err, "too large")
}

func FuzzDecodeBaseline(f *testing.F) {
	text, err := recorded(8, 3, 90).Encode()
	require.NoError(f, err)
	f.Add(text)
	f.Add([]byte(`{"version":1,"side":"left","captured_at":"2026-03-02T08:30:00Z","views":[{"pose":"measured","yaw_deg":90,"pitch_deg":0,"pictures":1,"joints":{"index.pip":{"read_deg":1e2,"se_deg":1e-9,"known_deg":-40}}}]}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		b, err := DecodeBaseline(text)
		if err != nil {
			return
		}
		again, err := b.Encode()
		require.NoError(t, err)
		_, err = DecodeBaseline(again)
		require.NoError(t, err)
		// Whatever it holds, readings stay readings.
		c := newCorrector(b, "")
		for j := range c.joints {
			deg, se := c.joints[j].correct(-12, 5, hand.View{YawDeg: 85})
			require.True(t, deg >= minFlexion && deg <= maxFlexion && se >= 0 && se <= 5)
		}
	})
}

func TestDoubts(t *testing.T) {
	require.Empty(t, recorded(8, 3, 90).Doubts())
	require.Equal(t, []Doubt{{hand.IndexPIP, "index pip reads 9° past straight in the straight hand; measure it with a goniometer and enter the angle"}}, recorded(8, -9, 90).Doubts())
	require.Equal(t, "index pip reads 25° short of straight in the straight hand; measure it with a goniometer and enter the angle", recorded(25, 3, 90).Doubts()[0].Words)
	require.Empty(t, recorded(-9, 3, 90).Doubts(), "the palm's view does not show a joint past straight")
	b := recorded(8, -9, 90)
	r := b.Views[2].Joints["index.pip"]
	r.KnownDeg = deg(-8)
	b.Views[2].Joints["index.pip"] = r
	require.Empty(t, b.Doubts(), "measured, and so not in doubt")
}

func TestOwnRange(t *testing.T) {
	b := recorded(12, 10, 84)
	own, ok := b.Own(hand.IndexPIP)
	require.True(t, ok)
	require.Equal(t, Range{12, 84}, own, "of two views alike the first")
	_, ok = b.Own(hand.RingPIP)
	require.False(t, ok)

	r := b.Views[1].Joints["index.pip"]
	r.KnownDeg = deg(95)
	b.Views[1].Joints["index.pip"] = r
	own, _ = b.Own(hand.IndexPIP)
	require.InDelta(t, 95, own.EndDeg, 0, "what was measured goes before what was read")
}

// The correction and what is left of the error, against the formulas of
// regression with a Gaussian process in matrices: mean k(K+V)⁻¹y, variance
// k(x,x) - k(K+V)⁻¹k (Rasmussen and Williams 2006, eq. 2.25 and 2.26).
func TestCorrectionAgainstTheTextbook(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := func(name string, a, b float64) float64 { return rapid.Float64Range(a, b).Draw(rt, name) }
		n := rapid.IntRange(1, maxBaselineViews).Draw(rt, "n")
		seen := make([]evidence, n)
		for i := range seen {
			seen[i] = evidence{yaw: f("yaw", -180, 180), pitch: f("pitch", -40, 40), angle: f("angle", -20, 110), off: f("off", -4, 4), variance: f("v", 1, 40), prior: f("p", 1, 30)}
		}
		c := newJointCorrector(seen, 90)
		v := hand.View{YawDeg: f("yaw", -180, 180), PitchDeg: f("pitch", -40, 40)}
		at, se := f("at", -25, 100), f("se", 2, 12)
		here := evidence{yaw: v.YawDeg, pitch: v.PitchDeg, angle: at, prior: ownShare(at) * se * se}
		k, y, full := mat.NewVecDense(n, nil), mat.NewVecDense(n, nil), mat.NewDense(n, n, nil)
		for i := range seen {
			k.SetVec(i, covariance(&here, &seen[i]))
			y.SetVec(i, seen[i].off)
			for m := range seen {
				full.Set(i, m, covariance(&seen[i], &seen[m]))
			}
			full.Set(i, i, full.At(i, i)+seen[i].variance)
		}
		var inv mat.Dense
		require.NoError(rt, inv.Inverse(full))
		want := at - mat.Inner(k, &inv, y)
		left := se*se - mat.Inner(k, &inv, k)
		got, gotSE := c.correct(at, se, v)
		require.InDelta(rt, want, got, 1e-6)
		require.InDelta(rt, math.Sqrt(left), gotSE, 1e-6)
	})
}

func TestCorrectionIsNearItsView(t *testing.T) {
	// A fist that read 80 and measured 100, palm to the camera.
	b := recorded(5, 5, 80)
	b.Views[1].Joints["index.pip"] = BaselineJoint{ReadDeg: 80, SEDeg: 10, KnownDeg: deg(100)}
	c := &newCorrector(b, "").joints[hand.IndexPIP]
	shift := func(at, yaw float64) (float64, float64) {
		d, se := c.correct(at, 10, hand.View{YawDeg: yaw, PitchDeg: 8})
		return d - at, se
	}
	beside, se := shift(80, -2)
	require.Greater(t, beside, 3.0)
	require.Less(t, beside, mostKnownLift)
	require.Less(t, se, 9.9, "something is known, so the error is smaller")
	for _, c := range []struct{ at, yaw float64 }{{80, 180}, {80, -90}, {5, 180}} {
		far, left := shift(c.at, c.yaw)
		require.InDelta(t, 0, far, 0.15, "%+v", c)
		require.InDelta(t, 10, left, 0.05, "%+v: nothing known, nothing gained", c)
	}
	// Smooth on the way from one view to the next.
	last, _ := shift(80, 0)
	for yaw := 1.0; yaw <= 360; yaw++ {
		now, _ := shift(80, yaw)
		require.InDelta(t, last, now, 0.5)
		last = now
	}
}

// A straight hand that was recorded must never hide a joint past straight:
// whatever it read, without a goniometer a reading is lifted by 5 degrees at
// most, and not at all where the straight hand itself read past straight.
func TestABaselineNeverHidesAJointPastStraight(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := func(name string, a, b float64) float64 { return rapid.Float64Range(a, b).Draw(rt, name) }
		b := recorded(f("palm", -40, 30), f("side", -40, 30), f("fist", 20, 120))
		c := newCorrector(b, "")
		at := f("at", -40, -10)
		v := hand.View{YawDeg: f("yaw", -180, 180), PitchDeg: f("pitch", -60, 60)}
		got, _ := c.joints[hand.IndexPIP].correct(at, f("se", 1, 30), v)
		require.LessOrEqual(rt, got, at+mostLift)
		if b.Views[2].Joints["index.pip"].ReadDeg < -mostPastZero {
			require.Equal(rt, at, got)
		}
	})
	// With the angle measured the correction goes as far as that says.
	b := recorded(5, 2, 90)
	b.Views = append(b.Views, BaselineView{Pose: MeasuredPose, YawDeg: 88, PitchDeg: 2, Pictures: 40, Joints: map[string]BaselineJoint{
		"index.pip": {ReadDeg: -4, SEDeg: 5, KnownDeg: deg(-18)},
	}})
	require.NoError(t, b.Check())
	got, _ := newCorrector(b, "").joints[hand.IndexPIP].correct(-4, 5, hand.View{YawDeg: 88})
	require.Less(t, got, -4.2, "read too straight then, so further past straight now")
}

func TestABaselineOfAnotherEstimatorCorrectsNothing(t *testing.T) {
	b := recorded(5, 2, 90)
	require.NotEmpty(t, newCorrector(b, "").joints[hand.IndexPIP].seen, "unknown what reads now")
	require.NotEmpty(t, newCorrector(b, "a").joints[hand.IndexPIP].seen)
	require.Empty(t, newCorrector(b, "b").joints[hand.IndexPIP].seen)
	b.Estimator = ""
	require.NotEmpty(t, newCorrector(b, "b").joints[hand.IndexPIP].seen, "unknown what read then")
}

func TestThumbNeedsAMeasuredAngle(t *testing.T) {
	b := recorded(5, 2, 90)
	for i := range b.Views {
		b.Views[i].Joints["thumb.mp"] = BaselineJoint{ReadDeg: 12, SEDeg: 6}
	}
	require.NoError(t, b.Check())
	require.Empty(t, newCorrector(b, "").joints[hand.ThumbMP].seen, "a straight thumb may end anywhere")
	require.Empty(t, b.Doubts())
}

// The file's names are a promise to whoever keeps one.
func TestBaselineJSONNames(t *testing.T) {
	text, err := recorded(8, 3, 90).Encode()
	require.NoError(t, err)
	var m map[string]any
	require.NoError(t, json.Unmarshal(text, &m))
	for _, name := range []string{"version", "side", "captured_at", "estimator", "palm_mm", "views"} {
		require.Contains(t, m, name)
	}
}

// A baseline that was kept in the first version of the format is read, and one
// of a newer version says so, whatever else is in it.
func TestKeptBaseline(t *testing.T) {
	text, err := os.ReadFile("testdata/baseline-v1.json")
	require.NoError(t, err)
	b, err := DecodeBaseline(text)
	require.NoError(t, err)
	own, ok := b.Own(hand.IndexPIP)
	require.True(t, ok)
	require.Equal(t, Range{StartDeg: 8, EndDeg: 101}, own)
	again, err := b.Encode()
	require.NoError(t, err)
	require.JSONEq(t, string(text), string(again))
	_, err = DecodeBaseline([]byte(`{"version": 2, "splint": "none"}`))
	require.ErrorContains(t, err, "version 2; this program reads version 1: update it")
}
