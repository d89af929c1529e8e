package clinic

import (
	"path/filepath"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"volar/internal/clinicstore"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/session"
	"volar/internal/vault"
	"volar/ui/look"
	"volar/ui/parts"
)

const phrase = "five words of our own making"

// cheap are costs of a passphrase that tests can pay.
var cheap = vault.KDF{Time: 1, MemoryKiB: 8, Threads: 1}

var morning = time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC)

// queue stands for fyne's goroutine, which is the test's own: what is to run
// there waits until the test asks for it.
type queue struct{ waiting chan func() }

func (q *queue) put(f func()) { q.waiting <- f }

// until runs what waits until something is so.
func (q *queue) until(t *testing.T, so func() bool) {
	t.Helper()
	late := time.After(time.Minute)
	for !so() {
		select {
		case f := <-q.waiting:
			f()
		case <-late:
			require.Fail(t, "it never became so")
		}
	}
}

// bench is the clinic's window in fyne's test driver.
type bench struct {
	*Clinic
	t    *testing.T
	w    fyne.Window
	q    *queue
	dir  string
	now  time.Time
	left bool
}

type benchOptions struct {
	dir   string
	scale int
	with  func(*Options)
}

func newBench(t *testing.T, o benchOptions) *bench {
	t.Helper()
	if o.dir == "" {
		o.dir = filepath.Join(t.TempDir(), "clinic")
	}
	if o.scale == 0 {
		o.scale = 100
	}
	b := &bench{t: t, q: &queue{make(chan func(), 1000)}, dir: o.dir, now: morning}
	a := test.NewTempApp(t)
	b.w = test.NewTempWindow(t, nil)
	b.w.SetPadded(false)
	b.w.Resize(fyne.NewSize(1280, 720))
	a.Preferences().SetInt(keyScale, o.scale)
	a.Preferences().SetInt(keyVariant, int(look.Light))
	opt := Options{App: a, Window: b.w, Dir: o.dir, KDF: cheap, Clock: func() time.Time { return b.now }, Do: b.q.put, Leave: func() { b.left = true }}
	if o.with != nil {
		o.with(&opt)
	}
	b.Clinic = New(opt)
	t.Cleanup(func() { require.NoError(t, b.Close()) })
	return b
}

// title is which screen is shown.
func (b *bench) title() string {
	s := b.router.Screen()
	if t, ok := s.(titled); ok {
		return t.Title()
	}
	return ""
}

// reach waits until a screen is shown.
func (b *bench) reach(title string) {
	b.t.Helper()
	b.q.until(b.t, func() bool { return b.w.Title() == title+" – volar" })
}

// press presses keys as a keyboard does.
func (b *bench) press(keys ...fyne.KeyName) {
	for _, k := range keys {
		ev := &fyne.KeyEvent{Name: k}
		f := b.w.Canvas().Focused()
		if d, ok := f.(desktop.Keyable); ok {
			d.KeyDown(ev)
		}
		switch {
		case k == fyne.KeyTab:
			b.w.Canvas().FocusNext()
		case f != nil:
			f.TypedKey(ev)
		default:
			b.w.Canvas().OnTypedKey()(ev)
		}
	}
}

// typed types text where the focus is.
func (b *bench) typed(text string) {
	b.t.Helper()
	for _, r := range text {
		f := b.w.Canvas().Focused()
		require.NotNil(b.t, f)
		if d, ok := f.(desktop.Keyable); ok {
			d.KeyDown(&fyne.KeyEvent{})
		}
		f.TypedRune(r)
	}
}

// instead types text in place of what the field holds.
func (b *bench) instead(text string) {
	b.t.Helper()
	f := b.w.Canvas().Focused()
	require.IsType(b.t, &parts.Field{}, f)
	f.(*parts.Field).SetText("")
	b.typed(text)
}

