package main

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestRegressions(t *testing.T) {
	figure := func(key string, b Better, target, v, low, high float64) Figure {
		return Figure{Key: key, Unit: "°", Value: Number(v), Low: Number(low), High: Number(high), Goal: Goal{Better: b, Target: target}}
	}
	board := func(f ...Figure) *Board { return &Board{Set: "reduced", Sections: []Section{{Figures: f}}} }
	nan := math.NaN()
	for _, c := range []struct {
		name  string
		kept  Figure
		now   float64
		worse bool
	}{
		{"error, same", figure("k", Lower, 0, 6, 5, 7), 6, false},
		{"error, up by less than chance", figure("k", Lower, 0, 6, 5, 7), 6.9, false},
		{"error, up by more", figure("k", Lower, 0, 6, 5, 7), 7.1, true},
		{"error, the same but for the rounding", figure("k", Lower, 0, 6, 6, 6.3333), 6 + 1./3, false},
		{"error, much better", figure("k", Lower, 0, 6, 5, 7), 2, false},
		{"share found, down by more", figure("k", Higher, 100, 96, 92, 99), 91, true},
		{"share found, up", figure("k", Higher, 100, 96, 92, 99), 100, false},
		{"bias, to the other side", figure("k", Near, 0, -2, -4, 1), 3.5, false},
		{"bias, beyond", figure("k", Near, 0, -2, -4, 1), 4.5, true},
		{"coverage, too sure", figure("k", Near, .68, .7, .65, .74), .55, true},
		{"coverage, nearer", figure("k", Near, .68, .6, .55, .66), .68, false},
		{"no goal", figure("k", Unranked, 0, 6, 5, 7), 60, false},
		{"nothing to measure by", figure("k", Lower, 0, 6, 5, 7), nan, true},
		{"nothing was kept", figure("k", Lower, 0, nan, nan, nan), 60, false},
	} {
		now := c.kept
		now.Value = Number(c.now)
		got, err := regressions(board(c.kept), board(now))
		require.NoError(t, err)
		require.Equal(t, c.worse, len(got) > 0, c.name)
	}
	got, err := regressions(board(figure("gone", Lower, 0, 6, 5, 7)), board())
	require.NoError(t, err)
	require.Len(t, got, 1)
	_, err = regressions(board(), &Board{Set: "full"})
	require.Error(t, err)
	_, err = regressions(board(), board(figure("k", Lower, 0, 6, 5, 7), figure("k", Lower, 0, 6, 5, 7)))
	require.Error(t, err)
}

func TestBoardAsFileAndText(t *testing.T) {
	s := sheet{Section{ID: "a", Title: "A table", About: []string{"What was shown."}}, 2}
	v := newTally(2)
	v.add(0, 4)
	v.add(1, 6)
	s.mean("a.error", "PIP", "mean error", "°", v, Goal{Better: Lower, Target: 5.5, Name: "an aim", Before: "8"})
	s.mean("a.bias", "PIP", "bias", "°", v, Goal{Better: Near, Within: 3})
	s.mean("a.none", "DIP", "bias", "°", newTally(2), Goal{})
	none := newTally(2)
	none.is(0, false)
	none.is(1, false)
	s.share("a.share", "DIP", "share", none, Goal{Better: Lower, Target: 1, Name: "another"})
	b := &Board{Made: "2026-01-02", Commit: "abc", Model: "0123456789abcdef", Engine: "engine", Set: "quick",
		Sections: []Section{s.Section, {ID: "b", Title: "Photographs", LeftOut: "no folder given"}}}

	file := filepath.Join(t.TempDir(), "board.json")
	require.NoError(t, b.write(file))
	again, err := readBoard(file)
	require.NoError(t, err)
	var first, second bytes.Buffer
	require.NoError(t, b.markdown(&first))
	require.NoError(t, again.markdown(&second))
	require.Equal(t, first.String(), second.String())
	for _, line := range []string{
		"| an aim | 8 | 5.0° (4.0 to 6.0) | ≤ 5.5° | yes, within chance |",
		"| another |  | 0.0 % (0.0 to 84.2) | ≤ 1 % | yes, within chance |",
		"| *Photographs: left out, no folder given* | | | | |",
		"| | mean error | bias | share |",
		"| PIP | 5.0° (4.0 to 6.0) | +5.0° (+4.0 to +6.0) |  |",
		"| DIP |  | – | 0.0 % (0.0 to 84.2) |",
		"Left out: no folder given.",
	} {
		require.Contains(t, first.String(), line+"\n")
	}
	require.NoError(t, os.WriteFile(file, []byte("{"), 0o600))
	_, err = readBoard(file)
	require.ErrorContains(t, err, file)
}

func TestPartsWithoutTheirFolderAreNamed(t *testing.T) {
	parts, err := chosen(options{truth: filepath.Join(t.TempDir(), "none")})
	require.NoError(t, err)
	require.Len(t, parts, 3)
	for _, p := range parts {
		require.Empty(t, p.units())
		require.NotEmpty(t, p.sections()[0].LeftOut)
	}
	empty := t.TempDir()
	for _, o := range []options{{truth: empty}, {counts: empty}, {meshes: empty}} {
		_, err := chosen(o)
		require.ErrorContains(t, err, empty)
	}
}

// Folders of counts list pictures in the order of their numbers, whatever their
// length, and the n-th of each is the n-th person.
func TestCountsAreGroupedByPerson(t *testing.T) {
	dir := t.TempDir()
	for count := range 10 {
		require.NoError(t, os.Mkdir(filepath.Join(dir, strconv.Itoa(count)), 0o700))
		for _, n := range []int{998, 1008, 1018} {
			name := filepath.Join(dir, strconv.Itoa(count), "IMG_"+strconv.Itoa(n+count)+".JPG")
			require.NoError(t, os.WriteFile(name, nil, 0o600))
		}
	}
	c, err := newCounts(dir)
	require.NoError(t, err)
	require.Equal(t, 3, c.people)
	require.Len(t, c.pictures, 30)
	for _, p := range c.pictures {
		require.Equal(t, (number(filepath.Base(p.path))-998)/10, p.person)
	}
}

func TestReadTruthNamesTheLine(t *testing.T) {
	file := filepath.Join(t.TempDir(), "truth.csv")
	require.NoError(t, os.WriteFile(file, []byte("image,x\na.jpg,1\n"), 0o600))
	_, err := readTruth(file)
	require.ErrorContains(t, err, "line 2")
}
