package landmark

import (
	"image"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/hand"
	"volar/internal/infer"
)

// tolerance is how exactly the fake models see, in pixels.
const tolerance = 2.5

func rightHand() fakeHand { return fakeHand{x: 200, y: 350, palm: 80, side: hand.Right} }

func TestFollowsOneHand(t *testing.T) {
	s := newScene(t, rightHand())
	p := s.player(Options{})
	for i := range 90 {
		h := &s.hands[0]
		h.x, h.y = 200+2*float64(i), 350-float64(i)
		h.turn = math.Sin(float64(i)/15) * 0.8
		h.palm = 80 + 20*math.Sin(float64(i)/20)
		list := p.next()
		require.Len(t, list, 1, "frame %d", i)
		o := list[0]
		_, d := s.nearest(o)
		require.Less(t, d, tolerance, "frame %d", i)
		require.Equal(t, 1, o.Track)
		require.Equal(t, hand.Right, o.Side)
		require.Greater(t, o.SideScore, 0.9)
		require.Equal(t, p.at, o.Time)
		require.Greater(t, o.Presence, 0.5)
		require.InDelta(t, 0.1*h.palm, o.Image[1].Z, 1, "z has the scale of x")
		require.InDelta(t, 0.1, math.Hypot(o.World[5].X, o.World[5].Y), 1e-6)
		require.InDelta(t, math.Sin(o.Region.Rotation)*0.1, o.World[5].Y, 1e-6, "world points turn with the region")
	}
	require.Equal(t, 1, s.palmRuns, "a followed hand needs no palm detector")
	require.Equal(t, 90, s.handRuns)
}

func TestLeftHandIsLeft(t *testing.T) {
	s := newScene(t, fakeHand{x: 300, y: 350, palm: 80, side: hand.Left})
	list := s.player(Options{}).next()
	require.Len(t, list, 1)
	require.Equal(t, hand.Left, list[0].Side)
}

func TestNoHand(t *testing.T) {
	s := newScene(t)
	p := s.player(Options{})
	require.Empty(t, p.play(10, nil))
	require.Equal(t, 10, s.palmRuns, "every picture is searched while there is no hand")
	require.Zero(t, s.handRuns)
}

func TestFastMotionIsCaughtInTheSameFrame(t *testing.T) {
	s := newScene(t, rightHand())
	p := s.player(Options{})
	p.play(5, nil)
	s.hands[0].x += 150 // out of the followed region, near enough to be the same hand
	list := p.next()
	require.Len(t, list, 1)
	require.Equal(t, 1, list[0].Track)
	_, d := s.nearest(list[0])
	require.Less(t, d, tolerance)
	require.Equal(t, 2, s.palmRuns)
}

func TestShortLossKeepsTheTrack(t *testing.T) {
	s := newScene(t, rightHand())
	p := s.player(Options{})
	p.play(5, nil)
	s.hands[0].faint = true
	require.Empty(t, p.play(4, nil)) // 133 ms
	s.hands[0].faint = false
	list := p.next()
	require.Len(t, list, 1)
	require.Equal(t, 1, list[0].Track)
}

func TestLongLossEndsTheTrack(t *testing.T) {
	s := newScene(t, rightHand())
	p := s.player(Options{})
	p.play(5, nil)
	s.hands[0].faint = true
	require.Empty(t, p.play(9, nil)) // 300 ms
	s.hands[0].faint = false
	list := p.next()
	require.Len(t, list, 1)
	require.Equal(t, 2, list[0].Track)
}

func TestAnotherHandIsNotTheLostOne(t *testing.T) {
	s := newScene(t, rightHand())
	p := s.player(Options{})
	p.play(5, nil)
	s.hands[0].side = hand.Left
	s.hands[0].x += 120
	list := p.next()
	require.Len(t, list, 1)
	require.Equal(t, 2, list[0].Track)
	require.Equal(t, hand.Left, list[0].Side)
}

