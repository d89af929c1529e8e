package arom

import (
	"image"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/goniometry"
	"volar/internal/hand"
)

// held is a right hand that is held as wanted, or nearly so.
func held(at time.Duration, yaw, deg float64, wrong goniometry.Trouble) (hand.Sample, *hand.Observation) {
	s := hand.Sample{Time: at, Found: true, Side: hand.Right, View: hand.View{YawDeg: yaw}, PalmPixels: 120}
	for j := range s.Joints {
		s.Joints[j] = hand.Measurement{FlexionDeg: deg, RawDeg: deg, SEDeg: 4, Judged: true, ExtensionJudged: yaw > 50}
	}
	o := &hand.Observation{Side: hand.Right, Luma: 0.5, Contrast: 0.2}
	for i := range o.Image {
		o.Image[i] = hand.Point{X: 320, Y: 240}
	}
	switch wrong {
	case goniometry.NoHandSeen:
		return hand.Sample{Time: at}, nil
	case goniometry.TooLittle:
		o.Luma = 0.05
	case goniometry.TooFar:
		s.PalmPixels = 40
	case goniometry.CutOff:
		o.Image[8].X = 700
	case goniometry.Moving:
		s.SpeedPalms = 2
	case goniometry.Turned:
		s.View.YawDeg = yaw + 45
	}
	return s, o
}

var size = image.Pt(640, 480)

const frame = time.Second / 30

func newRecording(t require.TestingT) *Recording {
	r, err := NewRecording(goniometry.CaptureOptions{Side: hand.Right, At: taken, Estimator: "a"})
	require.NoError(t, err)
	return r
}

func TestRecordingLeadsFromPoseToPose(t *testing.T) {
	r := newRecording(t)
	require.Equal(t, "Hold your hand straight, fingers side by side, your palm towards the camera.", r.Now().Say)
	at := time.Duration(0)
	hold := func(yaw, deg float64) {
		for range 60 {
			at += frame
			s, o := held(at, yaw, deg, goniometry.NoTrouble)
			r.Push(s, o, size)
		}
	}
	hold(0, 3)
	require.Equal(t, goniometry.FullFist, r.Now().Pose)
	require.ErrorContains(t, r.Missing(), "pose 2 of 3 (full fist, palmar view) was refused: it was another pose; close your hand as far as it goes")
	hold(0, 80)
	require.InDelta(t, 90, r.Now().YawDeg, 1e-9)
	r.Skip()
	require.True(t, r.Now().Done)
	require.NoError(t, r.Missing())
	b, err := r.Baseline()
	require.NoError(t, err)
	require.Len(t, b.Views, 2)
	r.Again()
	hold(90, 2)
	b, err = r.Baseline()
	require.NoError(t, err)
	require.True(t, b.Views[2].Joints["index.pip"].ShowsPastStraight)
}

func TestRecordingRemembersWhatStoodInTheWay(t *testing.T) {
	for _, c := range []struct {
		wrong goniometry.Trouble
		want  string
	}{
		{goniometry.NoHandSeen, "at pose 1 of 3 (straight hand, palmar view) no hand was seen; hold your hand straight"},
		{goniometry.TooLittle, "was refused: it was too dark; put more light on your hand"},
		{goniometry.TooFar, "was refused: the hand was too far away; move your hand closer to the camera"},
		{goniometry.CutOff, "was refused: the hand was cut off by the picture's edge; move your hand back"},
		{goniometry.Moving, "was refused: the hand moved; hold your hand still"},
		{goniometry.Turned, "was refused: the hand was turned another way; turn your palm towards the camera, about 45° more"},
		{goniometry.NoTrouble, "was not held for 1.5 s; hold it there"},
	} {
		r := newRecording(t)
		for i := range 30 {
			wrong := c.wrong
			if i%7 == 6 { // what passes quickly is not what stood in the way
				wrong = goniometry.NoHandSeen
			}
			if c.wrong == goniometry.NoTrouble {
				wrong = c.wrong
			}
			s, o := held(time.Duration(i)*frame, 0, 3, wrong)
			r.Push(s, o, size)
		}
		err := r.Missing()
		require.ErrorIs(t, err, ErrIncomplete)
		require.ErrorContains(t, err, c.want)
		_, err = r.Baseline()
		require.Error(t, err)
	}
}

