package goniometry

import (
	"image"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/hand"
)

// held is a right hand in a pose and view, everything about it as it should be.
func held(yaw float64, at time.Duration, pose func(hand.Joint) float64) (hand.Sample, *hand.Observation) {
	s := hand.Sample{Time: at, Found: true, Side: hand.Right, View: hand.View{YawDeg: yaw, SEDeg: 8}, PalmPixels: 120}
	for j := range s.Joints {
		deg := pose(hand.Joint(j))
		s.Joints[j] = hand.Measurement{FlexionDeg: deg, RawDeg: deg, SEDeg: 4, Judged: true, ExtensionJudged: yaw > 50}
	}
	o := &hand.Observation{Side: hand.Right, Luma: 0.5, Contrast: 0.2, Angles: facing(yaw, hand.Right)}
	for i := range o.Image {
		o.Image[i] = hand.Point{X: 320, Y: 240}
	}
	return s, o
}

func open(j hand.Joint) float64 { return float64(j) / 4 }

func shut(j hand.Joint) float64 { return 70 + float64(j) }

func newCapture(t *testing.T, o CaptureOptions) *Capture {
	t.Helper()
	o.At = time.Date(2026, 3, 2, 9, 30, 0, 0, time.FixedZone("", 3600))
	c, err := NewCapture(o)
	require.NoError(t, err)
	return c
}

// push holds a pose for so many pictures at 30 a second, from a time on.
func push(c *Capture, from *time.Duration, n int, yaw float64, pose func(hand.Joint) float64) CaptureStatus {
	var st CaptureStatus
	for range n {
		s, o := held(yaw, *from, pose)
		st = c.Push(s, o)
		*from += frame30
	}
	return st
}

func TestCaptureLeadsThroughABaseline(t *testing.T) {
	c := newCapture(t, CaptureOptions{Picture: image.Pt(640, 480), Estimator: "a", PalmMM: 95})
	require.Equal(t, "hold your hand straight, fingers side by side, your palm towards the camera", c.Status().Say)
	_, err := c.Baseline()
	require.ErrorContains(t, err, "step 1 of 3")

	at := time.Second
	st := push(c, &at, 40, 5, open)
	require.Equal(t, "hold it there", st.Say)
	require.Equal(t, 39*frame30, st.Held)
	st = push(c, &at, 7, 5, open)
	require.Equal(t, 1, st.Step)
	require.Equal(t, "make a full fist, your palm towards the camera", st.Say)
	st = push(c, &at, 5, 5, open)
	require.Equal(t, NotThePose, st.Trouble)
	require.Equal(t, "close your hand as far as it goes", st.Say)
	st = push(c, &at, 47, -6, shut)
	require.Equal(t, 2, st.Step)
	st = push(c, &at, 1, 40, open)
	require.Equal(t, "turn your thumb towards the camera, about 50° more", st.Say)
	st = push(c, &at, 47, 84, open)
	require.True(t, st.Done)
	require.Equal(t, "done; you may rest your hand", st.Say)
	require.Equal(t, st, c.Push(hand.Sample{Time: at}, nil), "nothing more is asked")

	b, err := c.Baseline()
	require.NoError(t, err)
	require.Equal(t, "right", b.Side)
	require.Equal(t, "2026-03-02T08:30:00Z", b.CapturedAt.Format(time.RFC3339))
	require.Equal(t, "a", b.Estimator)
	require.Len(t, b.Views, 3)
	require.InDelta(t, 5, b.Views[0].YawDeg, 0.05)
	require.Equal(t, 47, b.Views[0].Pictures)
	require.Equal(t, BaselineJoint{ReadDeg: 1, SEDeg: 4}, b.Views[0].Joints["middle.pip"])
	require.True(t, b.Views[2].Joints["index.pip"].ShowsPastStraight)
	own, ok := b.Own(hand.IndexPIP)
	require.True(t, ok)
	require.Equal(t, Range{StartDeg: 0.3, EndDeg: 71}, own)

	require.Equal(t, 2, c.Again().Step, "the last step once more")
	_, err = c.Baseline()
	require.Error(t, err)
	require.True(t, c.Skip().Done)
	b, err = c.Baseline()
	require.NoError(t, err)
	require.Len(t, b.Views, 2)
}

