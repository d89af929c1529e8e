package main

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/clinicstore"
	"volar/internal/hand"
	"volar/internal/program"
)

const clinicPhrase = "five words of our own making"

// types types text as a keyboard does.
func (r *running) types(text string) {
	r.d.t.Helper()
	_, err := r.xdotool("type", "--delay", "20", text)
	require.NoError(r.d.t, err, "xdotool is installed by ./scripts/setup")
}

// A therapist's first hour by keyboard alone in a real window: a passphrase, a
// client, a program with a limit that changes on a day and is another for the
// other hand; then the lock, a second window, and closing with a backup.
func TestClinicByKeyboard(t *testing.T) {
	d := newDesktop(t, "+extension", "GLX")
	store := filepath.Join(t.TempDir(), "clinic")
	v := d.start("clinic", "--store", store)
	v.reach("Make a passphrase")
	v.types(clinicPhrase)
	v.press("Return")
	v.types(clinicPhrase)
	v.press("Return")
	v.reach("Clients")
	v.press("ctrl+n")
	v.reach("New client")
	v.types("K-104")
	v.press("ctrl+s")
	v.reach("K-104")
	v.press("n")
	v.reach("Take exercises from the catalogue")
	v.types("hook")
	v.press("Return", "Escape")
	v.reach("K-104, version 1: Exercises")
	v.press("ctrl+2")
	v.reach("K-104, version 1: Limits")
	v.press("Return")
	v.types("30")
	v.press("Return", "Return", "ctrl+a")
	v.types("20")
	v.press("shift+Tab")
	v.types("2030-12-08")
	v.press("Return")
	// The same for the other hand, and there another angle until that day.
	v.press("m", "h", "Return", "ctrl+a")
	v.types("15")
	v.press("Return", "ctrl+5")
	v.reach("K-104, version 1: Preview")
	v.press("ctrl+s")
	v.reach("K-104")
	v.press("ctrl+l")
	v.reach("Locked")

	// A second window on the same store says so, and reads only.
	other := d.start("clinic", "--store", store)
	other.reach("Open the clinic's store")
	other.press("ctrl+q")
	other.ends()

	v.types("not this one")
	v.press("Return")
	v.types(clinicPhrase)
	v.press("Return")
	v.reach("K-104")
	v.press("ctrl+q")
	v.ends()

	s, err := clinicstore.Open(t.Context(), store, clinicPhrase, clinicstore.Options{})
	require.NoError(t, err)
	defer s.Close()
	p, err := s.Program(t.Context(), "K-104", 0)
	require.NoError(t, err)
	require.Equal(t, "hook-fist", p.Exercises[0].Movement)
	then := program.Step{From: program.Date{Year: 2030, Month: 12, Day: 8}, Lower: program.Deg(20)}
	require.Equal(t, []program.Limit{
		{Joints: program.Joints(hand.IndexPIP.String()), Schedule: []program.Step{{Lower: program.Deg(30)}, then}},
		{Joints: program.Joints(hand.IndexPIP.String()), Side: program.Side(hand.Left), Schedule: []program.Step{{Lower: program.Deg(15)}, then}},
	}, p.Limits)
	last, err := s.LastBackup(t.Context())
	require.NoError(t, err)
	require.False(t, last.IsZero(), "closing made a backup")
}
