package program_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/exercise"
	"volar/internal/program"
	"volar/internal/strictyaml"
)

// block is the schedule that a volar plate injury is given: a block at 30
// degrees, lowered as it heals (a common protocol: 10 degrees a week).
const block = `volar_program: 1
client: C-017
side: left
dominant: right
version: 3
valid_from: 2026-12-01
issued: 2026-12-01T08:30:00Z
next_review: 2026-12-22
zone: Europe/Berlin
history: Fell on the stretched finger, 20 November.
notes: Ask about the night splint.
message: Slowly, and never into pain.
precautions:
  - {kind: healing-fracture, words: "index finger, base of the middle phalanx"}
avoid: [harder-grade]
cue: early
side_view_check: true
limits:
  - joints: "*.pip"
    schedule: [{not_straighter_than: 0}]
  - joints: index.pip
    reason: volar plate
    schedule:
      - {not_straighter_than: 30, not_bent_beyond: 90}
      - {from: 2026-12-08, not_straighter_than: 20}
      - {from: 2026-12-15, not_straighter_than: 10, not_bent_beyond: free}
exercises:
  - movement: hook-fist
    dose: {sets: 1, repetitions: 5, hold_s: 3, rest_s: 0, times_a_day: 3, days_a_week: 7}
    tempo: {least_s: 1.5}
    targets:
      - {joints: "index.pip", deg: 60}
      - {joints: "middle.pip, ring.pip", share_of_own: 0.8}
    note: Stop at the splint.
  - movement: whole-hand-grip
    grade: easier
    view: second
  - movement: whole-hand-grip
    id: other-hand
    side: right
    object: ball
`

func parse(t *testing.T, text string) *program.Program {
	t.Helper()
	p, _, err := program.Parse([]byte(text), program.Source{})
	require.NoError(t, err)
	return p
}

func TestParse(t *testing.T) {
	p := parse(t, block)
	require.Equal(t, "C-017", p.Client)
	require.Equal(t, "left", p.Side.String())
	require.Equal(t, program.Date{2026, time.December, 1}, p.ValidFrom)
	require.Equal(t, time.Date(2026, 12, 1, 8, 30, 0, 0, time.UTC), p.Issued.Time)
	require.True(t, p.Has(program.HealingFracture))
	require.Equal(t, program.EarlyCue, p.Cue)
	require.Len(t, p.Limits[1].Schedule, 3)
	require.Equal(t, program.Deg(90), p.Limits[1].Schedule[0].Upper)
	require.True(t, p.Limits[1].Schedule[2].Upper.IsFree())
	require.Equal(t, "hook-fist", p.Exercises[0].Name())
	require.Equal(t, exercise.Easier, p.Exercises[1].Grade)
	i, err := p.Find("other-hand")
	require.NoError(t, err)
	require.Equal(t, 2, i)
	_, err = p.Find("tabletop")
	require.ErrorContains(t, err, "it has hook-fist, whole-hand-grip, other-hand")
}

