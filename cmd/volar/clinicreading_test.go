package main

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/clinicstore"
	"volar/internal/coach"
	"volar/internal/demonstration"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/review"
	"volar/internal/review/reviewtest"
	"volar/internal/vault"
)

// text types a text as a keyboard does.
func (r *running) text(s string) {
	r.d.t.Helper()
	_, err := r.xdotool("type", "--delay", "20", s)
	require.NoError(r.d.t, err)
}

// quit ends the program as its window is closed.
func (r *running) quit() {
	r.d.t.Helper()
	require.NoError(r.d.t, r.cmd.Process.Signal(os.Interrupt))
}

// shoot keeps what the display shows.
func (r *running) shoot(path string) {
	r.d.t.Helper()
	c := exec.Command("import", "-window", "root", path)
	c.Env = r.d.env
	require.NoError(r.d.t, c.Run())
}

// A therapist opens the store, finds the session that needs eyes, looks at the
// flagged moment, says that the flag was right, writes a note and marks the
// session as read: in a real window, by keys alone.
func TestReadASessionInAWindow(t *testing.T) {
	ctx := context.Background()
	dir := filepath.Join(t.TempDir(), "clinic")
	const phrase = "correct horse battery"
	o := clinicstore.Options{KDF: vault.KDF{Time: 1, MemoryKiB: 64, Threads: 1}}
	store, err := clinicstore.Create(ctx, dir, phrase, o)
	require.NoError(t, err)
	require.NoError(t, store.PutClient(ctx, clinicstore.Client{Code: "K-104", Hands: "right", Created: time.Now()}))
	p, _, err := program.New(program.Options{Client: "K-104", Side: program.Side(hand.Right), Dominant: program.Side(hand.Right),
		Exercises: []string{"straight-finger-hold"}, Now: time.Now().AddDate(0, 0, -3), Zone: "UTC", Precautions: []program.Precaution{{Kind: program.LaxJoints}}}, program.Source{})
	require.NoError(t, err)
	require.NoError(t, store.PutProgram(ctx, p))
	straight := 0.0
	s, err := reviewtest.Make(reviewtest.Options{
		Client: "K-104", Program: "K-104", Version: 1, Side: hand.Right, Started: time.Now().Add(-time.Hour), Seed: 5,
		Exercises: []reviewtest.Exercise{{
			Movement: "straight-finger-hold", Item: "straight-finger-hold", Repetitions: 2, Hold: 3 * time.Second, PainBefore: 1, PainAfter: 1,
			Limits: coach.Limits{hand.IndexPIP: {Lower: &straight}},
			Faults: []demonstration.Fault{{Kind: demonstration.PastStraight, Repetition: 1, Joints: []hand.Joint{hand.IndexPIP}, Deg: 18}},
		}},
	})
	require.NoError(t, err)
	require.NoError(t, store.PutSession(ctx, s))
	require.NoError(t, store.Close())

	d := newDesktop(t)
	r := d.start("clinic", "--store", dir)
	r.reach("Open the clinic's store")
	r.text(phrase)
	r.press("Return")
	r.reach("Clients")
	r.press("ctrl+1")
	r.reach("Sessions of all clients")
	r.press("Return")
	r.reach("Session of K-104")
	r.press("n")
	r.reach("Replay of K-104")
	r.press("1", "shift+Right", "Left", "v", "space", "space", "n")
	if path := os.Getenv("VOLAR_SCREEN"); path != "" {
		time.Sleep(time.Second)
		r.shoot(path)
	}
	r.press("t")
	r.reach("Note on K-104")
	r.press("Tab", "Tab")
	r.text("as before")
	r.press("ctrl+s")
	r.reach("Replay of K-104")
	r.press("r")
	r.press("Escape")
	r.reach("Session of K-104")
	r.press("w")
	r.reach("Weeks of K-104")
	r.press("Escape")
	r.reach("Session of K-104")
	r.press("Escape")
	r.reach("Sessions of all clients")
	r.press("Escape")
	r.reach("Clients")
	r.quit()
	r.ends()

	store, err = clinicstore.Open(ctx, dir, phrase, o)
	require.NoError(t, err)
	defer store.Close()
	said, err := store.Reviews(ctx, s.ID)
	require.NoError(t, err)
	var marks []review.Mark
	var notes []string
	read := false
	for _, x := range said {
		marks = append(marks, x.Marks...)
		read = read || x.Read
		if x.Note.Assessment != "" {
			notes = append(notes, x.Note.Assessment)
		}
	}
	require.Equal(t, []review.Mark{{Flag: 1, Judgement: review.Right}}, marks)
	require.Equal(t, []string{"as before"}, notes)
	require.True(t, read)
}
