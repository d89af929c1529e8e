package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/camera"
	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/live"
)

// outcome is what the engines have to agree on.
type outcome struct {
	Measured    float64
	Repetitions struct{ Counted, Partial int }
	Holds       []struct {
		Start float64 `json:"start_s"`
		Held  float64 `json:"held_s"`
		Met   bool
	}
	Flags []struct {
		Kind, Joint string
		Repetition  int
		Start       float64 `json:"start_s"`
		End         float64 `json:"end_s"`
		Peak        float64 `json:"peak_deg"`
	}
	Angles map[string]struct {
		Min float64 `json:"min_deg"`
		Max float64 `json:"max_deg"`
	}
}

func outcomeOf(t *testing.T, args ...string) outcome {
	t.Helper()
	var out, notes bytes.Buffer
	code := (&Main{Args: args, Stdout: &out, Stderr: &notes}).Run(t.Context())
	require.Equal(t, exitOK, code, "%s", notes.String())
	var o outcome
	require.NoError(t, json.Unmarshal(out.Bytes(), &o))
	return o
}

// The bundled clip with both engines: the same repetitions, holds and flags.
// The clip's truth is in demo/truth.json: three repetitions, one joint past
// straight.
func TestTheEnginesJudgeTheDemoAlike(t *testing.T) {
	want := outcomeOf(t, "demo", "--json", "--engine", "onnxruntime")
	got := outcomeOf(t, "demo", "--json", "--engine", "portable")
	done, err := demoShows()
	require.NoError(t, err)
	require.Equal(t, len(done.Performance.Repetitions), got.Repetitions.Counted)
	require.Len(t, got.Flags, 1)
	alike(t, want, got, 0.07, 1)
	for joint, a := range want.Angles {
		// The most and least of a range are single pictures.
		require.InDelta(t, a.Min, got.Angles[joint].Min, 2, joint)
		require.InDelta(t, a.Max, got.Angles[joint].Max, 2, joint)
	}
}

// alike compares outcomes; times may differ by some seconds, sizes by some
// degrees.
func alike(t *testing.T, want, got outcome, seconds, degrees float64) {
	t.Helper()
	require.InDelta(t, want.Measured, got.Measured, 0.02)
	require.Equal(t, want.Repetitions, got.Repetitions)
	require.Len(t, got.Holds, len(want.Holds))
	for i, h := range want.Holds {
		require.InDelta(t, h.Start, got.Holds[i].Start, seconds)
		require.InDelta(t, h.Held, got.Holds[i].Held, seconds)
		require.Equal(t, h.Met, got.Holds[i].Met)
	}
	require.Len(t, got.Flags, len(want.Flags))
	for i, f := range want.Flags {
		g := got.Flags[i]
		require.Equal(t, []any{f.Kind, f.Joint, f.Repetition}, []any{g.Kind, g.Joint, g.Repetition})
		require.InDelta(t, f.Start, g.Start, seconds)
		require.InDelta(t, f.End, g.End, seconds)
		require.InDelta(t, f.Peak, g.Peak, degrees)
	}
}

// A slow computer judges five pictures a second of the clip's fifteen. Times
// come from the pictures, so that repetitions, holds and the flag are those of
// the truth that the clip was made from.
func TestFewPicturesASecondAreJudgedRight(t *testing.T) {
	done, err := demoShows()
	require.NoError(t, err)
	movement, err := exercise.Find(done.Exercise)
	require.NoError(t, err)
	side, err := hand.ParseSide(done.Side)
	require.NoError(t, err)
	clip := filepath.Join(t.TempDir(), "clip.avi")
	require.NoError(t, os.WriteFile(clip, demoClip, 0o600))
	src, err := camera.OpenVideo(clip, camera.VideoOptions{})
	require.NoError(t, err)
	defer src.Close()
	engine := openPortable()
	defer engine.Close()
	judge, err := live.New(engine, live.Options{Side: side, Coach: coach.Config{Movement: movement, Side: side, Hold: done.Hold}})
	require.NoError(t, err)
	defer judge.Close()

	const each = 200 * time.Millisecond
	var last, next time.Duration
	judged := 0
	for {
		f, err := src.Next(t.Context())
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		last = f.Time
		if f.Time < next {
			continue // the engine is still at the one before
		}
		next = f.Time + each
		judged++
		_, err = judge.Frame(f.Image, f.Time)
		require.NoError(t, err)
	}
	require.Less(t, judged, 105)
	sum := judge.Finish(last)
	require.Len(t, sum.Repetitions, len(done.Performance.Repetitions))
	require.Len(t, sum.Holds, len(done.Performance.Holds))
	for i, h := range sum.Holds {
		truth := done.Performance.Holds[i]
		require.InDelta(t, truth.Start.Seconds(), h.Start.Seconds(), 0.3)
		require.InDelta(t, (truth.End - truth.Start).Seconds(), h.Held.Seconds(), 0.3)
	}
	require.Len(t, sum.Flags, len(done.Performance.Excursions))
	x := done.Performance.Excursions[0]
	require.Equal(t, coach.Hyperextension, sum.Flags[0].Kind)
	require.InDelta(t, x.Start.Seconds(), sum.Flags[0].Start.Seconds(), 0.4)
}
