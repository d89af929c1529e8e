package stage

import (
	"image"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/camera"
	"volar/internal/coach"
	"volar/internal/demonstration"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/session"
)

// twoHands is a picture of both hands in the start pose of a movement, as they
// come in from both sides: the client's right hand is on the left of a picture
// that is not mirrored.
func twoHands(t *testing.T, m *exercise.Movement) *image.RGBA {
	t.Helper()
	mesh, err := handrender.Default()
	require.NoError(t, err)
	scene := func(side hand.Side) handrender.Scene {
		s := demonstration.Scene(side, m.View.Best)
		s.Pose = m.StartPose()
		s.Camera = handrender.Camera{Distance: 0.52, OffsetX: 0.22}
		if side == hand.Right {
			s.Camera.OffsetX = -0.22
		}
		return s
	}
	s, behind := scene(hand.Right), scene(hand.Left)
	s.Behind = &behind
	img := image.NewRGBA(image.Rect(0, 0, 640, 480))
	handrender.NewRenderer(mesh, handrender.Options{}).Render(img, s)
	return img
}

// A movement of two hands: the check asks for both, both are drawn and recorded,
// each under its own side, and the pair's own status is shown, whichever hand
// the program calls the exercising one.
func TestTwoHandsAreSeenJudgedAndRecorded(t *testing.T) {
	m, err := exercise.Find("wringing-together")
	require.NoError(t, err)
	img := twoHands(t, m)
	still := func() (camera.Source, error) {
		src, err := camera.NewRendered(camera.RenderedOptions{Width: 640, Height: 480, FPS: 15}, func(dst *image.RGBA, _ time.Duration, _ int) error {
			copy(dst.Pix, img.Pix)
			return nil
		})
		require.NoError(t, err)
		return camera.NewPaced(src)
	}
	for _, side := range []hand.Side{hand.Right, hand.Left} {
		t.Run(side.String(), func(t *testing.T) {
			s, wait := opened(t, Options{Open: still})
			s.Check(CheckOptions{Side: side, Both: true, View: m.View.Best})
			v := wait(func(v *View) bool { return v.Check != nil && v.Check.Ready })
			// The skeletons are what differs from the mirrored picture.
			left, right := 0, 0
			for y := range 480 {
				for x := range 640 {
					if v.Picture.RGBAAt(x, y) != img.RGBAAt(639-x, y) {
						if x < 320 {
							left++
						} else {
							right++
						}
					}
				}
			}
			require.Greater(t, left, 500, "the left hand, in the mirror on the left")
			require.Greater(t, right, 500)

			to := &sink{}
			rec, err := session.NewRecorder(session.Options{Header: session.Header{Client: "C-017", Zone: "UTC"}, Sink: to})
			require.NoError(t, err)
			require.NoError(t, s.Perform(Performance{
				Practice: coach.PracticeConfig{Coach: coach.Config{Movement: m, Side: side, Repetitions: 2}, Sets: 1},
				Recorder: rec, Exercise: session.Exercise{Item: m.ID, Movement: m.ID, Side: side, Sets: 1, Repetitions: 2},
			}))
			s.Start()
			v = wait(func(v *View) bool {
				return v.Practice != nil && v.Practice.State == coach.Working && v.Practice.Pair != nil && !v.Practice.Coach.Paused && !v.Practice.Other.Paused && v.Picture != nil
			})
			require.Empty(t, v.Practice.Pair.Missing)
			require.Equal(t, 2, v.Practice.Pair.Repetitions)
			require.NoError(t, rec.Flush())
			wait(func(*View) bool { return rec.Status().Saved > v.At })
			require.NoError(t, s.Close())
			require.NoError(t, rec.Close())
			sides := map[hand.Side]int{}
			for _, x := range to.all.Samples {
				sides[x.Side]++
			}
			require.Positive(t, sides[hand.Left])
			require.Positive(t, sides[hand.Right])
		})
	}
}
