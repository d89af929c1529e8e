package clinic

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"volar/internal/clinicstore"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/score"
	"volar/internal/vault"
	"volar/ui/parts"
)

// A therapist makes the store, a client and a program with a dated limit, by
// keys alone; then it is in the store.
func TestAClientAndAProgramByKeys(t *testing.T) {
	b := newBench(t, benchOptions{})
	b.begin()
	b.control(fyne.KeyN)
	b.typed("K-104")
	b.control(fyne.KeyS)
	b.reach("K-104")
	b.press(fyne.KeyN)
	b.reach("Take exercises from the catalogue")
	b.typed("hook")
	b.press(fyne.KeyReturn)
	b.press(fyne.KeyEscape)
	b.reach("K-104, version 1: Exercises")
	b.press(fyne.KeyReturn, fyne.KeyTab)
	b.instead("8")
	b.control(fyne.Key2)
	b.reach("K-104, version 1: Limits")
	b.press(fyne.KeyRight, fyne.KeyLeft)
	b.press(fyne.KeyReturn)
	b.typed("30")
	b.press(fyne.KeyReturn)
	// A second step from a day.
	b.press(fyne.KeyReturn)
	b.instead("20")
	b.w.Canvas().FocusPrevious()
	b.typed("2026-12-08")
	b.press(fyne.KeyReturn)
	b.control(fyne.KeyS)
	b.reach("K-104")
	p, err := b.store.Program(b.ctx, "K-104", 0)
	require.NoError(t, err)
	require.Equal(t, 1, p.Version)
	require.Equal(t, 8, *p.Exercises[0].Dose.Repetitions)
	require.Equal(t, []program.Step{{Lower: program.Deg(30)}, {From: program.Date{Year: 2026, Month: 12, Day: 8}, Lower: program.Deg(20)}}, p.Limits[0].Schedule)
	require.Equal(t, program.Joints(hand.IndexPIP.String()), p.Limits[0].Joints)
	c, err := b.store.Client(b.ctx, "K-104")
	require.NoError(t, err)
	require.Equal(t, p.NextReview, c.NextReview)
}

func TestAWrongPassphraseIsToldAndTriedAgain(t *testing.T) {
	b := newBench(t, benchOptions{dir: filled(t)})
	b.Run()
	b.typed("something else")
	b.press(fyne.KeyReturn)
	s := b.router.Screen().(*opening)
	b.q.until(t, func() bool { return s.row.Told() != "" })
	require.Contains(t, s.row.Told(), "does not open")
	require.Empty(t, s.field.Text)
	b.typed(phrase)
	b.press(fyne.KeyReturn)
	b.reach("Clients")
}

// A form that was begun asks before it is dropped, by Escape and as the window
// closes; one in which nothing differs does not.
func TestAHalfFilledFormAsks(t *testing.T) {
	b := newBench(t, benchOptions{})
	b.begin()
	require.Contains(t, b.router.Screen().(*clients).none(), "Ctrl N makes the first")
	b.control(fyne.KeyN)
	b.reach("New client")
	b.press(fyne.KeyEscape)
	b.reach("Clients")
	b.control(fyne.KeyN)
	b.typed("K-104")
	s := b.router.Screen().(*clientForm)
	b.w.Canvas().Focus(s.reviewField)
	b.typed("soon")
	b.press(fyne.KeyEscape)
	b.reach("Leave without saving?")
	b.press(fyne.KeyEscape)
	b.reach("New client")
	require.Equal(t, "K-104", s.codeField.Text, "what was typed is kept")
	require.Equal(t, "soon", s.reviewField.Text, "what is wrong too")
	require.NotEmpty(t, s.review.Told())
	b.Quit()
	b.reach("Leave without saving?")
	b.Quit()
	require.False(t, b.left, "closing once more is no answer")
	b.reach("Leave without saving?")
	b.control(fyne.KeyS)
	b.reach("New client")
	b.w.Canvas().Focus(s.reviewField)
	b.instead("2026-12-10")
	b.press(fyne.KeyEscape)
	b.reach("Leave without saving?")
	b.control(fyne.KeyS)
	b.reach("K-104")
	b.press(fyne.KeyE)
	b.reach("Change K-104")
	b.press(fyne.KeyEscape)
	b.reach("K-104")
	b.press(fyne.KeyE)
	b.w.Canvas().Focus(b.router.Screen().(*clientForm).keepField)
	b.typed("2")
	b.press(fyne.KeyEscape)
	b.reach("Leave without saving?")
	b.w.Canvas().Unfocus()
	b.press(fyne.KeyT)
	b.reach("K-104")
	b.press(fyne.KeyE)
	b.w.Canvas().Focus(b.router.Screen().(*clientForm).keepField)
	b.typed("2")
	b.Quit()
	b.reach("Leave without saving?")
	b.w.Canvas().Unfocus()
	b.press(fyne.KeyT)
	b.q.until(t, func() bool { return b.left })
}

