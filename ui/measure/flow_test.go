package measure

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"

	"fyne.io/fyne/v2"
	"github.com/stretchr/testify/require"

	"volar/internal/camera"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/infer"
	"volar/ui/parts"
)

func runtime() (infer.Engine, error) { return infer.OpenRuntime(infer.RuntimeOptions{}) }

// A therapist records a hand by keys alone, enters what the goniometer said of
// a lax knuckle, prints the table and saves it.
func TestABaselineByKeys(t *testing.T) {
	b := newBench(t, 1)
	b.opt.Engine, b.opt.Camera = runtime, filmed(t, hand.Right)
	stirred := 0
	b.opt.Stir = func() { stirred++ }
	s := NewBaseline(b.opt)
	b.open(s)
	require.Equal(t, "Baseline of K-104, right hand", s.Title())
	b.until(func() bool { return s.rec != nil && s.rec.Now().Held > 0 })
	b.shows("live-recording")
	b.until(func() bool { return s.recorded != nil })
	require.Len(t, s.recorded.Views, 3)
	require.Positive(t, stirred, "a hand before the camera is somebody who is there")
	b.shows("live-table")

	require.Contains(t, b.says(), "past straight ±", "the lax knuckle is in the table")
	b.press(fyne.KeyG)
	require.Equal(t, "What the goniometer said – volar", b.w.Title())
	require.NotNil(t, b.w.Canvas().Focused())
	b.w.Canvas().FocusNext() // index PIP
	require.IsType(t, &parts.Field{}, b.w.Canvas().Focused())
	b.typed("-8")
	b.press(fyne.KeyReturn)
	require.Contains(t, b.says(), "a minus can mean either way")
	for range 2 {
		b.press(fyne.KeyBackspace)
	}
	b.typed("8 past")
	b.press(fyne.KeyReturn)
	require.InDelta(t, -8, *s.recorded.Views[2].Joints["index.pip"].KnownDeg, 1e-9)
	require.Contains(t, b.says(), "(goniometer)")

	b.press(fyne.KeyN)
	require.Equal(t, "ama", s.norms.ID)
	b.press(fyne.KeyC)
	text := fyne.CurrentApp().Clipboard().Content()
	require.Contains(t, text, "Baseline of the right hand")
	require.Contains(t, text, "AMA Guides")
	b.press(fyne.KeyP, fyne.KeyP)
	for _, name := range []string{"K-104-right-baseline-2026-11-26.pdf", "K-104-right-baseline-2026-11-26-2.pdf"} {
		body, err := os.ReadFile(filepath.Join(b.opt.Folder, name))
		require.NoError(t, err)
		require.True(t, strings.HasPrefix(string(body), "%PDF-1."))
	}

	require.Empty(t, b.store.baselines, "nothing is kept before Save")
	b.press(fyne.KeySpace)
	require.Equal(t, []*goniometry.Baseline{s.recorded}, b.store.baselines)
	b.press(fyne.KeyEscape)
	require.True(t, b.left)
}

func TestABaselineIsNotLostWithoutAsking(t *testing.T) {
	b := newBench(t, 1)
	s := NewBaseline(b.opt)
	b.open(s)
	s.recorded = recordedHand("right")
	b.store.fail = errors.New("the disk is full; make room and try again")
	s.tablePage("")
	b.press(fyne.KeySpace)
	require.Contains(t, s.told.Text(), "could not be saved: The disk is full")
	b.press(fyne.KeyEscape)
	require.Contains(t, b.w.Title(), "Discard the baseline?")
	b.press(fyne.KeyEscape)
	require.False(t, b.left)
	b.press(fyne.KeyEscape, fyne.KeyS)
	require.Contains(t, s.told.Text(), "could not be saved: The disk is full")
	require.Contains(t, b.w.Title(), "Joint table", "it is said where it is seen")

	// What was typed of a goniometer is there after the question, which the
	// closing of the window asks as often as it is tried.
	b.press(fyne.KeyG)
	b.typed("12")
	closed := 0
	s.Ask(func() { closed++ })
	s.Ask(func() { closed++ })
	b.press(fyne.KeyEscape)
	require.Equal(t, "What the goniometer said – volar", b.w.Title())
	require.Equal(t, "12", b.w.Canvas().Focused().(*parts.Field).Text)
	b.press(fyne.KeyEscape)
	s.Ask(func() { closed++ })
	b.press(fyne.KeyD)
	require.Equal(t, 1, closed)
	require.False(t, s.Unsaved(), "it is asked once")

	s.recorded = recordedHand("right")
	s.tablePage("")
	b.press(fyne.KeyEscape, fyne.KeyD)
	require.True(t, b.left)
	require.Empty(t, b.store.baselines)
}

