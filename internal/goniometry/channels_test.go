package goniometry_test

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/infer"
	"volar/internal/landmark"
)

// shown is a rendered hand and what is true of its channels.
type shown struct {
	sample hand.Sample
	truth  [hand.NumChannels]float64
}

// show renders hands in known poses and measures them by the whole path.
func show(t *testing.T, n int, pose func(r *rand.Rand, h *handrender.Renderer) (hand.Pose, handrender.View)) (out []shown) {
	t.Helper()
	engine, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	defer engine.Close()
	tracker, err := landmark.New(engine, landmark.Options{MaxHands: 1})
	require.NoError(t, err)
	defer tracker.Close()
	h, err := handrender.Default()
	require.NoError(t, err)
	r, draw := handrender.NewRenderer(h, handrender.Options{}), rand.New(rand.NewPCG(31, 7))
	img, g := image.NewRGBA(image.Rect(0, 0, 480, 360)), goniometry.New(goniometry.Options{})
	for i := range n {
		s := handrender.Scene{
			Side: hand.Side(1 + i%2), Skin: handrender.Skin{Tone: draw.Float64(), Seed: uint32(i)},
			Camera: handrender.Camera{Distance: 0.38, OffsetY: 0.05}, Background: handrender.Background{Seed: uint32(i)},
		}
		s.Pose, s.View = pose(draw, r)
		known := r.Render(img, s)
		seen, err := tracker.Detect(img)
		require.NoError(t, err)
		if len(seen) == 0 {
			continue
		}
		o := seen[0]
		o.Side = s.Side
		x := shown{sample: g.MeasureStill(o)}
		palm := known.World[hand.Middle.MCP()].Sub(known.World[hand.Wrist]).Norm()
		p := s.Pose
		for _, f := range hand.Fingers {
			c, _ := hand.PinchOf(f)
			x.truth[c] = 100 * known.World[f.Tip()].Sub(known.World[hand.ThumbTip]).Norm() / palm
		}
		// Abduction leads away from the middle finger, and the middle finger's own
		// towards the thumb.
		x.truth[hand.SpreadIndexMiddle] = p.Fingers[0].Abduction - p.Fingers[1].Abduction
		x.truth[hand.SpreadMiddleRing] = p.Fingers[2].Abduction + p.Fingers[1].Abduction
		x.truth[hand.SpreadRingLittle] = p.Fingers[3].Abduction - p.Fingers[2].Abduction
		x.truth[hand.ThumbPalmar], x.truth[hand.ThumbRadial] = p.Thumb.Palmar, p.Thumb.Radial
		x.truth[hand.HandTurn] = known.View.YawDeg
		axis := known.Image[hand.Middle.MCP()].Sub(known.Image[hand.Wrist])
		x.truth[hand.HandTilt] = math.Atan2(axis.X, -axis.Y) * 180 / math.Pi
		if known.Normal.X*-axis.Y+known.Normal.Y*axis.X < 0 {
			x.truth[hand.HandTilt] *= -1
		}
		out = append(out, x)
	}
	require.Greater(t, len(out), n*9/10)
	return out
}

// hold compares a channel with the truth and prints how far it is off. It
// returns the mean error and the share judged.
func hold(t *testing.T, all []shown, c hand.Channel) (mean, judged float64) {
	t.Helper()
	var n, sum, bias, inside float64
	for _, x := range all {
		m := x.sample.Channel(c)
		if !m.Judged {
			continue
		}
		e := math.Remainder(m.RawDeg-x.truth[c], 360)
		n++
		sum += math.Abs(e)
		bias += e
		if math.Abs(e) <= 2*m.SEDeg {
			inside++
		}
	}
	require.NotZero(t, n, "%v", c)
	t.Logf("%-20s judged in %3.0f of %d, mean error %4.1f%s, bias %5.1f, within 2 SE %.2f", c, n, len(all), sum/n, c.Unit(), bias/n, inside/n)
	require.Greater(t, inside/n, 0.85, "%v: the stated error must hold", c)
	return sum / n, n / float64(len(all))
}