func TestTwoPassphrasesThatDifferMakeNoStore(t *testing.T) {
	b := newBench(t, benchOptions{})
	b.Run()
	b.typed(phrase)
	b.press(fyne.KeyReturn)
	b.typed("another")
	b.press(fyne.KeyReturn)
	require.Contains(t, b.router.Screen().(*first).row.Told(), "differ")
	require.False(t, clinicstore.Exists(b.dir))
}

func TestASecondWindowReadsOnly(t *testing.T) {
	dir := filled(t)
	one := atClients(t, benchOptions{dir: dir})
	two := newBench(t, benchOptions{dir: dir})
	two.Run()
	two.typed(phrase)
	two.press(fyne.KeyReturn)
	s := two.router.Screen().(*opening)
	two.q.until(t, func() bool { return len(s.extra.Objects) > 0 })
	require.Contains(t, s.row.Told(), "Another volar")
	two.press(fyne.KeyReturn)
	two.reach("To read only")
	two.press(fyne.KeyReturn)
	two.reach("Clients")
	two.control(fyne.KeyN)
	require.Equal(t, "Clients", two.title(), "there is no new client")
	two.client("K-104")
	two.press(fyne.KeyN)
	require.Equal(t, "K-104", two.title(), "and no new version")
	require.False(t, one.store.ReadOnly())
}

func TestADamagedStoreIsRestored(t *testing.T) {
	dir := filled(t)
	s, err := clinicstore.Open(t.Context(), dir, phrase, clinicstore.Options{})
	require.NoError(t, err)
	_, err = s.Backup(t.Context(), nil)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	db, err := filepath.Glob(filepath.Join(dir, "store-*.db"))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(db[0], make([]byte, 4096), 0o600))
	b := newBench(t, benchOptions{dir: dir})
	b.Run()
	b.typed(phrase)
	b.press(fyne.KeyReturn)
	o := b.router.Screen().(*opening)
	b.q.until(t, func() bool { return len(o.extra.Objects) > 0 })
	require.Contains(t, o.row.Told(), "damaged")
	b.press(fyne.KeyReturn)
	b.reach("Clients")
	require.Len(t, b.router.Screen().(*clients).all, 3)
}

// While locked nothing of a client is drawn, no key reaches what is below, and
// afterwards everything is as it was, what was typed too.
func TestLockedWindowShowsNothing(t *testing.T) {
	b := atClients(t, benchOptions{})
	b.client("K-104")
	b.press(fyne.KeyE)
	b.reach("Change K-104")
	field := b.router.Screen().(*clientForm).reviewField
	b.w.Canvas().Focus(field)
	b.instead("2027-01-31")
	b.control(fyne.KeyL)
	b.reach("Locked")
	require.NotContains(t, test.RenderToMarkup(b.w.Canvas()), "K-104")
	b.control(fyne.KeyS)
	require.True(t, b.router.Covered())
	b.typed("wrong")
	b.press(fyne.KeyReturn)
	cover := b.covering
	b.q.until(t, func() bool { return cover.row.Told() != "" })
	require.True(t, b.router.Covered())
	b.typed(phrase)
	b.press(fyne.KeyReturn)
	b.reach("Change K-104")
	require.Same(t, field, b.w.Canvas().Focused())
	require.Equal(t, "2027-01-31", field.Text)
}

