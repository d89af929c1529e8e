package home

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"syscall"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"volar/internal/camera"
	"volar/internal/coach"
	"volar/internal/session"
)

// walk is a home side that a test leads by keys.
type walk struct {
	t *testing.T
	m *memory
	h *Home
	w fyne.Window
	q *queue
}

// walked opens the home side at today's list, before a hand that is held
// straight.
func walked(t *testing.T) *walk {
	t.Helper()
	m := &memory{program: prescribed(t, "straight-finger-hold"), consented: true}
	h, w, q := opened(t, m, 100)
	h.opt.Camera = straightHand(t)
	h.Run()
	return &walk{t, m, h, w, q}
}

func (k *walk) press(keys ...fyne.KeyName) {
	for _, key := range keys {
		k.w.Canvas().OnTypedKey()(&fyne.KeyEvent{Name: key})
	}
}

func (k *walk) title() string { return k.h.router.Screen().(titled).Title() }

func (k *walk) reach(title string) {
	k.t.Helper()
	k.q.until(k.t, func() bool { return k.title() == title })
}

// live waits until the exercise is shown in a state.
func (k *walk) live(so func(l *live) bool) *live {
	k.t.Helper()
	var found *live
	k.q.until(k.t, func() bool {
		l, ok := k.h.router.Screen().(*live)
		found = l
		return ok && so(l)
	})
	return found
}

// works leads to the running set.
func (k *walk) works() {
	k.t.Helper()
	k.press(fyne.KeySpace, fyne.KeySpace)
	k.reach("How much does your hand hurt now?")
	k.press(fyne.Key2)
	k.live(func(l *live) bool { return l.now.State == coach.Ready })
	k.press(fyne.KeySpace)
	k.live(func(l *live) bool { return l.now.State == coach.Working })
}

// The camera is unplugged in the middle of a hold and comes back: the clock of
// the hold stands, the window says why, and all goes on without a key.
func TestTheCameraIsUnpluggedInMidSet(t *testing.T) {
	k := walked(t)
	open := k.h.opt.Camera
	var plugged atomic.Bool
	plugged.Store(true)
	k.h.opt.Camera = func() (camera.Source, error) {
		if !plugged.Load() {
			return nil, fmt.Errorf("%w found", camera.ErrNoCamera)
		}
		src, err := open()
		if err != nil {
			return nil, err
		}
		return pluggable{src, &plugged}, nil
	}
	k.works()
	k.live(func(l *live) bool { return l.now.Coach.Holding })
	plugged.Store(false)
	l := k.live(func(l *live) bool {
		return l.cue.Text() == "There is no camera. Plug one in; this goes on by itself." && l.now.Coach.Paused
	})
	require.Equal(t, coach.Working, l.now.State, "the set is not over")
	held := l.now.Coach.Held
	// The stage says twice a second that nothing is seen; after two of those the
	// hold has not grown.
	seen := 0
	k.q.until(t, func() bool { seen++; return seen > 4 })
	require.LessOrEqual(t, l.now.Coach.Held, held)
	plugged.Store(true)
	k.live(func(l *live) bool { return l.now.Coach.Holding && cameraIsQuiet(l) })
	k.press(fyne.KeyEscape)
	require.Equal(t, "Stopped. How much does it hurt?", k.title())
}

func cameraIsQuiet(l *live) bool {
	return l.cue.Text() != "There is no camera. Plug one in; this goes on by itself." && l.cue.Text() != "The camera is being opened."
}

// pluggable is a camera that can be pulled out.
type pluggable struct {
	camera.Source
	plugged *atomic.Bool
}

func (p pluggable) Next(ctx context.Context) (camera.Frame, error) {
	if !p.plugged.Load() {
		return camera.Frame{}, errors.New("the device has gone")
	}
	return p.Source.Next(ctx)
}