func TestCaptureRefusesAndSaysWhatToChange(t *testing.T) {
	for _, c := range []struct {
		name    string
		spoil   func(*hand.Sample, *hand.Observation)
		trouble Trouble
		say     string
	}{
		{"nothing seen", func(s *hand.Sample, _ *hand.Observation) { s.Found = false }, NoHandSeen, "hold your hand straight, fingers side by side, your thumb towards the camera"},
		{"the other hand", func(s *hand.Sample, _ *hand.Observation) { s.Side = hand.Left }, OtherHand, "use your right hand"},
		{"dark", func(_ *hand.Sample, o *hand.Observation) { o.Luma = 0.08 }, TooLittle, "put more light on your hand"},
		{"flat", func(_ *hand.Sample, o *hand.Observation) { o.Contrast = 0.03 }, TooLittle, "put more light on your hand"},
		{"glare", func(_ *hand.Sample, o *hand.Observation) { o.Luma = 0.97 }, TooBright, "turn away from the bright light"},
		{"far", func(s *hand.Sample, _ *hand.Observation) { s.PalmPixels = 45 }, TooFar, "move your hand closer to the camera"},
		{"over the edge", func(_ *hand.Sample, o *hand.Observation) { o.Image[hand.Middle.Tip()].Y = -3 }, CutOff, "move your hand back until all of it is in the picture"},
		{"moving", func(s *hand.Sample, _ *hand.Observation) { s.SpeedPalms = 0.8 }, Moving, "hold your hand still"},
		{"fingers at the camera", func(s *hand.Sample, _ *hand.Observation) { s.View.PitchDeg = 40 }, Turned, "let your fingers point across the picture, not at the camera"},
		{"turned too little", func(s *hand.Sample, _ *hand.Observation) { s.View.YawDeg = 50 }, Turned, "turn your thumb towards the camera, about 40° more"},
		{"turned too far", func(s *hand.Sample, _ *hand.Observation) { s.View.YawDeg = 130 }, Turned, "turn your thumb towards the camera, about 40° more"},
		{"sleeve", func(_ *hand.Sample, o *hand.Observation) { o.Angles.Visible[hand.Wrist] = 0.1 }, WristCovered, "pull your sleeve back from the wrist"},
		{"finger hidden", func(s *hand.Sample, _ *hand.Observation) {
			s.Joints[hand.IndexPIP] = hand.Measurement{Why: hand.Hidden, ExtensionWhy: hand.Hidden}
		}, NotSeen, "turn your palm towards the camera, about 55°"},
		{"fist", func(s *hand.Sample, _ *hand.Observation) {
			for _, f := range hand.Fingers {
				s.Joints[hand.JointOf(f, hand.PIP)].RawDeg = 80
			}
		}, NotThePose, "straighten your fingers as far as they go"},
		{"nothing wrong", func(*hand.Sample, *hand.Observation) {}, NoTrouble, "hold it there"},
	} {
		t.Run(c.name, func(t *testing.T) {
			k := newCapture(t, CaptureOptions{Side: hand.Right, Picture: image.Pt(640, 480), Steps: []CaptureStep{{StraightHand, 90}}})
			s, o := held(90, 0, open)
			c.spoil(&s, o)
			st := k.Push(s, o)
			require.Equal(t, c.trouble, st.Trouble)
			require.Equal(t, c.say, st.Say)
		})
	}
	// Parted fingers show from the palm alone.
	k := newCapture(t, CaptureOptions{})
	s, o := held(0, 0, open)
	s.AbductionDeg[1] = 22
	require.Equal(t, FingersParted, k.Push(s, o).Trouble)
	for j := hand.IndexMCP; j <= hand.RingMCP; j++ {
		s.Joints[j].Judged = false
	}
	require.Equal(t, NotSeen, k.Push(s, o).Trouble)
}

