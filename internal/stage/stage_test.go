package stage

import (
	"errors"
	"fmt"
	"image"
	"io"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"volar/internal/camera"
	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/infer"
	"volar/internal/session"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// still is a picture of a rendered hand.
func still(t *testing.T, s handrender.Scene) *image.RGBA {
	t.Helper()
	mesh, err := handrender.Default()
	require.NoError(t, err)
	img := image.NewRGBA(image.Rect(0, 0, 480, 360))
	handrender.NewRenderer(mesh, handrender.Options{}).Render(img, s)
	return img
}

func straight() handrender.Scene {
	return handrender.Scene{Pose: handrender.Straight(), View: handrender.View{Yaw: 75, Pitch: 4}, Skin: handrender.Skin{Tone: 0.35, Seed: 7}, Camera: handrender.Camera{Distance: 0.38}}
}

// shows is a camera that sends one picture n times, 0 for ever.
func shows(t *testing.T, img *image.RGBA, n int) (camera.Source, error) {
	t.Helper()
	return camera.NewRendered(camera.RenderedOptions{Width: 480, Height: 360, FPS: 20, Frames: n}, func(dst *image.RGBA, _ time.Duration, _ int) error {
		copy(dst.Pix, img.Pix)
		return nil
	})
}

func engine(t *testing.T) infer.Engine {
	t.Helper()
	e, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	t.Cleanup(func() { e.Close() })
	return e
}

// opened opens a stage and returns what waits for a view of a kind.
func opened(t *testing.T, o Options) (*Stage, func(func(*View) bool) View) {
	t.Helper()
	o.Engine = engine(t)
	woken := make(chan struct{}, 1)
	o.Wake = func() {
		select {
		case woken <- struct{}{}:
		default:
		}
	}
	s, err := Open(o)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s, func(so func(*View) bool) View {
		late := time.After(time.Minute)
		for {
			select {
			case <-woken:
			case <-late:
				require.Fail(t, "the view never came")
			}
			if v, ok := s.Take(); ok && so(&v) {
				return v
			}
		}
	}
}

func TestCheckFindsAHandThatIsHeldWell(t *testing.T) {
	img := still(t, straight())
	s, wait := opened(t, Options{Open: func() (camera.Source, error) {
		src, err := shows(t, img, 0)
		require.NoError(t, err)
		return camera.NewPaced(src)
	}})
	m, err := exercise.Find("straight-finger-hold")
	require.NoError(t, err)
	s.Check(CheckOptions{Side: hand.Right, View: m.View.Best})
	v := wait(func(v *View) bool { return v.Check != nil && v.Check.Ready })
	require.Equal(t, AllWell, v.Check.Step)
	require.GreaterOrEqual(t, v.Check.Well, time.Second)
	require.Equal(t, image.Pt(480, 360), v.Picture.Rect.Size())

	// The same hand is the wrong one for a client who exercises the left.
	s.Check(CheckOptions{Side: hand.Left, View: m.View.Best})
	v = wait(func(v *View) bool { return v.Check != nil && v.Check.Step == OtherHand })
	require.Equal(t, "That is the other hand. Show your left hand.", v.Check.Words)
	require.Positive(t, s.Measures().Judged)
}

// A camera that is missing, then busy, then there, unplugged, and plugged in
// again: the stage says what is wrong and goes on by itself.
func TestCameraGoesAndComesBack(t *testing.T) {
	img := still(t, straight())
	var opens atomic.Int32
	s, wait := opened(t, Options{Open: func() (camera.Source, error) {
		switch opens.Add(1) {
		case 1:
			return nil, fmt.Errorf("%w found", camera.ErrNoCamera)
		case 2:
			return nil, fmt.Errorf("/dev/video0: %w: another program is using it", camera.ErrNoCamera)
		case 3:
			src, err := shows(t, img, 0)
			require.NoError(t, err)
			return unplugged{src, 5}, nil
		}
		src, err := shows(t, img, 0)
		require.NoError(t, err)
		return camera.NewPaced(src)
	}})
	said := func(words string) func(*View) bool {
		return func(v *View) bool { return CameraWords(v.Camera) == words }
	}
	wait(said("There is no camera. Plug one in; this goes on by itself."))
	wait(said("Another program is using the camera. Close it; this one goes on by itself."))
	first := wait(func(v *View) bool { return v.Camera.State == Sending && v.Picture != nil })
	gone := wait(func(v *View) bool { return v.Camera.State == Lost })
	require.ErrorIs(t, gone.Camera.Trouble, errUnplugged)
	back := wait(func(v *View) bool { return v.Camera.State == Sending })
	require.Greater(t, back.At, first.At, "time goes on")
	require.Empty(t, CameraWords(back.Camera))
	require.NoError(t, s.Close())
}

var errUnplugged = errors.New("unplugged")

// unplugged is a camera that goes after some pictures.
type unplugged struct {
	camera.Source
	left int
}

func (u unplugged) Info() camera.Info { return u.Source.Info() }

func TestAClipThatEndsBeginsAgain(t *testing.T) {
	img := still(t, straight())
	var opens atomic.Int32
	_, wait := opened(t, Options{Open: func() (camera.Source, error) {
		opens.Add(1)
		src, err := shows(t, img, 4)
		require.NoError(t, err)
		return camera.NewPaced(src)
	}})
	var last time.Duration
	for opens.Load() < 3 {
		v := wait(func(v *View) bool { return v.Picture != nil })
		require.GreaterOrEqual(t, v.At, last)
		last = v.At
	}
}

// sink keeps what is recorded.
type sink struct {
	mu  sync.Mutex
	all session.Session
}

func (s *sink) Begin(session.Header) error { return nil }

func (s *sink) Append(_ session.ID, b *session.Batch) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.all.Add(b)
	return nil
}

