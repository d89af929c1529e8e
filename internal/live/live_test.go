package live_test

import (
	"image"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/infer"
	"volar/internal/live"
)

func newJudge(t *testing.T, side hand.Side) *live.Judge {
	t.Helper()
	engine, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, engine.Close()) })
	m, err := exercise.Find("whole-hand-grip")
	require.NoError(t, err)
	j, err := live.New(engine, live.Options{Side: side, Coach: coach.Config{Movement: m}})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, j.Close()) })
	return j
}

// picture is an open hand of one side, in the middle, its palm to the camera.
func picture(t *testing.T, side hand.Side) *image.RGBA { return pictureAt(t, side, 0) }

func pictureAt(t *testing.T, side hand.Side, yaw float64) *image.RGBA {
	t.Helper()
	h, err := handrender.Default()
	require.NoError(t, err)
	img := image.NewRGBA(image.Rect(0, 0, 320, 240))
	handrender.NewRenderer(h, handrender.Options{}).Render(img, handrender.Scene{Side: side, Pose: handrender.Straight(), View: handrender.View{Yaw: yaw}})
	return img
}

func TestTimeMustNotGoBack(t *testing.T) {
	j := newJudge(t, hand.Right)
	img := picture(t, hand.Right)
	_, err := j.Frame(img, time.Second)
	require.NoError(t, err)
	_, err = j.Frame(img, 900*time.Millisecond)
	require.ErrorContains(t, err, "before the last one")
}

func TestTheOtherHandIsNotTakenForThisOne(t *testing.T) {
	j := newJudge(t, hand.Left)
	r, err := j.Frame(picture(t, hand.Right), 0)
	require.NoError(t, err)
	require.Nil(t, r.Hand)
	require.False(t, r.Sample.Found)
	require.Equal(t, 1, r.Others, "it is counted as another")
}

// From the side a hand looks like the mirror image of the other one, and the model
// names either: then it is the one that is to exercise, unless another is in sight.
func TestAHandSeenFromTheSideIsTheOneThatExercises(t *testing.T) {
	img := pictureAt(t, hand.Right, 85)
	engine, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	defer func() { require.NoError(t, engine.Close()) }()
	w, err := live.NewWatcher(engine, live.WatcherOptions{})
	require.NoError(t, err)
	defer func() { require.NoError(t, w.Close()) }()
	at := time.Duration(0)
	waited := 0
	for _, side := range []hand.Side{hand.Left, hand.Right} {
		j := newJudge(t, side)
		w.Watch(live.WatcherOptions{Side: side})
		var r live.Result
		var s live.Seen
		for i := range 30 {
			at += 50 * time.Millisecond
			r, err = j.Frame(img, at)
			require.NoError(t, err)
			s, err = w.Frame(img, at)
			require.NoError(t, err)
			if i == 15 && r.Hand == nil {
				waited++
			}
		}
		require.NotNil(t, r.Hand)
		require.Equal(t, side, r.Sample.Side)
		require.Zero(t, r.Others)
		require.True(t, s.Sample.Found)
		require.Equal(t, side, s.Hand.Side)
		require.Nil(t, s.Other.Hand)

		o := *r.Hand
		o.Side = side.Other()
		require.True(t, o.SideGuessed)
		beside := o
		beside.Track++
		r, err = j.Observed([]hand.Observation{o, beside}, at+50*time.Millisecond)
		require.NoError(t, err)
		require.Nil(t, r.Hand, "which of two it is, is not known")
		o.SideGuessed = false
		r, err = j.Observed([]hand.Observation{o}, at+100*time.Millisecond)
		require.NoError(t, err)
		require.Nil(t, r.Hand, "the palm has shown that it is the other hand")
		o.SideGuessed = true
		o.Track += 2
		r, err = j.Observed([]hand.Observation{o}, at+150*time.Millisecond)
		require.NoError(t, err)
		require.NotNil(t, r.Hand, "the one that was lost a moment ago is back")
		require.Equal(t, side, r.Hand.Side)
		o.Track++
		r, err = j.Observed([]hand.Observation{o}, at+5*time.Second)
		require.NoError(t, err)
		require.Nil(t, r.Hand, "after so long it may be another one")
	}
	require.Equal(t, 1, waited, "the model names one of them, and the other has to wait for a second")
}

func TestTheFirstHandSeenIsKept(t *testing.T) {
	j := newJudge(t, hand.UnknownSide)
	require.Equal(t, hand.UnknownSide, j.Side())
	r, err := j.Frame(picture(t, hand.Left), 0)
	require.NoError(t, err)
	require.NotNil(t, r.Hand)
	require.Equal(t, hand.Left, j.Side())
	require.True(t, r.Sample.Found)
}

// baseline is a hand that closes to 70 degrees at the PIPs.
func baseline(side string) *goniometry.Baseline {
	joint := func(deg float64) map[string]goniometry.BaselineJoint {
		return map[string]goniometry.BaselineJoint{"index.pip": {ReadDeg: deg, SEDeg: 5}}
	}
	return &goniometry.Baseline{
		Version: goniometry.BaselineVersion, Side: side, CapturedAt: time.Unix(1e9, 0).UTC(),
		Views: []goniometry.BaselineView{
			{Pose: goniometry.StraightHand, Pictures: 40, Joints: joint(4)},
			{Pose: goniometry.FullFist, Pictures: 40, Joints: joint(70)},
		},
	}
}

