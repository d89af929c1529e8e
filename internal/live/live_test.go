package live_test

import (
	"image"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/exercise"
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

// picture is an open hand of one side, in the middle.
func picture(t *testing.T, side hand.Side) *image.RGBA {
	t.Helper()
	h, err := handrender.Default()
	require.NoError(t, err)
	img := image.NewRGBA(image.Rect(0, 0, 320, 240))
	handrender.NewRenderer(h, handrender.Options{}).Render(img, handrender.Scene{Side: side, Pose: handrender.Straight()})
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

func TestTheFirstHandSeenIsKept(t *testing.T) {
	j := newJudge(t, hand.UnknownSide)
	require.Equal(t, hand.UnknownSide, j.Side())
	r, err := j.Frame(picture(t, hand.Left), 0)
	require.NoError(t, err)
	require.NotNil(t, r.Hand)
	require.Equal(t, hand.Left, j.Side())
	require.True(t, r.Sample.Found)
}
