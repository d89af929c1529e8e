package exercise_test

import (
	"fmt"
	"math"
	"os"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/exercise"
	"volar/internal/hand"
)

func TestCatalogue(t *testing.T) {
	all, err := exercise.Catalogue()
	require.NoError(t, err)
	files, err := os.ReadDir("movements")
	require.NoError(t, err)
	require.Len(t, all, len(files))
	for _, m := range all {
		got, err := exercise.Find(m.ID)
		require.NoError(t, err)
		require.Equal(t, m, got)
		src, err := exercise.Source(m.ID)
		require.NoError(t, err)
		require.Contains(t, string(src), "id: "+m.ID)
	}
	_, err = exercise.Find("juggling")
	require.ErrorIs(t, err, exercise.ErrUnknown)
	require.ErrorContains(t, err, `exercise "juggling" is not in the catalogue; it has `)
	require.ErrorContains(t, err, "hook-fist")
	_, err = exercise.Source("juggling")
	require.ErrorIs(t, err, exercise.ErrUnknown)
}

// Who is given a movement may change it, whatever others are given.
func TestMovementsAreTheCallersOwn(t *testing.T) {
	one, err := exercise.Catalogue()
	require.NoError(t, err)
	other, err := exercise.Catalogue()
	require.NoError(t, err)
	first, second := map[uintptr]string{}, map[uintptr]string{}
	for i := range one {
		addresses(reflect.ValueOf(one[i]), one[i].ID, first)
		addresses(reflect.ValueOf(other[i]), other[i].ID, second)
	}
	require.Greater(t, len(second), len(other))
	for at, path := range second {
		require.NotContains(t, first, at, "%s is that of an earlier call", path)
	}
}

// addresses notes where all that can be changed through v lies, and its name.
func addresses(v reflect.Value, path string, into map[uintptr]string) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			into[v.Pointer()] = path
			addresses(v.Elem(), path, into)
		}
	case reflect.Map:
		if !v.IsNil() {
			into[v.Pointer()] = path
		}
		for _, k := range v.MapKeys() {
			addresses(v.MapIndex(k), fmt.Sprintf("%s[%v]", path, k), into)
		}
	case reflect.Slice:
		if v.Len() > 0 {
			into[v.Pointer()] = path
		}
		fallthrough
	case reflect.Array:
		for i := range v.Len() {
			addresses(v.Index(i), fmt.Sprintf("%s[%d]", path, i), into)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			addresses(v.Field(i), path+"."+v.Type().Field(i).Name, into)
		}
	}
}

// The catalogue holds at least these, by family; the IDs stand in stored
// programs and never change.
func TestFamilies(t *testing.T) {
	all, err := exercise.Catalogue()
	require.NoError(t, err)
	got := map[string][]string{}
	for _, m := range all {
		got[m.Family] = append(got[m.Family], m.ID)
	}
	for family, ids := range map[string][]string{
		"cylindrical grip":    {"grip-hold", "whole-hand-grip"},
		"cloth on a table":    {"cloth-gather", "cloth-gather-in-order"},
		"two-handed wringing": {"wringing-alternating", "wringing-together"},
		"in-hand crumpling":   {"paper-crumple", "paper-smooth"},
		"adduction hold":      {"adduction-hold-index-middle", "adduction-hold-middle-ring", "adduction-hold-ring-little", "straight-finger-hold"},
		"round object":        {"ball-roll-in", "ball-squeeze"},
		"tendon gliding":      {"full-fist", "hook-fist", "straight-fist", "tabletop", "tendon-glide-sequence"},
		"blocked flexion": {"blocked-pip-index", "blocked-pip-middle", "blocked-pip-ring", "blocked-pip-little",
			"blocked-dip-index", "blocked-dip-middle", "blocked-dip-ring", "blocked-dip-little"},
		"open-hand work": {"band-extension", "finger-lifts", "spread-and-close"},
		"thumb":          {"thumb-flexion", "thumb-opposition", "thumb-palmar-abduction", "thumb-radial-abduction"},
		"wrist":          {"wrist-circles", "wrist-over-edge"},
	} {
		require.Subset(t, got[family], ids, family)
	}
}

