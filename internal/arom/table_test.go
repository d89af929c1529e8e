package arom

import (
	"flag"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/score"
)

var update = flag.Bool("update", false, "write the golden files anew")

var taken = time.Date(2026, 11, 26, 9, 30, 0, 0, time.UTC)

// angles are a digit's MCP, PIP and DIP.
type angles [3]float64

// recordedHand is a hand whose fingers all do the same: straight, and in a fist.
func recordedHand(side string, straight, fist angles) *goniometry.Baseline {
	view := func(pose goniometry.BaselinePose, yaw float64, a angles, past bool) goniometry.BaselineView {
		v := goniometry.BaselineView{Pose: pose, YawDeg: yaw, Pictures: 40, Joints: map[string]goniometry.BaselineJoint{}}
		for j := range hand.Joint(hand.NumJoints) {
			level := min(int(j.Kind()), 2)
			if j == hand.ThumbIP {
				level = 1
			}
			v.Joints[j.String()] = goniometry.BaselineJoint{ReadDeg: a[level], SEDeg: 5, ShowsPastStraight: past}
		}
		return v
	}
	return &goniometry.Baseline{
		Version: goniometry.BaselineVersion, Side: side, CapturedAt: taken,
		Views: []goniometry.BaselineView{view(goniometry.StraightHand, 0, straight, false), view(goniometry.FullFist, 0, fist, false)},
	}
}

// The worked example: flexion 80, 90 and 60 less deficits of 0, 20 and 10 are
// 200 degrees, 76.9 % of 260, good (the arithmetic of the ASSH; the grades by
// HandLab Clinical Pearl 18, 2012). A finger of 85, 110 and 65 is the norm
// itself, 100 %, excellent.
func TestTableAddsUpAsTheTradeDoes(t *testing.T) {
	for _, c := range []struct {
		name           string
		straight, fist angles
		total, percent float64
		grade          score.Grade
		words          string
	}{
		{"worked example", angles{0, 20, 10}, angles{80, 90, 60}, 200, 76.9, score.Good, "200° ± 11°; 77 % of 260°: good"},
		{"the norm", angles{0, 0, 0}, angles{85, 110, 65}, 260, 100, score.Excellent, "260° ± 9°; 100 % of 260°: excellent"},
		{"reads past straight where that cannot be seen", angles{-8, -8, -8}, angles{85, 110, 65}, 260, 100, score.Excellent, "260° ± 9°; 100 % of 260°: excellent"},
		{"half", angles{0, 0, 0}, angles{50, 50, 30}, 130, 50, score.Poor, "130° ± 9°; 50 % of 260°: poor"},
	} {
		t.Run(c.name, func(t *testing.T) {
			table := TableOf(recordedHand("right", c.straight, c.fist), TableOptions{})
			for _, d := range table.Digits[:4] {
				require.True(t, d.Total.Complete)
				require.InDelta(t, c.total, d.Total.Deg, 1e-9)
				require.InDelta(t, c.percent, d.Result.Percent, 0.05)
				require.Equal(t, c.grade, d.Result.Grade)
				require.Equal(t, c.words, d.Words())
			}
			thumb := table.Digits[4]
			require.Equal(t, hand.Thumb, thumb.Finger)
			require.Empty(t, thumb.Result.Grade, "a thumb has no 260 degrees")
			require.Empty(t, table.Lines[hand.ThumbMP].Doubt)
		})
	}
}

func TestTableComparesWithTheOtherHand(t *testing.T) {
	own := recordedHand("right", angles{0, 0, 0}, angles{60, 80, 40})
	other := recordedHand("left", angles{0, 0, 0}, angles{80, 100, 60})
	table := TableOf(own, TableOptions{Other: other})
	d := table.Digits[0]
	require.True(t, d.OfOther)
	require.InDelta(t, 75, d.Result.Percent, 1e-9)
	require.Equal(t, score.Fair, d.Result.Grade, "exactly 75 % is not over 75 %")
	require.Equal(t, "180° ± 9°; 75 % of the other hand's 240°: fair", d.Words())
	require.Equal(t, "80° ± 5°", table.Lines[hand.IndexMCP].OtherFist.Words())

	delete(other.Views[1].Joints, "index.dip")
	table = TableOf(own, TableOptions{Other: other})
	require.False(t, table.Digits[0].OfOther, "a hand with a joint missing is nothing to compare with")
	require.InDelta(t, 260, table.Digits[0].Against, 1e-9)
	require.True(t, table.Digits[1].OfOther)
	require.Equal(t, "not judged", table.Lines[hand.IndexDIP].OtherFist.Words())

	require.Zero(t, TableOf(own, TableOptions{Other: own}).OtherTaken, "the same hand is not the other one")
}

