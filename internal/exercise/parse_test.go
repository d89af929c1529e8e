package exercise_test

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/strictyaml"
)

// sample is a small movement with everything in it.
const sample = `id: my-hook
name: My hook
family: own
kind: cycle
purpose: To try things.
hands: 1
view:
  best: {name: radial, yaw_deg: 80, shows: the bend}
  second: {name: palmar, yaw_deg: 0, shows: the fingers}
objects:
  - {id: roll, name: a roll, grade: usual, shape: roll, diameter_mm: 50, end: half}
dose: {sets: 2, repetitions: 8, hold_s: 4, rest_s: 30, times_a_day: 1, days_a_week: 5}
poses:
  straight:
    words: Straight.
    fingers: {abduction: 3}
  hook:
    words: A hook.
    fingers: {pip: 90, dip: 50}
    little: {pip: 80, abduction: 6}
    thumb: {mp: 10, ip: 5, palmar: 20}
    wrist: {flexion: -10}
  half:
    words: Half a hook.
    fingers: {pip: 45, dip: 25}
phases:
  - {name: approach, to: hook, seconds: 2, say: Bend.}
  - {name: hold, to: hook}
  - {name: return, to: straight, seconds: 1}
measure:
  from: straight
  to: hook
  weights: {"*.pip": 1, "index.dip": 0.5}
  enter: 0.8
judge:
  lower: [{joints: "*.pip", deg: 0}]
  upper: [{joints: "index.dip", deg: 70}]
  incomplete_grip: true
  keep: [{joints: "*.mcp", from_deg: -30, to_deg: 40, say: Keep them straight.}]
  apart_deg: 15
tempo: {least_s: 0.5}
cautions: [Gently.]
ask_first: [After surgery.]
good: Slow.
poor: [Fast.]
sources: [from memory]
`

func TestParse(t *testing.T) {
	m, err := exercise.Parse("own.yaml", []byte(sample))
	require.NoError(t, err)
	require.Equal(t, "my-hook", m.ID)
	require.Equal(t, exercise.Cycle, m.Kind)

	hook := m.EndPose()
	require.Equal(t, exercise.FingerPose{PIP: 90, DIP: 50}, hook.Fingers[0])
	require.Equal(t, exercise.FingerPose{PIP: 80, DIP: 50, Abduction: 6}, hook.Fingers[3], "a finger's own angles go before the shared ones")
	require.Equal(t, exercise.ThumbPose{Palmar: 20, MP: 10, IP: 5}, hook.Thumb)
	require.Equal(t, exercise.WristPose{Flexion: -10}, hook.Wrist)
	require.Equal(t, 3.0, m.StartPose().Fingers[2].Abduction)
	require.Equal(t, "A hook.", m.PoseWords["hook"])

	require.Equal(t, 1.0, m.Measure.Weights[hand.RingPIP])
	require.Equal(t, 0.5, m.Measure.Weights[hand.IndexDIP])
	require.Zero(t, m.Measure.Weights[hand.MiddleDIP])
	require.Equal(t, []float64{0.8, 0.6, 0.25, 0.4}, []float64{m.Measure.Enter, m.Measure.Leave, m.Measure.Rest, m.Measure.Attempt})
	require.Equal(t, exercise.Mean, m.Measure.Combine)
	require.Equal(t, exercise.Joints{hand.IndexPIP, hand.MiddlePIP, hand.RingPIP, hand.LittlePIP}, m.Judge.Lower[0].Joints)
	require.Equal(t, 40.0, *m.Judge.Keep[0].To)
	require.Equal(t, "500ms", m.Tempo.Least().String())
	require.Equal(t, "300ms", exercise.Tempo{}.Least().String())
}

