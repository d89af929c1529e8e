package clinicstore

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/review"
	"volar/internal/score"
	"volar/internal/session"
	"volar/internal/vault"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

const phrase = "five words of our own making"

var now = time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC)

// quick are costs of a passphrase that tests can pay.
var quick = Options{KDF: vault.KDF{Time: 1, MemoryKiB: 8, Threads: 1}, Clock: func() time.Time { return now }}

func made(t *testing.T) (*Store, string) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "clinic")
	s, err := Create(t.Context(), dir, phrase, quick)
	require.NoError(t, err)
	t.Cleanup(func() { s.Close() })
	return s, dir
}

func k104() Client {
	return Client{
		Code: "K-104", Hands: "right", NextReview: program.Date{Year: 2026, Month: 12, Day: 10}, PicturesClient: true,
		Precautions: []program.Precaution{{Kind: program.LaxJoints, Words: "index finger"}},
	}
}

func prescribed(t *testing.T, version int, ids ...string) *program.Program {
	t.Helper()
	p, _, err := program.New(program.Options{Client: "K-104", Side: program.Side(hand.Right), Exercises: ids, Now: now.AddDate(0, 0, version-9), Zone: "UTC"}, program.Source{})
	require.NoError(t, err)
	p.Version = version
	return p
}

func TestAPassphraseOpensTheStoreAndNothingElseDoes(t *testing.T) {
	s, dir := made(t)
	require.NoError(t, s.Unlocks(t.Context(), phrase))
	require.ErrorIs(t, s.Unlocks(t.Context(), phrase+" "), vault.ErrWrongKey)
	_, err := Open(t.Context(), dir, phrase, quick)
	require.ErrorIs(t, err, vault.ErrLocked)
	require.Contains(t, Words(err), "Another volar")
	beside := quick
	beside.ReadOnly = true
	r, err := Open(t.Context(), dir, phrase, beside)
	require.NoError(t, err)
	require.True(t, r.ReadOnly())
	require.Error(t, r.PutClient(t.Context(), k104()), "beside another it only reads")
	require.NoError(t, r.Close())

	const next = "another phrase of five words"
	require.ErrorIs(t, s.ChangePassphrase(t.Context(), "wrong", next), vault.ErrWrongKey)
	require.NoError(t, s.ChangePassphrase(t.Context(), phrase, next))
	require.NoError(t, s.Close())
	_, err = Open(t.Context(), dir, phrase, quick)
	require.ErrorIs(t, err, vault.ErrWrongKey)
	require.Contains(t, Words(err), "does not open")
	s, err = Open(t.Context(), dir, next, quick)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	require.True(t, Exists(dir))
}

func TestANewPassphraseIsLongAndTheSameTwice(t *testing.T) {
	require.ErrorContains(t, CheckPassphrase("short", "short"), "5 characters")
	require.ErrorContains(t, CheckPassphrase("fünfzehn Zeich", "fünfzehn Zeich"), "14 characters", "characters count, not bytes")
	require.ErrorContains(t, CheckPassphrase(phrase, phrase+"s"), "differ")
	require.NoError(t, CheckPassphrase(phrase, phrase))
	_, err := Create(t.Context(), t.TempDir(), "short", quick)
	require.Error(t, err)
}

func TestADamagedStoreOffersItsBackup(t *testing.T) {
	s, dir := made(t)
	require.NoError(t, s.PutClient(t.Context(), k104()))
	_, err := s.Backup(t.Context(), nil)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	db, err := filepath.Glob(filepath.Join(dir, "store-*.db"))
	require.NoError(t, err)
	require.Len(t, db, 1)
	require.NoError(t, os.WriteFile(db[0], make([]byte, 8192), 0o600))
	_, err = Open(t.Context(), dir, phrase, quick)
	var damaged *vault.DamagedError
	require.ErrorAs(t, err, &damaged)
	require.Contains(t, Words(err), "can be restored")
	require.NoError(t, vault.Restore(t.Context(), dir, damaged.Backups[0].Dir, vault.Options{Secret: vault.Passphrase(phrase)}))
	s, err = Open(t.Context(), dir, phrase, quick)
	require.NoError(t, err)
	defer s.Close()
	got, err := s.Client(t.Context(), "K-104")
	require.NoError(t, err)
	require.Equal(t, k104().Precautions, got.Precautions)
}