func TestAnIdleWindowLocks(t *testing.T) {
	b := atClients(t, benchOptions{})
	b.now = b.now.Add(9 * time.Minute)
	b.lockIfIdle()
	require.False(t, b.router.Covered())
	b.stir()
	b.now = b.now.Add(9 * time.Minute)
	b.lockIfIdle()
	require.False(t, b.router.Covered(), "somebody was there")
	b.now = b.now.Add(2 * time.Minute)
	b.lockIfIdle()
	require.True(t, b.router.Covered())
	// A screen that comes from behind stays behind.
	b.client("K-104")
	require.Equal(t, "Locked – volar", b.w.Title())
	require.NotContains(t, test.RenderToMarkup(b.w.Canvas()), "K-104")
	b.typed(phrase)
	b.press(fyne.KeyReturn)
	b.reach("K-104")
	b.now = b.now.Add(-time.Hour)
	b.lockIfIdle()
	require.True(t, b.router.Covered(), "the clock was set back")
}

// The pointer over a screen and a key in a field both say that somebody is
// there.
func TestWhatStirs(t *testing.T) {
	b := atClients(t, benchOptions{})
	b.now = b.now.Add(9 * time.Minute)
	before := b.stirred.Load()
	test.MoveMouse(b.w.Canvas(), fyne.NewPos(600, 10))
	require.Greater(t, b.stirred.Load(), before)
}

func TestTheListIsFilteredAndOpened(t *testing.T) {
	b := atClients(t, benchOptions{})
	s := b.router.Screen().(*clients)
	require.Len(t, s.shown, 3)
	b.typed("left")
	require.Len(t, s.shown, 1)
	b.press(fyne.KeyEscape)
	require.Len(t, s.shown, 3)
	b.press(fyne.KeyDown, fyne.KeyReturn)
	b.reach("K-107")
	b.press(fyne.KeyEscape)
	b.reach("Clients")
	require.Equal(t, 1, b.router.Screen().(*clients).table.At(), "the list is where it was")
}

func TestAClientIsChangedAndRemoved(t *testing.T) {
	b := atClients(t, benchOptions{})
	b.client("K-107")
	b.press(fyne.KeyE)
	s := b.router.Screen().(*clientForm)
	b.w.Canvas().Focus(s.keepField)
	b.typed("2020-01-01")
	require.Contains(t, s.keep.Told(), "is over")
	b.control(fyne.KeyS)
	require.Equal(t, "Change K-107", b.title(), "what is wrong is not saved")
	b.instead("2030-01-01")
	s.precaution(program.HealingTendon, ptr(false), nil)
	s.precaution(program.SensationLoss, ptr(true), nil)
	s.precaution(program.SensationLoss, nil, ptr("little finger"))
	b.control(fyne.KeyS)
	b.reach("K-107")
	c, err := b.store.Client(b.ctx, "K-107")
	require.NoError(t, err)
	require.Equal(t, program.Date{Year: 2030, Month: 1, Day: 1}, c.KeepUntil)
	require.Equal(t, []program.Precaution{{Kind: program.SensationLoss, Words: "little finger"}}, c.Precautions)
	b.show(newRemoval(b.Clinic, "K-107"))
	b.press(fyne.KeyEscape)
	b.reach("K-107")
	b.show(newRemoval(b.Clinic, "K-107"))
	b.press(fyne.KeyR)
	b.reach("Clients")
	has, err := b.store.HasClient(b.ctx, "K-107")
	require.NoError(t, err)
	require.False(t, has)
}

func ptr[T any](v T) *T { return &v }

func TestACodeThatIsTakenIsTold(t *testing.T) {
	b := atClients(t, benchOptions{})
	b.control(fyne.KeyN)
	b.control(fyne.KeyS)
	s := b.router.Screen().(*clientForm)
	require.Equal(t, "A client needs a code.", s.code.Told())
	b.typed("K-104")
	require.Contains(t, s.code.Told(), "already")
	b.control(fyne.KeyS)
	require.Equal(t, "New client", b.title())
}

