package homestore

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"volar/internal/coach"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/session"
	"volar/internal/vault"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var now = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)

// phrase opens the test's stores, so that no test touches the system's keyring.
var phrase = vault.Passphrase("a phrase of our own making")

func open(t *testing.T, dir string) *Store {
	t.Helper()
	s, err := Open(t.Context(), dir, Options{Secret: phrase, Software: "test", Clock: func() time.Time { return now }})
	require.NoError(t, err)
	return s
}

func made(t *testing.T, version int, ids ...string) *program.Program {
	t.Helper()
	p, _, err := program.New(program.Options{Client: "C-017", Side: program.Side(hand.Right), Dominant: program.Side(hand.Right), Exercises: ids, Now: now.AddDate(0, 0, version-9), Zone: "UTC"}, program.Source{})
	require.NoError(t, err)
	p.Version = version
	return p
}

func TestAProgramIsTakenInAndResolved(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "home")
	s := open(t, dir)
	_, ok, err := s.Program(now)
	require.NoError(t, err)
	require.False(t, ok, "none yet")
	require.NoError(t, s.TakeProgram(t.Context(), made(t, 1, "whole-hand-grip")))
	require.NoError(t, s.TakeProgram(t.Context(), made(t, 2, "whole-hand-grip", "hook-fist")))
	require.NoError(t, s.TakeProgram(t.Context(), made(t, 2, "whole-hand-grip", "hook-fist")), "the same again is no error")
	require.ErrorContains(t, s.TakeProgram(t.Context(), made(t, 2, "hook-fist")), "already there")
	require.NoError(t, s.Close())

	s = open(t, dir)
	defer s.Close()
	r, ok, err := s.Program(now)
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, 2, r.Program.Version)
	require.Len(t, r.Exercises, 2)
	code, err := s.Client(t.Context())
	require.NoError(t, err)
	require.Equal(t, "C-017", code)
	// Before the second version's first day the first one held.
	r, ok, err = s.Program(now.AddDate(0, 0, -8))
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, 1, r.Program.Version)
}

func TestAProgramWithAMovementFileIsWhole(t *testing.T) {
	p := made(t, 1, "whole-hand-grip")
	body, err := Pack(p)
	require.NoError(t, err)
	require.Equal(t, p.Format(), body)
	p.Files = map[string][]byte{"own.yaml": []byte("x: 1\n")}
	body, err = Pack(p)
	require.NoError(t, err)
	require.Equal(t, byte('{'), body[0])
	got, err := Unpack(body)
	require.NoError(t, err)
	require.Equal(t, p.Client, got.Client)
	_, err = Unpack([]byte("{"))
	require.Error(t, err)
	_, err = Unpack([]byte("client: C-017\n"))
	require.Error(t, err)
}

func did(t *testing.T, s *Store, end func(*session.Recorder) error) session.ID {
	t.Helper()
	rec, err := s.Record("C-017", 1)
	require.NoError(t, err)
	n, err := rec.StartExercise(session.Exercise{Item: "whole-hand-grip", Movement: "whole-hand-grip", Side: hand.Right, Sets: 1, Repetitions: 2, Start: time.Second})
	require.NoError(t, err)
	require.NoError(t, rec.FinishExercise(n, 5*time.Second, func(e *session.Exercise) {
		e.Outcome, e.StopReason = session.Stopped, string(coach.SharpPain)
	}))
	require.NoError(t, end(rec))
	return rec.ID()
}

func TestWhatWasDoneIsThere(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "home"))
	defer s.Close()
	require.NoError(t, s.TakeProgram(t.Context(), made(t, 1, "whole-hand-grip")))
	did(t, s, (*session.Recorder).Close)
	past, err := s.Past(now.Add(-time.Hour))
	require.NoError(t, err)
	require.Len(t, past, 1)
	require.Equal(t, "whole-hand-grip", past[0].Item)
	require.Equal(t, coach.SharpPain, past[0].StopReason)
	require.WithinDuration(t, now.Add(time.Second), past[0].At, 10*time.Millisecond)
	past, err = s.Past(now.Add(time.Hour))
	require.NoError(t, err)
	require.Empty(t, past)
}