// The disk fills up during an exercise: it goes on and says that it is not
// kept; at the end nothing is lost as long as the window is open, and all of it
// is kept once there is room.
func TestTheDiskFillsUpInMidSession(t *testing.T) {
	k := walked(t)
	k.works()
	k.m.disk(syscall.ENOSPC)
	l := k.live(func(l *live) bool { return !l.kept.box.Hidden })
	require.Contains(t, l.kept.text.Text(), "Not kept at the moment: ")
	require.Contains(t, l.kept.text.Text(), "no space left")
	require.Equal(t, coach.Working, l.now.State, "the exercise goes on")
	k.m.disk(nil)
	k.live(func(l *live) bool { return l.kept.box.Hidden })

	k.m.disk(syscall.ENOSPC)
	k.m.spare = 3_000_000
	k.live(func(l *live) bool { return !l.kept.box.Hidden })
	k.press(fyne.KeyE)
	k.reach("How much does your hand hurt now?")
	k.press(fyne.Key0)
	k.reach("How hard was it?")
	k.press(fyne.Key3)
	k.reach("How it went: Straight-finger hold, fingers side by side")
	require.Contains(t, test.RenderToMarkup(k.w.Canvas()), "What you did could not be kept yet: ")
	k.press(fyne.KeyB)
	require.Equal(t, "What you did is not kept yet", k.title())
	k.press(fyne.KeySpace)
	require.Equal(t, "What you did is not kept yet", k.title(), "nothing is given up by trying again")
	require.Contains(t, test.RenderToMarkup(k.w.Canvas()), "Remove older backups (3 MB)")
	k.press(fyne.KeyF)
	require.Equal(t, "Today", k.title())
	require.Nil(t, k.h.sitting)
	require.Equal(t, session.Running, k.m.exercises[1].Outcome, "ended by the client before its time")
	require.Greater(t, k.m.exercises[1].End, k.m.exercises[1].Start, "its end is kept too")
	require.Equal(t, 3, *k.m.exercises[1].Effort)
}

// On a disk that is full already an exercise can be done all the same, if the
// client says so; pain still ends the day.
func TestAnExerciseCanBeDoneWithoutKeepingIt(t *testing.T) {
	k := walked(t)
	k.m.disk(syscall.ENOSPC)
	k.press(fyne.KeySpace, fyne.KeySpace)
	k.reach("What you do cannot be kept now")
	k.press(fyne.KeySpace)
	k.q.until(t, func() bool { return k.title() == "What you do cannot be kept now" && k.m.begun() == 2 })
	k.press(fyne.KeyW)
	k.reach("How much does your hand hurt now?")
	k.press(fyne.Key1)
	l := k.live(func(l *live) bool { return l.now.State == coach.Ready })
	require.False(t, l.kept.box.Hidden)
	require.Equal(t, withoutKeeping, l.kept.text.Text())
	k.press(fyne.KeyEscape, fyne.Key5, fyne.KeyY)
	k.reach("Stop for today")
	require.NotContains(t, test.RenderToMarkup(k.w.Canvas()), "is kept")
	k.press(fyne.KeySpace)
	require.Equal(t, "Rest for today", k.title())
	require.Empty(t, k.m.exercises)
}

// What is not kept can be given up, and the window closes with the reason.
func TestWhatIsNotKeptCanBeGivenUp(t *testing.T) {
	k := walked(t)
	k.works()
	k.m.disk(syscall.ENOSPC)
	k.press(fyne.KeyE, fyne.Key0)
	k.reach("How hard was it?")
	k.press(fyne.KeyX)
	k.reach("How it went: Straight-finger hold, fingers side by side")
	k.press(fyne.KeyB)
	require.Equal(t, "What you did is not kept yet", k.title())
	k.press(fyne.KeyG)
	require.Equal(t, "Today", k.title())
	require.Nil(t, k.h.sitting)
	require.NoError(t, k.h.Close())

	k = walked(t)
	k.works()
	k.m.disk(syscall.ENOSPC)
	left := 0
	k.h.opt.Leave = func() { left++ }
	k.h.Leave()
	require.Equal(t, "What you did is not kept yet", k.title(), "told before the window goes")
	require.Zero(t, left)
	k.h.Leave()
	require.Equal(t, 1, left)
	require.ErrorIs(t, k.h.Close(), syscall.ENOSPC)
}
