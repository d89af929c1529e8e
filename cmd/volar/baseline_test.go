package main

import (
	"bytes"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/clinicstore"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/homestore"
	"volar/internal/program"
	"volar/internal/vault"
)

// poses are pictures of a hand: straight, as a fist, straight from the side.
func poses(t *testing.T) []string {
	t.Helper()
	mesh, err := handrender.Default()
	require.NoError(t, err)
	r := handrender.NewRenderer(mesh, handrender.Options{})
	dir := t.TempDir()
	var names []string
	for name, s := range map[string]handrender.Scene{
		"1.png": {Pose: handrender.Straight()}, "2.png": {Pose: handrender.FullFist()},
		"3.png": {Pose: handrender.Straight(), View: handrender.View{Yaw: 85, Pitch: 4}},
	} {
		s.Camera = handrender.Camera{Distance: 0.38, OffsetY: 0.05}
		img := image.NewRGBA(image.Rect(0, 0, 480, 360))
		r.Render(img, s)
		var b bytes.Buffer
		require.NoError(t, png.Encode(&b, img))
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), b.Bytes(), 0o600))
	}
	for _, n := range []string{"1.png", "2.png", "3.png"} {
		names = append(names, filepath.Join(dir, n))
	}
	return names
}

func TestABaselineIsKeptForItsClient(t *testing.T) {
	pictures := poses(t)
	const phrase = "five words of our own making"
	t.Setenv("DBUS_SESSION_BUS_ADDRESS", "unix:path="+filepath.Join(t.TempDir(), "nobody"))
	run := func(want int, args ...string) string {
		var out, errs bytes.Buffer
		m := Main{Args: append(append([]string{"baseline", "--side", "right"}, args...), pictures...), Stdout: &out, Stderr: &errs}
		require.Equal(t, want, m.Run(t.Context()), errs.String())
		return errs.String()
	}

	dir := filepath.Join(t.TempDir(), "clinic")
	o := clinicstore.Options{KDF: vault.KDF{Time: 1, MemoryKiB: 64, Threads: 1}}
	s, err := clinicstore.Create(t.Context(), dir, phrase, o)
	require.NoError(t, err)
	require.NoError(t, s.PutClient(t.Context(), clinicstore.Client{Code: "K-104", Hands: "right"}))
	require.NoError(t, s.Close())
	t.Setenv(passphraseEnv, phrase)
	run(exitOK, "--store", dir, "--client", "K-104")
	require.Contains(t, run(exitUnreadable, "--store", dir, "--client", "K-105"), "K-105")
	s, err = clinicstore.Open(t.Context(), dir, phrase, o)
	require.NoError(t, err)
	defer s.Close()
	b, err := s.Baseline(t.Context(), "K-104", hand.Right)
	require.NoError(t, err)
	require.Len(t, b.Views, 3)
	require.NotEmpty(t, b.Estimator, "it says what read it")
	require.WithinDuration(t, time.Now(), b.CapturedAt, time.Minute)

	home := filepath.Join(t.TempDir(), "home")
	h, err := homestore.Open(t.Context(), home, homestore.Options{})
	require.NoError(t, err)
	p, _, err := program.New(program.Options{Client: "K-104", Side: program.Side(hand.Right), Exercises: []string{"whole-hand-grip"}, Now: time.Now(), Zone: "UTC"}, program.Source{})
	require.NoError(t, err)
	require.NoError(t, h.TakeProgram(t.Context(), p))
	require.NoError(t, h.Close())
	require.Contains(t, run(exitUnreadable, "--store", home, "--client", "K-105"), "not that of K-105")
	run(exitOK, "--store", home, "--client", "K-104")
	h, err = homestore.Open(t.Context(), home, homestore.Options{Estimator: b.Estimator})
	require.NoError(t, err)
	defer h.Close()
	own, err := h.Own(hand.Right)
	require.NoError(t, err)
	require.NotNil(t, own.Goniometry.Baseline)
	require.NotEmpty(t, own.Ranges)
}
