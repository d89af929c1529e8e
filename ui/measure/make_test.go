package measure

import (
	"context"
	"errors"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"volar/internal/arom"
	"volar/internal/camera"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/infer"
	"volar/internal/live"
	"volar/ui/look"
	"volar/ui/parts"
)

func TestMain(m *testing.M) {
	// Some packages keep a goroutine from the moment they are loaded.
	goleak.VerifyTestMain(m, goleak.IgnoreCurrent(), goleak.IgnoreTopFunction("fyne.io/fyne/v2/internal/async.(*UnboundedChan[...]).processing"))
}

var noon = time.Date(2026, 11, 26, 12, 0, 0, 0, time.UTC)

// memory is a store of one client.
type memory struct {
	baselines    []*goniometry.Baseline
	measurements []*arom.Measurement
	fail         error
}

func (m *memory) Baseline(_ context.Context, side hand.Side) (*goniometry.Baseline, error) {
	for i := len(m.baselines) - 1; i >= 0; i-- {
		if m.baselines[i].Side == side.String() {
			return m.baselines[i], nil
		}
	}
	return nil, m.fail
}

func (m *memory) PutBaseline(_ context.Context, b *goniometry.Baseline) error {
	if m.fail == nil {
		m.baselines = append(m.baselines, b)
	}
	return m.fail
}

func (m *memory) PutMeasurement(_ context.Context, x *arom.Measurement) error {
	if m.fail == nil {
		m.measurements = append(m.measurements, x)
	}
	return m.fail
}

func (m *memory) Measurements(context.Context) ([]*arom.Measurement, error) {
	all := slices.Clone(m.measurements)
	slices.Reverse(all)
	return all, m.fail
}

// bench is a window with a screen in it. What the screen asks to be done on
// fyne's goroutine is done by the test's.
type bench struct {
	t     *testing.T
	w     fyne.Window
	store *memory
	opt   Options
	asked chan func()
	left  bool
	close func()
}

func newBench(t *testing.T, scale float32) *bench {
	test.NewTempApp(t).Settings().SetTheme(look.Theme{Variant: look.Light, Scale: scale, Desk: true})
	b := &bench{t: t, w: test.NewTempWindow(t, nil), store: &memory{}, asked: make(chan func(), 1000)}
	b.w.SetPadded(false)
	b.w.Resize(fyne.NewSize(1280, 720))
	estimator, err := live.Estimator()
	require.NoError(t, err)
	b.opt = Options{
		Window: b.w, Store: b.store, Client: "K-104", Side: hand.Right, Estimator: estimator, Folder: t.TempDir(),
		Engine: func() (infer.Engine, error) { return nil, errors.New("there is no engine in this test") },
		Camera: func() (camera.Source, error) { return nil, camera.ErrNoCamera },
		Now:    func() time.Time { return noon },
		Do:     func(f func()) { b.asked <- f },
		Back:   func() { b.left = true },
	}
	return b
}

// open shows a screen in the window, as a router does.
func (b *bench) open(s parts.Screen) {
	r := parts.NewRouter(b.w.Canvas())
	r.Show(s)
	var once sync.Once
	b.close = func() { once.Do(r.Close) }
	b.t.Cleanup(b.close)
}

// until does what is asked for until something is so.
func (b *bench) until(so func() bool) {
	b.t.Helper()
	late := time.After(time.Minute)
	for !so() {
		select {
		case f := <-b.asked:
			f()
		case <-late:
			require.Fail(b.t, "it never came to that", b.w.Title())
		}
	}
}

func (b *bench) press(keys ...fyne.KeyName) {
	for _, k := range keys {
		ev := &fyne.KeyEvent{Name: k}
		if f := b.w.Canvas().Focused(); f != nil {
			f.TypedKey(ev)
		} else {
			b.w.Canvas().OnTypedKey()(ev)
		}
	}
}

// says is all the text that is on the window.
func (b *bench) says() string {
	var words []string
	for _, o := range test.LaidOutObjects(b.w.Canvas().Content()) {
		if t, ok := o.(*canvas.Text); ok && o.Visible() {
			words = append(words, t.Text)
		}
	}
	return strings.Join(words, " ")
}

func (b *bench) typed(s string) {
	if k, ok := b.w.Canvas().Focused().(desktop.Keyable); ok {
		k.KeyDown(&fyne.KeyEvent{})
	}
	for _, r := range s {
		b.w.Canvas().Focused().TypedRune(r)
	}
}

// shows puts a picture down where VOLAR_PICTURES names a folder, to be looked
// at.
func (b *bench) shows(name string) {
	dir := os.Getenv("VOLAR_PICTURES")
	if dir == "" {
		return
	}
	f, err := os.Create(filepath.Join(dir, name+".png"))
	require.NoError(b.t, err)
	defer f.Close()
	require.NoError(b.t, png.Encode(f, b.w.Canvas().Capture()))
}

// filmed is a camera before which a hand takes the poses of a baseline, over
// and over.
func filmed(t *testing.T, side hand.Side) func() (camera.Source, error) {
	mesh, err := handrender.Default()
	require.NoError(t, err)
	r := handrender.NewRenderer(mesh, handrender.Options{})
	lax := handrender.Straight()
	lax.Fingers[0].PIP = -18
	var pictures []*image.RGBA
	for _, s := range []handrender.Scene{
		{Pose: handrender.Straight()}, {Pose: handrender.FullFist()}, {Pose: lax, View: handrender.View{Yaw: 85, Pitch: 4}},
	} {
		s.Side, s.Camera = side, handrender.Camera{Distance: 0.38, OffsetY: 0.05}
		img := image.NewRGBA(image.Rect(0, 0, 480, 360))
		r.Render(img, s)
		pictures = append(pictures, img)
	}
	return func() (camera.Source, error) {
		src, err := camera.NewRendered(camera.RenderedOptions{Width: 480, Height: 360, FPS: 15}, func(dst *image.RGBA, at time.Duration, _ int) error {
			copy(dst.Pix, pictures[int(at/(2500*time.Millisecond))%len(pictures)].Pix)
			return nil
		})
		if err != nil {
			return nil, err
		}
		return camera.NewPaced(src)
	}
}