// TestProblems: every problem names line and field.
func TestProblems(t *testing.T) {
	catalogue, err := exercise.Catalogue()
	require.NoError(t, err)
	src := program.Source{Catalogue: catalogue}
	for name, c := range map[string]struct {
		old, new string
		want     string
		warning  bool
	}{
		"unknown field":        {"cue: early", "queue: early", "line 16: queue: is not a field here", false},
		"newer file":           {"volar_program: 1", "volar_program: 2", "line 1: volar_program: the file has format 2, made by a newer version", false},
		"no such format":       {"volar_program: 1", "volar_program: 0", "line 1: volar_program: there is no format 0", false},
		"a name for a code":    {"client: C-017", "client: Jane Q. Public", `line 2: client: "Jane Q. Public" is no code`, false},
		"no side":              {"side: left\n", "side: both\n", `line 3: side: side "both" is neither left nor right`, false},
		"version":              {"version: 3", "version: 0", "line 5: version: 0 is outside 1 to", false},
		"no such day":          {"valid_from: 2026-12-01", "valid_from: 2026-02-30", `line 6: valid_from: "2026-02-30" is no date`, false},
		"not a moment":         {"2026-12-01T08:30:00Z", "2026-12-01", `line 7: issued: "2026-12-01" is no moment`, false},
		"review before start":  {"next_review: 2026-12-22", "next_review: 2026-11-22", "line 8: next_review: the next review, 2026-11-22, lies before", false},
		"no review":            {"next_review: 2026-12-22\n", "", "next_review: no date is set", true},
		"no such zone":         {"zone: Europe/Berlin", "zone: Middle/Earth", `line 9: zone: "Middle/Earth" is no time zone`, false},
		"computer's own zone":  {"zone: Europe/Berlin", "zone: Local", "line 9: zone: wants the name of a time zone", false},
		"unknown precaution":   {"healing-fracture", "healing-bone", `line 14: precautions[1].kind: "healing-bone" is not known; known are lax-joints, arthritis`, false},
		"precaution twice":     {"avoid: [", "  - kind: healing-fracture\navoid: [", "line 15: precautions[2].kind: healing-fracture is there twice", false},
		"unknown to avoid":     {"[harder-grade]", "[cold]", `line 15: avoid[1]: "cold" is not known; known are heat,`, false},
		"avoid twice":          {"[harder-grade]", "[heat, heat]", "line 15: avoid[2]: heat is there twice", false},
		"cue":                  {"cue: early", "cue: never", `line 16: cue: "never" is not known; known are usual, early`, false},
		"no such joint":        {"joints: index.pip\n", "joints: index.elbow\n", `line 21: limits[2].joints: joint "index.elbow" is not known`, false},
		"impossible angle":     {"not_straighter_than: 30,", "not_straighter_than: -300,", "line 24: limits[2].schedule[1].not_straighter_than: -300° is outside what index.pip can do, -45 to 130", false},
		"not an angle":         {"not_straighter_than: 30,", "not_straighter_than: some,", `line 24: limits[2].schedule[1].not_straighter_than: "some" is neither a number of degrees, with a minus sign past straight, nor the word free`, false},
		"dates out of order":   {"from: 2026-12-15", "from: 2026-12-07", "line 26: limits[2].schedule[3].from: 2026-12-07 does not come after 2026-12-08", false},
		"the same date twice":  {"from: 2026-12-15", "from: 2026-12-08", "does not come after", false},
		"step without date":    {"{from: 2026-12-08, not", "{not", "line 25: limits[2].schedule[2]: wants the date", false},
		"step without change":  {"{from: 2026-12-08, not_straighter_than: 20}", "{from: 2026-12-08}", "line 25: limits[2].schedule[2]: changes nothing", false},
		"no step":              {"[{not_straighter_than: 0}]", "[]", "line 20: limits[1].schedule: wants at least one step", false},
		"no limit at first":    {"[{not_straighter_than: 0}]", "[{from: 2026-12-05, not_straighter_than: 0}]", "line 20: limits[1].schedule[1].from: until 5 December 2026 this entry sets no limit", true},
		"no range":             {"not_bent_beyond: 90}", "not_bent_beyond: 30}", "line 21: limits[2]: leaves index.pip no range: not straighter than 30° and not bent beyond 30°", false},
		"no range later":       {"{from: 2026-12-08, not_straighter_than: 20}", "{from: 2026-12-08, not_straighter_than: 95}", "line 21: limits[2]: from 8 December 2026 leaves index.pip no range", false},
		"little range":         {"not_bent_beyond: 90}", "not_bent_beyond: 40}", "line 21: limits[2]: leaves index.pip only 10° to move in", true},
		"general entry later":  {"limits:\n", "limits:\n  - joints: ring.pip\n    schedule: [{not_straighter_than: 10}]\n", `line 21: limits[2]: goes before limits[1] (ring.pip), which has no effect`, true},
		"no exercise":          {block[strings.Index(block, "exercises:"):], "exercises: []\n", "exercises: wants at least one exercise", false},
		"unknown movement":     {"movement: hook-fist", "movement: juggling", `line 28: exercises[1].movement: "juggling" is not in the catalogue`, false},
		"twice without id":     {"    id: other-hand\n", "", "line 38: exercises[3].movement: whole-hand-grip is exercise 2 already", false},
		"twice the same id":    {"id: other-hand", "id: whole-hand-grip", "line 39: exercises[3].id: whole-hand-grip is exercise 2 already", false},
		"bad id":               {"id: other-hand", "id: Other Hand", `line 39: exercises[3].id: "Other Hand" is no id`, false},
		"unknown object":       {"object: ball", "object: anvil", `line 41: exercises[3].object: movement whole-hand-grip has no object "anvil"`, false},
		"object and grade":     {"object: ball", "object: ball\n    grade: easier", "line 41: exercises[3].object: ball has the grade usual, not easier", false},
		"grade":                {"grade: easier", "grade: hardest", `line 36: exercises[2].grade: "hardest" is not known`, false},
		"grade without object": {"    note: Stop at the splint.\n", "    grade: harder\n", "line 34: exercises[1].grade: movement hook-fist is done without an object", false},
		"forbidden grade":      {"grade: easier", "grade: harder", "line 36: exercises[2].grade: thin-towel is the harder grade, and the program says to avoid harder-grade", false},
		"view":                 {"view: second", "view: third", `line 37: exercises[2].view: "third" is not known; known are best, second`, false},
		"dose":                 {"repetitions: 5,", "repetitions: 5000,", "line 29: exercises[1].dose.repetitions: 5000 is outside 1 to 50", false},
		"no rest":              {"sets: 1,", "sets: 2,", "line 29: exercises[1].dose.rest_s: 2 sets want a rest", false},
		"rest left out":        {"grade: easier", "grade: easier\n    dose: {sets: 1}\n  - movement: grip-hold\n    dose: {sets: 2}", "line 39: exercises[3].dose.rest_s: no rest is given for 2 sets; the usual", true},
		"above usual":          {"times_a_day: 3", "times_a_day: 20", "line 29: exercises[1].dose: 100 repetitions a day are more than the 30 that are usual", true},
		"hold above usual":     {"hold_s: 3", "hold_s: 60", "line 29: exercises[1].dose.hold_s: a hold of 60 s is longer than the usual 5 s", true},
		"hold of no time":      {"movement: hook-fist", "movement: straight-finger-hold\n    dose: {hold_s: 0}\n  - movement: hook-fist", "line 29: exercises[1].dose.hold_s: straight-finger-hold is a hold", false},
		"tempo":                {"least_s: 1.5", "least_s: 100", "line 30: exercises[1].tempo.least_s: 100 is outside 0.1 to 10", false},
		"target":               {"deg: 60", "deg: 60, share_of_own: 0.5", "line 32: exercises[1].targets[1]: wants either share_of_own or deg", false},
		"target twice":         {"middle.pip, ring.pip", "index.pip, ring.pip", "line 33: exercises[1].targets[2].joints: index.pip has a target already", false},
		"target past a limit":  {"deg: 60", "deg: 95", "line 32: exercises[1].targets[1].deg: the target of index.pip, 95°, lies outside its limit on 1 December 2026", false},
		"impossible target":    {"deg: 60", "deg: 200", "line 32: exercises[1].targets[1].deg: 200° is outside", false},
		"impossible share":     {"share_of_own: 0.8", "share_of_own: 80", "line 33: exercises[1].targets[2].share_of_own: 80 is outside 0.1 to 1.5", false},
		"idle target":          {"index.pip\", deg: 60", "index.mcp\", deg: 60", "line 32: exercises[1].targets[1].joints: index.mcp takes no part in what is counted", true},
		"against the movement": {"", "", "line 28: exercises[1].movement: hook-fist wants index PIP at 4° in pose straight, whose limit is: not straighter than 30° short of straight", true},
		"unseen from the view": {"", "", "line 37: exercises[2].view: in the oblique palmar-radial view the camera mostly cannot judge whether index PIP, middle PIP, ring PIP and little PIP pass straight", true},
		"unseen behind":        {"", "", "line 28: exercises[1].movement: in the radial view the camera mostly cannot judge whether middle PIP, ring PIP and little PIP pass straight, for which a limit is set: from the side only the finger in front shows it", true},
		"against a step":       {"movement: hook-fist", "movement: tendon-glide-sequence\n  - movement: hook-fist", "line 28: exercises[1].movement: tendon-glide-sequence wants index PIP at ", true},
		"usually avoided":      {"movement: hook-fist", "movement: ball-squeeze\n  - movement: hook-fist", "line 28: exercises[1].object: ball-squeeze works against a resistance, which is usually avoided with healing-fracture", true},
		"lax and past":         {"kind: healing-fracture, words: \"index finger, base of the middle phalanx\"}\navoid: [harder-grade]\ncue: early\nside_view_check: true\nlimits:\n  - joints: \"*.pip\"\n    schedule: [{not_straighter_than: 0}]", "kind: lax-joints}\nlimits:\n  - joints: \"*.pip\"\n    schedule: [{not_straighter_than: -5}]", "line 17: limits[1].schedule[1].not_straighter_than: lets a middle knuckle go 5° past straight, though the client has lax joints", true},
		"wider for one":        {"    note: Stop at the splint.\n", "    limits: [{joints: index.pip, schedule: [{not_straighter_than: 0}]}]\n", "line 34: exercises[1].limits[1]: allows index.pip more than the limit for all exercises (limits[2])", true},
		"no range for one":     {"    note: Stop at the splint.\n", "    limits: [{joints: index.pip, schedule: [{not_bent_beyond: 25}]}]\n", "line 34: exercises[1].limits[1]: leaves index.pip no range: not straighter than 30° and not bent beyond 25°", false},
		"idle hand":            {block[strings.Index(block, "exercises:"):], "  - {joints: thumb.ip, side: right, schedule: [{not_bent_beyond: 40}]}\nexercises:\n  - movement: hook-fist\n", "line 27: limits[3].side: no exercise is done with the right hand; this limit is never judged", true},
		"other hand, one hand": {"    note: Stop at the splint.\n", "    limits: [{joints: index.pip, side: right, schedule: [{not_straighter_than: 0}]}]\n", "line 34: exercises[1].limits[1].side: hook-fist is done with the left hand; a limit of the right is not judged in it", true},
		"other hand, no range": {"limits:\n", "limits:\n  - {joints: thumb.ip, side: right, schedule: [{not_straighter_than: 40, not_bent_beyond: 40}]}\n", "line 19: limits[1]: leaves thumb.ip of the right hand no range", false},
		"other hand, general":  {"limits:\n", "limits:\n  - {joints: ring.pip, side: right, schedule: [{not_straighter_than: 10}]}\n", "line 39: exercises[3].movement: in the ", true},
		"both hands' limits":   {"movement: hook-fist", "movement: wringing-together\n    limits: [{joints: ring.pip, side: right, schedule: [{not_bent_beyond: 20}]}]\n  - movement: hook-fist", "wringing-together wants ring PIP of the right hand at ", true},
		"one hand's limits":    {"movement: hook-fist", "movement: wringing-together\n  - movement: hook-fist", "line 28: exercises[1].limits: wringing-together takes both hands, and no limit is set for the right hand", true},
		"no such hand":         {"limits:\n", "limits:\n  - {joints: thumb.ip, side: both, schedule: [{not_bent_beyond: 40}]}\n", "line 19: limits[1].side: ", false},
		"healing, no limit":    {block[strings.Index(block, "limits:"):strings.Index(block, "exercises:")], "", "line 14: precautions[1]: healing-fracture, but no joint has a limit", true},
		"file elsewhere":       {"movement: hook-fist", "movement: ../hook.yaml", `line 28: exercises[1].movement: "../hook.yaml" is no plain file name`, false},
		"file nowhere":         {"movement: hook-fist", "movement: hook.yaml", "line 28: exercises[1].movement: the movement file hook.yaml cannot be looked for here", false},
		"not a text":           {"client: C-017", "client: \xff", "", false},
		"empty":                {block, "", "the file is empty", false},
	} {
		t.Run(name, func(t *testing.T) {
			text := strings.Replace(block, c.old, c.new, 1)
			require.Equal(t, c.old == "", text == block, "the case changes the file")
			_, warnings, err := program.Parse([]byte(text), src)
			if c.warning {
				var all []string
				for _, w := range warnings {
					all = append(all, w.String())
				}
				require.Contains(t, strings.Join(all, "\n"), c.want, "%v", err)
				return
			}
			var e *strictyaml.Error
			require.ErrorAs(t, err, &e)
			require.Contains(t, err.Error(), c.want)
		})
	}
}

