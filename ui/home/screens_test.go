package home

import (
	"errors"
	"flag"
	"fmt"
	"image/png"
	"os"
	"path/filepath"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/session"
	"volar/internal/stage"
	"volar/internal/today"
	"volar/ui/look"
)

var (
	update   = flag.Bool("update", false, "write the golden files anew")
	pictures = flag.String("pictures", "", "put a picture of every screen into this folder")
)

// shown is one screen in one state.
type shown struct {
	name string
	make func(h *Home, p *plan) titled
	then func(h *Home)
}

func view(st coach.PracticeStatus, cue stage.Cue) *stage.View {
	return &stage.View{Camera: stage.Camera{State: stage.Sending}, Practice: &st, Cue: cue}
}

func liveWith(st coach.PracticeStatus, cue stage.Cue) func(h *Home) {
	return func(h *Home) { h.router.Screen().(viewer).Seen(view(st, cue)) }
}

func points(n int) *int { return &n }

// a client who did most of it well.
func sums() coach.PracticeSummary {
	flag := coach.Flag{Kind: coach.Hyperextension, Joint: hand.IndexPIP, OnJoint: true, PeakDeg: -12.4, Repetition: 2}
	set := func(n, counted, partial int, flags ...coach.Flag) coach.SetSummary {
		s := coach.SetSummary{Number: n, Complete: true}
		s.Counted, s.Partial, s.Measured, s.Flags = counted, partial, 0.95, flags
		s.End = 90 * time.Second
		s.Holds = []coach.Hold{{Met: true}, {Met: true}}
		return s
	}
	return coach.PracticeSummary{
		Movement: "whole-hand-grip", Side: hand.Right, Wanted: 2, Repetitions: 10, Counted: 19, Partial: 1,
		Sets: []coach.SetSummary{set(1, 10, 0, flag, flag), set(2, 9, 1)}, Flags: []coach.Flag{flag, flag},
		PainBefore: points(2), PainAfter: points(3),
	}
}