func TestHandLeavesAndReturns(t *testing.T) {
	s := newScene(t, rightHand())
	p := s.player(Options{})
	p.play(5, nil)
	var last []hand.Observation
	for s.hands[0].x < mapW+100 {
		s.hands[0].x += 12
		if list := p.next(); len(list) > 0 {
			last = list
			c := palmCentre(&list[0].Image)
			require.LessOrEqual(t, c.X, float64(mapW), "no hand is reported beyond the rim")
		}
	}
	require.Greater(t, last[0].Image[hand.Wrist].X, mapW-100.0, "followed to the rim")
	require.Empty(t, p.play(10, nil))
	s.hands[0].x = 300
	list := p.next()
	require.Len(t, list, 1)
	require.Equal(t, 2, list[0].Track, "a hand that comes back has a new number")
}

func TestAbsentSecondHandIsSearchedSeldom(t *testing.T) {
	s := newScene(t, rightHand())
	p := s.player(Options{MaxHands: 2})
	require.Len(t, p.play(300, nil), 1) // 10 s
	require.InDelta(t, 10/0.3, s.palmRuns, 4, "every 300 ms or the next frame after")

	s = newScene(t, rightHand())
	p = s.player(Options{MaxHands: 2, SearchEvery: time.Second})
	p.play(300, nil)
	require.InDelta(t, 10, s.palmRuns, 1)
}

// A hand too small for the palm detector in the whole picture is found in its
// half where two are expected, beside one that is followed and alone, and is not
// looked for there where one is.
func TestExpectedHandIsSearchedInHalves(t *testing.T) {
	small := fakeHand{x: 520, y: 350, palm: 70, side: hand.Left}
	s := newScene(t, rightHand(), small)
	s.hands[0].palm, s.leastPalm = 120, 0.15
	require.Len(t, s.player(Options{MaxHands: 2}).play(60, nil), 1, "one is expected")
	p := s.player(Options{MaxHands: 2, Expect: 2})
	require.Len(t, p.play(10, nil), 2)
	runs := s.palmRuns
	require.Len(t, p.play(60, nil), 2)
	require.Equal(t, runs, s.palmRuns, "no search while both are in sight")

	p = s.player(Options{MaxHands: 2})
	require.Len(t, p.play(10, nil), 1)
	p.tracker.Expect(2)
	require.Len(t, p.play(10, nil), 2)
	p.tracker.Expect(3)
	require.Equal(t, 2, p.tracker.options.Expect, "no more than the most")

	s = newScene(t, fakeHand{x: 130, y: 350, palm: 70, side: hand.Right}, small)
	s.leastPalm = 0.15
	require.Len(t, s.player(Options{MaxHands: 2, Expect: 2}).play(6, nil), 2, "with none in sight")
}

func TestOneWantedHandIsOne(t *testing.T) {
	s := newScene(t, rightHand(), fakeHand{x: 480, y: 350, palm: 80, side: hand.Left})
	p := s.player(Options{})
	require.Len(t, p.play(30, nil), 1)
	require.Equal(t, 1, s.palmRuns)
}

func TestSecondHandLostAndFoundAgain(t *testing.T) {
	s := newScene(t, rightHand(), fakeHand{x: 480, y: 350, palm: 80, side: hand.Left})
	p := s.player(Options{MaxHands: 2})
	require.Len(t, p.play(5, nil), 2)
	for _, away := range []int{1, 3, 20, 60} {
		s.hands[1].y = 2000
		require.Len(t, p.play(away, nil), 1)
		s.hands[1].y = 350
		since := p.at
		for len(p.next()) < 2 {
		}
		require.LessOrEqual(t, p.at-since, 100*time.Millisecond, "after %d frames away", away)
	}
}

func TestTwoHandsCross(t *testing.T) {
	// The hands pass through each other; where they cover each other the fake
	// landmark model reads the nearer one for both.
	for _, dy := range []float64{0, 30} {
		s := newScene(t, fakeHand{x: 120, y: 350, palm: 70, side: hand.Right}, fakeHand{x: 520, y: 350 + dy, palm: 70, side: hand.Left})
		p := s.player(Options{MaxHands: 2})
		first := p.next()
		require.Len(t, first, 2)
		number := map[hand.Side]int{}
		for _, o := range first {
			number[o.Side] = o.Track
		}
		single := 0
		for range 50 {
			s.hands[0].x += 8
			s.hands[1].x -= 8
			list := p.next()
			require.NotEmpty(t, list)
			if len(list) == 1 {
				single++
				continue
			}
			a, _ := s.nearest(list[0])
			b, _ := s.nearest(list[1])
			require.NotEqual(t, a, b, "one hand reported twice")
		}
		require.Less(t, single, 15)
		list := p.play(10, nil)
		require.Len(t, list, 2)
		for _, o := range list {
			i, d := s.nearest(o)
			require.Less(t, d, tolerance)
			require.Equal(t, s.hands[i].side, o.Side)
			if dy > 0 {
				require.Equal(t, number[o.Side], o.Track, "the %v hand keeps its number", o.Side)
			}
		}
	}
}

