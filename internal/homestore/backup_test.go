package homestore

import (
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/session"
	"volar/internal/vault"
)

// shift opens a store whose clock is off from this computer's, which dates the
// backups.
func shift(t *testing.T, dir string, by *time.Duration) *Store {
	t.Helper()
	s, err := Open(t.Context(), dir, Options{Secret: phrase, Clock: func() time.Time { return time.Now().Add(*by) }})
	require.NoError(t, err)
	return s
}

// old makes what looks like a backup of some days ago.
func old(t *testing.T, dir string, days int) {
	t.Helper()
	have, err := vault.Backups(filepath.Join(dir, "backups"))
	require.NoError(t, err)
	name := time.Now().UTC().AddDate(0, 0, -days).Format("volar-20060102-150405")
	require.NoError(t, os.CopyFS(filepath.Join(dir, "backups", name), os.DirFS(have[0].Dir)))
}

func TestABackupIsMadeOnceADayAndFiveAreKept(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "home")
	var by time.Duration
	s := shift(t, dir, &by)
	count := func() int {
		have, err := vault.Backups(filepath.Join(dir, "backups"))
		require.NoError(t, err)
		return len(have)
	}
	require.NoError(t, s.BackUp(t.Context()))
	require.Zero(t, count(), "nothing to be lost yet")
	require.NoError(t, s.TakeProgram(t.Context(), made(t, 1, "whole-hand-grip")))
	require.NoError(t, s.BackUp(t.Context()))
	require.Equal(t, 1, count())
	by = 23 * time.Hour
	require.NoError(t, s.BackUp(t.Context()))
	require.Equal(t, 1, count(), "not yet a day")

	for i := range 6 {
		old(t, dir, 2+i)
	}
	spare, err := s.Spare()
	require.NoError(t, err)
	require.Positive(t, spare)
	first, err := vault.Backups(filepath.Join(dir, "backups"))
	require.NoError(t, err)
	by = 25 * time.Hour
	// A backup's name is its second.
	require.Eventually(t, func() bool { return time.Now().UTC().Truncate(time.Second).After(first[0].Made) }, 30*time.Second, 20*time.Millisecond)
	require.NoError(t, s.BackUp(t.Context()))
	require.Equal(t, backupsKept, count())
	require.NoError(t, s.Free())
	require.Equal(t, 1, count())
	spare, err = s.Spare()
	require.NoError(t, err)
	require.Zero(t, spare, "the newest is never spared")
	require.NoError(t, s.Close())

	// The copy is a whole store.
	have, err := vault.Backups(filepath.Join(dir, "backups"))
	require.NoError(t, err)
	v, err := vault.Open(t.Context(), have[0].Dir, vault.Options{Secret: phrase, ReadOnly: true})
	require.NoError(t, err)
	all, err := v.Clients(t.Context())
	require.NoError(t, err)
	require.Equal(t, "C-017", all[0].Code)
	require.NoError(t, v.Close())
}

// Deleted is deleted: no backup holds a client whose retention date has passed.
func TestBackupsForgetWhatIsPastItsRetentionDate(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "home")
	var by time.Duration
	s := shift(t, dir, &by)
	require.NoError(t, s.TakeProgram(t.Context(), made(t, 1, "whole-hand-grip")))
	c, err := s.v.Client(t.Context(), "C-017")
	require.NoError(t, err)
	c.RetainUntil = time.Now().AddDate(0, 0, 3).Format("2006-01-02")
	require.NoError(t, s.v.PutClient(t.Context(), c))
	require.NoError(t, s.BackUp(t.Context()))
	old(t, dir, 2)
	require.NoError(t, s.Close())

	by = 5 * 24 * time.Hour
	s = shift(t, dir, &by)
	all, err := s.v.Clients(t.Context())
	require.NoError(t, err)
	require.Empty(t, all)
	require.NoError(t, s.Close())
	have, err := vault.Backups(filepath.Join(dir, "backups"))
	require.NoError(t, err)
	for _, b := range have {
		v, err := vault.Open(t.Context(), b.Dir, vault.Options{Secret: phrase, ReadOnly: true})
		require.NoError(t, err)
		all, err := v.Clients(t.Context())
		require.NoError(t, err)
		require.Empty(t, all, b.Dir)
		require.NoError(t, v.Close())
	}
}

// The clock is set back by an hour and a day while a session runs: its own
// times go on, and what was done is still there, once.
func TestTheClockIsSetBackDuringASession(t *testing.T) {
	var by time.Duration
	s := shift(t, filepath.Join(t.TempDir(), "home"), &by)
	defer s.Close()
	require.NoError(t, s.TakeProgram(t.Context(), made(t, 1, "whole-hand-grip")))
	rec, err := s.Record("C-017", 1)
	require.NoError(t, err)
	n, err := rec.StartExercise(session.Exercise{Item: "whole-hand-grip", Movement: "whole-hand-grip", Sets: 1, Repetitions: 2, Start: time.Second})
	require.NoError(t, err)
	for _, back := range []time.Duration{-time.Hour, -24 * time.Hour} {
		by = back
		require.NoError(t, rec.Flush())
	}
	require.NoError(t, rec.FinishExercise(n, 9*time.Second, func(e *session.Exercise) { e.Outcome = session.Done }))
	require.NoError(t, rec.Close())
	x, err := s.v.Load(t.Context(), rec.ID())
	require.NoError(t, err)
	require.Equal(t, []time.Duration{time.Second, 9 * time.Second}, []time.Duration{x.Exercises[0].Start, x.Exercises[0].End})
	require.Equal(t, session.Closed, x.State)
	past, err := s.Past(time.Now().AddDate(0, 0, -8))
	require.NoError(t, err)
	require.Len(t, past, 1)
	require.NoError(t, s.BackUp(t.Context()))
	require.NotEqual(t, rec.ID(), did(t, s, (*session.Recorder).Close), "a new session is a new one")
}

func TestAFullDiskIsToldInWords(t *testing.T) {
	err := fmt.Errorf("save session x: %w", fmt.Errorf("%w: free some space and go on", syscall.ENOSPC))
	require.Equal(t, "The disk is full. Remove something else from this computer; the program then goes on keeping.", Words(err))
}
