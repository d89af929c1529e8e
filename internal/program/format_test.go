package program_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/exercise"
	"volar/internal/program"
)

// TestFormatGolden is what a therapist finds on the disk; look at a difference
// before writing it with -update.
func TestFormatGolden(t *testing.T) {
	for name, p := range map[string]*program.Program{"block": parse(t, block), "new": fresh(t)} {
		path := filepath.Join("testdata", name+".golden.yaml")
		if *update {
			require.NoError(t, os.MkdirAll("testdata", 0o755))
			require.NoError(t, os.WriteFile(path, p.Format(), 0o644))
		}
		want, err := os.ReadFile(path)
		require.NoError(t, err)
		require.Equal(t, string(want), string(p.Format()), name)
	}
}

// fresh is a new program with several precautions.
func fresh(t *testing.T) *program.Program {
	t.Helper()
	var left program.Side
	require.NoError(t, left.UnmarshalText([]byte("left")))
	p, _, err := program.New(program.Options{
		Client: "C-021", Side: left, Zone: "Pacific/Auckland",
		Precautions: []program.Precaution{{Kind: program.LaxJoints}, {Kind: program.Arthritis, Words: "thumb base"}, {Kind: program.SensationLoss}},
		Exercises:   []string{"whole-hand-grip", "straight-finger-hold"},
		History:     "Middle knuckles give way backwards when writing and when opening jars, more on the left; no injury that she remembers.",
		Now:         time.Date(2026, 11, 30, 20, 15, 0, 0, time.UTC),
	}, program.Source{})
	require.NoError(t, err)
	return p
}

// TestNewShowsItsDefaults: what precautions bring stands in the program.
func TestNewShowsItsDefaults(t *testing.T) {
	p := fresh(t)
	require.Equal(t, "2026-12-01", p.ValidFrom.String(), "in Auckland the next day has begun")
	require.Equal(t, "2026-12-15", p.NextReview.String())
	require.Equal(t, []program.Avoid{program.StrongPinch, program.Heat, program.HardObjects}, p.Avoid)
	require.Equal(t, program.EarlyCue, p.Cue)
	require.True(t, p.SideViewCheck)
	require.Len(t, p.Limits, 1)
	require.Equal(t, []program.Step{{Lower: program.Deg(0)}}, p.Limits[0].Schedule)
	require.Equal(t, program.Joints("*.pip"), p.Limits[0].Joints)
	grip := p.On(p.ValidFrom).Exercises[0]
	require.Equal(t, exercise.Dose{Sets: 1, Repetitions: 5, HoldSeconds: 3, RestSeconds: 60, TimesADay: 2, DaysAWeek: 7}, grip.Dose, "the lower dose")

	// What the therapist takes out is out.
	p.Limits, p.Cue, p.Avoid = nil, program.UsualCue, nil
	again := parse(t, string(p.Format()))
	require.Empty(t, again.Limits)
	require.Empty(t, again.On(again.ValidFrom).Limits)
	require.Equal(t, program.UsualCue, again.Cue)
}

func TestNewRefuses(t *testing.T) {
	_, _, err := program.New(program.Options{Client: "no code", Exercises: []string{"juggling"}, Now: time.Date(2026, 12, 1, 0, 0, 0, 0, time.UTC)}, program.Source{})
	require.ErrorContains(t, err, "client:")
	require.ErrorContains(t, err, "side: wants left or right")
	require.ErrorContains(t, err, `exercises[1].movement: "juggling" is not in the catalogue`)
}

var words = rapid.OneOf(
	rapid.SampledFrom([]string{"", "two\nlines", "two\nlines\n", " space before", "space after ", "# no comment", "key: value", "- item", "yes", "null", "12", "*", "&a", "free",
		"a very long text that goes on and on past any width at which a line of a file would be broken, and then some more",
		"a very long text with  two spaces, that goes on and on past any width at which a line of a file would be broken",
		"Ein Überbein, 5° – „so“", "tab\tinside", "\u2028", "\u0085x", "\x00", "'", `"`, "%", "~", "|", ">", "[x]", "{x}", "!", "? a", "---", "...", "2026-12-01"}),
	rapid.String(),
)

