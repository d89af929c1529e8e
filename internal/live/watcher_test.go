package live_test

import (
	"image"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/infer"
	"volar/internal/live"
)

// palmAt draws a straight hand seen from the palm.
func palmAt(t *testing.T, side hand.Side) *image.RGBA {
	t.Helper()
	mesh, err := handrender.Default()
	require.NoError(t, err)
	img := image.NewRGBA(image.Rect(0, 0, 480, 360))
	handrender.NewRenderer(mesh, handrender.Options{}).Render(img, handrender.Scene{
		Side: side, Pose: handrender.Straight(), Camera: handrender.Camera{Distance: 0.42}, Skin: handrender.Skin{Tone: 0.35, Seed: 7},
	})
	return img
}

func TestWatcherFollowsTheWantedHand(t *testing.T) {
	engine, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	defer engine.Close()
	w, err := live.NewWatcher(engine, live.WatcherOptions{})
	require.NoError(t, err)
	defer w.Close()
	img := palmAt(t, hand.Right)
	frame := 0
	watch := func(n int) (s live.Seen) {
		for range n {
			s, err = w.Frame(img, time.Duration(frame)*50*time.Millisecond)
			require.NoError(t, err)
			frame++
		}
		return s
	}
	s := watch(5)
	require.NotNil(t, s.Hand)
	require.Equal(t, hand.Right, w.Side(), "whichever is seen first")
	require.True(t, s.Sample.Found)
	require.Nil(t, s.Other.Hand)

	w.Watch(live.WatcherOptions{Side: hand.Left})
	s = watch(5)
	require.Nil(t, s.Hand)
	require.False(t, s.Sample.Found)
	require.NotNil(t, s.Other.Hand, "the other hand is seen")
	require.False(t, s.Other.Sample.Found, "and not measured")

	w.Watch(live.WatcherOptions{Side: hand.Left, Both: true})
	s = watch(5)
	require.True(t, s.Other.Sample.Found)
	require.Equal(t, hand.Right, s.Other.Sample.Side)

	_, err = w.Frame(img, 0)
	require.ErrorContains(t, err, "comes before")
}

func TestEstimatorNamesTheModel(t *testing.T) {
	name, err := live.Estimator()
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(name, "hand_angles.onnx "), name)
	require.Len(t, strings.Fields(name)[1], 12)
}
