package post

import (
	"flag"
	"fmt"
	"image/png"
	"os"
	"path/filepath"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"volar/internal/exchange"
	"volar/internal/homestore"
	domain "volar/internal/post"
	"volar/internal/program"
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

var morning = time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC)

// queue stands for fyne's goroutine, which is the test's own.
type queue struct{ waiting chan func() }

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

// bench is a window with one screen of this package in it.
type bench struct {
	t      *testing.T
	w      fyne.Window
	q      *queue
	router *parts.Router
	backs  int
	folder string
	vault  *vault.Vault
	store  *homestore.Store
}

var cheap = vault.KDF{Time: 1, MemoryKiB: 64, Threads: 1}

func newVault(t *testing.T) *vault.Vault {
	t.Helper()
	v, err := vault.Create(t.Context(), filepath.Join(t.TempDir(), "store"), vault.Options{Secret: vault.Passphrase("a store of a test"), KDF: cheap})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, v.Close()) })
	return v
}

func newBench(t *testing.T, theme look.Theme) *bench {
	t.Helper()
	b := &bench{t: t, q: &queue{make(chan func(), 1000)}, folder: t.TempDir(), vault: newVault(t)}
	b.store = homestore.On(newVault(t), homestore.Options{Clock: func() time.Time { return morning }, Software: "test"})
	a := test.NewTempApp(t)
	a.Settings().SetTheme(theme)
	b.w = test.NewTempWindow(t, nil)
	b.w.SetPadded(false)
	b.w.Resize(fyne.NewSize(1280, 720))
	b.router = parts.NewRouter(b.w.Canvas())
	t.Cleanup(b.router.Close)
	return b
}

