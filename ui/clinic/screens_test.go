package clinic

import (
	"flag"
	"fmt"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"volar/internal/clinicstore"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/program/draft"
	"volar/internal/vault"
	"volar/ui/look"
	"volar/ui/parts"
)

var (
	update   = flag.Bool("update", false, "write the golden files anew")
	pictures = flag.String("pictures", "", "put a picture of every screen into this folder")
)

func TestMain(m *testing.M) {
	goleak.VerifyTestMain(m, goleak.IgnoreAnyFunction("fyne.io/fyne/v2/internal/async.(*UnboundedChan[...]).processing"))
}

// shown is one screen in one state; ready takes the window there from the list
// of clients.
type shown struct {
	name  string
	ready func(b *bench)
}

// editing opens the editor of K-104's third version and does something to the
// draft.
func editing(b *bench, do func(d *draft.Draft)) *editor {
	b.edit("K-104", "", hand.UnknownSide, func() { b.client("K-104") })
	e := b.router.Screen().(*exercises).e
	if do != nil {
		do(e.d)
	}
	return e
}

var screens = []shown{
	{"clients", func(*bench) {}},
	{"clients-filtered", func(b *bench) { b.typed("tendon") }},
	{"clients-none-fits", func(b *bench) { b.typed("nobody") }},
	{"client", func(b *bench) { b.client("K-104") }},
	{"client-empty", func(b *bench) { b.client("K-112") }},
	{"client-new", func(b *bench) { b.control(fyne.KeyN) }},
	{"client-wrong", func(b *bench) {
		b.control(fyne.KeyN)
		b.typed("two words")
		b.press(fyne.KeyTab, fyne.KeyTab, fyne.KeyTab, fyne.KeyTab)
		b.typed("soon")
	}},
	{"client-change", func(b *bench) { b.client("K-104"); b.press(fyne.KeyE) }},
	{"client-leave", func(b *bench) {
		b.client("K-104")
		b.press(fyne.KeyE)
		b.w.Canvas().Focus(b.router.Screen().(*clientForm).reviewField)
		b.typed("2")
		b.press(fyne.KeyEscape)
	}},
	{"client-remove", func(b *bench) { b.show(newRemoval(b.Clinic, "K-104")) }},
	{"version", func(b *bench) {
		b.client("K-104")
		s := b.router.Screen().(*clientPage)
		b.show(newVersion(b.Clinic, s.client, s.history, s.versions()[0]))
	}},
	{"comparison", func(b *bench) { b.client("K-104"); b.press(fyne.KeyD) }},
	{"handout", func(b *bench) {
		p, err := b.store.Program(b.ctx, "K-104", 2)
		require.NoError(b.t, err)
		b.t.Setenv("HOME", "/home/clinic")
		b.handout(p, func() {})
	}},
	{"editor-exercises", func(b *bench) { editing(b, nil) }},
	{"editor-wrong", func(b *bench) {
		editing(b, func(d *draft.Draft) { d.SetDose(0, draft.Sets, "twelve"); d.SetDose(0, draft.Hold, "900") }).open(0)
	}},
	{"editor-empty", func(b *bench) { b.edit("K-112", "", hand.UnknownSide, b.clients); b.press(fyne.KeyEscape) }},
	{"editor-catalogue", func(b *bench) { editing(b, nil); b.control(fyne.KeyN); b.typed("fist") }},
	{"editor-limits", func(b *bench) { editing(b, nil).open(1) }},
	{"editor-limits-other", func(b *bench) {
		e := editing(b, func(d *draft.Draft) {
			_, err := d.Add("wringing-alternating")
			require.NoError(b.t, err)
			require.NoError(b.t, d.PutStep(draft.Where{Of: draft.All, Other: true}, "*.pip", "", "0", "", ""))
			require.NoError(b.t, d.PutStep(draft.Where{Of: draft.All, Other: true}, "thumb.ip", "2026-12-08", "10 past", "70", ""))
		})
		e.open(1)
		b.press(fyne.KeyH)
	}},
	{"editor-limit-other-typed", func(b *bench) {
		editing(b, nil).open(1)
		b.press(fyne.KeyM, fyne.KeyH, fyne.KeyR, fyne.KeyReturn)
		b.instead("5 past")
		b.press(fyne.KeyReturn, fyne.KeyReturn)
	}},
	{"editor-limit-wrong", func(b *bench) {
		editing(b, nil).open(1)
		b.press(fyne.KeyReturn)
		b.instead("-5")
		b.press(fyne.KeyReturn)
	}},
	{"editor-limits-of-one", func(b *bench) {
		e := editing(b, func(d *draft.Draft) {
			require.NoError(b.t, d.PutStep(draft.Where{Of: 2}, "*.dip", "2026-12-24", "0", "60", ""))
		})
		e.of = 2
		e.open(1)
	}},
	{"editor-precautions", func(b *bench) { editing(b, nil).open(2) }},
	{"editor-precautions-one-hand", func(b *bench) {
		editing(b, func(d *draft.Draft) {
			_, err := d.Add("wringing-alternating")
			require.NoError(b.t, err)
		}).open(2)
	}},
	{"editor-limits-one-hand", func(b *bench) {
		editing(b, func(d *draft.Draft) {
			_, err := d.Add("wringing-alternating")
			require.NoError(b.t, err)
		}).open(1)
	}},
	{"editor-dates", func(b *bench) {
		editing(b, func(d *draft.Draft) { d.SetValidFrom("tomorrow") }).open(3)
	}},
	{"editor-preview", func(b *bench) {
		editing(b, func(d *draft.Draft) { d.SetDose(0, draft.Repetitions, "8") }).open(4)
	}},
	{"editor-leave", func(b *bench) {
		editing(b, func(d *draft.Draft) { d.SetDose(0, draft.Repetitions, "8") })
		b.press(fyne.KeyEscape)
	}},
	{"settings", func(b *bench) { b.control(fyne.Key5) }},
	{"passphrase-change", func(b *bench) { b.show(newRephrase(b.Clinic)) }},
	{"locked", func(b *bench) { b.lock() }},
	{"opening", func(b *bench) { b.show(newOpening(b.Clinic)) }},
	{"opening-wrong", func(b *bench) {
		b.show(newOpening(b.Clinic))
		b.router.Screen().(*opening).failed(vault.ErrWrongKey)
	}},
	{"opening-in-use", func(b *bench) {
		b.show(newOpening(b.Clinic))
		b.router.Screen().(*opening).failed(vault.ErrLocked)
	}},
	{"opening-damaged", func(b *bench) {
		b.show(newOpening(b.Clinic))
		b.router.Screen().(*opening).failed(&vault.DamagedError{Problem: "a page cannot be read", Backups: []vault.BackupInfo{{Made: morning.AddDate(0, 0, -1)}}})
	}},
	{"first", func(b *bench) { b.show(newFirst(b.Clinic)) }},
	{"trouble", func(b *bench) { b.trouble("The clients cannot be read", vault.ErrNewer, b.clients) }},
	{"waiting", func(b *bench) { b.show(newWait(b.Clinic, "A backup is being made", "volar closes once it is done.")) }},
	{"removed", func(b *bench) {
		b.show(newNotice(b.Clinic, "Removed", "The last day of keeping is over for K-104.", b.clients))
	}},
}

