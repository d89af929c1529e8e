package arom_test

import (
	"fmt"
	"image"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/arom"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/infer"
	"volar/internal/live"
)

// shown is a hand before a laptop's camera, as a clinic's room has it.
func shown(pose handrender.Pose, yaw float64) handrender.Scene {
	return handrender.Scene{
		Pose: pose, Side: hand.Right, View: handrender.View{Yaw: yaw, Pitch: 4},
		Skin: handrender.Skin{Tone: 0.35, Seed: 7}, Camera: handrender.Camera{Distance: 0.38, OffsetY: 0.05},
	}
}

// lab renders scenes and reads them.
type lab struct {
	t    *testing.T
	draw *handrender.Renderer
	eng  infer.Engine
}

func newLab(t *testing.T) *lab {
	mesh, err := handrender.Default()
	require.NoError(t, err)
	e, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	t.Cleanup(func() { e.Close() })
	return &lab{t, handrender.NewRenderer(mesh, handrender.Options{}), e}
}

// record shows the scenes one after the other, each in 18 pictures at ten a
// second, and returns the recording.
func (l *lab) record(side hand.Side, scenes ...handrender.Scene) *arom.Recording {
	estimator, err := live.Estimator()
	require.NoError(l.t, err)
	r, err := arom.NewRecording(goniometry.CaptureOptions{Side: side, At: time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC), Estimator: estimator})
	require.NoError(l.t, err)
	w, err := live.NewWatcher(l.eng, live.WatcherOptions{Side: side})
	require.NoError(l.t, err)
	defer w.Close()
	at := time.Duration(0)
	for _, s := range scenes {
		img := image.NewRGBA(image.Rect(0, 0, 480, 360))
		l.draw.Render(img, s)
		for range 18 {
			at += 100 * time.Millisecond
			seen, err := w.Frame(img, at)
			require.NoError(l.t, err)
			if seen.Hand == nil && seen.Other.Hand != nil {
				seen.Sample = arom.Other(at, seen.Other.Hand.Side)
			}
			r.Push(seen.Sample, seen.Hand, img.Rect.Size())
		}
	}
	return r
}

func TestARecordedHandIsWithinItsStatedError(t *testing.T) {
	l := newLab(t)
	straight, fist := handrender.Straight(), handrender.FullFist()
	lax := straight
	lax.Fingers[0].PIP = -18 // the index finger gives way
	r := l.record(hand.Right, shown(straight, 0), shown(fist, 0), shown(lax, 85))
	require.NoError(t, r.Missing())
	b, err := r.Baseline()
	require.NoError(t, err)
	table := arom.TableOf(b, arom.TableOptions{})
	t.Log("\n" + table.Text(time.UTC))

	n, within := 0, 0
	look := func(name string, x arom.Reading, truth float64) {
		if !x.Judged {
			return
		}
		n++
		off := math.Abs(x.Deg - truth)
		if off <= 2*x.SEDeg {
			within++
		} else {
			t.Logf("%s: %.1f ± %.1f, in truth %.1f", name, x.Deg, x.SEDeg, truth)
		}
		require.LessOrEqual(t, off, 3.5*x.SEDeg, name)
	}
	inFist, inStraight := fist.Flexion(), straight.Flexion()
	for j := range hand.Joint(hand.NumJoints) {
		truth := inStraight[j]
		if j == hand.IndexPIP {
			truth = -18
		}
		look(fmt.Sprintf("%s straight", arom.Name(j)), table.Lines[j].Straight, truth)
		look(fmt.Sprintf("%s fist", arom.Name(j)), table.Lines[j].Fist, inFist[j])
	}
	require.GreaterOrEqual(t, n, 18, "most joints are judged")
	require.GreaterOrEqual(t, float64(within)/float64(n), 0.85, "about nineteen in twenty lie within twice the standard error")
	index := table.Lines[hand.IndexPIP].Straight
	require.True(t, index.PastJudged)
	require.Less(t, index.Deg, -9.0, "a lax knuckle is in the table")
	require.Contains(t, table.Doubts()[0], "index PIP reads", "and does not become the client's zero")
}

func TestPoorRecordingsAreRefusedWithTheRightWords(t *testing.T) {
	l := newLab(t)
	good := func() handrender.Scene { return shown(handrender.Straight(), 0) }
	for _, c := range []struct {
		name string
		make func() handrender.Scene
		want string
	}{
		{"dark", func() handrender.Scene { s := good(); s.Effects.Exposure = -4; return s }, "more light"},
		{"far", func() handrender.Scene { s := good(); s.Camera.Distance = 1; return s }, "closer to the camera"},
		{"turned", func() handrender.Scene { return shown(handrender.Straight(), 60) }, "turn your palm towards the camera"},
		{"back", func() handrender.Scene { return shown(handrender.Straight(), 180) }, "turn your palm towards the camera"},
		{"fist", func() handrender.Scene { return shown(handrender.FullFist(), 0) }, "straighten your fingers"},
		{"cut off", func() handrender.Scene { s := good(); s.Camera.OffsetY = -0.3; return s }, "all of it is in the picture"},
		{"other hand", func() handrender.Scene { s := good(); s.Side = hand.Left; return s }, "use your right hand"},
		{"sleeve", func() handrender.Scene {
			s := good()
			s.Sleeve = handrender.Sleeve{On: true, Start: -0.03}
			return s
		}, "sleeve"},
		{"parted", func() handrender.Scene {
			s := good()
			s.Pose.Fingers[0].Abduction, s.Pose.Fingers[2].Abduction, s.Pose.Fingers[3].Abduction = 22, 22, 30
			return s
		}, "side by side"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := l.record(hand.Right, c.make())
			err := r.Missing()
			t.Log(err)
			require.ErrorIs(t, err, arom.ErrIncomplete)
			require.ErrorContains(t, err, "pose 1 of 3")
			require.ErrorContains(t, err, c.want)
		})
	}
	t.Run("moving", func(t *testing.T) {
		rec, err := arom.NewRecording(goniometry.CaptureOptions{Side: hand.Right, At: time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC)})
		require.NoError(t, err)
		w, err := live.NewWatcher(l.eng, live.WatcherOptions{Side: hand.Right})
		require.NoError(t, err)
		defer w.Close()
		var pictures []*image.RGBA
		for i := range 6 { // to and fro, a sixth of a palm a picture
			s := good()
			s.Camera.OffsetX = 0.02 * float64(i)
			img := image.NewRGBA(image.Rect(0, 0, 480, 360))
			l.draw.Render(img, s)
			pictures = append(pictures, img)
		}
		for i := range 30 {
			img := pictures[[]int{0, 1, 2, 3, 4, 5, 4, 3, 2, 1}[i%10]]
			at := time.Duration(i) * time.Second / 15
			seen, err := w.Frame(img, at)
			require.NoError(t, err)
			rec.Push(seen.Sample, seen.Hand, img.Rect.Size())
		}
		require.ErrorContains(t, rec.Missing(), "pose 1 of 3 (straight hand, palmar view) was refused: the hand moved; hold your hand still")
	})
	t.Run("nothing wrong", func(t *testing.T) {
		r := l.record(hand.Right, good())
		require.ErrorContains(t, r.Missing(), "pose 2 of 3", "the first pose is taken")
	})
}