func TestTableNeverCountsWhatWasNotJudged(t *testing.T) {
	b := recordedHand("right", angles{0, 0, 0}, angles{60, 80, 40})
	delete(b.Views[1].Joints, "ring.dip")
	delete(b.Views[0].Joints, "ring.mcp")
	table := TableOf(b, TableOptions{})
	d := table.Digits[2]
	require.False(t, d.Total.Complete)
	require.Equal(t, "not judged: MCP, DIP", d.Words())
	require.Zero(t, d.Total.Deg)
	require.Empty(t, d.Result.Grade)
}

func TestTablePrefersWhatShowsMoreAndWhatWasMeasured(t *testing.T) {
	b := recordedHand("right", angles{0, 4, 0}, angles{60, 80, 40})
	side := goniometry.BaselineView{Pose: goniometry.StraightHand, YawDeg: 85, Pictures: 30, Joints: map[string]goniometry.BaselineJoint{
		"index.pip": {ReadDeg: -12, SEDeg: 7, ShowsPastStraight: true},
		"index.dip": {ReadDeg: 9, SEDeg: 3},
		"index.mcp": {ReadDeg: 9, SEDeg: 8},
	}}
	b.Views = append(b.Views, side)
	table := TableOf(b, TableOptions{})
	require.Equal(t, "12° past straight ± 7°", table.Lines[hand.IndexPIP].Straight.Words(), "the view that shows it")
	require.Equal(t, "9° ± 3°", table.Lines[hand.IndexDIP].Straight.Words(), "else the least error")
	require.Equal(t, "near straight ± 5°", table.Lines[hand.IndexMCP].Straight.Words())
	require.Len(t, table.Doubts(), 1)
	require.Contains(t, table.Doubts()[0], "12° past straight")
	require.Equal(t, []hand.Joint{hand.IndexPIP}, table.Digits[0].Total.Hyperextended)

	known := -10.0
	side.Joints["index.pip"] = goniometry.BaselineJoint{ReadDeg: -12, SEDeg: 7, ShowsPastStraight: true, KnownDeg: &known}
	table = TableOf(b, TableOptions{})
	require.Equal(t, "10° past straight (goniometer)", table.Lines[hand.IndexPIP].Straight.Words())
	require.Empty(t, table.Doubts())
}

// Norms as package score has them from its named sources.
func TestNormWords(t *testing.T) {
	for _, c := range []struct {
		set  string
		of   hand.Joint
		want string
	}{
		{"aaos-1965", hand.IndexMCP, "45° past straight to 90°"},
		{"aaos-1965", hand.IndexPIP, "0 to 100°"},
		{"aaos-1994", hand.LittleDIP, "to 65°"},
		{"assh", hand.RingPIP, "to 110°"},
		{"assh", hand.ThumbIP, "none"},
	} {
		set, ok := score.FindNormSet(c.set)
		require.True(t, ok)
		table := TableOf(recordedHand("left", angles{}, angles{60, 80, 40}), TableOptions{Norms: set})
		require.Equal(t, c.want, table.Lines[c.of].NormWords())
	}
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, string(want), got)
	require.NotRegexp(t, `(^|\s)[-−+]\d`, got, "no bare sign is shown to a person")
}

func TestTexts(t *testing.T) {
	set, _ := score.FindNormSet("aaos-1994")
	b := recordedHand("right", angles{0, 8, 0}, angles{60, 80, 40})
	b.Views = append(b.Views, goniometry.BaselineView{Pose: goniometry.StraightHand, YawDeg: 85, Pictures: 30, Joints: map[string]goniometry.BaselineJoint{
		"index.pip": {ReadDeg: -12, SEDeg: 7, ShowsPastStraight: true},
	}})
	delete(b.Views[1].Joints, "little.dip")
	table := TableOf(b, TableOptions{Norms: set, Other: recordedHand("left", angles{0, 0, 0}, angles{80, 100, 60})})
	golden(t, "baseline.txt", table.Text(time.UTC))

	m, err := Measured(sample(), taken, "a", b)
	require.NoError(t, err)
	golden(t, "measurement.txt", m.Text(time.UTC))
}