// whole offers the screens of other packages, so that their buttons are there;
// none is opened.
func whole(o *Options) {
	foreign := func(Visit) parts.Screen { return nil }
	o.Baseline, o.Measure, o.Sessions, o.Progress, o.Report = foreign, foreign, foreign, foreign, foreign
	o.Invite, o.Queue, o.Post = foreign, foreign, foreign
}

func TestScreensLookAsTheyDid(t *testing.T) {
	dir := filled(t)
	for _, s := range screens {
		t.Run(s.name, func(t *testing.T) {
			b := atClients(t, benchOptions{dir: dir, with: whole})
			s.ready(b)
			if *update {
				path := filepath.Join("testdata", s.name+".xml")
				require.NoError(t, os.MkdirAll("testdata", 0o755))
				require.NoError(t, os.WriteFile(path, []byte(test.RenderToMarkup(b.w.Canvas())), 0o644))
			}
			test.AssertRendersToMarkup(t, s.name+".xml", b.w.Canvas())
		})
	}
}

// Nothing may need a window larger than the smallest that is supported, at any
// size of text, or lie outside of it; and what is touched is large enough
// (WCAG 2.2, 2.5.5: 44 px).
func TestEveryScreenFitsAndHasLargeTargets(t *testing.T) {
	dir := filled(t)
	for _, scale := range []int{100, 200} {
		for _, size := range []fyne.Size{{Width: 1280, Height: 720}, {Width: 1920, Height: 1080}} {
			t.Run(fmt.Sprintf("%d%% in %.0fx%.0f", scale, size.Width, size.Height), func(t *testing.T) {
				b := atClients(t, benchOptions{dir: dir, scale: scale, with: whole})
				b.w.Resize(size)
				for _, s := range screens {
					b.router.Uncover()
					b.filter = ""
					b.clients()
					s.ready(b)
					least := b.w.Canvas().Content().MinSize()
					require.LessOrEqual(t, least.Width, size.Width, s.name)
					require.LessOrEqual(t, least.Height, size.Height, s.name)
					inView(t, s.name, b.w)
					if *pictures != "" {
						out, err := os.Create(filepath.Join(*pictures, fmt.Sprintf("%s-%.0f-%d.png", s.name, size.Width, scale)))
						require.NoError(t, err)
						require.NoError(t, png.Encode(out, b.w.Canvas().Capture()))
						require.NoError(t, out.Close())
					}
				}
			})
		}
	}
}