// Doses stay within what handouts and clinics give: up to 10 repetitions, 3 to
// 5 times a day, holds of 3 to 5 s, isometric holds of 5 to 10 s with 5 to 10
// repetitions (tendon-gliding handouts; common practice). Strength work is not
// done every hour.
func TestDoses(t *testing.T) {
	all, err := exercise.Catalogue()
	require.NoError(t, err)
	for _, m := range all {
		d := m.Dose
		require.LessOrEqual(t, d.Repetitions, 10, m.ID)
		require.GreaterOrEqual(t, d.Repetitions, 5, m.ID)
		require.LessOrEqual(t, d.TimesADay, 5, m.ID)
		if m.Kind == exercise.Hold {
			require.GreaterOrEqual(t, d.HoldSeconds, 5.0, m.ID)
			require.LessOrEqual(t, d.HoldSeconds, 10.0, m.ID)
			require.GreaterOrEqual(t, d.RestSeconds, 30.0, m.ID)
		} else {
			require.LessOrEqual(t, d.HoldSeconds, 5.0, m.ID)
		}
		if m.Strength != exercise.NoStrength {
			require.LessOrEqual(t, d.TimesADay, 2, m.ID)
		}
	}
}

// Every movement says how it is seen in two unlike ways, and one that watches
// a knuckle for passing straight has a view that shows it: from the side, or
// else it says in its notes that it does not.
func TestViews(t *testing.T) {
	all, err := exercise.Catalogue()
	require.NoError(t, err)
	side := func(v exercise.View) bool { return v.Name == "radial" || v.Name == "ulnar" }
	for _, m := range all {
		require.NotEqual(t, m.View.Best.Name, m.View.Second.Name, m.ID)
		if m.Kind == exercise.Unmeasured || side(m.View.Best) || side(m.View.Second) {
			continue
		}
		if m.View.Best.Name != "palmar" {
			require.Contains(t, strings.Join(m.Notes, "\n"), "Not measured: whether a knuckle passes straight", m.ID)
		}
	}
}

// Where a movement has objects, there is an easier and a harder one beside the
// usual.
func TestGrades(t *testing.T) {
	all, err := exercise.Catalogue()
	require.NoError(t, err)
	for _, m := range all {
		grades := map[exercise.Grade]int{}
		for _, o := range m.Objects {
			grades[o.Grade]++
		}
		if len(m.Objects) > 0 {
			for _, g := range []exercise.Grade{exercise.Easier, exercise.Usual, exercise.Harder} {
				require.Positive(t, grades[g], "%s has no object of grade %s", m.ID, g)
			}
		}
	}
}

// done says whether a step's measure is in its end zone in a pose, and
// whether all is kept that the step wants; by joints alone.
func done(m *exercise.Movement, s *exercise.Step, p exercise.Pose) bool {
	a := p.Flexion()
	var sum, whole float64
	for j := range a {
		c := hand.Channel(j)
		w, way := s.Measure.Weights[c], m.Way(&s.Measure, c)
		sum += w * (a[j] - way.From) * math.Copysign(1, way.To-way.From)
		whole += w * math.Abs(way.To-way.From)
	}
	for _, k := range s.Keep {
		for _, j := range k.Joints {
			if k.From != nil && a[j] < *k.From || k.To != nil && a[j] > *k.To {
				return false
			}
		}
	}
	return sum >= s.Measure.Enter*whole
}

// In the pose of a step that step is done and no later one, so that an order
// can be judged; the pose between is none of them.
func TestStepsAreToldApart(t *testing.T) {
	all, err := exercise.Catalogue()
	require.NoError(t, err)
	for _, m := range all {
		for i := range m.Steps {
			s := &m.Steps[i]
			if len(s.Measure.Ways) > 0 {
				continue // told apart by where the hand is, not by its joints
			}
			require.True(t, done(m, s, m.Poses[s.To]), "%s: %s is not done in its own pose", m.ID, s.Name)
			require.False(t, done(m, s, m.StartPose()), "%s: %s is done at the start", m.ID, s.Name)
			for k := i + 1; k < len(m.Steps); k++ {
				require.False(t, done(m, &m.Steps[k], m.Poses[s.To]), "%s: %s is done in the pose of %s", m.ID, m.Steps[k].Name, s.Name)
			}
		}
	}
}