var screens = []shown{
	{name: "caution", make: func(h *Home, p *plan) titled { return newCaution(h) }},
	{name: "today", make: func(h *Home, p *plan) titled { return newToday(h, *p) }},
	{name: "today-notice", make: func(h *Home, p *plan) titled {
		h.opt.Notice = "This is a demonstration: a film of a drawn hand takes the camera's place."
		return newToday(h, *p)
	}, then: func(h *Home) { h.opt.Notice = "" }},
	{name: "today-message", make: func(h *Home, p *plan) titled {
		q := *p
		said := *q.program.Program
		said.Message = "Open only until the knuckle is a little bent. If it swells, leave the towel for a day."
		q.program.Program = &said
		return newToday(h, q)
	}},
	{name: "today-done", make: func(h *Home, p *plan) titled {
		q := *p
		q.Next = -1
		return newToday(h, q)
	}},
	{name: "today-stopped", make: func(h *Home, p *plan) titled {
		q := *p
		q.Stopped = coach.SharpPain
		return newToday(h, q)
	}},
	{name: "trial", make: func(h *Home, p *plan) titled {
		q := *p
		q.trial = true
		h.opt.Post = func(back func()) Titled { return &letterbox{back} }
		return newToday(h, q)
	}, then: func(h *Home) { h.opt.Post = nil }},
	{name: "trial-notice", make: func(h *Home, p *plan) titled {
		h.opt.Notice = "This is a demonstration: a film of a drawn hand takes the camera's place, and nothing is kept."
		q := *p
		q.trial = true
		return newToday(h, q)
	}, then: func(h *Home) { h.opt.Notice = "" }},
	{name: "about", make: func(h *Home, p *plan) titled { return newAbout(h, p, &p.Items[0]) }},
	{name: "pain-before", make: func(h *Home, p *plan) titled { return newPain(h, painBefore, p, &p.Items[0]) }},
	{name: "pain-hurting", make: func(h *Home, p *plan) titled { return newPain(h, hurting, p, &p.Items[0]) }},
	{name: "pain-after", make: func(h *Home, p *plan) titled { return newPain(h, painAfter, p, &p.Items[0]) }},
	{name: "sharp", make: func(h *Home, p *plan) titled { return newSharp(h, p, &p.Items[0], 4) }},
	{name: "go-on", make: func(h *Home, p *plan) titled { return newGoOn(h, p, &p.Items[0]) }},
	{name: "stopped", make: func(h *Home, p *plan) titled { return newStopped(h, coach.PainRose, nil) }},
	{name: "check", make: func(h *Home, p *plan) titled { return newCheck(h, p, &p.Items[0]) }, then: func(h *Home) {
		h.router.Screen().(viewer).Seen(&stage.View{Camera: stage.Camera{State: stage.Sending}, Check: &stage.Check{Step: stage.TurnHand, Words: "Turn your right hand as in the picture: thumb side to the camera."}})
	}},
	{name: "check-no-camera", make: func(h *Home, p *plan) titled { return newCheck(h, p, &p.Items[0]) }, then: func(h *Home) {
		h.router.Screen().(viewer).Seen(&stage.View{Camera: stage.Camera{State: stage.Lost}})
	}},
	{name: "live-ready", make: func(h *Home, p *plan) titled { return newLive(h, p, &p.Items[0]) }},
	{name: "live-hold", make: func(h *Home, p *plan) titled { return newLive(h, p, &p.Items[0]) }, then: liveWith(
		coach.PracticeStatus{State: coach.Working, Set: 1, Sets: 2, Coach: coach.Status{Counted: 4, Repetitions: 10, Holding: true, Held: 1200 * time.Millisecond, Wanted: 3 * time.Second}},
		stage.Cue{Text: "Hold gently."})},
	{name: "live-warning", make: func(h *Home, p *plan) titled { return newLive(h, p, &p.Items[0]) }, then: liveWith(
		coach.PracticeStatus{State: coach.Working, Set: 2, Sets: 2, Coach: coach.Status{Counted: 5, Repetitions: 10, Wanted: 3 * time.Second}},
		stage.Cue{Text: "Your index finger's middle knuckle is bending backwards. Bend it a little.", Warning: true})},
	{name: "live-rest", make: func(h *Home, p *plan) titled { return newLive(h, p, &p.Items[0]) }, then: liveWith(
		coach.PracticeStatus{State: coach.Resting, Set: 1, Sets: 2, RestLeft: 42 * time.Second, Coach: coach.Status{Counted: 10, Repetitions: 10}},
		stage.Cue{})},
	{name: "live-paused", make: func(h *Home, p *plan) titled { return newLive(h, p, &p.Items[0]) }, then: liveWith(
		coach.PracticeStatus{State: coach.Halted, Set: 1, Sets: 2, Coach: coach.Status{Counted: 3, Repetitions: 10, Wanted: 3 * time.Second}},
		stage.Cue{})},
	{name: "live-unkept", make: func(h *Home, p *plan) titled { return newLive(h, p, &p.Items[0]) }, then: func(h *Home) {
		v := view(coach.PracticeStatus{State: coach.Working, Set: 1, Sets: 2, Coach: coach.Status{Counted: 4, Repetitions: 10, Wanted: 3 * time.Second}}, stage.Cue{Text: "Hold gently."})
		v.Unkept = errors.New("The disk is full. Remove something else from this computer; the program then goes on keeping.")
		h.router.Screen().(viewer).Seen(v)
	}},
	{name: "unkept", make: func(h *Home, p *plan) titled { return newUnkept(h, errors.New("The disk is full.")) }},
	{name: "unkeepable", make: func(h *Home, p *plan) titled {
		return newUnkeepable(h, &cannotKeep{errors.New("The disk is full.")}, p, func() {})
	}},
	{name: "effort", make: func(h *Home, p *plan) titled { return newEffort(h, p, &p.Items[0]) }},
	{name: "summary", make: func(h *Home, p *plan) titled { return newSummary(h, p, &p.Items[0], sums(), nil) }},
	{name: "summary-hurt", make: func(h *Home, p *plan) titled {
		s := sums()
		s.Stopped, s.StopReason, s.Sets, s.Counted = true, coach.Hurting, s.Sets[:1], 10
		return newSummary(h, p, &p.Items[0], s, nil)
	}},
	{name: "note", make: func(h *Home, p *plan) titled {
		return newNote(h, newSummary(h, p, &p.Items[0], sums(), nil))
	}},
	{name: "settings", make: func(h *Home, p *plan) titled { return newSettings(h) }},
	{name: "wait", make: func(h *Home, p *plan) titled { return newWait(h, "The camera and the hand model are being prepared.") }},
	{name: "unopened", make: func(h *Home, p *plan) titled {
		h.opt.Mend = func(error) (string, func() error) {
			return "Restore the backup of 24 November", func() error { return nil }
		}
		return newUnopened(h, errors.New("the store is damaged"))
	}},
	{name: "trouble", make: func(h *Home, p *plan) titled {
		return newTrouble(h, "The exercise cannot begin", "the disk is full; make room and try again", h.Run)
	}},
}

