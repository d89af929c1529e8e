package program_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/program"
)

// ranges are the same own range for every PIP joint.
func ranges(straight, fist float64) map[hand.Joint]coach.Range {
	own := map[hand.Joint]coach.Range{}
	for _, f := range hand.Fingers {
		own[hand.JointOf(f, hand.PIP)] = coach.Range{Start: straight, End: fist}
	}
	return own
}

func TestPractice(t *testing.T) {
	p := parse(t, block)
	q := p.On(date(t, "2026-12-15")).Exercises[0]
	c, err := q.Practice(ranges(12, 82))
	require.NoError(t, err)
	require.Equal(t, 1, c.Sets)
	require.Negative(t, c.Rest, "a rest of 0 is none, not the usual one")
	require.False(t, c.Coach.Zeroed, "a baseline zeroes no reading")
	require.Equal(t, coach.Range{Start: 12, End: 68}, c.Coach.Own[hand.MiddlePIP], "12 + 0.8 * 70")
	require.Equal(t, coach.Range{Start: 12, End: 60}, c.Coach.Own[hand.IndexPIP])
	require.Equal(t, coach.Range{Start: 12, End: 82}, c.Coach.Own[hand.LittlePIP], "as far as it goes")
	require.Nil(t, c.Other)
	_, err = coach.NewPractice(c)
	require.NoError(t, err)

	_, err = q.Practice(nil)
	require.ErrorIs(t, err, program.ErrNoBaseline)

	q = p.On(p.ValidFrom).Exercises[1]
	c, err = q.Practice(nil)
	require.NoError(t, err)
	require.Equal(t, 2, c.Sets)
	require.Equal(t, time.Minute, c.Rest)
	require.False(t, c.Coach.Zeroed)
}

// TestEveryMovementCanBePractised: the whole catalogue, prescribed with its
// usual dose for either hand, is taken by the coach, with and without the
// client's own range; of two hands each has its own limits.
func TestEveryMovementCanBePractised(t *testing.T) {
	all, err := exercise.Catalogue()
	require.NoError(t, err)
	now := time.Date(2026, 12, 1, 9, 0, 0, 0, time.UTC)
	for _, m := range all {
		for _, side := range []string{"left", "right"} {
			var s program.Side
			require.NoError(t, s.UnmarshalText([]byte(side)))
			p, _, err := program.New(program.Options{Client: "C-1", Side: s, Exercises: []string{m.ID}, Now: now, Precautions: []program.Precaution{{Kind: program.LaxJoints}}}, program.Source{Catalogue: all})
			require.NoError(t, err, m.ID)
			q := p.On(p.ValidFrom).Exercises[0]
			require.Equal(t, m.Dose, q.Dose)
			require.Positive(t, q.Takes())
			for _, own := range []map[hand.Joint]coach.Range{nil, {}, ranges(10, 85)} {
				c, err := q.Practice(own)
				require.NoError(t, err)
				require.Equal(t, side, c.Coach.Side.String())
				require.Zero(t, *c.Coach.Limits[hand.RingPIP].Lower)
				if m.Hands == 2 {
					require.Empty(t, c.Other.Limits, "the program's limits are those of its side")
				}
				_, err = coach.NewPractice(c)
				require.NoError(t, err, "%s, %s", m.ID, side)
			}
		}
	}
}