// The bounds are what was measured on these renders, and a fifth.
func TestChannelsOnRenderedHands(t *testing.T) {
	u := func(r *rand.Rand, a, b float64) float64 { return a + (b-a)*r.Float64() }
	open := func(r *rand.Rand) (p hand.Pose) {
		for k := range p.Fingers {
			p.Fingers[k] = hand.FingerPose{MCP: u(r, 0, 20), PIP: u(r, 0, 25), DIP: u(r, 0, 10), Abduction: u(r, 0, 14)}
		}
		p.Fingers[1].Abduction = u(r, -4, 4)
		p.Fingers[3].Abduction = p.Fingers[2].Abduction + u(r, 0, 12)
		p.Thumb = hand.ThumbPose{Palmar: u(r, 0, 45), Radial: u(r, -8, 42), MP: u(r, 0, 25), IP: u(r, 0, 25)}
		return p
	}
	t.Run("palm view", func(t *testing.T) {
		all := show(t, 36, func(r *rand.Rand, _ *handrender.Renderer) (hand.Pose, handrender.View) {
			return open(r), handrender.View{Yaw: u(r, -20, 20), Pitch: u(r, -12, 12), Roll: u(r, -25, 25)}
		})
		for c, bound := range map[hand.Channel]float64{
			hand.SpreadIndexMiddle: 5, hand.SpreadMiddleRing: 5, hand.SpreadRingLittle: 6.5,
			hand.ThumbPalmar: 11, hand.ThumbRadial: 13, hand.HandTurn: 9, hand.PinchIndex: 17, hand.PinchLittle: 20,
		} {
			mean, judged := hold(t, all, c)
			require.Less(t, mean, bound, "%v", c)
			require.Greater(t, judged, 0.8, "%v", c)
		}
		for _, x := range all {
			require.Equal(t, hand.WrongView, x.sample.Channel(hand.HandTilt).Why, "which way is the palm's side cannot be seen")
		}
	})
	t.Run("thumb to a fingertip", func(t *testing.T) {
		var apart []bool
		all := show(t, 32, func(r *rand.Rand, h *handrender.Renderer) (hand.Pose, handrender.View) {
			f := hand.Fingers[r.IntN(4)]
			p := h.Oppose(handrender.Scene{Pose: handrender.Straight()}, f)
			if apart = append(apart, len(apart)%2 == 1); len(apart)%2 == 0 {
				p = handrender.Straight()
				p.Thumb.Palmar, p.Thumb.Radial = 25, 25
			}
			return p, handrender.View{Yaw: u(r, -10, 25), Pitch: u(r, -10, 10), Roll: u(r, -20, 20)}
		})
		var touching, open []float64
		for _, x := range all {
			least, truth := math.Inf(1), math.Inf(1)
			for c := hand.PinchIndex; c <= hand.PinchLittle; c++ {
				truth = math.Min(truth, x.truth[c])
				if m := x.sample.Channel(c); m.Judged {
					least = math.Min(least, m.RawDeg)
				}
			}
			if math.IsInf(least, 1) {
				continue
			}
			if truth < 25 {
				touching = append(touching, least)
			} else {
				open = append(open, least)
			}
		}
		t.Log("nearest fingertip, touching: ", fmt.Sprintf("%.0f", touching), "; apart: ", fmt.Sprintf("%.0f", open))
		require.Greater(t, len(touching), 8)
		require.Greater(t, len(open), 8)
		wrong := 0
		for _, v := range touching {
			if v > 45 {
				wrong++
			}
		}
		for _, v := range open {
			if v < 45 {
				wrong++
			}
		}
		require.LessOrEqual(t, wrong, len(all)/10, "touching and apart are told from each other")
	})
	t.Run("side view", func(t *testing.T) {
		all := show(t, 32, func(r *rand.Rand, _ *handrender.Renderer) (hand.Pose, handrender.View) {
			return open(r), handrender.View{Yaw: u(r, 65, 100), Pitch: u(r, -8, 8), Roll: u(r, -110, 110)}
		})
		for c, bound := range map[hand.Channel]float64{hand.HandTilt: 3, hand.ThumbPalmar: 12, hand.HandTurn: 9} {
			mean, judged := hold(t, all, c)
			require.Less(t, mean, bound, "%v", c)
			require.Greater(t, judged, 0.8, "%v", c)
		}
		for _, x := range all {
			require.False(t, x.sample.Channel(hand.PinchLittle).Judged, "across the line of sight")
			require.False(t, x.sample.Channel(hand.SpreadRingLittle).Judged)
		}
	})
}

// The turn is followed past the back of the hand and round; a hand that was
// away for long begins anew.
func TestTurnIsFollowedRound(t *testing.T) {
	engine, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	defer engine.Close()
	tracker, err := landmark.New(engine, landmark.Options{MaxHands: 1})
	require.NoError(t, err)
	defer tracker.Close()
	h, err := handrender.Default()
	require.NoError(t, err)
	r := handrender.NewRenderer(h, handrender.Options{})
	img, g := image.NewRGBA(image.Rect(0, 0, 480, 360)), goniometry.New(goniometry.Options{})
	var last hand.Sample
	for i := range 40 {
		yaw := 120 + 3*float64(i) // to 237
		s := handrender.Scene{Side: hand.Right, Pose: handrender.Straight(), View: handrender.View{Yaw: yaw, Pitch: 5}, Camera: handrender.Camera{Distance: 0.38, OffsetY: 0.05}}
		r.Render(img, s)
		at := time.Duration(i) * 100 * time.Millisecond
		seen, err := tracker.Track(img, at)
		require.NoError(t, err)
		if len(seen) == 0 {
			g.Lost(at)
			continue
		}
		o := seen[0]
		o.Side = hand.Right
		last = g.Measure(o)
	}
	m := last.Channel(hand.HandTurn)
	require.True(t, m.Judged)
	require.InDelta(t, 237, m.RawDeg, 25)
	lost := g.Lost(5 * time.Second)
	require.Equal(t, hand.NoHand, lost.Channel(hand.PinchIndex).Why)
	require.Equal(t, hand.NoHand, lost.Channel(hand.HandTurn).Why)
}