func (s *sink) Finish(session.ID, session.State, time.Duration) error { return nil }

func holding(t *testing.T) coach.PracticeConfig {
	t.Helper()
	m, err := exercise.Find("straight-finger-hold")
	require.NoError(t, err)
	return coach.PracticeConfig{Coach: coach.Config{Movement: m, Side: hand.Right, Repetitions: 2, Hold: time.Second}, Sets: 2, Rest: time.Hour}
}

func TestAnExerciseIsShownAndRecorded(t *testing.T) {
	img := still(t, straight())
	var heard []coach.Event
	var mu sync.Mutex
	s, wait := opened(t, Options{
		Open: func() (camera.Source, error) {
			src, err := shows(t, img, 0)
			require.NoError(t, err)
			return camera.NewPaced(src)
		},
		Events: func(e []coach.Event) {
			mu.Lock()
			heard = append(heard, e...)
			mu.Unlock()
		},
	})
	to := &sink{}
	rec, err := session.NewRecorder(session.Options{Header: session.Header{Client: "C-017", Zone: "UTC"}, Sink: to})
	require.NoError(t, err)
	state := func(want coach.State) func(*View) bool {
		return func(v *View) bool { return v.Practice != nil && v.Practice.State == want }
	}
	require.Error(t, s.Perform(Performance{}), "an exercise without a movement")
	require.NoError(t, s.Perform(Performance{Practice: holding(t), Recorder: rec, Exercise: session.Exercise{Item: "hold", Movement: "straight-finger-hold", Side: hand.Right, Sets: 2, Repetitions: 2}}))
	wait(state(coach.Ready))
	s.PainBefore(2)
	s.Start()
	wait(func(v *View) bool { return state(coach.Working)(v) && v.Cue.Text != "" })
	// The hand is held straight: the ring runs.
	wait(func(v *View) bool { return state(coach.Working)(v) && v.Practice.Coach.Holding })
	s.Pause()
	wait(state(coach.Halted))
	s.GoOn()
	wait(state(coach.Working))
	s.Skip()
	v := wait(state(coach.Resting))
	require.Greater(t, v.Practice.RestLeft, 50*time.Minute)
	s.Hurt()
	wait(state(coach.Stopped))
	then := make(chan coach.PracticeStatus, 1)
	s.PainAfter(3, false, func(st coach.PracticeStatus) { then <- st })
	require.True(t, (<-then).MayGoOn)
	s.Effort(4)
	s.Note("stiff")
	got := make(chan coach.PracticeSummary, 1)
	s.Finish(func(sum coach.PracticeSummary, err error) {
		require.NoError(t, err)
		got <- sum
	})
	sum := <-got
	require.True(t, sum.Stopped)
	require.Equal(t, 4, *sum.Effort)
	require.NoError(t, s.Close())
	require.NoError(t, rec.Close())

	e := to.all.Exercises[0]
	require.Equal(t, session.Stopped, e.Outcome)
	require.Equal(t, "it hurts", e.StopReason)
	require.Equal(t, []int{2, 3, 4}, []int{*e.PainBefore, *e.PainAfter, *e.Effort})
	require.NotEmpty(t, to.all.Samples)
	var kinds []session.AnswerKind
	for _, a := range to.all.Answers {
		kinds = append(kinds, a.Kind)
	}
	require.Equal(t, []session.AnswerKind{session.PainBefore, session.Hurt, session.PainAfter, session.Effort, session.Note}, kinds)
	mu.Lock()
	defer mu.Unlock()
	require.NotEmpty(t, heard)
}