// Over a table edge the hand tilts by as much as the wrist bends.
func TestTiltIsTheWrists(t *testing.T) {
	m, err := exercise.Find("wrist-over-edge")
	require.NoError(t, err)
	way := m.Measure.Ways[hand.HandTilt]
	require.Equal(t, m.EndPose().Wrist.Flexion-m.StartPose().Wrist.Flexion, way.To-way.From)
	// The forearm lies level, so that a straight wrist has the hand at 90.
	require.Equal(t, 90+m.StartPose().Wrist.Flexion, way.From)
	// Two thirds of normal motion, flexion 75 and extension 74 degrees (AAOS;
	// Boone and Azen 1979), at most.
	require.LessOrEqual(t, m.StartPose().Wrist.Flexion, 75*0.7)
	require.GreaterOrEqual(t, m.EndPose().Wrist.Flexion, -74*0.7)
}

// Words that promise what the program does not do.
func TestCatalogueClaimsNothing(t *testing.T) {
	all, err := exercise.Catalogue()
	require.NoError(t, err)
	for _, m := range all {
		src, err := exercise.Source(m.ID)
		require.NoError(t, err)
		text := strings.ToLower(string(src))
		for _, w := range []string{"diagnos", "treats", "treatment", "prevent", " safe", "accurate", "cure"} {
			require.NotContains(t, text, w, m.ID)
		}
	}
}

// Every movement asks the question about lax joints: a middle knuckle past
// straight is judged unless the movement is not measured at all.
func TestMiddleKnucklesAreWatched(t *testing.T) {
	all, err := exercise.Catalogue()
	require.NoError(t, err)
	for _, m := range all {
		watched := map[hand.Joint]bool{}
		for _, b := range m.Judge.Lower {
			for _, j := range b.Joints {
				watched[j] = true
			}
		}
		for _, f := range hand.Fingers {
			if m.Kind != exercise.Unmeasured {
				require.True(t, watched[hand.JointOf(f, hand.PIP)], "%s does not watch %s", m.ID, f)
			}
		}
	}
}

// The grip poses are those of a finger laid around a cylinder: each phalanx is
// tangent to a circle whose radius is that of the object and 8 mm of finger,
// the palm touches it 20 mm from the MCP joint, and a phalanx at its middle.
// Phalanx lengths in millimetres: Buryanov and Kotiuk 2010, from memory.
func TestGripPosesLieAroundTheirObject(t *testing.T) {
	lengths := [4][3]float64{{39.8, 22.4, 15.8}, {44.6, 26.3, 17.4}, {41.4, 25.7, 17.3}, {32.7, 18.1, 16.0}}
	lies := func(name string, mm float64, p exercise.Pose) {
		r := mm/2 + 8
		turn := func(a, b float64) float64 { return (math.Atan(a/r) + math.Atan(b/r)) * 180 / math.Pi }
		for i, l := range lengths {
			got := p.Fingers[i]
			require.InDelta(t, turn(20, l[0]/2), got.MCP, 1, "%s %s MCP", name, hand.Fingers[i])
			require.InDelta(t, turn(l[0]/2, l[1]/2), got.PIP, 1, "%s %s PIP", name, hand.Fingers[i])
			require.InDelta(t, turn(l[1]/2, l[2]/2), got.DIP, 1, "%s %s DIP", name, hand.Fingers[i])
		}
	}
	for id, objects := range map[string]int{"whole-hand-grip": 4, "grip-hold": 3, "ball-roll-in": 3, "ball-squeeze": 3} {
		m, err := exercise.Find(id)
		require.NoError(t, err)
		require.Len(t, m.Objects, objects, id)
		for _, o := range m.Objects {
			w, err := m.With(o.ID)
			require.NoError(t, err)
			lies(id+" "+o.ID, o.DiameterMM, w.EndPose())
		}
	}
	wring, err := exercise.Find("wringing-together")
	require.NoError(t, err)
	lies("wringing", 40, wring.StartPose())
}

// The thinner the roll, the further the hand closes, and never to a full fist.
func TestGradesOfTheGrip(t *testing.T) {
	m, err := exercise.Find("whole-hand-grip")
	require.NoError(t, err)
	composite := func(object string) float64 {
		w, err := m.With(object)
		require.NoError(t, err)
		return w.EndPose().CompositeDeg(hand.Middle)
	}
	require.Less(t, composite("thick-towel"), composite("towel"))
	require.Less(t, composite("towel"), composite("thin-towel"))
	// Full fist of a normal finger: 260 degrees (ASSH: MP 85, PIP 110, DIP 65).
	require.Less(t, composite("thin-towel"), 260*0.8)
	require.Equal(t, composite(""), composite("towel"), "the usual object is the default")
	_, err = m.With("brick")
	require.ErrorContains(t, err, `no object "brick"; it has towel, ball, thick-towel, thin-towel`)
}