func TestDuplicateKeepsTheTrackOfItsSide(t *testing.T) {
	// Two tracks run onto one hand: what is left is the track of its side.
	s := newScene(t, fakeHand{x: 200, y: 350, palm: 80, side: hand.Right}, fakeHand{x: 440, y: 350, palm: 80, side: hand.Left})
	p := s.player(Options{MaxHands: 2})
	number := map[hand.Side]int{}
	for _, o := range p.play(3, nil) {
		number[o.Side] = o.Track
	}
	for _, gone := range []int{0, 1} {
		for s.hands[gone].x != s.hands[1-gone].x {
			s.hands[gone].x += math.Copysign(40, s.hands[1-gone].x-s.hands[gone].x)
			p.next()
		}
		at := s.hands[gone].x
		s.hands[gone].y = 3000
		list := p.play(2, nil)
		require.Len(t, list, 1)
		side := s.hands[1-gone].side
		require.Equal(t, side, list[0].Side)
		require.Equal(t, number[side], list[0].Track)
		s.hands[gone].y = 350
		s.hands[gone].x = at + math.Copysign(240, 320-at)
		for _, o := range p.play(20, nil) {
			number[o.Side] = o.Track
		}
	}
}

func TestNestedReadingIsDropped(t *testing.T) {
	whole := rightHand()
	part := rightHand()
	part.x, part.y, part.palm = 200, 300, 25
	s := newScene(t, whole, part)
	list := s.player(Options{MaxHands: 2}).play(3, nil)
	require.Len(t, list, 1)
}

// The thumb's flesh reaches beyond its points, and so does a small hand that is
// seen in it.
func TestThumbIsNoHand(t *testing.T) {
	s := newScene(t, rightHand(), rightHand())
	tip := s.hands[0].points()[4]
	s.hands[1].x, s.hands[1].y, s.hands[1].palm = tip.X-4, tip.Y+10, 16
	require.Len(t, s.player(Options{MaxHands: 2}).play(60, nil), 1)
	s.hands[1].x += 60
	require.Len(t, s.player(Options{MaxHands: 2}).play(60, nil), 2, "a small hand beside it is one")
}

// Where the fingers alone are taken for a hand first, the whole hand takes their
// place as soon as it is surely seen, with a side of its own.
func TestPartGivesWayToTheWholeHand(t *testing.T) {
	part := rightHand()
	part.x, part.y, part.palm, part.label = 200, 300, 25, hand.Left
	s := newScene(t, part)
	p := s.player(Options{MaxHands: 2})
	list := p.play(30, nil)
	require.Len(t, list, 1)
	require.Equal(t, hand.Left, list[0].Side)
	s.hands = []fakeHand{part, rightHand()}
	var last hand.Observation
	for range 15 {
		list = p.next()
		require.Len(t, list, 1, "never both")
		require.False(t, last.Track > list[0].Track, "and not the part again")
		last = list[0]
	}
	i, d := s.nearest(last)
	require.Equal(t, 1, i)
	require.Less(t, d, tolerance)
	require.Equal(t, 2, last.Track)
	require.Equal(t, hand.Right, last.Side)
	require.Len(t, p.tracker.tracks, 1)
}

func TestSideIsSteady(t *testing.T) {
	s := newScene(t, rightHand())
	p := s.player(Options{})
	p.play(30, nil)
	for i := range 60 {
		s.hands[0].label = hand.Right
		if i%5 == 0 {
			s.hands[0].label = hand.Left
		}
		list := p.next()
		require.Equal(t, hand.Right, list[0].Side)
	}
}