func TestParseRefuses(t *testing.T) {
	for name, c := range map[string]struct{ old, new, want string }{
		"unknown field":        {"hands: 1", "hand: 1", "line 6: hand: is not a field here"},
		"missing field":        {"good: Slow.\n", "", "line 1: good: is missing"},
		"id":                   {"id: my-hook", "id: My Hook", `line 1: id: "My Hook" is no id`},
		"kind":                 {"kind: cycle", "kind: circle", `line 4: kind: "circle" is not known; known are cycle, hold, sequence, unmeasured`},
		"hands":                {"hands: 1", "hands: 3", "line 6: hands: 3 is outside 1 to 2"},
		"view":                 {"yaw_deg: 80", "yaw_deg: 170", `line 8: view.best.name: a yaw of 170° is the view "dorsal", not "radial"`},
		"empty words":          {"purpose: To try things.", `purpose: " "`, "line 5: purpose: wants words"},
		"no cautions":          {"cautions: [Gently.]", "cautions: []", "cautions: wants at least one entry"},
		"dose":                 {"sets: 2", "sets: 20", "line 12: dose.sets: 20 is outside 1 to 10"},
		"no rest":              {"rest_s: 30", "rest_s: 0", "line 12: dose.rest_s: 2 sets want a rest between them"},
		"impossible angle":     {"fingers: {pip: 90, dip: 50}", "fingers: {pip: 190, dip: 50}", "line 19: poses.hook.fingers.pip: 190° is outside what index.pip can do, -45 to 130"},
		"impossible finger":    {"little: {pip: 80, abduction: 6}", "little: {pip: -80}", "line 20: poses.hook.little.pip: -80° is outside what little.pip can do"},
		"impossible thumb":     {"mp: 10, ip: 5", "mp: 10, ip: 200", "line 21: poses.hook.thumb.ip: 200° is outside what thumb.ip can do"},
		"impossible spread":    {"fingers: {abduction: 3}", "fingers: {abduction: 80}", "line 16: poses.straight.fingers.abduction: 80 is outside -30 to 40"},
		"unknown pose":         {"{name: approach, to: hook,", "{name: approach, to: fist,", `line 27: phases[1].to: there is no pose "fist"; poses are half, hook, straight`},
		"hold elsewhere":       {"{name: hold, to: hook}", "{name: hold, to: half}", `line 28: phases[2].to: a hold stays at pose "hook", it cannot go to "half"`},
		"no way":               {"{name: return, to: straight, seconds: 1}", "{name: return, to: hook, seconds: 1}", `line 29: phases[3].to: the hand is at pose "hook" already`},
		"does not come back":   {"{name: return, to: straight, seconds: 1}", "{name: return, to: half, seconds: 1}", `line 29: phases[3].to: a repetition ends where it began, at pose "straight"`},
		"end not reached":      {"  to: hook\n", "  to: half\n", `phases: no phase reaches the end pose "half"`},
		"too quick":            {"seconds: 2,", "seconds: 0.1,", "line 27: phases[1].seconds: 0.1 is outside 0.3 to 60"},
		"thresholds":           {"enter: 0.8", "enter: 0.5", "line 30: measure: wants 0 < rest < attempt <= leave < enter < 1, has 0.25, 0.4, 0.6, 0.5"},
		"weight twice":         {`"index.dip": 0.5`, `"index.*": 0.5`, "index.pip has a weight already"},
		"weight of nothing":    {`"index.dip": 0.5`, `"index.toe": 0.5`, `line 33: measure.weights.index.toe: channel "index.toe" is not known`},
		"weight of zero":       {`"index.dip": 0.5`, `"index.dip": 0`, "measure.weights.index.dip: 0 is outside 0.05 to 10"},
		"no travel":            {`{"*.pip": 1, "index.dip": 0.5}`, `{"thumb.ip": 1}`, `pose "hook" lies only 5 weighted degrees from pose "straight"`},
		"object's end":         {"end: half", "end: straight", `line 11: objects[1].end: pose "straight" lies only 0 weighted degrees`},
		"no usual object":      {"grade: usual", "grade: harder", `line 10: objects: one object must have the grade "usual"`},
		"no diameter":          {", diameter_mm: 50", "", "line 11: objects[1].diameter_mm: 0 is outside 10 to 150"},
		"limit":                {`"*.pip", deg: 0`, `"*.pip", deg: -90`, "line 36: judge.lower[1].deg: -90° is outside what index.pip can do"},
		"limits crossed":       {`"index.dip", deg: 70`, `"index.pip", deg: -5`, "the upper limit of index.pip, -5°, is not above its lower limit, 0°"},
		"unknown joints":       {`"*.mcp"`, `"*.knee"`, `line 39: judge.keep[1].joints: joints "*.knee" match nothing`},
		"joint with a way":     {`weights: {"*.pip": 1, "index.dip": 0.5}`, `channels: {index.pip: {from: 0, to: 90}}`, "line 33: measure.channels.index.pip: index.pip is a joint: its way is that between the poses"},
		"channel without way":  {`"index.dip": 0.5`, `"index.pinch": 0.5`, "index.pinch has a weight but no way; give from and to"},
		"channel's range":      {`weights: {"*.pip": 1, "index.dip": 0.5}`, `channels: {index.pinch: {from: 0, to: 900}}`, "line 33: measure.channels.index.pinch.to: 900 is outside 0 to 250"},
		"one hand in a pair":   {"hands: 1", "hands: 1\npair: together", "line 7: pair: only a movement of two hands has this"},
		"two hands, how":       {"hands: 1", "hands: 2", `line 1: pair: "" is not known; known are together, alternating`},
		"opposite of nothing":  {"hands: 1", "hands: 1\nopposite: true", "line 7: opposite: only a movement of two hands has this"},
		"strength":             {"hands: 1", "hands: 1\nstrength: brute", `line 7: strength: "brute" is not known; known are pinch, squeeze, stretch`},
		"steps of no sequence": {"tempo:", "steps: [{name: a, to: hook, seconds: 1, say: Go., weights: {\"*.pip\": 1}}]\ntempo:", "line 41: steps: only a sequence has steps"},
		"between no steps":     {"tempo:", "between: straight\ntempo:", "line 41: between: only a sequence has a pose between its steps"},
		"order of no steps":    {"apart_deg: 15", "order: true", "line 40: judge.order: only the steps of a sequence have an order"},
		"wobble":               {"apart_deg: 15", "steady_deg: 90", "line 40: judge.steady_deg: 90 is outside 3 to 30"},
		"stays put":            {"apart_deg: 15", "stay_put_palms: 9", "line 40: judge.stay_put_palms: 9 is outside 0.2 to 5"},
		"keep both":            {`{joints: "*.mcp", from_deg: -30`, `{joints: "*.mcp", channels: "*.spread", from_deg: -30`, "line 39: judge.keep[1]: wants either joints or channels"},
		"keep nothing":         {"from_deg: -30, to_deg: 40, ", "", "line 39: judge.keep[1]: wants from_deg or to_deg or both"},
		"keep upside down":     {"from_deg: -30, to_deg: 40", "from_deg: 50, to_deg: 40", "judge.keep[1].to_deg: 40° is not above from_deg, 50°"},
		"apart":                {"apart_deg: 15", "apart_deg: 90", "line 40: judge.apart_deg: 90 is outside 5 to 40"},
		"tempo":                {"least_s: 0.5", "least_s: 100", "line 41: tempo.least_s: 100 is outside 0.1 to 10"},
		"unmeasured measured":  {"kind: cycle", "kind: unmeasured", `measure: a movement of kind "unmeasured" has only a start pose (from) here`},
	} {
		t.Run(name, func(t *testing.T) {
			changed := strings.Replace(sample, c.old, c.new, 1)
			require.NotEqual(t, sample, changed, "the case changes nothing")
			_, err := exercise.Parse("own.yaml", []byte(changed))
			var e *strictyaml.Error
			require.True(t, errors.As(err, &e), "%v", err)
			require.Contains(t, err.Error(), c.want)
		})
	}
}