// control presses Control with a key.
func (b *bench) control(k fyne.KeyName) {
	s := &desktop.CustomShortcut{KeyName: k, Modifier: fyne.KeyModifierShortcutDefault}
	if f, ok := b.w.Canvas().Focused().(fyne.Shortcutable); ok {
		f.TypedShortcut(s)
		return
	}
	b.w.Canvas().(fyne.Shortcutable).TypedShortcut(s)
}

// begin makes a new store by hand and ends at the list of clients.
func (b *bench) begin() {
	b.t.Helper()
	b.Run()
	b.reach("Make a passphrase")
	b.typed(phrase)
	b.press(fyne.KeyReturn)
	b.typed(phrase)
	b.press(fyne.KeyReturn)
	b.reach("Clients")
}

// filled is a store with a client who has programs, a recorded hand and
// sessions; it returns the folder. All of it is made up.
func filled(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "clinic")
	s, err := clinicstore.Create(t.Context(), dir, phrase, clinicstore.Options{KDF: cheap, Clock: func() time.Time { return morning }})
	require.NoError(t, err)
	defer s.Close()
	lax := []program.Precaution{{Kind: program.LaxJoints, Words: "index finger"}}
	for _, c := range []clinicstore.Client{
		{Code: "K-104", Hands: "right", Precautions: lax},
		{Code: "K-107", Hands: "left", NextReview: program.Date{Year: 2026, Month: 11, Day: 20}, Precautions: []program.Precaution{{Kind: program.HealingTendon}}},
		{Code: "K-112", Hands: clinicstore.Both, Precautions: []program.Precaution{{Kind: program.Arthritis}}},
	} {
		require.NoError(t, s.PutClient(t.Context(), c))
	}
	one, _, err := program.New(program.Options{Client: "K-104", Side: program.Side(hand.Right), Precautions: lax, Exercises: []string{"whole-hand-grip", "straight-finger-hold"}, Zone: "Europe/Berlin", Now: morning.AddDate(0, 0, -14)}, program.Source{})
	require.NoError(t, err)
	require.NoError(t, s.PutProgram(t.Context(), one))
	two := one.Next(morning.AddDate(0, 0, -2))
	two.NextReview = program.Date{Year: 2026, Month: 12, Day: 10}
	two.Exercises = append(two.Exercises, program.Exercise{Movement: "hook-fist"})
	two.Message = "Slowly, and never into pain."
	two.Limits = append(two.Limits, program.Limit{Joints: "index.pip", Reason: "by the surgeon's protocol", Schedule: []program.Step{
		{Lower: program.Deg(30)}, {From: program.Date{Year: 2026, Month: 12, Day: 8}, Lower: program.Deg(20)},
	}})
	faults, _ := two.Check(program.Source{})
	require.Empty(t, faults)
	require.NoError(t, s.PutProgram(t.Context(), two))
	require.NoError(t, s.PutBaseline(t.Context(), "K-104", &goniometry.Baseline{Version: goniometry.BaselineVersion, Side: "right", CapturedAt: morning.AddDate(0, 0, -14), Views: []goniometry.BaselineView{
		{Pose: goniometry.StraightHand, Pictures: 30, Joints: map[string]goniometry.BaselineJoint{"index.pip": {ReadDeg: 4, SEDeg: 5}}},
	}}))
	for n := range 3 {
		at := morning.AddDate(0, 0, -n-1)
		require.NoError(t, s.PutSession(t.Context(), &session.Session{Header: session.Header{ID: session.ID{15: byte(n + 1)}, Client: "K-104", Program: "K-104", Version: 2, Started: at, Zone: "Europe/Berlin"}, State: session.Closed, Ended: 4 * time.Minute}))
	}
	return dir
}

// atClients opens a filled store and ends at the list of clients.
func atClients(t *testing.T, o benchOptions) *bench {
	t.Helper()
	if o.dir == "" {
		o.dir = filled(t)
	}
	b := newBench(t, o)
	b.Run()
	b.reach("Open the clinic's store")
	b.typed(phrase)
	b.press(fyne.KeyReturn)
	b.reach("Clients")
	return b
}
