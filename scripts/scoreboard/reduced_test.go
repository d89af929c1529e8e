package main

import (
	"flag"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/handrender"
	"volar/scripts/unseen"
)

var update = flag.Bool("update", false, "keep the figures of this run in testdata/scoreboard.json")

// reduced is what every run of the tests measures: shapes of the renderer's own
// hand that no training used, by bones.
func reduced(t *testing.T) []part {
	t.Helper()
	h, err := handrender.Default()
	require.NoError(t, err)
	parts, err := size{exerciseHands: 16, exercisePictures: 8, sideHands: 6, straightEvents: 1, yaws: []float64{85}, holdHands: 6, hold: 2 * time.Second}.parts([]unseen.Hand{{Name: "own", Hand: h}})
	require.NoError(t, err)
	return parts
}

// The model in the program must be no worse than when the figures were kept.
// After a change that is meant to alter them, look at the difference and keep
// the new ones: go test ./scripts/scoreboard -run Reduced -update
func TestReducedSet(t *testing.T) {
	const file = "testdata/scoreboard.json"
	now, err := measure(reduced(t), reducedSet, runtime.GOMAXPROCS(0), false, t.Output())
	require.NoError(t, err)
	if *update {
		require.NoError(t, now.write(file))
	}
	kept, err := readBoard(file)
	require.NoError(t, err)
	worse, err := regressions(kept, now)
	require.NoError(t, err)
	require.NoError(t, now.markdown(t.Output()))
	require.Empty(t, worse, "worse than on %s with model %.12s", kept.Made, kept.Model)

	// What chance does not excuse: the sign of an angle past straight, the order
	// of depths, and a flag on straight fingers that was not there before.
	f, err := now.figures()
	require.NoError(t, err)
	before, err := kept.figures()
	require.NoError(t, err)
	require.Less(t, f["side.20.reads"].Value, Number(-8), "20° past straight must read past straight")
	require.Less(t, f["side.15.reads"].Value, Number(-5))
	require.Greater(t, f["side.0.reads"].Value, Number(-4), "straight must not")
	require.Less(t, f["side.15.reads"].Value, f["side.10.reads"].Value)
	require.LessOrEqual(t, f["holds.clips"].Value, before["holds.clips"].Value+1e-3, "more straight fingers were flagged")
}

// The figures do not depend on how many hands are measured at the same time.
func TestSameFiguresForAnyNumberOfJobs(t *testing.T) {
	h, err := handrender.Default()
	require.NoError(t, err)
	small := size{exerciseHands: 4, exercisePictures: 2, sideHands: 1, straightEvents: 1, yaws: []float64{85}, holdHands: 1, hold: 200 * time.Millisecond}
	var files []string
	for _, jobs := range []int{1, 3} {
		parts, err := small.parts([]unseen.Hand{{Name: "own", Hand: h}})
		require.NoError(t, err)
		b, err := measure(parts, "small", jobs, false, t.Output())
		require.NoError(t, err)
		file := filepath.Join(t.TempDir(), "board.json")
		require.NoError(t, b.write(file))
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		files = append(files, string(text))
	}
	require.Equal(t, files[0], files[1])
}