func TestNoWayLeft(t *testing.T) {
	p := parse(t, block)
	p.Limits = []program.Limit{{Joints: "*", Schedule: []program.Step{{Upper: program.Deg(100)}, {From: program.Date{2026, 12, 5}, Upper: program.Deg(8)}}}}
	p.Exercises = p.Exercises[1:2]
	faults, warnings := p.Check(program.Source{})
	require.Empty(t, faults)
	var all string
	for _, w := range warnings {
		all += w.String() + "\n"
	}
	require.Contains(t, all, "exercises[1].movement: from 5 December 2026 the limits leave 16 weighted degrees of whole-hand-grip, too few to count repetitions by (wants 30)")
}

// TestMovementFile: a program names a movement of its own that lies beside it.
func TestMovementFile(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		return path
	}
	source, err := exercise.Source("hook-fist")
	require.NoError(t, err)
	own := strings.Replace(string(source), "id: hook-fist", "id: gentle-hook", 1)
	write("gentle-hook.yaml", own)
	path := write("c017.yaml", strings.Replace(block, "movement: hook-fist", "movement: gentle-hook.yaml", 1))
	p, _, err := program.Load(path)
	require.NoError(t, err)
	require.Equal(t, "gentle-hook", p.Exercises[0].Name())
	require.Equal(t, own, string(p.Files["gentle-hook.yaml"]))

	// What a program carries is enough to read it elsewhere.
	again, _, err := program.Parse(p.Format(), program.Carried(p.Files))
	require.NoError(t, err)
	require.Equal(t, p, again)

	write("gentle-hook.yaml", strings.Replace(own, "pip: 95", "pip: 950", 1))
	_, _, err = program.Load(path)
	require.ErrorContains(t, err, "line 28: exercises[1].movement: gentle-hook.yaml: line ")
	require.ErrorContains(t, err, "poses.hook.fingers.pip")

	require.NoError(t, os.Remove(filepath.Join(dir, "gentle-hook.yaml")))
	_, _, err = program.Load(path)
	require.ErrorContains(t, err, "line 28: exercises[1].movement: there is no file gentle-hook.yaml beside the program")

	_, _, err = program.Load(filepath.Join(dir, "nothing.yaml"))
	require.ErrorIs(t, err, os.ErrNotExist)
	var e *strictyaml.Error
	require.False(t, errors.As(err, &e))
}