// What cannot be a hand is not reported, however sure the model is.
func TestImplausibleReadings(t *testing.T) {
	for _, c := range []struct {
		name  string
		shape func(*hand.Points)
		raw   func([]infer.Tensor)
	}{
		{name: "collapsed", shape: func(p *hand.Points) {
			for i := range p {
				p[i] = hand.Point{X: 200 + float64(i%3), Y: 300 + float64(i%2)}
			}
		}},
		{name: "palm shrunk to nothing", shape: func(p *hand.Points) { p[9] = p[0] }},
		{name: "blown up", shape: func(p *hand.Points) {
			for i := range p {
				p[i].X, p[i].Y = 200+(p[i].X-200)*4, 350+(p[i].Y-350)*4
			}
		}},
		{name: "not a number", raw: func(out []infer.Tensor) { out[0].Data[7] = float32(math.NaN()) }},
		{name: "infinite in space", raw: func(out []infer.Tensor) { out[3].Data[7] = float32(math.Inf(1)) }},
		{name: "presence not a number", raw: func(out []infer.Tensor) { out[1].Data[0] = float32(math.NaN()) }},
		{name: "presence too low", raw: func(out []infer.Tensor) { out[1].Data[0] = 0.24 }},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newScene(t, rightHand())
			p := s.player(Options{})
			require.Len(t, p.play(3, nil), 1)
			s.hands[0].shape, s.raw = c.shape, c.raw
			require.Empty(t, p.play(3, nil))
			s.hands[0].shape, s.raw = nil, nil
			list := p.next()
			require.Len(t, list, 1, "taken up again")
			require.Equal(t, 1, list[0].Track)
		})
	}
}

// setPresence makes the landmark model so sure of every hand it sees.
func setPresence(to float32) func([]infer.Tensor) {
	return func(out []infer.Tensor) {
		if out[1].Data[0] > 0 {
			out[1].Data[0] = to
		}
	}
}

// Less presence keeps a followed hand than begins one.
func TestFollowedHandIsBelievedLonger(t *testing.T) {
	s := newScene(t, rightHand())
	p := s.player(Options{})
	s.raw = setPresence(0.3)
	require.Empty(t, p.play(20, nil), "too little to begin with")
	s.raw = nil
	require.Len(t, p.play(settled-1, nil), 1)
	s.raw = setPresence(0.3)
	require.Empty(t, p.next(), "followed too short")
	s.raw = nil
	require.Len(t, p.play(settled, nil), 1)
	s.raw = setPresence(0.3)
	list := p.play(60, func(int) { s.hands[0].x++ })
	require.Len(t, list, 1)
	require.Equal(t, 1, list[0].Track)
	_, d := s.nearest(list[0])
	require.Less(t, d, tolerance)
	s.raw = setPresence(0.24)
	require.Empty(t, p.next(), "gone")
}

// A followed hand that is seen faintly is read once more from a wider square
// before it is looked for anew.
func TestFaintHandIsReadWider(t *testing.T) {
	s := newScene(t, rightHand())
	p := s.player(Options{})
	require.Len(t, p.play(settled, nil), 1)
	searches, reads := s.palmRuns, s.handRuns
	s.raw = func(out []infer.Tensor) {
		if (s.handRuns-reads)%2 == 1 {
			out[1].Data[0] = 0.1
		}
	}
	list := p.play(10, nil)
	require.Len(t, list, 1)
	require.Equal(t, 1, list[0].Track)
	require.Equal(t, searches, s.palmRuns)
	require.Equal(t, reads+20, s.handRuns)
	s.raw = nil
	p.play(10, nil)
	require.Equal(t, reads+30, s.handRuns, "once where it is well seen")
}

// A palm that is hardly seen begins a track when four squares show the hand
// shortly after one another.
func TestFaintHandIsConfirmed(t *testing.T) {
	s := newScene(t, rightHand())
	s.hands[0].pale = true
	p := s.player(Options{})
	require.Empty(t, p.play(5, nil), "three squares, the plain one every second picture")
	list := p.next()
	require.Len(t, list, 1)
	_, d := s.nearest(list[0])
	require.Less(t, d, tolerance)
	require.Equal(t, 6, s.palmRuns, "one search a picture")

	s = newScene(t, rightHand())
	s.hands[0].pale = true
	p = s.player(Options{})
	require.Empty(t, p.play(20, func(int) { p.at += hunchLasts }), "too seldom")

	s = newScene(t, rightHand())
	s.hands[0].pale = true
	require.Empty(t, s.player(Options{}).play(8, func(i int) { s.hands[0].x = 60 + 70*float64(i) }), "never in the same place")
}

