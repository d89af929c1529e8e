package matrix

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"volar/internal/exercise"
)

// Every measured movement has its cases, each with a name of its own, and what
// is expected agrees with what is performed.
func TestCases(t *testing.T) {
	all, err := exercise.Catalogue()
	require.NoError(t, err)
	names := map[string]bool{}
	for _, m := range all {
		cases := Cases(m)
		if m.Kind == exercise.Unmeasured {
			require.Empty(t, cases)
			continue
		}
		require.GreaterOrEqual(t, len(cases), 4, m.ID)
		for i := range cases {
			c := &cases[i]
			require.False(t, names[c.ID()], c.ID())
			names[c.ID()] = true
			p, _, err := c.Performance()
			require.NoError(t, err, c.ID())
			// A hold let go early reaches its pose, so it is performed as a
			// whole; where the hold is the repetition, it counts as partial.
			early := 0
			if m.Kind == exercise.Hold && c.Name == "short hold" {
				early = 1
			}
			unseen := 0
			if m.Kind == exercise.Hold && c.Name == "leaves and returns" {
				unseen = 1
			}
			assert.Equal(t, len(p.Repetitions)-early-unseen, c.Counted, "%s: performed and expected", c.ID())
			assert.Equal(t, len(p.Partial)+early, c.Partial, "%s: partial ones", c.ID())
			for _, e := range p.Excursions {
				if !c.Blind {
					assert.True(t, wanted(c, e.Joint.String()), "%s bends %s backwards and expects no flag", c.ID(), e.Joint)
				}
			}
		}
	}
	assert.Greater(t, len(names), 150)
}

func wanted(c *Case, subject string) bool {
	for _, w := range c.Wants {
		if w.Subject == subject {
			return true
		}
	}
	return false
}

// The table says what is not met.
func TestTable(t *testing.T) {
	table := Table{
		Cells: []Cell{
			{Movement: "hook-fist", Case: "good", Expected: "2 counted", Got: "2 counted"},
			{Movement: "hook-fist", Case: "compensation: index.mcp", Expected: "a", Got: "b", Misses: []string{"a hold is 0.43 s off"}},
		},
		Date: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC), Commit: "abc", Took: 61 * time.Second,
	}
	var b strings.Builder
	require.NoError(t, table.Write(&b))
	for _, want := range []string{
		"25 November 2026, 12:00 UTC, commit abc. 1 of 2 cells are met. This run took 1m1s",
		"| compensation | 0 | 1 |", "| hook-fist | good | 2 counted | 2 counted | yes |", "**no**: a hold is 0.43 s off",
	} {
		assert.Contains(t, b.String(), want)
	}
}