func (b *bench) options() Options {
	return Options{Window: b.w, Back: func() { b.backs++ }, Now: func() time.Time { return morning }, Do: func(f func()) { b.q.waiting <- f }, Folders: []string{b.folder}}
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

func (b *bench) instead(text string) {
	b.t.Helper()
	f, ok := b.w.Canvas().Focused().(*parts.Field)
	require.True(b.t, ok, "a field has the focus")
	f.SetText(text)
}

func (b *bench) title() string { return b.router.Screen().(interface{ Title() string }).Title() }

func (b *bench) reach(title string) {
	b.t.Helper()
	b.q.until(b.t, func() bool { return b.title() == title })
}

// desk is the clinic's theme, chair the home's.
func desk(scale int) look.Theme {
	return look.Theme{Variant: look.Light, Scale: float32(scale) / 100, Desk: true}
}
func chair(scale int) look.Theme {
	return look.Theme{Variant: look.Light, Scale: float32(scale) / 100}
}

// shown is one page in one state.
type shown struct {
	name   string
	clinic bool
	make   func(b *bench) (parts.Screen, *flow, func() *page)
}

func ofLetters(st domain.State, removed []string, said ...string) func(b *bench) (parts.Screen, *flow, func() *page) {
	return func(b *bench) (parts.Screen, *flow, func() *page) {
		s := NewLetters(b.vault, false, b.options()).(*letters)
		s.said = said
		return s, s.flow, func() *page { return s.standing(st, removed) }
	}
}

func ofClient(st domain.HomeState, said ...string) func(b *bench) (parts.Screen, *flow, func() *page) {
	return func(b *bench) (parts.Screen, *flow, func() *page) {
		s := NewClient(domain.NewHome(b.store, domain.Options{}), b.options()).(*client)
		s.said = said
		return s, s.flow, func() *page { return s.standing(st) }
	}
}

func clientPage(make func(s *client) *page) func(b *bench) (parts.Screen, *flow, func() *page) {
	return func(b *bench) (parts.Screen, *flow, func() *page) {
		s := NewClient(domain.NewHome(b.store, domain.Options{}), b.options()).(*client)
		return s, s.flow, func() *page { return make(s) }
	}
}

var bucket = domain.Place{Where: "s3://store.example.org/clinic?region=eu-1", Key: "clinic-key", HomeKey: "home-key"}

var (
	busy = domain.State{
		Place: bucket, LastSent: morning.Add(-20 * time.Hour),
		Waiting: []domain.Waiting{
			{Client: "K-104", Kind: exchange.KindProgram, Since: morning, Attempts: 2, Problem: "the network is unreachable"},
			{Client: "K-104", Kind: exchange.KindRecord, Since: morning}, {Client: "K-104", Kind: exchange.KindRecord, Since: morning},
			{Client: "K-099", Kind: exchange.KindReview, Since: morning},
		},
		Came: []domain.Came{
			{Client: "K-104", Kind: exchange.KindSession, At: morning.Add(-time.Hour)}, {Client: "K-104", Kind: exchange.KindSession, At: morning.Add(-2 * time.Hour)},
			{Client: "K-099", Kind: exchange.KindGreeting, At: morning.Add(-25 * time.Hour)},
		},
		Trouble: []domain.Trouble{
			{Client: "K-099", Since: morning.Add(-48 * time.Hour), Words: domain.Words(exchange.ErrDamaged)},
			{Client: "K-104", Since: morning.Add(-time.Hour), Words: domain.Words(domain.ErrConflict)},
		},
	}
	offline = domain.HomeState{State: domain.State{Place: bucket, Waiting: []domain.Waiting{
		{Kind: exchange.KindSession, Attempts: 3, Problem: "the network is unreachable"}, {Kind: exchange.KindSession},
	}}, Connected: true, Client: "K-104", Since: morning.Add(-90 * time.Hour), Auto: true}
	sent = domain.HomeState{State: domain.State{Place: bucket, LastSent: morning.Add(-time.Hour)}, Connected: true, Client: "K-104", Since: morning.Add(-90 * time.Hour)}
)

var screens = []shown{
	{"letters-first", true, ofLetters(domain.State{}, nil)},
	{"letters", true, ofLetters(busy, []string{"K-050"}, "2 sessions came in, 0 files went out. (today, 09:00)")},
	{"place-folder", true, func(b *bench) (parts.Screen, *flow, func() *page) {
		s, f, _ := ofLetters(domain.State{}, nil)(b)
		return s, f, func() *page { return f.newPlace(true, domain.Place{}, nil, nil) }
	}},
	{"place-bucket", true, func(b *bench) (parts.Screen, *flow, func() *page) {
		s, f, _ := ofLetters(domain.State{}, nil)(b)
		return s, f, func() *page { return f.newPlace(true, bucket, nil, nil) }
	}},
	{"sweep", true, func(b *bench) (parts.Screen, *flow, func() *page) {
		s := NewLetters(b.vault, false, b.options()).(*letters)
		return s, s.flow, func() *page { return s.sweep(bucket, []string{"K-050"}) }
	}},
	{"machines", true, func(b *bench) (parts.Screen, *flow, func() *page) {
		o := b.options()
		o.Folders = []string{"/home/therapist/Documents"}
		s := NewLetters(b.vault, false, o).(*letters)
		return s, s.flow, s.machines
	}},
	{"invite", true, func(b *bench) (parts.Screen, *flow, func() *page) {
		o := b.options()
		o.Folders = []string{"/home/therapist/Documents"}
		s := NewInvite(b.vault, "K-104", o).(*invitation)
		return s, s.flow, s.ask
	}},
	{"invite-code", true, func(b *bench) (parts.Screen, *flow, func() *page) {
		s := NewInvite(b.vault, "K-104", b.options()).(*invitation)
		return s, s.flow, func() *page {
			return s.read(domain.Invitation{Client: "K-104", Code: "1234567890123450"}, "/home/therapist/Documents/invitation-K-104.volar")
		}
	}},
	{"client-first", false, ofClient(domain.HomeState{})},
	{"client-offline", false, ofClient(offline, "It did not work. The network is unreachable.")},
	{"client-sent", false, ofClient(sent, "It is sent.", "Your therapist changed your exercises; the new ones hold from now on.")},
	{"client-place", false, clientPage(func(s *client) *page { return s.newPlace(false, domain.Place{}, nil, nil) })},
	{"client-no-files", false, clientPage(func(s *client) *page { return s.files() })},
	{"client-files", false, func(b *bench) (parts.Screen, *flow, func() *page) {
		b.folder = filepath.Join(b.folder, "Downloads")
		require.NoError(b.t, os.Mkdir(b.folder, 0o700))
		for i := range 3 {
			path := filepath.Join(b.folder, fmt.Sprintf("invitation-K-%d.volar", 104+i))
			require.NoError(b.t, os.WriteFile(path, nil, 0o600))
			require.NoError(b.t, os.Chtimes(path, morning, morning.Add(-time.Duration(i)*time.Hour)))
		}
		s := NewClient(domain.NewHome(b.store, domain.Options{}), b.options()).(*client)
		return s, s.flow, s.files
	}},
	{"client-code", false, clientPage(func(s *client) *page { return s.code(nil, "123456") })},
	{"client-code-wrong", false, clientPage(func(s *client) *page {
		p := s.code(nil, "1234567890123456")
		p.say(domain.Words(exchange.ErrCode))
		return p
	})},
	{"client-welcome", false, clientPage(func(s *client) *page { return s.welcome(domain.Accepted{Client: "K-104", Version: 1, Carried: true}) })},
	{"client-welcome-by-hand", false, clientPage(func(s *client) *page { return s.welcome(domain.Accepted{Client: "K-104", Version: 1}) })},
	{"client-not-taken", false, clientPage(func(s *client) *page { return s.trouble(exchange.ErrDamaged) })},
}

// Every page, as text that can be compared line by line.
func TestScreens(t *testing.T) {
	for _, s := range screens {
		t.Run(s.name, func(t *testing.T) {
			theme := chair(100)
			if s.clinic {
				theme = desk(100)
			}
			b := newBench(t, theme)
			screen, f, page := s.make(b)
			f.start = page
			b.router.Show(screen)
			path := filepath.Join("testdata", s.name+".xml")
			if *update {
				require.NoError(t, os.MkdirAll("testdata", 0o755))
				require.NoError(t, os.WriteFile(path, []byte(test.RenderToMarkup(b.w.Canvas())), 0o644))
			}
			test.AssertRendersToMarkup(t, s.name+".xml", b.w.Canvas())
		})
	}
}

// Nothing needs a window larger than the smallest that is supported, at any
// size of text, or lies outside of it; what is touched is large enough: the
// house rule is 64 px at home, and WCAG 2.2, 2.5.5 asks for 44.
func TestEveryPageFitsAndHasLargeTargets(t *testing.T) {
	for _, scale := range []int{100, 200} {
		for _, size := range []fyne.Size{{Width: 1280, Height: 720}, {Width: 1920, Height: 1080}} {
			t.Run(fmt.Sprintf("%d%% in %.0fx%.0f", scale, size.Width, size.Height), func(t *testing.T) {
				for _, s := range screens {
					theme, least := chair(scale), float32(look.Target)
					if s.clinic {
						theme, least = desk(scale), look.DeskTarget
					}
					b := newBench(t, theme)
					b.w.Resize(size)
					screen, f, page := s.make(b)
					f.start = page
					b.router.Show(screen)
					min := b.w.Canvas().Content().MinSize()
					require.LessOrEqual(t, min.Width, size.Width, s.name)
					require.LessOrEqual(t, min.Height, size.Height, s.name)
					for _, o := range test.LaidOutObjects(b.w.Canvas().Content()) {
						_, tap := o.(fyne.Tappable)
						_, focus := o.(fyne.Focusable)
						if !tap || !focus || !o.Visible() || o.Size().Width <= 0 {
							continue
						}
						require.GreaterOrEqual(t, o.Size().Height, least, "%s: %T", s.name, o)
						require.GreaterOrEqual(t, o.Size().Width, least, "%s: %T", s.name, o)
						right := fyne.CurrentApp().Driver().AbsolutePositionForObject(o).X + o.Size().Width
						require.LessOrEqual(t, right, size.Width+1, "%s: %T is cut off", s.name, o)
					}
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

// keepProgram puts a client with a program into the clinic's store.
func keepProgram(t *testing.T, v *vault.Vault) {
	t.Helper()
	p, _, err := program.New(program.Options{Client: "K-104", Side: program.Side(1), Exercises: []string{"whole-hand-grip"}, Now: morning}, program.Source{})
	require.NoError(t, err)
	require.NoError(t, v.PutClient(t.Context(), vault.Client{Code: "K-104", Side: "right"}))
	body, err := homestore.Pack(p)
	require.NoError(t, err)
	require.NoError(t, v.PutProgram(t.Context(), vault.Program{Client: "K-104", Name: "K-104", Number: 1, ValidFrom: p.ValidFrom.String(), Body: body}))
}