// inOrder is a small sequence.
const inOrder = `id: my-touches
name: My touches
family: own
kind: sequence
purpose: To try things.
hands: 1
view:
  best: {name: palmar, yaw_deg: 0, shows: the tips}
  second: {name: radial, yaw_deg: 80, shows: the bend}
dose: {sets: 1, repetitions: 5, hold_s: 0, rest_s: 0, times_a_day: 1, days_a_week: 7}
poses:
  open: {words: Open.}
  index-tip: {words: Thumb to index., thumb: {palmar: 40}}
  middle-tip: {words: Thumb to middle., thumb: {palmar: 45}}
  ring-hook: {words: A bent ring finger., ring: {pip: 80}}
measure: {from: open, enter: 0.8, leave: 0.7}
between: open
back_s: 0.8
steps:
  - {name: index, to: index-tip, seconds: 1, say: Index., channels: {index.pinch: {from: 90, to: 10}}}
  - {name: middle, to: middle-tip, seconds: 1, hold_s: 2, say: Middle., channels: {middle.pinch: {from: 90, to: 10}}, weights: {middle.pinch: 2}, enter: 0.9}
  - {name: ring, to: ring-hook, seconds: 1, say: Ring., weights: {ring.pip: 1}, keep: [{joints: "ring.mcp", to_deg: 40, say: Straight.}]}
judge: {order: true}
cautions: [Gently.]
ask_first: [After surgery.]
good: In order.
poor: [Out of order.]
sources: [from memory]
`

