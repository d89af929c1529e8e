package reading

import (
	"context"
	"sync"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"volar/internal/clinicstore"
	"volar/internal/coach"
	"volar/internal/demonstration"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/review"
	"volar/internal/review/reviewtest"
	"volar/internal/session"
	"volar/internal/vault"
	"volar/ui/look"
)

// evening is when the therapist reads: a Wednesday.
var evening = time.Date(2026, 11, 25, 17, 0, 0, 0, time.UTC)

// sessions are K-104's of three weeks, and one of K-105, made once.
var sessions = sync.OnceValues(func() ([]*session.Session, error) {
	var all []*session.Session
	straight := 0.0
	limits := coach.Limits{hand.IndexPIP: {Lower: &straight}}
	for i, days := range []int{20, 13, 6, 1} {
		o := reviewtest.Options{
			Client: "K-104", Program: "K-104", Version: 1, Side: hand.Right, Started: evening.AddDate(0, 0, -days).Add(-8 * time.Hour), Seed: uint64(i + 1), FPS: 15,
			Exercises: []reviewtest.Exercise{{
				Movement: "straight-finger-hold", Item: "straight-finger-hold", Repetitions: 2, Prescribed: 2, Hold: 3 * time.Second,
				Limits: limits, PainBefore: 2, PainAfter: 2, Reach: 0.8 + 0.06*float64(i),
				Hidden: []hand.Joint{hand.LittleDIP, hand.RingDIP}, HiddenFrom: 2 * time.Second, HiddenTo: 5 * time.Second,
			}},
		}
		if days == 1 {
			x := &o.Exercises[0]
			x.PainAfter, x.Hurts, x.Prescribed = 5, true, 4
			x.Faults = []demonstration.Fault{
				{Kind: demonstration.PastStraight, Repetition: 0, Joints: []hand.Joint{hand.IndexPIP}, Deg: 18},
				{Kind: demonstration.PastStraight, Repetition: 1, Joints: []hand.Joint{hand.IndexPIP}, Deg: 15},
			}
			o.Note = "Stiff this morning."
		}
		s, err := reviewtest.Make(o)
		if err != nil {
			return nil, err
		}
		all = append(all, s)
	}
	other, err := reviewtest.Make(reviewtest.Options{
		Client: "K-105", Side: hand.Left, Started: evening.Add(-10 * time.Hour), Seed: 9, FPS: 15,
		Exercises: []reviewtest.Exercise{{Movement: "straight-finger-hold", Item: "x", Repetitions: 2, Hold: 2 * time.Second}},
	})
	return append(all, other), err
})

// kept makes a store with the sessions and the program of K-104.
func kept(t testing.TB) *clinicstore.Store {
	t.Helper()
	ctx := context.Background()
	s, err := clinicstore.Create(ctx, t.TempDir(), "correct horse battery", clinicstore.Options{KDF: vault.KDF{Time: 1, MemoryKiB: 64, Threads: 1}, Clock: func() time.Time { return evening }})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	for _, code := range []string{"K-104", "K-105"} {
		require.NoError(t, s.PutClient(ctx, clinicstore.Client{Code: code, Hands: "right", Created: evening}))
	}
	p, _, err := program.New(program.Options{
		Client: "K-104", Side: program.Side(hand.Right), Dominant: program.Side(hand.Right), Exercises: []string{"straight-finger-hold"}, Zone: "UTC", Now: evening.AddDate(0, 0, -28),
		Precautions: []program.Precaution{{Kind: program.LaxJoints}},
	}, program.Source{})
	require.NoError(t, err)
	require.NoError(t, s.PutProgram(ctx, p))
	all, err := sessions()
	require.NoError(t, err)
	for _, x := range all {
		require.NoError(t, s.PutSession(ctx, x))
	}
	require.NoError(t, s.PutReview(ctx, review.Review{Format: 1, Session: all[0].ID, Client: "K-104", By: "T-1", At: evening.AddDate(0, 0, -19), Read: true, Seconds: 80, Note: review.Note{Plan: "As before."}}))
	return s
}

// hands stand for fyne's goroutine, which is the test's own: what is to run
// there waits until the test asks for it.
type hands struct{ waiting chan func() }

func (q *hands) do(f func()) { q.waiting <- f }

// until runs what waits until something is so.
func (q *hands) until(t testing.TB, so func() bool) {
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

// desk is a Reader in a window.
type desk struct {
	t     testing.TB
	r     *Reader
	w     fyne.Window
	q     *hands
	store *clinicstore.Store
	// now is the clock; back counts how often the way out was taken, edited
	// what was to be changed.
	now    time.Time
	back   int
	edited string
}

// sit opens a Reader in a window of a size, with text of a size in per cent.
func sit(t testing.TB, store *clinicstore.Store, size fyne.Size, percent int, open func(o Options) *Reader) *desk {
	t.Helper()
	a := test.NewTempApp(t)
	a.Settings().SetTheme(look.Theme{Variant: look.Light, Scale: float32(percent) / 100, Desk: true})
	d := &desk{t: t, q: &hands{make(chan func(), 100000)}, store: store, now: evening}
	d.w = test.NewTempWindow(t, nil)
	d.w.SetPadded(false)
	d.w.Resize(size)
	d.r = open(Options{
		Store: store, Window: d.w, By: "T-1", Now: func() time.Time { return d.now }, Do: d.q.do,
		Back: func() { d.back++ }, Edit: func(code, item string, side hand.Side) { d.edited = code + " " + item + " " + side.String() }, Software: "volar test", Folder: "/home/therapist/Documents",
	})
	d.w.SetContent(d.r.Content())
	d.w.Canvas().SetOnTypedKey(func(ev *fyne.KeyEvent) { d.r.Key(ev.Name) })
	if f := d.r.First(); f != nil {
		d.w.Canvas().Focus(f)
	}
	t.Cleanup(d.r.Leave)
	return d
}

// press presses keys, wherever the focus is, and then lets happen what they set
// off.
func (d *desk) press(keys ...fyne.KeyName) {
	for _, k := range keys {
		d.now = d.now.Add(time.Second)
		if f := d.w.Canvas().Focused(); f != nil {
			if x, ok := f.(desktop.Keyable); ok {
				x.KeyDown(&fyne.KeyEvent{Name: k})
			}
			f.TypedKey(&fyne.KeyEvent{Name: k})
		} else {
			d.w.Canvas().OnTypedKey()(&fyne.KeyEvent{Name: k})
		}
		d.q.until(d.t, func() bool { return len(d.q.waiting) == 0 })
	}
}

// typed types a text where the focus is.
func (d *desk) typed(s string) {
	for _, r := range s {
		f := d.w.Canvas().Focused()
		if x, ok := f.(desktop.Keyable); ok {
			x.KeyDown(&fyne.KeyEvent{})
		}
		f.TypedRune(r)
	}
}

// at waits until a screen is shown.
func at[T screen](d *desk) T {
	d.t.Helper()
	d.q.until(d.t, func() bool {
		_, ok := d.r.now.(T)
		return ok
	})
	return d.r.now.(T)
}

// painted waits until the replay's hand is drawn.
func (d *desk) painted(v *viewer) {
	d.t.Helper()
	before := v.paints
	v.place()
	d.q.until(d.t, func() bool { return v.paints > before })
}

func size(w, h float32) fyne.Size { return fyne.NewSize(w, h) }