// A session that was cut short goes on as the same session while it is fresh;
// one that ended is left alone.
func TestASessionThatWasCutShortGoesOn(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "home"))
	defer s.Close()
	require.NoError(t, s.TakeProgram(t.Context(), made(t, 1, "whole-hand-grip")))
	whole := did(t, s, (*session.Recorder).Close)
	cut := did(t, s, (*session.Recorder).Interrupt)
	require.NotEqual(t, whole, cut)
	again := did(t, s, (*session.Recorder).Close)
	require.Equal(t, cut, again)
	x, err := s.v.Load(t.Context(), cut)
	require.NoError(t, err)
	require.Len(t, x.Exercises, 2)
	require.Len(t, x.Segments, 2)
	require.NotEqual(t, cut, did(t, s, (*session.Recorder).Close))
}

func TestConsentAndCleanSetsAreKept(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "home")
	s := open(t, dir)
	ok, err := s.Consented()
	require.NoError(t, err)
	require.False(t, ok)
	require.NoError(t, s.Consent(now))
	n, err := s.Clean("hook-fist")
	require.NoError(t, err)
	require.Zero(t, n)
	require.NoError(t, s.KeepClean("hook-fist", 3))
	require.NoError(t, s.Close())
	s = open(t, dir)
	defer s.Close()
	ok, err = s.Consented()
	require.NoError(t, err)
	require.True(t, ok)
	n, err = s.Clean("hook-fist")
	require.NoError(t, err)
	require.Equal(t, 3, n)
}

// The newest recorded hand of each side is used, and only its own side's.
func TestOwnHand(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "home"))
	defer s.Close()
	require.NoError(t, s.TakeProgram(t.Context(), made(t, 1, "whole-hand-grip")))
	own, err := s.Own(hand.Right)
	require.NoError(t, err)
	require.Nil(t, own.Ranges, "none yet")
	for i, fist := range []float64{80, 95} {
		view := func(pose goniometry.BaselinePose, deg float64) goniometry.BaselineView {
			return goniometry.BaselineView{Pose: pose, Pictures: 40, Joints: map[string]goniometry.BaselineJoint{"index.pip": {ReadDeg: deg, SEDeg: 5, ScatterDeg: 1}}}
		}
		require.NoError(t, s.TakeOwn(t.Context(), &goniometry.Baseline{
			Version: goniometry.BaselineVersion, Side: "right", CapturedAt: now.AddDate(0, 0, i), Estimator: "a",
			Views: []goniometry.BaselineView{view(goniometry.StraightHand, 4), view(goniometry.FullFist, fist)},
		}))
	}
	own, err = s.Own(hand.Right)
	require.NoError(t, err)
	require.InDelta(t, 95, own.Ranges[hand.IndexPIP].End, 1e-9)
	require.Len(t, own.Ranges, 1)
	require.NotNil(t, own.Goniometry.Baseline)
	own, err = s.Own(hand.Left)
	require.NoError(t, err)
	require.Nil(t, own.Ranges)
}

// Without a program what is tried is kept too.
func TestATrialIsKept(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "home"))
	defer s.Close()
	rec, err := s.Record("", 0)
	require.NoError(t, err)
	require.NoError(t, rec.Close())
}

func TestAStoreThatCannotBeOpenedIsToldInWords(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "home")
	s := open(t, dir)
	_, err := Open(t.Context(), dir, Options{Secret: phrase})
	require.ErrorIs(t, err, vault.ErrLocked)
	require.Contains(t, Words(err), "Another volar is open")
	require.NoError(t, s.Close())
	_, err = Open(t.Context(), dir, Options{Secret: vault.Passphrase("another")})
	require.ErrorIs(t, err, vault.ErrWrongKey)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "vault.key"), []byte("no key"), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "vault.key.copy"), []byte("no key"), 0o600))
	_, err = Open(t.Context(), dir, Options{Secret: phrase})
	require.ErrorIs(t, err, vault.ErrDamaged)
	require.Equal(t, "a plain sentence", Words(errors.New("a plain sentence")))
	damaged := fmt.Errorf("open: %w", &vault.DamagedError{Dir: dir, Problem: "a page", Backups: []vault.BackupInfo{{Made: now}}})
	require.Contains(t, Words(damaged), "backup of 25 November 2026")
}

func TestOpenIsCancelled(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	stop()
	_, err := Open(ctx, filepath.Join(t.TempDir(), "home"), Options{Secret: phrase})
	require.ErrorIs(t, err, context.Canceled)
}