func TestVersionsAreComparedAndWrittenOut(t *testing.T) {
	b := atClients(t, benchOptions{})
	b.client("K-104")
	b.press(fyne.KeyD)
	s := b.router.Screen().(*comparison)
	require.NotEmpty(t, s.table.Rows())
	b.press(fyne.KeyU, fyne.KeyT)
	require.Same(t, s.from, s.to)
	require.Empty(t, s.table.Rows())
	b.press(fyne.KeyEscape)
	b.reach("K-104")
	b.w.Canvas().FocusNext()
	p, err := b.store.Program(b.ctx, "K-104", 2)
	require.NoError(t, err)
	b.handout(p, func() { b.client("K-104") })
	h := b.router.Screen().(*handout)
	path := filepath.Join(t.TempDir(), "handout.pdf")
	b.instead(path)
	b.press(fyne.KeyReturn)
	b.q.until(t, func() bool { return !h.busy })
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, "%PDF", string(data[:4]))
	require.Equal(t, "Written to "+path+".", h.said.Text())
	b.instead(filepath.Join(path, "not", "there.pdf"))
	b.press(fyne.KeyReturn)
	b.q.until(t, func() bool { return !h.busy })
	require.NotEmpty(t, h.row.Told())
}

func TestSettingsAreKept(t *testing.T) {
	b := atClients(t, benchOptions{})
	b.control(fyne.Key5)
	s := b.router.Screen().(*settings)
	b.instead("0")
	require.Contains(t, s.minutes.Told(), "1 to 120")
	b.control(fyne.KeyS)
	require.Equal(t, "Settings", b.title())
	b.instead("5")
	s.set.Backup, s.set.Angles = clinicstore.BackupNever, score.PlusMinus
	b.w.Canvas().Focus(s.folderField)
	b.typed("there")
	require.NotEmpty(t, s.folder.Told())
	b.instead("")
	b.control(fyne.KeyS)
	b.reach("Clients")
	set, err := b.store.Settings(b.ctx)
	require.NoError(t, err)
	require.Equal(t, 5*time.Minute, set.LockAfter())
	require.Equal(t, score.PlusMinus, set.Angles)
	b.now = b.now.Add(6 * time.Minute)
	b.lockIfIdle()
	require.True(t, b.router.Covered(), "the new time holds at once")
}

func TestBackupNowAndOnClosing(t *testing.T) {
	b := atClients(t, benchOptions{})
	b.control(fyne.Key5)
	s := b.router.Screen().(*settings)
	b.w.Canvas().Unfocus()
	b.press(fyne.KeyB)
	b.q.until(t, func() bool { return !s.busy })
	require.Contains(t, s.last.Text(), "A backup was made")
	all, err := vault.Backups(filepath.Join(b.dir, "backups"))
	require.NoError(t, err)
	require.Len(t, all, 1)
	// It is due again a day later; the names are to the second of the real
	// clock, so the first is put out of the way.
	require.NoError(t, os.RemoveAll(all[0].Dir))
	b.now = b.now.AddDate(0, 0, 1)
	b.Quit()
	b.reach("A backup is being made")
	b.q.until(t, func() bool { return b.left })
	all, err = vault.Backups(filepath.Join(b.dir, "backups"))
	require.NoError(t, err)
	require.Len(t, all, 1)
}

func TestThePassphraseIsChanged(t *testing.T) {
	b := atClients(t, benchOptions{})
	b.show(newRephrase(b.Clinic))
	s := b.router.Screen().(*rephrase)
	const next = "another five words of ours"
	b.typed("wrong")
	b.press(fyne.KeyReturn)
	b.typed(next)
	b.press(fyne.KeyReturn)
	b.typed(next)
	b.press(fyne.KeyReturn)
	b.q.until(t, func() bool { return !s.busy })
	require.NotEmpty(t, s.nowRow.Told())
	s.now.SetText(phrase)
	s.change()
	b.reach("Changed")
	require.NoError(t, b.store.Unlocks(b.ctx, next))
	require.ErrorIs(t, b.store.Unlocks(b.ctx, phrase), vault.ErrWrongKey)
}