func TestBaselineMustFit(t *testing.T) {
	engine, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	defer engine.Close()
	m, err := exercise.Find("hook-fist")
	require.NoError(t, err)
	open := func(side hand.Side, b *goniometry.Baseline) error {
		j, err := live.New(engine, live.Options{Side: side, Coach: coach.Config{Movement: m}, Baseline: b})
		if err == nil {
			require.NoError(t, j.Close())
		}
		return err
	}
	require.NoError(t, open(hand.Right, baseline("right")))
	require.NoError(t, open(hand.UnknownSide, baseline("right")))
	require.ErrorContains(t, open(hand.Left, baseline("right")), "the baseline is of the right hand, and the left hand exercises")
	b := baseline("right")
	b.Version = 9
	require.ErrorContains(t, open(hand.Right, b), "version 9")
}

// A measured fist moves what is read of a fist, and leaves an open hand alone.
func TestBaselineCorrectsWhatIsRead(t *testing.T) {
	engine, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	defer engine.Close()
	m, err := exercise.Find("hook-fist")
	require.NoError(t, err)
	read := func(b *goniometry.Baseline, pose handrender.Pose) hand.Sample {
		j, err := live.New(engine, live.Options{Side: hand.Right, Coach: coach.Config{Movement: m}, Baseline: b})
		require.NoError(t, err)
		defer j.Close()
		h, err := handrender.Default()
		require.NoError(t, err)
		img := image.NewRGBA(image.Rect(0, 0, 320, 240))
		handrender.NewRenderer(h, handrender.Options{}).Render(img, handrender.Scene{Side: hand.Right, Pose: pose})
		r, err := j.Frame(img, 0)
		require.NoError(t, err)
		require.NotNil(t, r.Hand)
		return r.Sample
	}
	plain := read(nil, handrender.Hook())
	fist := plain.Joints[hand.IndexPIP]
	known := fist.RawDeg + 12
	b := baseline("right")
	b.Views[1] = goniometry.BaselineView{
		Pose: goniometry.FullFist, YawDeg: plain.View.YawDeg, PitchDeg: plain.View.PitchDeg, Pictures: 40,
		Joints: map[string]goniometry.BaselineJoint{"index.pip": {ReadDeg: fist.RawDeg, SEDeg: fist.SEDeg, KnownDeg: &known}},
	}
	got := read(b, handrender.Hook()).Joints[hand.IndexPIP]
	require.Greater(t, got.RawDeg, fist.RawDeg+1)
	require.Less(t, got.RawDeg, known)
	require.Less(t, got.SEDeg, fist.SEDeg)
	open, openToo := read(nil, handrender.Straight()).Joints[hand.IndexPIP], read(b, handrender.Straight()).Joints[hand.IndexPIP]
	require.InDelta(t, open.RawDeg, openToo.RawDeg, 1.5)
}

// A judge of observations says the same of a hand as one of pictures.
func TestJudgeOfObservations(t *testing.T) {
	engine, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	defer engine.Close()
	m, err := exercise.Find("whole-hand-grip")
	require.NoError(t, err)
	o := live.Options{Side: hand.Left, Coach: coach.Config{Movement: m}}
	pictures, err := live.New(engine, o)
	require.NoError(t, err)
	defer pictures.Close()
	observed, err := live.Of(o)
	require.NoError(t, err)
	want, err := pictures.Frame(picture(t, hand.Left), 0)
	require.NoError(t, err)
	require.NotNil(t, want.Hand)
	got, err := observed.Observed([]hand.Observation{*want.Hand}, 0)
	require.NoError(t, err)
	require.Equal(t, want, got)
	_, err = observed.Frame(picture(t, hand.Left), time.Second)
	require.ErrorContains(t, err, "takes observations")
	_, err = observed.Observed(nil, -time.Second)
	require.ErrorContains(t, err, "before the last one")
	require.NoError(t, observed.Close())
}

// Two hands are judged each by its own samples, whichever of them exercises.
func TestJudgeOfTwoHands(t *testing.T) {
	engine, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	defer engine.Close()
	m, err := exercise.Find("wringing-together")
	require.NoError(t, err)
	see := func(side hand.Side) hand.Observation {
		r, err := newJudge(t, side).Frame(picture(t, side), 0)
		require.NoError(t, err)
		require.NotNil(t, r.Hand)
		o := *r.Hand
		o.Track = int(side)
		return o
	}
	both := []hand.Observation{see(hand.Left), see(hand.Right)}
	for _, side := range []hand.Side{hand.Left, hand.Right} {
		low := 5.0
		j, err := live.Of(live.Options{Side: side, Coach: coach.Config{Movement: m},
			Other: &coach.Config{Limits: coach.Limits{hand.IndexPIP: {Lower: &low}}}})
		require.NoError(t, err)
		r, err := j.Observed(both, 0)
		require.NoError(t, err)
		require.Equal(t, side, r.Sample.Side)
		require.Equal(t, side.Other(), r.Other.Sample.Side)
		require.Zero(t, r.Others)
		later := both[0]
		later.Time = time.Second
		r, err = j.Observed([]hand.Observation{later}, time.Second)
		require.NoError(t, err)
		require.Equal(t, side == hand.Left, r.Sample.Found)
		require.Equal(t, side == hand.Right, r.Other.Sample.Found)
		s, ok := j.FinishBoth(time.Second)
		require.True(t, ok)
		require.Equal(t, 2, s.Left.Samples)
		require.Equal(t, 2, s.Right.Samples)
		require.Equal(t, side, j.Finish(time.Second).Side)
	}
	_, err = live.Of(live.Options{Coach: coach.Config{Movement: m}, Other: &coach.Config{}})
	require.ErrorContains(t, err, "name the hand that exercises")
	one, err := live.Of(live.Options{Side: hand.Left, Coach: coach.Config{Movement: m}})
	require.NoError(t, err)
	_, ok := one.FinishBoth(0)
	require.False(t, ok)
}
