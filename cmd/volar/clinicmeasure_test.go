package main

import (
	"image"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/camera"
	"volar/internal/clinicstore"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/vault"
)

// posesClip shows a right hand straight, as a fist, and from the thumb side
// with an index finger that gives way, three seconds each.
func posesClip(t *testing.T) string {
	t.Helper()
	mesh, err := handrender.Default()
	require.NoError(t, err)
	r := handrender.NewRenderer(mesh, handrender.Options{})
	lax := handrender.Straight()
	lax.Fingers[0].PIP = -18
	path := filepath.Join(t.TempDir(), "poses.avi")
	const fps = 15
	w, err := camera.NewVideoWriter(path, 480, 360, fps)
	require.NoError(t, err)
	defer w.Abort()
	for _, s := range []handrender.Scene{
		{Pose: handrender.Straight()}, {Pose: handrender.FullFist()}, {Pose: lax, View: handrender.View{Yaw: 85, Pitch: 4}},
	} {
		s.Camera = handrender.Camera{Distance: 0.38, OffsetY: 0.05}
		img := image.NewRGBA(image.Rect(0, 0, 480, 360))
		r.Render(img, s)
		for range 3 * fps {
			require.NoError(t, w.Write(img))
		}
	}
	require.NoError(t, w.Close())
	return path
}

// A therapist records a client's hand and then measures it, by keyboard alone
// in a real window; both are in the store.
func TestClinicMeasuresByKeyboard(t *testing.T) {
	clip := posesClip(t)
	dir := filepath.Join(t.TempDir(), "clinic")
	o := clinicstore.Options{KDF: vault.KDF{Time: 1, MemoryKiB: 64, Threads: 1}}
	s, err := clinicstore.Create(t.Context(), dir, clinicPhrase, o)
	require.NoError(t, err)
	require.NoError(t, s.PutClient(t.Context(), clinicstore.Client{Code: "K-104", Hands: "right"}))
	require.NoError(t, s.Close())

	d := newDesktop(t, "+extension", "GLX")
	v := d.start("clinic", "--store", dir, "--camera", "file:"+clip)
	v.reach("Open the clinic's store")
	v.types(clinicPhrase)
	v.press("Return")
	v.reach("Clients")
	v.press("Return")
	v.reach("K-104")
	v.press("b")
	v.reach("Baseline of K-104, right hand")
	v.reach("Joint table of K-104, right hand")
	v.press("space")
	v.reach("The baseline is saved")
	v.press("Escape")
	v.reach("K-104")
	v.press("m")
	v.reach("Measure now: K-104, right hand")
	// Until a hand is seen there is nothing to keep.
	late := time.Now().Add(time.Minute)
	for measurements(t, dir, o) == 0 {
		require.True(t, time.Now().Before(late), v.said())
		v.press("s")
		time.Sleep(500 * time.Millisecond)
	}
	v.press("Escape")
	v.reach("K-104")
	v.press("ctrl+q")
	v.ends()

	s, err = clinicstore.Open(t.Context(), dir, clinicPhrase, o)
	require.NoError(t, err)
	defer s.Close()
	b, err := s.Baseline(t.Context(), "K-104", hand.Right)
	require.NoError(t, err)
	require.Len(t, b.Views, 3)
	require.Equal(t, goniometry.FullFist, b.Views[1].Pose)
	require.InDelta(t, -18, b.Views[2].Joints["index.pip"].ReadDeg, 3*b.Views[2].Joints["index.pip"].SEDeg)
	ms, err := s.Measurements(t.Context(), "K-104")
	require.NoError(t, err)
	require.Len(t, ms, 1, "what is frozen is kept once")
	require.Equal(t, b.CapturedAt, *ms[0].BaselineAt, "it was read by the client's own hand")
}

// measurements counts what is kept, beside the window that writes.
func measurements(t *testing.T, dir string, o clinicstore.Options) int {
	t.Helper()
	o.ReadOnly = true
	s, err := clinicstore.Open(t.Context(), dir, clinicPhrase, o)
	require.NoError(t, err)
	defer s.Close()
	ms, err := s.Measurements(t.Context(), "K-104")
	require.NoError(t, err)
	return len(ms)
}