// inView looks at every object that is touched, but for an entry's own eye,
// which shows the passphrase and is a convenience.
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
		// What is in a part that is hidden was never laid out.
		if o.Size().Width <= 0 {
			continue
		}
		targets++
		require.GreaterOrEqual(t, o.Size().Width, float32(look.DeskTarget), "%s: %T", name, o)
		require.GreaterOrEqual(t, o.Size().Height, float32(look.DeskTarget), "%s: %T", name, o)
		right := d.AbsolutePositionForObject(o).X + o.Size().Width
		require.LessOrEqual(t, right, size.Width+1, "%s: %T is cut off", name, o)
	}
	if name != "waiting" {
		require.Positive(t, targets, "%s: there is something to do", name)
	}
}

// Words that a person reads never show a bare sign before an angle, and never
// a claim that the project does not make.
func TestWordsOfTheScreens(t *testing.T) {
	require.Equal(t, "Exercise 2 (hook-fist): dose: sets", fieldWords(&program.Program{Exercises: []program.Exercise{{Movement: "full-fist"}, {Movement: "hook-fist"}}}, "exercises[2].dose.sets"))
	require.Equal(t, "Limits 1: schedule 2: from", fieldWords(&program.Program{}, "limits[1].schedule[2].from"))
	two := &program.Program{
		Limits:    []program.Limit{{Joints: "*.pip"}, {Joints: "index.pip", Side: program.Side(hand.Left)}},
		Exercises: []program.Exercise{{Movement: "hook-fist", Limits: []program.Limit{{Joints: "thumb.ip"}}}},
	}
	require.Equal(t, "Limit 2 (index PIP of the left hand): side", fieldWords(two, "limits[2].side"))
	require.Equal(t, "Exercise 1 (hook-fist): limit 1 (thumb IP): schedule 1", fieldWords(two, "exercises[1].limits[1].schedule[1]"))
	require.Equal(t, "Exercise: limits 3", fieldWords(two, "exercises[4].limits[3]"))
	require.Equal(t, "The program", fieldWords(&program.Program{}, ""))
	today := program.Date{Year: 2026, Month: 11, Day: 26}
	for n, want := range map[int]string{0: "today", 1: "tomorrow", -1: "yesterday", -6: "20 November 2026, overdue", 14: "10 December 2026"} {
		require.Equal(t, want, reviewWords(today.AddDays(n), today))
	}
	require.Equal(t, "not set", reviewWords(program.Date{}, today))
	require.True(t, fits("K-104 right lax joints", "LAX k-1"))
	require.False(t, fits("K-104 right", "left"))
	require.Equal(t, "both", handsWords(clinicstore.Both))
}
