package stage

import (
	"context"
	"image"
	"image/color"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/camera"
	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/live"
	"volar/internal/session"
)

func (u unplugged) Next(ctx context.Context) (camera.Frame, error) {
	f, err := u.Source.Next(ctx)
	if err == nil && f.Index >= u.left {
		return camera.Frame{}, errUnplugged
	}
	return f, err
}

// Whatever the order of drawing and taking: no picture is drawn into while the
// viewer has it, and no view is older than one that was taken before.
func TestSwapNeverDrawsIntoWhatIsShown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := newSwap()
		var shown *image.RGBA
		var last, posted time.Duration
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			switch rapid.IntRange(0, 2).Draw(t, "what") {
			case 0:
				img := s.blank(4, 3)
				if img == shown {
					t.Fatal("drawn into the shown picture")
				}
				posted++
				s.post(View{Picture: img, At: posted})
			case 1:
				posted++
				s.post(View{At: posted})
			case 2:
				v, ok := s.take()
				if !ok {
					continue
				}
				if v.At != posted || v.At < last {
					t.Fatalf("took %v, newest is %v", v.At, posted)
				}
				last, shown = v.At, v.Picture
			}
		}
	})
}

func TestMirror(t *testing.T) {
	src, dst := image.NewRGBA(image.Rect(0, 0, 3, 2)), image.NewRGBA(image.Rect(0, 0, 3, 2))
	for y := range 2 {
		for x := range 3 {
			src.SetRGBA(x, y, color.RGBA{uint8(10*x + y), 1, 2, 255})
		}
	}
	mirror(dst, src)
	for y := range 2 {
		for x := range 3 {
			require.Equal(t, src.RGBAAt(x, y), dst.RGBAAt(2-x, y))
		}
	}
}

func TestMarksTheJointInQuestion(t *testing.T) {
	st := &coach.PracticeStatus{State: coach.Working, Coach: coach.Status{Flags: []coach.Flag{
		{OnJoint: true, Joint: hand.IndexPIP}, {OnFinger: true, Finger: hand.Little}, {OnFinger: true, Finger: hand.Thumb}, {},
	}}}
	m := marks(st, hand.Right)
	for j := range m {
		want := j == int(hand.IndexPIP) || j == int(hand.LittlePIP) || j == int(hand.ThumbIP)
		require.Equal(t, want, m[j], hand.Joint(j).String())
	}
	// Of two hands each has its own.
	st.Coach.Flags = []coach.Flag{{OnJoint: true, Joint: hand.IndexPIP, Side: hand.Left}}
	st.Other = &coach.Status{Flags: []coach.Flag{{OnJoint: true, Joint: hand.RingPIP, Side: hand.Right}}}
	require.Equal(t, []bool{true, false}, []bool{marks(st, hand.Left)[hand.IndexPIP], marks(st, hand.Left)[hand.RingPIP]})
	require.Equal(t, []bool{false, true}, []bool{marks(st, hand.Right)[hand.IndexPIP], marks(st, hand.Right)[hand.RingPIP]})
	st.State = coach.Resting
	require.Equal(t, [hand.NumJoints]bool{}, marks(st, hand.Left))
	require.Equal(t, [hand.NumJoints]bool{}, marks(nil, hand.Left))
}

func TestCueStaysWhileItsFlagDoes(t *testing.T) {
	c := Cue{Text: "Bend it a little.", Warning: true, At: time.Second}
	flagged := &coach.PracticeStatus{Coach: coach.Status{Flags: []coach.Flag{{}}}}
	c.expire(20*time.Second, flagged)
	require.NotEmpty(t, c.Text)
	c.expire(20*time.Second, &coach.PracticeStatus{})
	require.Empty(t, c.Text)
	c = Cue{Text: "Hold.", At: time.Second}
	c.expire(5*time.Second, flagged)
	require.NotEmpty(t, c.Text)
	c.expire(6*time.Second, flagged)
	require.Empty(t, c.Text, "what is no warning goes")
}