// Hook fist: MCP at most 30, PIP at least 70 (thresholds of a detector, common
// practice after Wehbe and Hunter 1985), and within normal active motion, AAOS
// 1994 index to little: PIP 102/105/108/106, DIP 72/71/63/65.
func TestHookFist(t *testing.T) {
	m, err := exercise.Find("hook-fist")
	require.NoError(t, err)
	pip, dip := [4]float64{102, 105, 108, 106}, [4]float64{72, 71, 63, 65}
	for i, f := range m.EndPose().Fingers {
		require.LessOrEqual(t, f.MCP, 30.0)
		require.GreaterOrEqual(t, f.PIP, 70.0)
		require.LessOrEqual(t, f.PIP, pip[i])
		require.LessOrEqual(t, f.DIP, dip[i])
	}
}

// Straight within 20 degrees at every joint (same source), and nowhere past
// straight: the pose that lax joints are judged by must not itself be a fault.
func TestStraightPoses(t *testing.T) {
	m, err := exercise.Find("straight-finger-hold")
	require.NoError(t, err)
	for _, deg := range m.EndPose().Flexion() {
		require.GreaterOrEqual(t, deg, 0.0)
		require.LessOrEqual(t, deg, 20.0)
	}
}

func TestKeyPoses(t *testing.T) {
	m, err := exercise.Find("whole-hand-grip")
	require.NoError(t, err)
	m, err = m.With("thin-towel")
	require.NoError(t, err)
	keys := m.KeyPoses(4*time.Second, 2)
	var at []time.Duration
	for _, k := range keys {
		at = append(at, k.At)
	}
	ms := func(n int) time.Duration { return time.Duration(n) * time.Millisecond }
	require.Equal(t, []time.Duration{0, ms(750), ms(4750), ms(5500), ms(6500)}, at)
	require.Equal(t, m.StartPose(), keys[0].Pose)
	require.Equal(t, m.Poses["grip-35"], keys[1].Pose)
	require.Equal(t, m.Poses["grip-35"], exercise.PoseAt(keys, ms(2000)))
	require.Equal(t, m.StartPose(), exercise.PoseAt(keys, time.Hour))
	half := exercise.PoseAt(keys, ms(375))
	require.InDelta(t, (m.StartPose().Fingers[0].PIP+m.EndPose().Fingers[0].PIP)/2, half.Fingers[0].PIP, 1e-9)

	require.Equal(t, 3*time.Second, m.KeyPoses(0, 1)[2].At-m.KeyPoses(0, 1)[1].At, "the dose's own hold")
}

// Minimum jerk: 10 t^3 - 15 t^4 + 6 t^5 (Flash and Hogan 1985).
func TestEase(t *testing.T) {
	for in, want := range map[float64]float64{-1: 0, 0: 0, 0.25: 0.103515625, 0.5: 0.5, 0.75: 0.896484375, 1: 1, 2: 1} {
		require.InDelta(t, want, exercise.Ease(in), 1e-12)
	}
}

func TestPoseRoundTrip(t *testing.T) {
	m, err := exercise.Find("hook-fist")
	require.NoError(t, err)
	p := m.EndPose()
	require.Equal(t, p, exercise.Pose{Thumb: p.Thumb, Wrist: p.Wrist, Fingers: [4]exercise.FingerPose{
		{Abduction: p.Fingers[0].Abduction}, {Abduction: p.Fingers[1].Abduction}, {Abduction: p.Fingers[2].Abduction}, {Abduction: p.Fingers[3].Abduction},
	}}.WithFlexion(p.Flexion()))
	require.Equal(t, p.Fingers[0].MCP+p.Fingers[0].PIP+p.Fingers[0].DIP, p.CompositeDeg(hand.Index))
	require.Equal(t, p.Thumb.MP+p.Thumb.IP, p.CompositeDeg(hand.Thumb))
}