func TestParseSequence(t *testing.T) {
	m, err := exercise.Parse("own.yaml", []byte(inOrder))
	require.NoError(t, err)
	require.Len(t, m.Steps, 3)
	require.Equal(t, "open", m.Measure.From)
	require.Equal(t, "ring-hook", m.Measure.To)
	a, b, c := m.Steps[0], m.Steps[1], m.Steps[2]
	require.Equal(t, exercise.Way{From: 90, To: 10}, m.Way(&a.Measure, hand.PinchIndex))
	require.Equal(t, 1.0, a.Measure.Weights[hand.PinchIndex], "a stated way weighs 1")
	require.Equal(t, 2.0, b.Measure.Weights[hand.PinchMiddle])
	require.Equal(t, []float64{0.8, 0.7}, []float64{a.Measure.Enter, a.Measure.Leave}, "the movement's own thresholds")
	require.Equal(t, []float64{0.9, 0.7}, []float64{b.Measure.Enter, b.Measure.Leave})
	require.Equal(t, exercise.Way{From: 0, To: 80}, m.Way(&c.Measure, hand.Channel(hand.RingPIP)), "a joint goes from pose to pose")
	require.Equal(t, 40.0, *c.Keep[0].To)

	type at struct {
		phase exercise.PhaseName
		pose  string
		step  int
		time  time.Duration
	}
	var got []at
	for _, k := range m.KeyPoses(0, 1) {
		got = append(got, at{k.Phase, k.Name, k.Step, k.At})
	}
	ms := func(n int) time.Duration { return time.Duration(n) * time.Millisecond }
	require.Equal(t, []at{
		{"", "open", 0, 0}, {"approach", "index-tip", 1, ms(1000)}, {"return", "open", 1, ms(1800)},
		{"approach", "middle-tip", 2, ms(2800)}, {"hold", "middle-tip", 2, ms(4800)}, {"return", "open", 2, ms(5600)},
		{"approach", "ring-hook", 3, ms(6600)}, {"return", "open", 0, ms(7400)},
		{"hold", "open", 0, ms(8400)},
	}, got)
	for _, s := range m.Steps {
		require.Equal(t, "open", s.Measure.From)
	}

	// Without a pose between them, a step begins where the one before ended.
	m, err = exercise.Parse("own.yaml", []byte(strings.Replace(inOrder, "between: open\n", "", 1)))
	require.NoError(t, err)
	require.Equal(t, "middle-tip", m.Steps[2].Measure.From)
}

func TestParseRefusesSequence(t *testing.T) {
	for name, c := range map[string]struct{ old, new, want string }{
		"phases too":    {"between: open", "phases: [{name: approach, to: index-tip, seconds: 1}]\nbetween: open", "line 17: phases: a sequence has steps instead"},
		"an end":        {"measure: {from: open,", "measure: {from: open, to: index-tip,", `line 16: measure: a movement of kind "sequence" has only a start pose (from) here`},
		"name twice":    {"name: middle,", "name: index,", `line 21: steps[2].name: "index" is no name of its own`},
		"unknown pose":  {"to: middle-tip", "to: elbow", `line 21: steps[2].to: there is no pose "elbow"`},
		"no way":        {"to: index-tip", "to: open", `line 20: steps[1].to: the hand is at pose "open" already`},
		"no measure":    {", channels: {index.pinch: {from: 90, to: 10}}", "", "line 20: steps[1].weights: wants at least one joint or channel"},
		"no travel":     {"{from: 90, to: 10}}}\n  - {name: middle", "{from: 20, to: 10}}}\n  - {name: middle", `line 20: steps[1].to: pose "index-tip" lies only 10 weighted degrees`},
		"thresholds":    {"enter: 0.9", "enter: 0.6", "line 21: steps[2]: wants 0 < rest"},
		"between where": {"between: open", "between: there", `line 17: between: there is no pose "there"`},
		"back too fast": {"back_s: 0.8", "back_s: 0.1", "line 18: back_s: 0.1 is outside 0.3 to 60"},
		"step's keep":   {`to_deg: 40, say: Straight.`, `to_deg: 400, say: Straight.`, "line 22: steps[3].keep[1].to_deg: 400° is outside what ring.mcp can do"},
	} {
		t.Run(name, func(t *testing.T) {
			changed := strings.Replace(inOrder, c.old, c.new, 1)
			require.NotEqual(t, inOrder, changed, "the case changes nothing")
			_, err := exercise.Parse("own.yaml", []byte(changed))
			require.ErrorContains(t, err, c.want)
			require.ErrorContains(t, err, "own.yaml")
		})
	}
}

