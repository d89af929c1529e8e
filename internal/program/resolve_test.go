package program_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/program"
)

func TestPrescribed(t *testing.T) {
	p := parse(t, block)
	r := p.On(date(t, "2026-12-08"))
	require.Len(t, r.Exercises, 3)

	hook := r.Exercises[0]
	require.Equal(t, exercise.Dose{Sets: 1, Repetitions: 5, HoldSeconds: 3, TimesADay: 3, DaysAWeek: 7}, hook.Dose)
	require.Equal(t, 1.5, hook.Movement.Tempo.LeastSeconds)
	require.Equal(t, hand.Left, hook.Side)
	require.Equal(t, "radial", hook.View.Name)
	require.Equal(t, program.EarlyCue, hook.Cue)
	require.Equal(t, "Stop at the splint.", hook.Note)
	require.Empty(t, hook.OtherLimits)

	grip := r.Exercises[1]
	require.Equal(t, "thick-towel", grip.Object.ID, "the first of the easier grade")
	require.Equal(t, "grip-70", grip.Movement.Measure.To)
	require.Equal(t, "oblique palmar-radial", grip.View.Name)
	usual, err := exercise.Find("whole-hand-grip")
	require.NoError(t, err)
	require.Equal(t, usual.Dose, grip.Dose, "what is left out is the usual dose")
	require.Equal(t, "grip-50", usual.Measure.To, "the catalogue is unchanged")

	other := r.Exercises[2]
	require.Equal(t, "other-hand", other.ID)
	require.Equal(t, hand.Right, other.Side)
	require.Empty(t, other.Limits, "the limits of the program are those of its side")
	got, err := r.Find("other-hand")
	require.NoError(t, err)
	require.Equal(t, "ball", got.Object.ID)
	_, err = r.Find("tabletop")
	require.Error(t, err)
}

// TestLimitsOfTheOtherHand: a program for the left hand with limits for both,
// in an exercise of each hand, of both, and of both led by the right.
func TestLimitsOfTheOtherHand(t *testing.T) {
	text, _, _ := strings.Cut(block, "exercises:")
	p := parse(t, text+`  - {joints: "*.pip", side: right, schedule: [{not_straighter_than: 5}, {from: 2026-12-08, not_straighter_than: -5}]}
exercises:
  - movement: hook-fist
  - movement: whole-hand-grip
    side: right
  - movement: wringing-together
    limits:
      - {joints: index.pip, side: right, schedule: [{not_straighter_than: 12}]}
      - {joints: thumb.ip, schedule: [{not_bent_beyond: 50}]}
  - movement: wringing-alternating
    side: right
    limits: [{joints: thumb.ip, schedule: [{not_bent_beyond: 55}]}]
`)
	r := p.On(date(t, "2026-12-01"))
	lower := func(l coach.Limits, j hand.Joint) any {
		if x := l[j].Lower; x != nil {
			return *x
		}
		return nil
	}
	require.Equal(t, 30.0, lower(r.Limits, hand.IndexPIP))
	require.Equal(t, 5.0, lower(r.OtherLimits, hand.IndexPIP))
	require.Equal(t, date(t, "2026-12-08"), r.NextChange)

	left, right, both, led := r.Exercises[0], r.Exercises[1], r.Exercises[2], r.Exercises[3]
	require.Equal(t, 30.0, lower(left.Limits, hand.IndexPIP))
	require.Empty(t, left.OtherLimits, "one hand alone")
	require.Equal(t, hand.Right, right.Side)
	require.Equal(t, 5.0, lower(right.Limits, hand.IndexPIP), "the program's of this hand, not those of the left")
	require.Nil(t, right.Limits[hand.IndexPIP].Upper)

	require.Equal(t, 30.0, lower(both.Limits, hand.IndexPIP))
	require.Equal(t, 50.0, *both.Limits[hand.ThumbIP].Upper, "without a side: of the hand that leads")
	require.Equal(t, 12.0, lower(both.OtherLimits, hand.IndexPIP), "the exercise's own goes before")
	require.Equal(t, 5.0, lower(both.OtherLimits, hand.RingPIP))
	require.NotContains(t, both.OtherLimits, hand.ThumbIP)

	require.Equal(t, 5.0, lower(led.Limits, hand.IndexPIP))
	require.Equal(t, 55.0, *led.Limits[hand.ThumbIP].Upper)
	require.Equal(t, 30.0, lower(led.OtherLimits, hand.IndexPIP))
	require.NotContains(t, led.OtherLimits, hand.ThumbIP)

	c, err := both.Practice(nil)
	require.NoError(t, err)
	require.Equal(t, both.OtherLimits, c.Other.Limits, "the judge of the other hand goes by them")
	later := p.On(date(t, "2026-12-08"))
	require.Equal(t, -5.0, lower(later.Exercises[2].OtherLimits, hand.RingPIP))

	again := parse(t, string(p.Format()))
	require.Equal(t, p.Limits, again.Limits)
	require.Equal(t, p.Exercises[2].Limits, again.Exercises[2].Limits)
}