// A draft is not lost without a question, and a mistake keeps it from being
// saved.
func TestADraftIsKeptUntilItIsThrownAway(t *testing.T) {
	b := atClients(t, benchOptions{})
	editing(b, nil)
	b.press(fyne.KeyEscape)
	b.reach("K-104")
	e := editing(b, nil)
	b.press(fyne.KeyReturn)
	b.instead("twelve")
	b.control(fyne.KeyS)
	require.Contains(t, b.router.Screen().(*exercises).status.Text(), "It cannot be saved yet")
	b.press(fyne.KeyEscape)
	b.reach("Leave without saving?")
	b.press(fyne.KeyEscape)
	b.reach("K-104, version 3: Exercises")
	require.Equal(t, "twelve", e.d.DoseText(0, "sets"))
	b.control(fyne.KeyQ)
	b.reach("Leave without saving?")
	require.False(t, b.left)
	b.press(fyne.KeyEscape)
	b.lock()
	b.control(fyne.KeyQ)
	require.False(t, b.left, "not even while locked")
	require.Contains(t, b.covering.row.Told(), "not saved")
	b.router.Uncover()
	b.press(fyne.KeyEscape, fyne.KeyT)
	b.reach("K-104")
	all, err := b.store.Programs(b.ctx, "K-104")
	require.NoError(t, err)
	require.Len(t, all, 2)
}

func TestExercisesAreMovedAndTakenOut(t *testing.T) {
	b := atClients(t, benchOptions{})
	e := editing(b, nil)
	names := func() (all []string) {
		for _, x := range e.d.Program().Exercises {
			all = append(all, x.Name())
		}
		return all
	}
	b.press(fyne.KeyL)
	require.Equal(t, []string{"straight-finger-hold", "whole-hand-grip", "hook-fist"}, names())
	b.press(fyne.KeyE, fyne.KeyDown, fyne.KeyDelete)
	require.Equal(t, []string{"whole-hand-grip", "hook-fist"}, names())
	b.press(fyne.KeyDelete, fyne.KeyDelete)
	require.Empty(t, names())
	require.Contains(t, b.router.Screen().(*exercises).status.Text(), "at least one exercise")
}

// foreign is a screen of another package.
type foreign struct {
	v                             Visit
	left, covered, unsaved, asked bool
}

func (s *foreign) Covered(yes bool) { s.covered = yes }
func (s *foreign) Unsaved() bool    { return s.unsaved }
func (s *foreign) Ask(func())       { s.asked = true }

func (s *foreign) Content() fyne.CanvasObject { return parts.Column(0, parts.Heading(s.v.Client.Code)) }
func (s *foreign) First() fyne.Focusable      { return nil }
func (s *foreign) Key(fyne.KeyName)           { s.v.Back() }
func (s *foreign) Leave()                     { s.left = true }
func (s *foreign) Title() string              { return "Of another" }

// Screens of other packages are offered only where they are given, get what
// they need, and lead back.
func TestScreensOfOthers(t *testing.T) {
	b := atClients(t, benchOptions{with: func(o *Options) {
		o.Measure = func(v Visit) parts.Screen { return &foreign{v: v} }
		o.Queue = o.Measure
	}})
	b.control(fyne.Key1)
	b.reach("Of another")
	b.press(fyne.KeyEscape)
	b.reach("Clients")
	b.control(fyne.Key2)
	require.Equal(t, "Clients", b.title(), "nothing is sent where nothing can be")
	b.client("K-104")
	b.press(fyne.KeyB)
	require.Equal(t, "K-104", b.title())
	b.press(fyne.KeyM)
	b.reach("Of another")
	s := b.router.Screen().(*foreign)
	require.Equal(t, "K-104", s.v.Client.Code)
	require.Same(t, b.store, s.v.Store)
	b.lock()
	require.False(t, s.left, "a lock leaves what is below")
	require.True(t, s.covered, "but it is told, for its camera")
	s.unsaved = true
	b.Quit()
	require.Contains(t, b.covering.row.Told(), "not saved")
	require.False(t, b.left)
	s.unsaved = false
	b.typed(phrase)
	b.press(fyne.KeyReturn)
	b.reach("Of another")
	require.False(t, s.covered)
	s.unsaved = true
	b.Quit()
	require.True(t, s.asked, "closing the window asks too")
	require.False(t, b.left)
	s.v.Edit("K-104", "hook-fist", hand.Left)
	require.True(t, s.left)
	require.Equal(t, 2, b.router.Screen().(*exercises).table.At())
	b.control(fyne.Key2)
	require.Equal(t, "Left hand, index PIP, in all exercises", b.router.Screen().(*limits).name.Text(), "the hand that was asked for")
	b.press(fyne.KeyEscape)
	b.reach("K-104")
}