func TestAClientIsKeptWhole(t *testing.T) {
	s, _ := made(t)
	want := k104()
	require.NoError(t, s.PutClient(t.Context(), want))
	got, err := s.Client(t.Context(), want.Code)
	require.NoError(t, err)
	require.False(t, got.Created.IsZero())
	got.Created = time.Time{}
	require.Equal(t, want, got)
	want.Hands, want.Precautions, want.KeepUntil = Both, nil, program.Date{Year: 2027, Month: 1, Day: 1}
	require.NoError(t, s.PutClient(t.Context(), want))
	all, err := s.Clients(t.Context())
	require.NoError(t, err)
	require.Len(t, all, 1)
	require.Equal(t, Both, all[0].Hands)
	require.Empty(t, all[0].Precautions)
	has, err := s.HasClient(t.Context(), "K-105")
	require.NoError(t, err)
	require.False(t, has)
	require.NoError(t, s.DeleteClient(t.Context(), want.Code))
	_, err = s.Client(t.Context(), want.Code)
	require.ErrorIs(t, err, fs.ErrNotExist)
}

func TestWhatIsWrongWithAClientIsToldByField(t *testing.T) {
	today := program.DateOf(now, time.UTC)
	bad := Client{Code: "Two Words", Hands: "third", KeepUntil: today.AddDays(-1), Precautions: []program.Precaution{{Kind: "none"}}}
	fields := FieldErrors(bad.Check(today))
	for _, f := range []string{"Code", "Hands", "KeepUntil", "Precautions"} {
		require.NotEmpty(t, fields[f], f)
	}
	require.Len(t, fields, 4)
	require.NoError(t, k104().Check(today))
	require.Empty(t, FieldErrors(nil))
	s, _ := made(t)
	require.Error(t, s.PutClient(t.Context(), bad))
}

func TestOpeningRemovesWhatIsPastItsLastDay(t *testing.T) {
	s, dir := made(t)
	c := k104()
	c.KeepUntil = s.Today()
	require.NoError(t, s.PutClient(t.Context(), c))
	require.NoError(t, s.Close())
	s, err := Open(t.Context(), dir, phrase, quick)
	require.NoError(t, err)
	require.Empty(t, s.Purged(), "on the last day it is still there")
	require.NoError(t, s.Close())
	later := quick
	later.Clock = func() time.Time { return now.AddDate(0, 0, 1) }
	s, err = Open(t.Context(), dir, phrase, later)
	require.NoError(t, err)
	defer s.Close()
	require.Equal(t, []string{"K-104"}, s.Purged())
}

func TestProgramsByVersionAndDay(t *testing.T) {
	s, _ := made(t)
	require.ErrorIs(t, s.PutProgram(t.Context(), prescribed(t, 1, "hook-fist")), fs.ErrNotExist, "no such client")
	require.NoError(t, s.PutClient(t.Context(), k104()))
	h, err := s.History(t.Context(), "K-104")
	require.NoError(t, err)
	require.Nil(t, h)
	_, ok, err := s.InForce(t.Context(), "K-104", now)
	require.NoError(t, err)
	require.False(t, ok)
	one, two := prescribed(t, 1, "whole-hand-grip"), prescribed(t, 2, "whole-hand-grip", "hook-fist")
	require.NoError(t, s.PutProgram(t.Context(), one))
	require.NoError(t, s.PutProgram(t.Context(), two))
	require.NoError(t, s.PutProgram(t.Context(), two), "the same again is no error")
	require.ErrorContains(t, s.PutProgram(t.Context(), prescribed(t, 2, "full-fist")), "already there")
	all, err := s.Programs(t.Context(), "K-104")
	require.NoError(t, err)
	require.Equal(t, []int{2, 1}, []int{all[0].Version, all[1].Version})
	require.Equal(t, two.Format(), all[0].Format())
	r, ok, err := s.InForce(t.Context(), "K-104", now)
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, 2, r.Program.Version)
	r, ok, err = s.InForce(t.Context(), "K-104", now.AddDate(0, 0, -8))
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, 1, r.Program.Version, "the first held before the second")
	c, err := s.Client(t.Context(), "K-104")
	require.NoError(t, err)
	require.Equal(t, two.NextReview, c.NextReview)
}