func TestTimeGoingBackIsANewRecording(t *testing.T) {
	s := newScene(t, rightHand())
	p := s.player(Options{})
	require.Equal(t, 1, p.play(5, nil)[0].Track)
	p.at = 0
	require.Equal(t, 2, p.next()[0].Track)
	p.tracker.Reset()
	require.Equal(t, 3, p.next()[0].Track)
}

func TestAngleOutputs(t *testing.T) {
	numbers := func(name string, v ...float32) infer.Tensor {
		return infer.Tensor{Name: name, Shape: []int{1, len(v)}, Data: v}
	}
	angles, spreads, visible := make([]float32, 14), make([]float32, 14), make([]float32, 21)
	for i := range angles {
		angles[i], spreads[i] = float32(10*i-20), float32(i+1)
	}
	visible[20] = 0.25

	t.Run("all", func(t *testing.T) {
		s := newScene(t, rightHand())
		s.hands[0].turn = math.Pi / 2
		s.extra = []infer.Tensor{numbers("spreads", spreads...), numbers("angles", angles...), numbers("visible", visible...),
			numbers("normal", 0, 0, -2), numbers("axis", 0, -1, 0)}
		a := s.player(Options{}).play(2, nil)[0].Angles
		require.NotNil(t, a)
		require.Equal(t, -20.0, a.FlexionDeg[0])
		require.Equal(t, 110.0, a.FlexionDeg[hand.ThumbIP])
		require.Equal(t, 3.0, a.SpreadDeg[2])
		require.Equal(t, 0.25, a.Visible[20])
		require.Equal(t, hand.Point{Z: -1}, a.Normal)
		// Fingers up in the crop are fingers to the right in the picture, but
		// for the small angle between the axis of the region and that of the hand.
		require.InDelta(t, 1, a.Axis.X, 0.01)
	})
	t.Run("none", func(t *testing.T) {
		s := newScene(t, rightHand())
		require.Nil(t, s.player(Options{}).next()[0].Angles)
	})
	t.Run("not numbers", func(t *testing.T) {
		s := newScene(t, rightHand())
		bad := append([]float32{float32(math.NaN())}, angles[1:]...)
		s.extra = []infer.Tensor{numbers("angles", bad...)}
		require.Nil(t, s.player(Options{}).next()[0].Angles)
	})
	t.Run("another shape is another thing", func(t *testing.T) {
		s := newScene(t, rightHand())
		s.extra = []infer.Tensor{numbers("angles", 1, 2, 3)}
		require.Nil(t, s.player(Options{}).next()[0].Angles)
	})
}

func TestTrackErrors(t *testing.T) {
	s := newScene(t, rightHand())
	tr := s.tracker(Options{})
	_, err := tr.Track(nil, 0)
	require.ErrorContains(t, err, "track hands: picture is empty")
	_, err = tr.Track(image.NewRGBA(image.Rect(0, 0, 0, 5)), 0)
	require.ErrorContains(t, err, "picture is empty")
	_, err = tr.Detect(&image.RGBA{Rect: image.Rect(0, 0, 5, 5)})
	require.ErrorContains(t, err, "detect hands: picture of 5 by 5 pixels")

	p := s.player(Options{})
	s.broken = errBroken
	_, err = p.tracker.Track(p.img, 0)
	require.ErrorIs(t, err, errBroken)
	require.ErrorContains(t, err, "palm detection model")
	_, err = p.tracker.Detect(p.img)
	require.ErrorIs(t, err, errBroken)
	s.broken = nil
	require.Len(t, p.next(), 1)
	s.broken = errBroken
	_, err = p.tracker.Track(p.img, p.at)
	require.ErrorIs(t, err, errBroken)
	require.ErrorContains(t, err, "hand landmark model")
}

func TestTinyPictures(t *testing.T) {
	s := newScene(t)
	tr := s.tracker(Options{})
	for _, size := range []image.Point{{1, 1}, {1, 300}, {3, 2}} {
		img := image.NewRGBA(image.Rectangle{Max: size})
		list, err := tr.Track(img, 0)
		require.NoError(t, err)
		require.Empty(t, list)
		list, err = tr.Detect(img)
		require.NoError(t, err)
		require.Empty(t, list)
	}
}