func TestCaptureTakesAPoseFromOnePicture(t *testing.T) {
	c := newCapture(t, CaptureOptions{Still: true, Steps: []CaptureStep{{StraightHand, 0}, {FullFist, 0}}})
	s, o := held(40, 0, open)
	require.Equal(t, Turned, c.Push(s, o).Trouble)
	s, o = held(5, 0, open)
	require.Equal(t, 1, c.Push(s, o).Step)
	s, o = held(5, 0, shut)
	require.True(t, c.Push(s, o).Done)
	b, err := c.Baseline()
	require.NoError(t, err)
	require.Equal(t, 1, b.Views[0].Pictures)
	require.Equal(t, BaselineJoint{ReadDeg: 1, SEDeg: 4}, b.Views[0].Joints["middle.pip"], "one picture has no scatter")
	require.NoError(t, b.Check())
}

func TestCaptureStartsAHoldAfresh(t *testing.T) {
	c := newCapture(t, CaptureOptions{})
	at := time.Duration(0)
	push(c, &at, 30, 0, open)
	lose := func(n int) (st CaptureStatus) {
		for range n {
			st = c.Push(hand.Sample{Time: at}, nil)
			at += frame30
		}
		return st
	}
	require.Greater(t, lose(5).Held, 900*time.Millisecond, "a blink changes nothing")
	require.Greater(t, push(c, &at, 1, 0, open).Held, time.Second)
	lose(12)
	require.Zero(t, push(c, &at, 1, 0, open).Held, "after more it starts afresh")
	push(c, &at, 20, 0, open)
	st := push(c, &at, 1, 0, func(j hand.Joint) float64 { return open(j) + 15 })
	require.Equal(t, Moving, st.Trouble)
	require.Zero(t, st.Held)
	push(c, &at, 20, 0, open)
	s, o := held(0, at-3*time.Second, open)
	require.Zero(t, c.Push(s, o).Held, "a time that runs backwards starts afresh")
}

func TestCaptureOptionsAreChecked(t *testing.T) {
	for _, o := range []CaptureOptions{
		{Hold: -1}, {Hold: time.Minute}, {Steps: []CaptureStep{}}, {Steps: []CaptureStep{{MeasuredPose, 0}}}, {Steps: []CaptureStep{{StraightHand, 200}}},
	} {
		_, err := NewCapture(o)
		require.Error(t, err, "%+v", o)
	}
	c := newCapture(t, CaptureOptions{})
	for range 3 {
		c.Skip()
	}
	_, err := c.Baseline()
	require.ErrorContains(t, err, "left out")
	c, err = NewCapture(CaptureOptions{Steps: []CaptureStep{{StraightHand, 0}}})
	require.NoError(t, err)
	at := time.Duration(0)
	push(c, &at, 50, 0, open)
	_, err = c.Baseline()
	require.ErrorContains(t, err, "captured_at", "the caller must say when")
}

// Whatever samples come: steps never go back, the hold never exceeds the time
// that passed, there is always something to do, and what comes out is sound.
func TestCaptureProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c, err := NewCapture(CaptureOptions{At: time.Unix(1e9, 0), Hold: 200 * time.Millisecond})
		require.NoError(rt, err)
		rnd := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 1))
		at, earliest, latest, step := time.Duration(0), time.Duration(0), time.Duration(0), 0
		for range rapid.IntRange(1, 300).Draw(rt, "samples") {
			at += time.Duration(rnd.IntN(120)-10) * time.Millisecond
			pose := open
			if rnd.IntN(8) == 0 || c.Status().Step == 1 && rnd.IntN(8) > 0 {
				pose = shut
			}
			yaw := 0.0
			if c.Status().Step == 2 {
				yaw = 90
			}
			s, o := held(yaw+10*rnd.NormFloat64(), at, pose)
			s.Found = rnd.IntN(12) > 0
			st := c.Push(s, o)
			require.GreaterOrEqual(rt, st.Step, step)
			earliest, latest = min(earliest, at), max(latest, at)
			if st.Step > step {
				step, earliest, latest = st.Step, at, at
			}
			require.NotEmpty(rt, st.Say)
			if !st.Done {
				require.LessOrEqual(rt, st.Held, latest-earliest)
				require.GreaterOrEqual(rt, st.Held, time.Duration(0))
			}
		}
		if b, err := c.Baseline(); c.Status().Done {
			require.NoError(rt, err)
			require.NoError(rt, b.Check())
		}
	})
}