// placedHand is a hand whose points fill a box of the picture.
func placedHand(left, top, right, bottom, palm, luma, yaw float64) live.Watched {
	o := &hand.Observation{Luma: luma, Side: hand.Right}
	for i := range o.Image {
		s := float64(i) / (hand.NumPoints - 1)
		o.Image[i] = hand.Point{X: left + s*(right-left), Y: bottom + s*(top-bottom)}
	}
	return live.Watched{Hand: o, Sample: hand.Sample{Found: true, Side: hand.Right, PalmPixels: palm, View: hand.View{YawDeg: yaw}}}
}

func TestCheckAsksForOneThingAtATime(t *testing.T) {
	radial := exercise.View{YawDeg: 80}
	good := placedHand(200, 100, 400, 400, 150, 0.5, 75)
	for _, tc := range []struct {
		name       string
		own, other live.Watched
		both       bool
		want       Step
		words      string
	}{
		{name: "no hand", want: ShowHand, words: "Show your right hand to the camera."},
		{name: "the other hand", other: good, want: OtherHand, words: "That is the other hand. Show your right hand."},
		{name: "far away", own: placedHand(300, 200, 340, 260, 30, 0.5, 75), want: ComeNearer, words: "Bring your right hand nearer to the camera."},
		{name: "too near", own: placedHand(-10, -20, 700, 470, 400, 0.5, 75), want: GoBack, words: "Move your right hand a little away from the camera."},
		{name: "at the edge", own: placedHand(500, 100, 639, 400, 150, 0.5, 75), want: MoveIn, words: "Move your right hand to the middle of the picture."},
		{name: "dark", own: placedHand(200, 100, 400, 400, 150, 0.05, 75), want: MoreLight, words: "It is too dark. Turn on a light in front of you."},
		{name: "palm to the camera", own: placedHand(200, 100, 400, 400, 150, 0.5, 0), want: TurnHand, words: "Turn your right hand as in the picture: thumb side to the camera."},
		{name: "little-finger side", own: placedHand(200, 100, 400, 400, 150, 0.5, -90), want: TurnHand, words: "Turn your right hand as in the picture: thumb side to the camera."},
		{name: "well", own: good, want: AllWell, words: "Good. Stay there."},
		{name: "one of two", own: good, both: true, want: ShowHand, words: "Show both hands to the camera."},
		{name: "both", own: good, other: good, both: true, want: AllWell, words: "Good. Stay there."},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := newChecker(CheckOptions{Side: hand.Right, View: radial, Both: tc.both})
			s := live.Seen{Watched: tc.own, Other: tc.other}
			c.see(0, &s, 640, 480)
			require.Equal(t, tc.want, c.now.Step)
			require.Equal(t, tc.words, c.now.Words)
			require.False(t, c.now.Ready)
			c.see(1100*time.Millisecond, &s, 640, 480)
			require.Equal(t, tc.want == AllWell, c.now.Ready)
		})
	}
}

// An instruction stays long enough to be read, and a moment that is not well
// starts the wait anew.
func TestCheckIsSteady(t *testing.T) {
	good := live.Seen{Watched: placedHand(200, 100, 400, 400, 150, 0.5, 75)}
	c := newChecker(CheckOptions{Side: hand.Right, View: exercise.View{YawDeg: 80}})
	c.see(0, &live.Seen{}, 640, 480)
	c.see(100*time.Millisecond, &good, 640, 480)
	c.see(200*time.Millisecond, &live.Seen{}, 640, 480)
	require.Equal(t, AllWell, c.now.Step, "it does not flicker")
	require.False(t, c.now.Ready)
	c.see(900*time.Millisecond, &good, 640, 480)
	c.see(1500*time.Millisecond, &good, 640, 480)
	require.False(t, c.now.Ready, "well for 0.6 s only")
	c.see(1900*time.Millisecond, &good, 640, 480)
	require.True(t, c.now.Ready)
}