func TestOptions(t *testing.T) {
	for _, c := range []struct {
		o    Options
		want string
	}{
		{Options{MaxHands: 3}, "maximum of 3 hands"},
		{Options{MaxHands: -1}, "maximum of -1 hands"},
		{Options{Expect: 2}, "2 hands expected: want 1 to the maximum, 1"},
		{Options{MaxHands: 2, Expect: -1}, "-1 hands expected"},
		{Options{MinDetection: 1.5}, "least detection score 1.5"},
		{Options{MinPresence: math.NaN()}, "least presence score NaN"},
		{Options{Threads: -1}, "-1 threads"},
		{Options{SearchEvery: -time.Second}, "search every -1s"},
	} {
		_, err := newTracker(&fakePalms{newScene(t)}, &fakeLandmarks{newScene(t)}, c.o)
		require.ErrorContains(t, err, c.want)
	}
}

// otherGraph is a model of other inputs or outputs than wanted.
type otherGraph struct {
	infer.Graph
	in, out []infer.Spec
}

func (g otherGraph) Inputs() []infer.Spec  { return g.in }
func (g otherGraph) Outputs() []infer.Spec { return g.out }

func TestForeignModels(t *testing.T) {
	s := newScene(t)
	palms, hands := &fakePalms{s}, &fakeLandmarks{s}
	for _, c := range []struct {
		name         string
		palms, hands infer.Graph
		want         string
	}{
		{"swapped", hands, palms, "palm detection model: want one input of shape [1 3 192 192]"},
		{"without scores", otherGraph{in: palms.Inputs(), out: palms.Outputs()[:1]}, hands, `want an output "scores" of 2016 numbers, have boxes[1 2016 18]`},
		{"without world points", palms, otherGraph{in: hands.Inputs(), out: hands.Outputs()[:3]}, `hand landmark model: want an output "world" of 63 numbers`},
	} {
		_, err := newTracker(c.palms, c.hands, Options{})
		require.ErrorContains(t, err, c.want, c.name)
	}
}

// Hands that come, go, move and hide at random: whatever happens, no more
// hands than wanted, none twice, none where there is none, and no number is
// ever given again after its hand was lost.
func TestTrackerInvariants(t *testing.T) {
	img := mapPicture()
	rapid.Check(t, func(rt *rapid.T) {
		s := newScene(t, fakeHand{x: 150, y: 350, palm: 60, side: hand.Right}, fakeHand{x: 450, y: 350, palm: 60, side: hand.Left})
		most := rapid.IntRange(1, 2).Draw(rt, "hands")
		tr, err := newTracker(&fakePalms{s}, &fakeLandmarks{s}, Options{MaxHands: most})
		require.NoError(rt, err)
		at, seen := time.Duration(0), map[int]time.Duration{}
		highest := 0
		for range rapid.IntRange(1, 16).Draw(rt, "frames") {
			for i := range s.hands {
				h := &s.hands[i]
				h.x += rapid.Float64Range(-60, 60).Draw(rt, "dx")
				h.y += rapid.Float64Range(-40, 40).Draw(rt, "dy")
				h.turn += rapid.Float64Range(-0.4, 0.4).Draw(rt, "turn")
				h.faint = rapid.IntRange(0, 5).Draw(rt, "faint") == 0
				h.blind = rapid.IntRange(0, 3).Draw(rt, "blind") == 0
			}
			at += time.Duration(rapid.IntRange(5, 120).Draw(rt, "ms")) * time.Millisecond
			list, err := tr.Track(img, at)
			require.NoError(rt, err)
			require.LessOrEqual(rt, len(list), most)
			shown := map[int]bool{}
			for _, o := range list {
				i, d := s.nearest(o)
				require.Less(rt, d, 6.0, "a hand where there is none")
				require.False(rt, shown[i], "a hand reported twice")
				shown[i] = true
				if last, ok := seen[o.Track]; ok {
					require.LessOrEqual(rt, at-last, grace+120*time.Millisecond)
				} else {
					require.Greater(rt, o.Track, highest, "numbers only grow")
					highest = o.Track
				}
				seen[o.Track] = at
			}
		}
	})
}