// In wringing the left hand turns the other way from the same start.
func TestOppositeHands(t *testing.T) {
	two := strings.NewReplacer("hands: 1", "hands: 2\npair: together\nopposite: true",
		`weights: {"*.pip": 1, "index.dip": 0.5}`, `channels: {hand.turn: {from: 60, to: 90}}`+"\n  weights: {\"*.pip\": 1}").Replace(sample)
	m, err := exercise.Parse("own.yaml", []byte(two))
	require.NoError(t, err)
	require.Equal(t, exercise.Way{From: 60, To: 90}, m.For(hand.Right).Measure.Ways[hand.HandTurn])
	l := m.For(hand.Left)
	require.Equal(t, exercise.Way{From: 60, To: 30}, l.Measure.Ways[hand.HandTurn])
	require.Equal(t, m.Measure.Weights, l.Measure.Weights)
	require.Equal(t, exercise.Way{From: 60, To: 90}, m.Measure.Ways[hand.HandTurn], "the movement itself is unchanged")
}

// What is written as JSON is the file again: Parse reads it to the same
// movement, so that an own copy may be made by a program too.
func TestJSONRoundTrip(t *testing.T) {
	all, err := exercise.Catalogue()
	require.NoError(t, err)
	for _, src := range []string{sample, inOrder} {
		m, err := exercise.Parse("own.yaml", []byte(src))
		require.NoError(t, err)
		all = append(all, m)
	}
	for _, m := range all {
		data, err := json.Marshal(m)
		require.NoError(t, err, m.ID)
		back, err := exercise.Parse("own.json", data)
		require.NoError(t, err, "%s: %s", m.ID, data)
		require.Equal(t, m, back)
		var direct exercise.Movement
		require.NoError(t, json.Unmarshal(data, &direct))
		require.Equal(t, m, &direct)
	}
	odd := exercise.Movement{ID: "odd", Judge: exercise.Judge{Lower: []exercise.Bound{{Joints: exercise.Joints{hand.IndexPIP, hand.RingDIP}}}}}
	_, err = json.Marshal(&odd)
	require.ErrorContains(t, err, "cannot be written as one pattern")
}

func TestParseNamesEveryProblem(t *testing.T) {
	broken := strings.NewReplacer("hands: 1", "hands: 5", "sets: 2", "sets: 0", "to: hook, seconds: 2", "to: claw, seconds: 2").Replace(sample)
	_, err := exercise.Parse("own.yaml", []byte(broken))
	var e *strictyaml.Error
	require.True(t, errors.As(err, &e))
	var lines []int
	for _, p := range e.Problems {
		lines = append(lines, p.Line)
	}
	require.Subset(t, lines, []int{6, 12, 27})
	require.IsNonDecreasing(t, lines)
}

// FuzzParse holds that no file makes the reader panic, and that what it takes
// is fit for use.
func FuzzParse(f *testing.F) {
	f.Add([]byte(sample))
	f.Add([]byte(inOrder))
	all, err := exercise.Catalogue()
	require.NoError(f, err)
	for _, m := range all {
		src, err := exercise.Source(m.ID)
		require.NoError(f, err)
		f.Add(src)
	}
	f.Add([]byte("id: a\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		m, err := exercise.Parse("own.yaml", data)
		if err != nil {
			return
		}
		for _, o := range append(m.Objects, exercise.Object{}) {
			w, err := m.With(o.ID)
			if err != nil {
				t.Fatalf("object %q: %v", o.ID, err)
			}
			keys := w.KeyPoses(0, 1)
			for i := 1; i < len(keys); i++ {
				if keys[i].At < keys[i-1].At {
					t.Fatal("key poses run backwards")
				}
			}
			exercise.PoseAt(keys, keys[len(keys)-1].At/2)
		}
	})
}