func TestRecordedHandsOfBothSides(t *testing.T) {
	s, _ := made(t)
	require.NoError(t, s.PutClient(t.Context(), k104()))
	b := func(side string, days int) *goniometry.Baseline {
		return &goniometry.Baseline{Version: goniometry.BaselineVersion, Side: side, CapturedAt: now.AddDate(0, 0, days), Estimator: "test", Views: []goniometry.BaselineView{{
			Pose: goniometry.StraightHand, Pictures: 30, Joints: map[string]goniometry.BaselineJoint{"index.pip": {ReadDeg: 4, SEDeg: 5}},
		}}}
	}
	for _, x := range []*goniometry.Baseline{b("right", -3), b("left", -2), b("right", -1)} {
		require.NoError(t, s.PutBaseline(t.Context(), "K-104", x))
	}
	require.Error(t, s.PutBaseline(t.Context(), "K-104", &goniometry.Baseline{}))
	all, err := s.Baselines(t.Context(), "K-104")
	require.NoError(t, err)
	require.Len(t, all, 3)
	got, err := s.Baseline(t.Context(), "K-104", hand.Right)
	require.NoError(t, err)
	require.Equal(t, b("right", -1), got)
	require.NoError(t, s.PutClient(t.Context(), Client{Code: "K-105", Hands: "left"}))
	got, err = s.Baseline(t.Context(), "K-105", hand.Left)
	require.NoError(t, err)
	require.Nil(t, got)
}

func TestSessionsThatCameFromElsewhere(t *testing.T) {
	s, _ := made(t)
	require.NoError(t, s.PutClient(t.Context(), k104()))
	in := &session.Session{Header: session.Header{ID: session.NewID(now), Client: "K-104", Started: now, Zone: "UTC"}, State: session.Closed, Ended: time.Minute}
	require.NoError(t, s.PutSession(t.Context(), in))
	require.NoError(t, s.PutSession(t.Context(), in))
	list, err := s.Sessions(t.Context(), vault.Filter{Client: "K-104"})
	require.NoError(t, err)
	require.Len(t, list, 1)
	n, err := s.CountSessions(t.Context(), vault.Filter{})
	require.NoError(t, err)
	require.Equal(t, 1, n)
	got, err := s.Session(t.Context(), in.ID)
	require.NoError(t, err)
	require.Equal(t, in.Started, got.Started.UTC())
	require.NoError(t, s.DeleteClient(t.Context(), "K-104"))
	_, err = s.Session(t.Context(), in.ID)
	require.ErrorIs(t, err, fs.ErrNotExist)
}

func TestSettingsHaveDefaultsAndBounds(t *testing.T) {
	s, _ := made(t)
	got, err := s.Settings(t.Context())
	require.NoError(t, err)
	require.Equal(t, Settings{LockMinutes: 10, Backup: BackupDaily, KeepBackups: 14, Angles: score.NeutralZero}, got)
	require.Equal(t, 10*time.Minute, Settings{}.LockAfter())
	got.LockMinutes, got.Angles, got.KeepYears = 5, score.PlusMinus, 8
	require.NoError(t, s.PutSettings(t.Context(), got))
	back, err := s.Settings(t.Context())
	require.NoError(t, err)
	require.Equal(t, got, back)
	for _, bad := range []Settings{{LockMinutes: 500}, {LockMinutes: -1}, {Backup: "hourly"}, {BackupFolder: "there"}, {KeepBackups: -1}, {Angles: "roman"}, {KeepYears: -1}} {
		require.Error(t, s.PutSettings(t.Context(), bad), bad)
	}
}