// day is a day on which one exercise is done and one left out.
func day(t *testing.T) (*memory, func(h *Home) *plan) {
	m := &memory{program: prescribed(t), consented: true, spare: 12_300_000, past: []today.Past{
		{Item: "straight-finger-hold", At: morning.Add(-time.Hour), Outcome: session.Done},
		{Item: "straight-finger-hold", At: morning.Add(-time.Hour), Outcome: session.Done},
		{Item: "hook-fist", At: morning.Add(-time.Hour), Outcome: session.Skipped},
	}}
	return m, func(h *Home) *plan {
		p, err := h.day()
		require.NoError(t, err)
		return &p
	}
}

// Every screen, as text that can be compared line by line.
func TestScreens(t *testing.T) {
	m, plan := day(t)
	h, w, _ := opened(t, m, 100)
	h.sits(t, m)
	p := plan(h)
	for _, s := range screens {
		t.Run(s.name, func(t *testing.T) {
			h.show(s.make(h, p))
			if s.then != nil {
				s.then(h)
			}
			path := filepath.Join("testdata", s.name+".xml")
			if *update {
				require.NoError(t, os.MkdirAll("testdata", 0o755))
				require.NoError(t, os.WriteFile(path, []byte(test.RenderToMarkup(w.Canvas())), 0o644))
			}
			test.AssertRendersToMarkup(t, s.name+".xml", w.Canvas())
		})
	}
}

// Nothing may need a window larger than the smallest that is supported, at any
// size of text, or lie outside of it; and what is touched is large enough
// (WCAG 2.2, 2.5.8 asks for 24 px, 2.5.5 for 44; the house rule is 64).
func TestEveryScreenFitsAndHasLargeTargets(t *testing.T) {
	for _, scale := range []int{100, 200} {
		for _, size := range []fyne.Size{{Width: 1280, Height: 720}, {Width: 1920, Height: 1080}} {
			t.Run(fmt.Sprintf("%d%% in %.0fx%.0f", scale, size.Width, size.Height), func(t *testing.T) {
				m, plan := day(t)
				h, w, _ := opened(t, m, scale)
				w.Resize(size)
				h.sits(t, m)
				p := plan(h)
				// With everything that may stand on a screen.
				h.opt.Post = func(func()) Titled { return newCaution(h) }
				for _, s := range screens {
					// A window takes the least size before it lays anything out,
					// and stays as large as that.
					before := s.make(h, p).Content().MinSize()
					require.LessOrEqual(t, before.Height, size.Height, s.name)
					h.show(s.make(h, p))
					if s.then != nil {
						s.then(h)
					}
					content := w.Canvas().Content()
					least := content.MinSize()
					require.LessOrEqual(t, least.Width, size.Width, s.name)
					require.LessOrEqual(t, least.Height, size.Height, s.name)
					inView(t, s.name, w)
					if *pictures != "" {
						picture(t, fmt.Sprintf("%s-%.0f-%d", s.name, size.Width, scale), w)
					}
				}
			})
		}
	}
}

// picture puts down what is shown, to be looked at.
func picture(t *testing.T, name string, w fyne.Window) {
	t.Helper()
	f, err := os.Create(filepath.Join(*pictures, name+".png"))
	require.NoError(t, err)
	require.NoError(t, png.Encode(f, w.Canvas().Capture()))
	require.NoError(t, f.Close())
}