// programs draws programs that are valid by their types; not all pass Check.
func programs(t *rapid.T, catalogue []*exercise.Movement) *program.Program {
	n := func(label string, least, greatest int) int { return rapid.IntRange(least, greatest).Draw(t, label) }
	day := func(label string) program.Date {
		return program.Date{2026, time.January, 1}.AddDays(n(label, 0, 1500))
	}
	end := func(label string) program.End {
		switch n(label, 0, 3) {
		case 0:
			return program.End{}
		case 1:
			return program.Free()
		}
		return program.Deg(float64(n(label+" deg", -80, 200)) / 2)
	}
	limits := func(label string) []program.Limit {
		var l []program.Limit
		for range n(label, 0, 2) {
			x := program.Limit{
				Joints: program.Joints(rapid.SampledFrom([]string{"*.pip", "index.pip", "thumb.*", "*", "index.pip, ring.dip"}).Draw(t, "joints")),
				Side:   program.Side(n("limit side", 0, 2)),
				Reason: words.Draw(t, "reason"),
			}
			for i := range n("steps", 1, 3) {
				s := program.Step{Lower: end("lower"), Upper: end("upper")}
				if i > 0 {
					s.From = day("from")
				}
				x.Schedule = append(x.Schedule, s)
			}
			l = append(l, x)
		}
		return l
	}
	p := &program.Program{
		FileFormat: 1, Client: rapid.StringMatching(`[A-Z]-[0-9]{3}|[0-9]{1,5}|[a-z]{2}|null|true`).Draw(t, "client"),
		Side: program.Side(n("side", 1, 2)), Dominant: program.Side(n("dominant", 0, 2)),
		Version: n("version", 1, 20), ValidFrom: day("valid from"), NextReview: day("review"),
		Zone:    rapid.SampledFrom([]string{"", "Europe/Berlin", "Pacific/Auckland"}).Draw(t, "zone"),
		History: words.Draw(t, "history"), Notes: words.Draw(t, "notes"), Message: words.Draw(t, "message"),
		Cue:           rapid.SampledFrom([]program.Cue{"", program.UsualCue, program.EarlyCue}).Draw(t, "cue"),
		SideViewCheck: rapid.Bool().Draw(t, "side view"), Limits: limits("limits"),
	}
	if rapid.Bool().Draw(t, "issued") {
		p.Issued.Time = time.Date(2026, 1, 1, 0, 0, n("issued at", 0, 100_000_000), 0, time.UTC)
	}
	for _, k := range program.PrecautionKinds {
		if rapid.Bool().Draw(t, "precaution") {
			p.Precautions = append(p.Precautions, program.Precaution{Kind: k, Words: words.Draw(t, "words")})
		}
	}
	for i := range n("exercises", 1, 4) {
		m := rapid.SampledFrom(catalogue).Draw(t, "movement")
		e := program.Exercise{
			Movement: m.ID, ID: "e" + strings.Repeat("x", i),
			Side: program.Side(n("its side", 0, 2)), View: rapid.SampledFrom([]program.ViewChoice{"", program.BestView, program.SecondView}).Draw(t, "view"),
			Note: words.Draw(t, "note"), Limits: limits("its limits"),
			Tempo: program.Tempo{LeastSeconds: float64(n("tempo", 0, 20)) / 8},
		}
		if rapid.Bool().Draw(t, "dose") {
			sets, hold := n("sets", 1, 3), float64(n("hold", 0, 40))/4
			e.Dose.Sets, e.Dose.HoldSeconds = &sets, &hold
		}
		// What is not measured has no targets.
		if rapid.Bool().Draw(t, "target") && m.Kind != exercise.Unmeasured {
			share := float64(n("share", 1, 15)) / 10
			e.Targets = []program.Target{{Joints: "index.pip", Share: &share}}
		}
		p.Exercises = append(p.Exercises, e)
	}
	return p
}

// TestFormatReadsBack: whatever words a therapist writes, the file holds them.
func TestFormatReadsBack(t *testing.T) {
	catalogue, err := exercise.Catalogue()
	require.NoError(t, err)
	src := program.Source{Catalogue: catalogue}
	valid := 0
	rapid.Check(t, func(t *rapid.T) {
		p := programs(t, catalogue)
		faults, warnings := p.Check(src)
		again, more, err := program.Parse(p.Format(), src)
		if len(faults) > 0 {
			if err == nil {
				t.Fatalf("a fault is not found again: %v", faults)
			}
			return
		}
		if err != nil {
			t.Fatalf("%v in\n%s", err, p.Format())
		}
		valid++
		require.Equal(t, p, again, "%s", p.Format())
		require.Len(t, more, len(warnings))
		require.Empty(t, program.Diff(p, again))
		require.Equal(t, p, p.Clone())
	})
	require.Greater(t, valid, 10, "most draws must be valid for this to test anything")
}
