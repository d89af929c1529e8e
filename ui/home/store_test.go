package home

import (
	"sync"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"volar/internal/camera"
	"volar/internal/hand"
	"volar/internal/infer"
	"volar/internal/program"
	"volar/internal/session"
	"volar/internal/stage"
	"volar/internal/today"
	"volar/ui/look"
)

// memory is a Store that forgets.
type memory struct {
	mu        sync.Mutex
	program   *program.Program
	consented bool
	past      []today.Past
	exercises map[int]session.Exercise
	answers   []session.Answer
	events    []session.Event
	fail      error
	// full is the error of a disk without room: it fails every write.
	full error
	// spare is what can be freed, which ends full.
	spare int64
	// starts is how often a session was begun.
	starts int
}

func (m *memory) Spare() (int64, error) { return m.spare, nil }

func (m *memory) Free() error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.spare, m.full = 0, nil
	return nil
}

// disk fills the disk up, or makes room.
func (m *memory) disk(err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.full = err
}

func (m *memory) Program(now time.Time) (program.Resolved, bool, error) {
	if m.program == nil {
		return program.Resolved{}, false, nil
	}
	return m.program.At(now, time.UTC), true, nil
}

func (m *memory) Past(time.Time) ([]today.Past, error) { return m.past, nil }

func (m *memory) Clean(string) (int, error) { return 0, nil }

func (m *memory) Own(hand.Side) (today.Own, error) { return today.Own{}, nil }

func (m *memory) KeepClean(string, int) error { return nil }

func (m *memory) Consented() (bool, error) { return m.consented, m.fail }

func (m *memory) Consent(time.Time) error {
	m.consented = true
	return nil
}

func (m *memory) Record(name string, version int) (*session.Recorder, error) {
	return session.NewRecorder(session.Options{Header: session.Header{Client: "C-017", Program: name, Version: version, Zone: "UTC"}, Sink: m})
}

func (m *memory) Begin(session.Header) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.starts++
	return m.full
}

func (m *memory) Append(_ session.ID, b *session.Batch) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.full != nil {
		return m.full
	}
	if m.exercises == nil {
		m.exercises = map[int]session.Exercise{}
	}
	for _, e := range b.Exercises {
		m.exercises[e.Number] = e
	}
	m.answers = append(m.answers, b.Answers...)
	m.events = append(m.events, b.Events...)
	return nil
}

func (m *memory) Finish(session.ID, session.State, time.Duration) error { return nil }

// morning is a Wednesday.
var morning = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)

// prescribed is a program of our own making.
func prescribed(t *testing.T, ids ...string) *program.Program {
	t.Helper()
	if len(ids) == 0 {
		ids = []string{"whole-hand-grip", "straight-finger-hold", "hook-fist", "full-fist"}
	}
	p, _, err := program.New(program.Options{Client: "C-017", Side: program.Side(hand.Right), Dominant: program.Side(hand.Right), Exercises: ids, Now: morning.AddDate(0, 0, -3), Zone: "UTC"}, program.Source{})
	require.NoError(t, err)
	p.Exercises[0].Note = "Keep your wrist straight."
	return p
}

// opened is the home side in a window of fyne's test driver.
func opened(t *testing.T, m *memory, scale int) (*Home, fyne.Window, *queue) {
	q := newQueue()
	t.Helper()
	a := test.NewTempApp(t)
	w := test.NewTempWindow(t, nil)
	w.SetPadded(false)
	w.Resize(fyne.NewSize(1280, 720))
	a.Preferences().SetInt(keyScale, scale)
	a.Preferences().SetInt(keyVariant, int(look.Light))
	h := New(Options{
		App: a, Window: w, Open: func() (Store, error) { return m, nil },
		Engine: func() (infer.Engine, error) { return infer.OpenRuntime(infer.RuntimeOptions{}) },
		Camera: func() (camera.Source, error) { return nil, camera.ErrNoCamera },
		Clock:  func() time.Time { return morning },
		Leave:  func() {},
		Do:     q.put,
	})
	h.store = m
	t.Cleanup(func() { require.NoError(t, h.Close()) })
	return h, w, q
}

// queue stands for fyne's goroutine, which is the test's own: what is to run
// there waits until the test asks for it.
type queue struct{ waiting chan func() }

func newQueue() *queue { return &queue{make(chan func(), 10000)} }

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

// sits begins a sitting whose stage wakes nobody, so that a screen shows what
// the test gives it and nothing else.
func (h *Home) sits(t *testing.T, m *memory) {
	t.Helper()
	<-h.loaded
	require.NoError(t, h.failed)
	rec, err := m.Record("C-017", 1)
	require.NoError(t, err)
	s, err := stage.Open(stage.Options{Engine: h.engine, Open: h.opt.Camera})
	require.NoError(t, err)
	h.sitting = &sitting{stage: s, rec: rec}
}

func (m *memory) begun() int {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.starts
}