// What does not fit is reached by one key, or one large button that does the
// same: nothing asks for a wheel or a drag. The button is there only then.
func TestWhatDoesNotFitIsReachedByOneKey(t *testing.T) {
	m, plan := day(t)
	h, w, _ := opened(t, m, 200)
	h.sits(t, m)
	h.show(newAbout(h, plan(h), &plan(h).Items[0]))
	b := &h.router.Screen().(*about).base
	more := b.Line[len(b.Line)-1]
	require.Equal(t, moreBelow, more.Label())
	require.True(t, more.Visible())
	for range 40 {
		if b.More.AtEnd() {
			break
		}
		w.Canvas().OnTypedKey()(&fyne.KeyEvent{Name: fyne.KeyM})
	}
	require.True(t, b.More.AtEnd())
	require.Equal(t, toTheTop, more.Label())
	test.Tap(more)
	require.False(t, b.More.AtEnd())
	require.Equal(t, moreBelow, more.Label())
	w.Canvas().OnTypedKey()(&fyne.KeyEvent{Name: fyne.KeyPageDown})
	w.Canvas().OnTypedKey()(&fyne.KeyEvent{Name: fyne.KeyUp})
	w.Resize(fyne.NewSize(1920, 4000))
	require.False(t, more.Visible())
	// A window is laid out in odd sizes before it is shown; none may hang it.
	for _, s := range screens {
		h.show(s.make(h, plan(h)))
		for _, size := range []fyne.Size{{}, {Width: 90, Height: 40}, {Width: 400, Height: 200}, {Width: 357, Height: 300}, {Width: 1280, Height: 720}} {
			w.Resize(size)
		}
	}
}

// inView looks at every object that is touched.
func inView(t *testing.T, name string, w fyne.Window) {
	t.Helper()
	d := fyne.CurrentApp().Driver()
	size := w.Canvas().Size()
	targets := 0
	for _, o := range test.LaidOutObjects(w.Canvas().Content()) {
		if _, ok := o.(fyne.Tappable); !ok || !o.Visible() {
			continue
		}
		if _, ok := o.(fyne.Focusable); !ok {
			continue
		}
		targets++
		require.GreaterOrEqual(t, o.Size().Width, float32(look.Target), "%s: %T", name, o)
		require.GreaterOrEqual(t, o.Size().Height, float32(look.Target), "%s: %T", name, o)
		right := d.AbsolutePositionForObject(o).X + o.Size().Width
		require.LessOrEqual(t, right, size.Width+1, "%s: %T is cut off", name, o)
		require.LessOrEqual(t, o.MinSize().Width, o.Size().Width+0.5, "%s: what %T says is cut off", name, o)
	}
	require.Positive(t, targets, "%s: there is something to do", name)
}

// Wherever an exercise has been chosen and is not over, Escape is "It hurts".
func TestItHurtsIsAlwaysThere(t *testing.T) {
	m, plan := day(t)
	h, w, _ := opened(t, m, 100)
	h.sits(t, m)
	p := plan(h)
	want := map[string]bool{}
	for _, s := range []string{"about", "pain-before", "pain-after", "go-on", "check", "check-no-camera", "live-ready", "live-hold", "live-warning", "live-rest", "live-paused", "live-unkept", "effort"} {
		want[s] = true
	}
	for _, s := range screens {
		if !want[s.name] {
			continue
		}
		t.Run(s.name, func(t *testing.T) {
			it := &p.Items[0]
			require.NoError(t, h.perform(p, it))
			h.show(s.make(h, p))
			w.Canvas().OnTypedKey()(&fyne.KeyEvent{Name: fyne.KeyEscape})
			require.Equal(t, "Stopped. How much does it hurt?", h.router.Screen().(titled).Title())
		})
	}
}

func TestAStoreThatCannotBeReadIsToldWithAWayOn(t *testing.T) {
	m := &memory{fail: errors.New("the database is damaged; restore a backup")}
	h, w, _ := opened(t, m, 100)
	h.Run()
	require.Equal(t, "The store cannot be read", h.router.Screen().(titled).Title())
	require.Contains(t, test.RenderToMarkup(w.Canvas()), "the database is damaged")
	m.fail = nil
	w.Canvas().OnTypedKey()(&fyne.KeyEvent{Name: fyne.KeySpace})
	require.Equal(t, "Before you begin", h.router.Screen().(titled).Title())
	w.Canvas().OnTypedKey()(&fyne.KeyEvent{Name: fyne.KeySpace})
	require.True(t, m.consented)
	require.Equal(t, "Today", h.router.Screen().(titled).Title())
}