func TestABackupIsDueOnceADay(t *testing.T) {
	s, dir := made(t)
	at := now
	s.opt.Clock = func() time.Time { return at }
	due := func() bool {
		ok, err := s.BackupDue(t.Context())
		require.NoError(t, err)
		return ok
	}
	require.True(t, due(), "none yet")
	info, err := s.Backup(t.Context(), nil)
	require.NoError(t, err)
	require.Equal(t, filepath.Join(dir, "backups"), filepath.Dir(info.Dir))
	require.False(t, due())
	at = now.Add(23*time.Hour + 30*time.Minute)
	require.True(t, due())
	at = now.Add(-time.Hour)
	require.True(t, due(), "the clock was set back")
	require.NoError(t, s.PutSettings(t.Context(), Settings{Backup: BackupWeekly}))
	at = now.Add(48 * time.Hour)
	require.False(t, due())
	at = now.AddDate(0, 0, 7)
	require.True(t, due())
	require.NoError(t, s.PutSettings(t.Context(), Settings{Backup: BackupNever}))
	require.False(t, due())
}

func TestOnlyTheNewestBackupsStayInTheStore(t *testing.T) {
	s, dir := made(t)
	require.NoError(t, s.PutSettings(t.Context(), Settings{KeepBackups: 1}))
	first, err := s.Backup(t.Context(), nil)
	require.NoError(t, err)
	// As if it had been made a day ago: names are to the second.
	old := filepath.Join(filepath.Dir(first.Dir), first.Made.AddDate(0, 0, -1).Format("volar-20060102-150405"))
	require.NoError(t, os.Rename(first.Dir, old))
	second, err := s.Backup(t.Context(), nil)
	require.NoError(t, err)
	all, err := vault.Backups(filepath.Join(dir, "backups"))
	require.NoError(t, err)
	require.Equal(t, []vault.BackupInfo{second}, all)

	// Elsewhere nothing is removed.
	own := t.TempDir()
	require.NoError(t, s.PutSettings(t.Context(), Settings{KeepBackups: 1, BackupFolder: own}))
	other := filepath.Join(own, filepath.Base(old))
	require.NoError(t, os.CopyFS(other, os.DirFS(second.Dir)))
	_, err = s.Backup(t.Context(), nil)
	require.NoError(t, err)
	all, err = vault.Backups(own)
	require.NoError(t, err)
	require.Len(t, all, 2)
}

func TestReviewsOfSeveralStandSideBySide(t *testing.T) {
	s, _ := made(t)
	require.NoError(t, s.PutClient(t.Context(), k104()))
	in := &session.Session{Header: session.Header{ID: session.NewID(now), Client: "K-104", Started: now, Zone: "UTC"}, State: session.Closed, Ended: time.Minute}
	require.NoError(t, s.PutSession(t.Context(), in))
	for _, who := range []string{"one", "two"} {
		require.NoError(t, s.PutReview(t.Context(), review.Review{Format: 1, Session: in.ID, Client: "K-104", By: who, Read: true, At: now}))
	}
	all, err := s.Reviews(t.Context(), in.ID)
	require.NoError(t, err)
	require.Len(t, all, 2)
}

func TestWordsOfOtherErrorsAreTheirOwn(t *testing.T) {
	require.Equal(t, "the disk is full", Words(errors.New("the disk is full")))
	require.Contains(t, Words(&vault.DamagedError{Problem: "a page cannot be read"}), "No backup")
}