// TestTakes by hand: a hook fist is 1.5 s there, 3 s of hold, 1.5 s back and
// 1 s of pause, 7 s in all, five times.
func TestTakes(t *testing.T) {
	p := parse(t, block)
	r := p.On(p.ValidFrom)
	require.Equal(t, 35*time.Second, r.Exercises[0].Takes())
	sets, rest := 3, 20.0
	r.Exercises[0].Exercise.Dose.Sets, r.Exercises[0].Exercise.Dose.RestSeconds = &sets, &rest
	r = p.On(p.ValidFrom)
	require.Equal(t, (3*35+2*20)*time.Second, r.Exercises[0].Takes())
	zero := 0.0
	p.Exercises[0].Dose.HoldSeconds = &zero
	r = p.On(p.ValidFrom)
	require.Equal(t, (3*20+2*20)*time.Second, r.Exercises[0].Takes(), "no hold is no hold, not the usual one")
	require.Greater(t, r.Takes(), r.Exercises[0].Takes())
}

// TestConfig: what the coach is told. The hook fist goes from PIP 4 to 95 and
// DIP 3 to 58 degrees.
func TestConfig(t *testing.T) {
	p := parse(t, block)
	q := p.On(date(t, "2026-12-08")).Exercises[0]

	_, err := q.Config(nil)
	require.ErrorIs(t, err, program.ErrNoBaseline)
	require.ErrorContains(t, err, "the target of middle.pip is a share of the client's own range")

	own := map[hand.Joint]coach.Range{
		hand.IndexPIP: {Start: 15, End: 80}, hand.MiddlePIP: {Start: 10, End: 90}, hand.RingPIP: {Start: -5, End: 95},
		hand.LittlePIP: {Start: 12, End: 70},
	}
	c, err := q.Config(own)
	require.NoError(t, err)
	require.Equal(t, hand.Left, c.Side)
	require.Equal(t, 5, c.Repetitions)
	require.Equal(t, 3*time.Second, c.Hold)
	require.Equal(t, 20.0, *c.Limits[hand.IndexPIP].Lower)
	require.Less(t, c.Tolerances.LeastMarginDeg, 5.0, "an early cue asks for less")
	want := map[hand.Joint]coach.Range{
		hand.IndexPIP:  {Start: 20, End: 60}, // from the block to the target
		hand.MiddlePIP: {Start: 10, End: 74}, // 10 + 0.8 * 80
		hand.RingPIP:   {Start: 4, End: 75},  // -5 + 0.8 * 100; the key pose starts within the own range
		hand.LittlePIP: {Start: 12, End: 70}, // the own range does not reach the key poses
	}
	require.Len(t, c.Own, len(want))
	for j, w := range want {
		require.InDelta(t, w.Start, c.Own[j].Start, 1e-9, "%s", j)
		require.InDelta(t, w.End, c.Own[j].End, 1e-9, "%s", j)
	}
	_, err = coach.New(c)
	require.NoError(t, err)

	// A range that was read badly leads to no impossible angle.
	c, err = q.Config(map[hand.Joint]coach.Range{hand.IndexPIP: {Start: -90, End: 170}, hand.MiddlePIP: {Start: -90, End: 170}, hand.RingPIP: {Start: 0, End: 170}})
	require.NoError(t, err)
	_, err = coach.New(c)
	require.NoError(t, err)
	require.Equal(t, 130.0, c.Own[hand.RingPIP].End, "0.8 * 170 is more than a PIP joint bends")

	// Without targets, cue or limits the coach keeps its own defaults.
	p.Exercises[0].Targets, p.Cue, p.Limits = nil, program.UsualCue, nil
	zero := 0.0
	p.Exercises[0].Dose.HoldSeconds = &zero
	q = p.On(p.ValidFrom).Exercises[0]
	c, err = q.Config(nil)
	require.NoError(t, err)
	require.Empty(t, c.Own)
	require.Zero(t, c.Tolerances)
	require.Negative(t, c.Hold, "no hold is wanted")

	// Two steps of a schedule, and an end lifted.
	p = parse(t, block)
	q = p.On(date(t, "2026-12-15")).Exercises[1]
	c, err = q.Config(nil)
	require.NoError(t, err)
	require.Equal(t, "thick-towel", c.Object)
	require.Equal(t, 10.0, *c.Limits[hand.IndexPIP].Lower)
	require.Nil(t, c.Limits[hand.IndexPIP].Upper)
	require.Equal(t, coach.Range{Start: 10, End: 39}, c.Own[hand.IndexPIP], "the open pose, 6 degrees, lies beyond the block")
}
