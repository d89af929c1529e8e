package landmark

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/infer"
)

// stating are the outputs of an angle head that states the same spread for all
// joints.
func stating(spread float32) []infer.Tensor {
	list := angleOutputs()
	for i := range list[1].Data {
		list[1].Data[i] = spread
	}
	return list
}

// What a glance shows is a hand only if everything speaks for one. The fake
// models know places by their colour, so that the light stays as it is.
func TestGlance(t *testing.T) {
	const first = 3 // the reading; two runs follow the palm, seven are views
	from := func(run int, do func(out []infer.Tensor)) func(*scene, []infer.Tensor) {
		return func(s *scene, out []infer.Tensor) {
			if s.handRuns >= run {
				do(out)
			}
		}
	}
	for _, c := range []struct {
		name   string
		spread float32
		blind  bool
		raw    func(*scene, []infer.Tensor)
		found  bool
		runs   int // of the landmark model
	}{
		{name: "a hand", spread: 8, found: true, runs: 10},
		{name: "no palm", spread: 8, blind: true},
		{name: "the angle head is at a loss", spread: 13, runs: 3},
		{name: "hardly present", spread: 8, raw: from(1, setPresence(0.3)), runs: 2},
		{name: "present in too little of the reading", spread: 8, raw: from(first, setPresence(0.49)), runs: 3},
		{name: "present in the reading, not in the views", spread: 8, raw: from(first+1, setPresence(0.2)), runs: 8},
		{name: "faint in the views", spread: 8, raw: from(first, setPresence(0.56)), found: true, runs: 10},
		{name: "a view of another place", spread: 8, raw: from(first+1, func(out []infer.Tensor) {
			for i := 0; i < len(out[0].Data); i += 3 {
				out[0].Data[i] += 0.06 * handSide
			}
		})},
	} {
		for _, mirrored := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s/mirrored %v", c.name, mirrored), func(t *testing.T) {
				s := newScene(t, fakeHand{x: 320, y: 340, palm: 100, side: hand.Right, pale: true, blind: c.blind})
				s.extra = stating(c.spread)
				if c.raw != nil {
					s.raw = func(out []infer.Tensor) { c.raw(s, out) }
				}
				g := &glancer{t: s.tracker(Options{}), img: mapPicture(), curves: new(curves)}
				require.NoError(t, g.glance(&glance{mirrored: mirrored, square: square{1, 0}}, stillPalms))
				require.Equal(t, 1, s.palmRuns)
				if c.runs > 0 || c.blind {
					require.Equal(t, c.runs, s.handRuns)
				}
				require.Equal(t, c.found, g.best.merit > 0)
				if !c.found {
					return
				}
				truth := s.hands[0].points()
				require.Less(t, apartBy(&g.best.image, &truth)*pointsRegion(&truth).Size, tolerance)
				runs := s.handRuns
				require.NoError(t, g.glance(&glance{square: square{1.25, 0}}, stillPalms))
				require.Equal(t, runs+2, s.handRuns, "what is known is not asked again")
			})
		}
	}
}

func TestGlancesOfVideo(t *testing.T) {
	s := newScene(t)
	s.extra = stating(5)
	p := s.player(Options{})
	p.play(5, nil)
	require.Equal(t, 10, s.palmRuns, "a picture without a hand has one look more")
	s.hands = []fakeHand{rightHand()}
	require.Len(t, p.next(), 1)
	p.play(5, nil)
	require.LessOrEqual(t, s.palmRuns, 12, "none while a hand is in sight")

	s.palmRuns, s.hands, s.extra = 0, nil, nil
	p = s.player(Options{})
	p.play(5, nil)
	require.Equal(t, 5, s.palmRuns, "a model that states no spread cannot be asked")
}

func TestCurves(t *testing.T) {
	for _, c := range []struct {
		name                 string
		dark, middle, bright uint8   // tones of the picture's thirds
		low, mid, high       float64 // where stretching takes them
	}{
		{name: "dark", dark: 10, middle: 30, bright: 90, low: 0, mid: 0.5, high: 1},
		{name: "whole range", dark: 0, middle: 115, bright: 255, low: 0, mid: 0.45, high: 1},
		{name: "one tone stays about as it is", dark: 100, middle: 100, bright: 100, low: 0, mid: 0, high: 0},
		{name: "bright", dark: 120, middle: 220, bright: 250, low: 0, mid: 0.65, high: 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			img := image.NewRGBA(image.Rect(0, 0, 100, 40))
			for i, v := range []uint8{c.dark, c.middle, c.bright} {
				draw.Draw(img, image.Rect(30*i, 0, 30*i+40, 40), image.NewUniform(color.Gray{Y: v}), image.Point{}, draw.Src)
			}
			k := curvesOf(img)
			require.Nil(t, k[asShot])
			require.InDelta(t, c.low, k[stretched][c.dark], 0.01)
			require.InDelta(t, c.mid, k[stretched][c.middle], 0.06)
			require.InDelta(t, c.high, k[stretched][c.bright], 0.01)
			for _, l := range []light{stretched, brightened} {
				for v := range 255 {
					require.LessOrEqual(t, k[l][v], k[l][v+1])
				}
				require.LessOrEqual(t, k[l][255], float32(1))
			}
			require.InDelta(t, math.Pow(0.2, 0.6), k[brightened][51], 1e-6)
		})
	}
}

func TestShown(t *testing.T) {
	var c curve
	c[51], c[102], c[255] = 0.5, 0.75, 1
	crop := []float32{0.2, 0.4, 1, 0}
	shown{&c, true}.apply(crop, 2)
	require.Equal(t, []float32{0.75, 0.5, 0, 1}, crop)
	shown{}.apply(crop, 2)
	require.Equal(t, []float32{0.75, 0.5, 0, 1}, crop)
}

// A dark hook fist from the thumb side, that the picture as it is does not show
// in any square, is found by a glance, where it is; a room without it is empty.
func TestRenderedHandAtAGlance(t *testing.T) {
	r := newRenderer(t)
	img := image.NewRGBA(image.Rect(0, 0, 640, 480))
	s := handrender.Scene{Pose: handrender.Hook(), Side: hand.Right}
	s.View.Yaw, s.View.Roll, s.Skin.Tone, s.Camera.Distance = 85, 24, 0.9, 0.3
	s.Background.Kind, s.Background.Seed = handrender.Clutter, 6
	s.Effects.Exposure, s.Effects.Noise = -0.6, 3
	truth := r.Render(img, s)

	plain, _, _ := countedTracker(t, Options{})
	list, err := plain.Detect(img)
	require.NoError(t, err)
	require.Empty(t, list, "without the angle head's word there are no glances")

	tr := realTracker(t, Options{})
	list, err = tr.Detect(img)
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.Less(t, misplaced(&list[0], &truth), 0.12)

	at, found := time.Duration(0), 0
	for range 2 * len(glances) {
		at += frameTime
		list, err = tr.Track(img, at)
		require.NoError(t, err)
		for i := range list {
			found++
			require.Less(t, misplaced(&list[i], &truth), 0.12)
		}
	}
	require.Greater(t, found, len(glances)/2, "found within one round, and followed")

	s.Camera.OffsetX = 40 // nothing but the room
	r.Render(img, s)
	list, err = tr.Detect(img)
	require.NoError(t, err)
	require.Empty(t, list)
	tr.Reset()
	for range len(glances) {
		at += frameTime
		list, err = tr.Track(img, at)
		require.NoError(t, err)
		require.Empty(t, list)
	}
}