func TestAnInstructionStaysLongEnoughToBeRead(t *testing.T) {
	r := newRecording(t)
	changes, last := 0, r.Now().Say
	for i := range 90 { // three seconds in which it is dark and far by turns
		wrong := []goniometry.Trouble{goniometry.TooLittle, goniometry.TooFar}[i%2]
		s, o := held(time.Duration(i)*frame, 0, 3, wrong)
		if now := r.Push(s, o, size); now.Say != last {
			changes, last = changes+1, now.Say
		}
	}
	require.LessOrEqual(t, changes, 5)
	require.Positive(t, changes)
}

// Whatever comes, the steps go forward one by one, nothing is held longer than
// asked for and the last picture, and what is done has a sound baseline.
func TestRecordingIsSteady(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := newRecording(t)
		at, step := time.Duration(0), 0
		troubles := []goniometry.Trouble{"", "", "", "", "", "", goniometry.NoHandSeen, goniometry.TooLittle, goniometry.Moving, goniometry.Turned}
		for range rapid.IntRange(1, 400).Draw(t, "frames") {
			at += time.Duration(rapid.IntRange(0, 200).Draw(t, "ms")) * time.Millisecond
			yaw, deg := rapid.SampledFrom([]float64{0, 90}).Draw(t, "yaw"), rapid.SampledFrom([]float64{2, 80}).Draw(t, "deg")
			if rapid.IntRange(0, 9).Draw(t, "wanted") > 0 {
				yaw, deg = r.Now().YawDeg, map[goniometry.BaselinePose]float64{goniometry.StraightHand: 2, goniometry.FullFist: 80}[r.Now().Pose]
			}
			s, o := held(at, yaw, deg, rapid.SampledFrom(troubles).Draw(t, "trouble"))
			p := r.Push(s, o, size)
			require.True(t, p.Step == step || p.Step == step+1, "from %d to %d", step, p.Step)
			require.Less(t, p.Held, p.Hold+200*time.Millisecond)
			require.NotEmpty(t, p.Say)
			step = p.Step
			require.Equal(t, p.Done, r.Missing() == nil)
		}
		b, err := r.Baseline()
		require.Equal(t, r.Now().Done, err == nil)
		if err == nil {
			require.NoError(t, b.Check())
		}
	})
}

func TestWithKnown(t *testing.T) {
	b := recordedHand("right", angles{0, 8, 0}, angles{60, 80, 40})
	deg := 5.0
	got, err := WithKnown(b, goniometry.StraightHand, hand.IndexPIP, &deg)
	require.NoError(t, err)
	require.InDelta(t, 5, *got.Views[0].Joints["index.pip"].KnownDeg, 0)
	require.Nil(t, got.Views[1].Joints["index.pip"].KnownDeg, "the fist was not measured")
	require.Nil(t, b.Views[0].Joints["index.pip"].KnownDeg, "the first one stays as it was")
	got, err = WithKnown(got, goniometry.StraightHand, hand.IndexPIP, nil)
	require.NoError(t, err)
	require.Equal(t, b, got)

	delete(b.Views[0].Joints, "ring.dip")
	_, err = WithKnown(b, goniometry.StraightHand, hand.RingDIP, &deg)
	require.ErrorContains(t, err, "ring DIP was not judged in the straight hand")
	deg = 400
	_, err = WithKnown(b, goniometry.StraightHand, hand.IndexPIP, &deg)
	require.ErrorContains(t, err, "no joint's")
}