func TestRecordJoinsTheSets(t *testing.T) {
	const pause = time.Minute
	set := func(counted int, took time.Duration, measured, min, max float64) coach.SetSummary {
		s := coach.SetSummary{Complete: true}
		s.Counted, s.End, s.Watched, s.Measured = counted, took, took, measured
		s.Angles = []coach.AngleRange{{Joint: hand.IndexPIP, MinDeg: min, MaxDeg: max, MinJudged: min < 0}}
		s.NotJudged = []coach.NotJudged{{Joint: hand.LittlePIP, Share: 1 - measured, Why: hand.Hidden}}
		return s
	}
	sum := coach.PracticeSummary{Wanted: 2, Counted: 9, Sets: []coach.SetSummary{set(5, 10*time.Second, 1, 2, 80), set(4, 30*time.Second, 0.6, -6, 70)}}
	sum.Sets[0].End += pause
	var e session.Exercise
	Record(&e, &sum)
	require.Equal(t, session.Done, e.Outcome)
	require.Equal(t, 2, e.SetsDone)
	require.InDelta(t, 0.7, e.Measured, 1e-9, "10 s whole beside a pause, and 30 s at 0.6")
	require.Equal(t, []session.Range{{Joint: hand.IndexPIP, MinDeg: -6, MaxDeg: 80, MinJudged: true}}, e.Ranges)
	require.InDelta(t, 0.3, e.NotJudged[0].Share, 1e-9)

	sum.Sets = sum.Sets[:1]
	Record(&e, &sum)
	require.Equal(t, session.Running, e.Outcome, "left in the middle")
	short := set(1, time.Second, 1, 2, 80)
	short.Complete = false
	sum.Sets = append(sum.Sets, short)
	Record(&e, &sum)
	require.Equal(t, session.Running, e.Outcome, "the last set is not done by ending it")
	sum.Sets[1].Skipped = true
	Record(&e, &sum)
	require.Equal(t, session.Done, e.Outcome, "what is left of it was left out on purpose")
	sum.Sets = []coach.SetSummary{{Skipped: true}, {Skipped: true}}
	Record(&e, &sum)
	require.Equal(t, session.Skipped, e.Outcome)
	sum.Stopped, sum.StopReason = true, coach.SharpPain
	Record(&e, &sum)
	require.Equal(t, session.Stopped, e.Outcome)
	require.Equal(t, "sharp pain", e.StopReason)
}

// What two hands did is kept for each, and the share of the time in which a joint
// was not judged is of its own hand's.
func TestRecordKeepsTwoHandsApart(t *testing.T) {
	hands := func(side hand.Side, measured, least float64, judged bool) coach.Summary {
		return coach.Summary{
			Side: side, Watched: 10 * time.Second, Measured: measured,
			Angles:    []coach.AngleRange{{Joint: hand.IndexPIP, MinDeg: least, MaxDeg: 50 + least, MinJudged: judged}},
			NotJudged: []coach.NotJudged{{Joint: hand.LittlePIP, Share: 1 - measured, Why: hand.Hidden}},
		}
	}
	set := func(left, right coach.Summary) coach.SetSummary {
		return coach.SetSummary{Summary: left, Other: &right, Pair: &coach.PairSummary{}, Complete: true}
	}
	sum := coach.PracticeSummary{Wanted: 2, Sets: []coach.SetSummary{
		set(hands(hand.Left, 1, 30, true), hands(hand.Right, 0.5, 4, true)), set(hands(hand.Left, 0.8, 20, true), hands(hand.Right, 0.7, 0, false)),
	}}
	e := session.Exercise{Side: hand.Right}
	Record(&e, &sum)
	require.True(t, e.TwoHands())
	require.Equal(t, []session.Range{
		{Joint: hand.IndexPIP, Side: hand.Left, MinDeg: 20, MaxDeg: 80, MinJudged: true},
		{Joint: hand.IndexPIP, Side: hand.Right, MinDeg: 4, MaxDeg: 54, MinJudged: true},
	}, e.Ranges, "what was judged is not replaced by what was not")
	require.Len(t, e.NotJudged, 2)
	require.Equal(t, hand.Right, e.NotJudged[0].Side)
	require.InDelta(t, 0.4, e.NotJudged[0].Share, 1e-9)
	require.Equal(t, hand.Left, e.NotJudged[1].Side)
	require.InDelta(t, 0.1, e.NotJudged[1].Share, 1e-9)
	require.InDelta(t, 0.75, e.Measured, 1e-9, "of both")
}

func TestMeasuresAreMediansOfTheLatest(t *testing.T) {
	var w window
	require.Zero(t, w.at(0.5))
	for i := range 2 * kept {
		w.add(time.Duration(i))
	}
	require.EqualValues(t, kept+kept/2, w.at(0.5))
	require.Len(t, w.values, kept)
}