// The angles of the moment, frozen, saved, printed and copied by keys.
func TestMeasureNowByKeys(t *testing.T) {
	b := newBench(t, 1)
	b.opt.Engine, b.opt.Camera = runtime, filmed(t, hand.Right)
	b.store.baselines = []*goniometry.Baseline{recordedHand("right")}
	s := NewNow(b.opt)
	b.open(s)
	b.until(func() bool { return s.begun })
	b.press(fyne.KeySpace)
	require.False(t, s.frozen, "there is nothing to freeze yet")
	require.Contains(t, s.said.Text(), "No hand is seen")
	b.until(func() bool { return s.sample.Found && strings.Contains(s.view.Text(), "Palmar view") })
	b.shows("live-now")
	b.press(fyne.KeySpace)
	require.True(t, s.frozen)
	shown := s.video
	was := s.sample
	pump(b)
	require.Equal(t, was, s.sample, "what is frozen stays")
	require.Same(t, shown, s.video)
	require.Equal(t, "Go on", s.freeze.Label())
	b.press(fyne.KeyS, fyne.KeyS)
	require.Len(t, b.store.measurements, 1, "twice is once")
	require.Equal(t, noon, b.store.measurements[0].TakenAt)
	require.NotNil(t, b.store.measurements[0].BaselineAt)
	b.press(fyne.KeyP, fyne.KeyC)
	_, err := os.Stat(filepath.Join(b.opt.Folder, "K-104-right-measurement-2026-11-26.pdf"))
	require.NoError(t, err)
	require.Contains(t, fyne.CurrentApp().Clipboard().Content(), "Right hand, measured 26 November 2026")
	b.press(fyne.KeySpace)
	require.False(t, s.frozen)
	b.until(func() bool { return s.sample.Time > was.Time })
	b.press(fyne.KeyO)
	require.Equal(t, "Measure now: K-104, left hand – volar", b.w.Title())
	b.until(func() bool { return strings.Contains(s.cue.Text(), "other hand") })

	b.press(fyne.KeyE)
	require.Equal(t, "Measurements of K-104 – volar", b.w.Title())
	require.Contains(t, b.says(), "right hand palmar view")
	b.press(fyne.KeyReturn)
	require.Equal(t, "K-104, right hand, 26 November 2026 – volar", b.w.Title())
	require.Contains(t, b.says(), "Corrected by the hand as it was recorded")
	b.press(fyne.KeyP)
	_, err = os.Stat(filepath.Join(b.opt.Folder, "K-104-right-measurement-2026-11-26-2.pdf"))
	require.NoError(t, err)
	b.press(fyne.KeyEscape, fyne.KeyEscape)
	require.Equal(t, "Measure now: K-104, left hand – volar", b.w.Title())
	b.until(func() bool { return s.begun && strings.Contains(s.cue.Text(), "other hand") })
	b.press(fyne.KeyEscape)
	require.True(t, b.left)
}

// watched counts the cameras that are open.
type watched struct {
	camera.Source
	open *atomic.Int32
}

func (w watched) Close() error {
	w.open.Add(-1)
	return w.Source.Close()
}

// A table that is frozen and not saved asks before it is left; under the lock
// no camera is open, and what was frozen is there afterwards.
func TestAFrozenTableAsksAndOutlivesTheLock(t *testing.T) {
	b := newBench(t, 1)
	var cameras atomic.Int32
	film := filmed(t, hand.Right)
	b.opt.Engine = runtime
	b.opt.Camera = func() (camera.Source, error) {
		src, err := film()
		if err == nil {
			cameras.Add(1)
			src = watched{src, &cameras}
		}
		return src, err
	}
	s := NewNow(b.opt)
	b.open(s)
	b.until(func() bool { return s.sample.Found })
	b.press(fyne.KeySpace)
	require.True(t, s.Unsaved())
	for _, k := range []fyne.KeyName{fyne.KeyEscape, fyne.KeyO, fyne.KeyE} {
		b.press(k)
		require.Equal(t, "Leave the frozen table? – volar", b.w.Title())
		b.press(fyne.KeyEscape)
		require.Equal(t, "Measure now: K-104, right hand – volar", b.w.Title())
		require.True(t, s.frozen)
	}
	s.Ask(func() {})
	s.Ask(func() {})
	b.press(fyne.KeyEscape)
	require.Equal(t, "Measure now: K-104, right hand – volar", b.w.Title(), "a question asked twice is answered once")
	was := s.sample
	require.EqualValues(t, 1, cameras.Load())
	s.Covered(true)
	require.Zero(t, cameras.Load(), "nobody is filmed under the lock")
	s.Covered(false)
	b.until(func() bool { return s.loaded })
	require.Equal(t, was, s.sample)
	b.press(fyne.KeyEscape, fyne.KeyS)
	require.False(t, s.Unsaved())
	require.Len(t, b.store.measurements, 1)
	b.press(fyne.KeySpace)
	require.False(t, s.frozen)
	b.until(func() bool { return s.sample.Found })
	b.press(fyne.KeySpace, fyne.KeyEscape, fyne.KeyD)
	require.True(t, b.left)
	require.Len(t, b.store.measurements, 1)
	b.close()
	require.Zero(t, cameras.Load())

	// A recording begins anew, and what was recorded stays.
	r := NewBaseline(b.opt)
	b.open(r)
	b.until(func() bool { return r.rec != nil && r.rec.Now().Held > 0 })
	r.Covered(true)
	require.Zero(t, cameras.Load())
	require.Nil(t, r.rec)
	b.press(fyne.KeyS, fyne.KeyA)
	r.Covered(false)
	b.until(func() bool { return r.rec != nil && r.rec.Now().Held > 0 })
	r.recorded = recordedHand("right")
	r.tablePage("")
	r.Covered(true)
	r.Covered(false)
	b.until(r.eye.up)
	require.Contains(t, b.w.Title(), "Joint table")
	b.press(fyne.KeyA)
	require.Equal(t, "Discard the baseline? – volar", b.w.Title())
	b.press(fyne.KeyD)
	b.until(func() bool { return r.rec != nil && r.rec.Now().Held > 0 })
	require.False(t, r.Unsaved())
	b.close()
	require.Zero(t, cameras.Load())
}