// TestAvoid: what goes with a precaution refuses the exercise that asks for it.
func TestAvoid(t *testing.T) {
	source, err := exercise.Source("whole-hand-grip")
	require.NoError(t, err)
	m, err := exercise.Parse("whole-hand-grip.yaml", source)
	require.NoError(t, err)
	m.ID, m.Objects[0].Hard, m.Objects[1].Warm = "own-grip", true, true
	pinch := *m
	pinch.ID, pinch.Strength = "own-pinch", exercise.Pinch
	src := program.Source{Catalogue: []*exercise.Movement{m, &pinch}}
	for _, c := range []struct {
		avoid            program.Avoid
		movement, object string
		want             string
	}{
		{program.HardObjects, "own-grip", m.Objects[0].ID, "does not give way, and the program says to avoid hard-objects"},
		{program.HardObjects, "own-grip", m.Objects[1].ID, ""},
		{program.Heat, "own-grip", m.Objects[1].ID, "is used warm"},
		{program.Heat, "own-grip", m.Objects[0].ID, ""},
		{program.StrongPinch, "own-pinch", m.Objects[0].ID, "own-pinch pinches with force"},
		{program.StrongPinch, "own-grip", m.Objects[0].ID, ""},
		{program.Resistance, "own-pinch", m.Objects[0].ID, "works against a resistance"},
		{program.Resistance, "own-grip", m.Objects[0].ID, ""},
	} {
		p := parse(t, block)
		p.Avoid = []program.Avoid{c.avoid}
		p.Exercises = []program.Exercise{{Movement: c.movement, Object: c.object}}
		faults, _ := p.Check(src)
		if c.want == "" {
			require.Empty(t, faults, "%v", c)
			continue
		}
		require.Len(t, faults, 1, "%v", c)
		require.Equal(t, "exercises[1].object", faults[0].Field)
		require.Contains(t, faults[0].Text, c.want)
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(block))
	f.Add([]byte("volar_program: 1\n"))
	f.Add([]byte("volar_program: 1\nclient: a\nside: left\nversion: 1\nvalid_from: 2026-12-01\nexercises: [{movement: hook-fist, limits: [{joints: \"*\", schedule: [{not_bent_beyond: free}]}]}]\n"))
	catalogue, err := exercise.Catalogue()
	if err != nil {
		f.Fatal(err)
	}
	src := program.Source{Catalogue: catalogue}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, _, err := program.Parse(data, src)
		if err != nil {
			return
		}
		// What was read can be written, resolved and judged by.
		again, _, err := program.Parse(p.Format(), src)
		if err != nil {
			t.Fatalf("%v in\n%s", err, p.Format())
		}
		require.Equal(t, p, again)
		require.Empty(t, program.Diff(p, again))
		r := p.On(p.ValidFrom)
		if len(r.Exercises) != len(p.Exercises) {
			t.Fatal("an exercise got lost")
		}
		for i := range r.Exercises {
			if err := r.Exercises[i].Limits.Check(); err != nil {
				t.Fatal(err)
			}
		}
	})
}