// "It hurts" is heard while there is no camera at all, and the record of an
// exercise that is cut off says how far it came.
func TestItHurtsWithoutACamera(t *testing.T) {
	s, wait := opened(t, Options{Open: func() (camera.Source, error) { return nil, camera.ErrNoCamera }})
	to := &sink{}
	rec, err := session.NewRecorder(session.Options{Header: session.Header{Client: "C-017", Zone: "UTC"}, Sink: to})
	require.NoError(t, err)
	s.Finish(func(_ coach.PracticeSummary, err error) { require.ErrorIs(t, err, ErrNoExercise) })
	require.NoError(t, s.Perform(Performance{Practice: holding(t), Recorder: rec}))
	s.Start()
	s.Hurt()
	v := wait(func(v *View) bool { return v.Practice != nil && v.Practice.State == coach.Stopped })
	require.Nil(t, v.Picture)
	require.NoError(t, s.Perform(Performance{Practice: holding(t), Recorder: rec}))
	s.Start()
	wait(func(v *View) bool { return v.Practice != nil && v.Practice.State == coach.Working })
	// The hand counts as not seen, so the clock of the set stands.
	wait(func(v *View) bool { return v.Practice != nil && v.Practice.Coach.Paused })
	require.NoError(t, s.Close())
	require.NoError(t, rec.Close())
	require.Equal(t, session.Running, to.all.Exercises[len(to.all.Exercises)-1].Outcome)
}

func TestOpenRefuses(t *testing.T) {
	_, err := Open(Options{})
	require.ErrorContains(t, err, "engine")
}

func TestCameraWords(t *testing.T) {
	for _, tc := range []struct {
		camera Camera
		want   string
	}{
		{Camera{State: Sending}, ""},
		{Camera{State: Opening}, ""},
		{Camera{State: Silent}, "has stopped sending"},
		{Camera{State: Lost, Trouble: fmt.Errorf("/dev/video0: %w: you may not use it", camera.ErrNoCamera)}, "may not use the camera"},
		{Camera{State: Lost, Trouble: fmt.Errorf("x.avi %w\nmore", camera.ErrUnreadable)}, "x.avi cannot be read"},
		{Camera{State: Lost, Trouble: io.ErrUnexpectedEOF}, "There is no camera."},
	} {
		got := CameraWords(tc.camera)
		require.Contains(t, got, tc.want)
		require.Equal(t, tc.want == "", got == "")
	}
}