// pump does what is asked for in a while.
func pump(b *bench) {
	for range 20 {
		select {
		case f := <-b.asked:
			f()
		default:
		}
	}
}

func TestWhatDoesNotWorkIsSaid(t *testing.T) {
	for name, make := range map[string]func(o Options) interface {
		Title() string
	}{
		"The hand cannot be recorded":   func(o Options) interface{ Title() string } { return NewBaseline(o) },
		"The angles cannot be measured": func(o Options) interface{ Title() string } { return NewNow(o) },
	} {
		b := newBench(t, 1)
		s := make(b.opt)
		switch s := s.(type) {
		case *Baseline:
			b.open(s)
		case *Now:
			b.open(s)
		}
		b.until(func() bool { return s.Title() == name })
		require.Contains(t, b.says(), "no engine in this test")
		b.press(fyne.KeyEscape)
		require.True(t, b.left)
	}
	b := newBench(t, 1)
	b.opt.Engine = runtime
	b.opt.Camera = func() (camera.Source, error) { return nil, camera.ErrNoCamera }
	s := NewBaseline(b.opt)
	b.open(s)
	b.until(func() bool { return strings.Contains(s.cue.Text(), "There is no camera") })
	b.press(fyne.KeyO)
	require.Equal(t, "Baseline of K-104, left hand – volar", b.w.Title())
	b.press(fyne.KeyS, fyne.KeyS, fyne.KeyS)
	require.Equal(t, "There is no baseline – volar", b.w.Title(), "every pose was left out")
	b.press(fyne.KeyEscape, fyne.KeyEscape)
	require.True(t, b.left)
}

func TestDegreesAsTheyAreTyped(t *testing.T) {
	for _, c := range []struct {
		in   string
		want float64
		bad  string
	}{
		{"12", 12, ""}, {" 12° ", 12, ""}, {"8 past", -8, ""}, {"8° past straight", -8, ""}, {"8past", -8, ""}, {"0", 0, ""}, {"7.5", 7.5, ""},
		{"-8", 0, "write 8 past"}, {"past", 0, "write degrees"}, {"NaN", 0, "write degrees"}, {"bent", 0, "write degrees"}, {"-3 past", 0, "either way"},
	} {
		got, err := parseDegrees(c.in)
		if c.bad != "" {
			require.ErrorContains(t, err, c.bad, c.in)
			continue
		}
		require.NoError(t, err, c.in)
		require.InDelta(t, c.want, got, 0, c.in)
		again, err := parseDegrees(degrees(got))
		require.NoError(t, err)
		require.InDelta(t, got, again, 0)
	}
}

// While the window shows something else, as under a lock, a recording that ends
// touches neither its title nor its focus.
func TestNothingShowsUnderALock(t *testing.T) {
	b := newBench(t, 1)
	s := NewBaseline(b.opt)
	b.open(s)
	lock := parts.NewButton(parts.Plain, "Locked", "", nil)
	b.w.SetContent(lock)
	b.w.SetTitle("Locked")
	b.w.Canvas().Focus(lock)
	s.recorded = recordedHand("right")
	s.tablePage("")
	require.Equal(t, "Locked", b.w.Title())
	require.Same(t, lock, b.w.Canvas().Focused())
	require.Equal(t, "Joint table of K-104, right hand", s.Title(), "it is there once the lock is gone")
}
