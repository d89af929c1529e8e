package matrix

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"volar/internal/coach"
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
			{Movement: "hook-fist", Case: "good", Expected: "2 counted", Got: "2 counted", HoldsOff: []time.Duration{-40 * time.Millisecond}},
			{Movement: "hook-fist", Case: "compensation: index.mcp", Hand: "broad", Expected: "a", Got: "b", Misses: []string{"a hold is 0.44 s off"},
				HoldsOff: []time.Duration{200 * time.Millisecond, 440 * time.Millisecond, -160 * time.Millisecond}},
		},
		Date: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC), Commit: "abc", Took: 61 * time.Second,
	}
	var b strings.Builder
	require.NoError(t, table.Write(&b))
	for _, want := range []string{
		"25 November 2026, 12:00 UTC, commit abc. 1 of 2 cells are met. This run took 1m1s",
		"| compensation | 0 | 1 |", "| hook-fist | good | 2 counted | 2 counted | yes |", "| compensation: index.mcp (broad) | a | b | **no**: a hold is 0.44 s off",
		"The hands are those named in brackets",
		"Of 4 holds the mean error is 0.21 s; 3 are within 0.2 s.",
	} {
		assert.Contains(t, b.String(), want)
	}
}

// Of two hands the other one has to be counted too, and flagged for nothing.
func TestBothHandsOfACaseAreHeldToTheTruth(t *testing.T) {
	m, err := exercise.Find("wringing-together")
	require.NoError(t, err)
	cases := Cases(m)
	good := &cases[0]
	require.Equal(t, "good", good.Name)
	verdict := func() *Verdict {
		one := coach.Summary{Counted: repetitions, Measured: 1}
		return &Verdict{one, &coach.PairSummary{Left: one, Right: one, Counted: repetitions}}
	}
	cell, err := good.Compare(verdict())
	require.NoError(t, err)
	require.Empty(t, cell.Misses)
	require.Equal(t, "2 counted, 0 partial; other hand 2 counted; together 2", cell.Expected)
	for want, spoil := range map[string]func(v *Verdict){
		"other hand: counted 1 of 2, 1 partial":   func(v *Verdict) { v.Pair.Left.Counted, v.Pair.Left.Partial = 1, 1 },
		"together: counted 1 of 2":                func(v *Verdict) { v.Pair.Counted = 1 },
		"other hand: unasked hyperextension in 1": func(v *Verdict) { v.Pair.Left.Flags = []coach.Flag{{Kind: coach.Hyperextension, Repetition: 1}} },
		"together: unasked out-of-order in 2":     func(v *Verdict) { v.Pair.Flags = []coach.Flag{{Kind: coach.OutOfOrder, Repetition: 2}} },
		"counted 1 of 2":                          func(v *Verdict) { v.Counted = 1 },
	} {
		v := verdict()
		spoil(v)
		cell, err := good.Compare(v)
		require.NoError(t, err)
		require.Equal(t, []string{want}, cell.Misses)
	}
	// Where the view shows nothing, neither hand and not the two together may be
	// counted more often than they moved.
	for i := range cases {
		if c := &cases[i]; c.Blind {
			v := verdict()
			v.Measured, v.Pair.Counted = 0, repetitions+1
			cell, err := c.Compare(v)
			require.NoError(t, err)
			require.Equal(t, []string{"counted 3 of the other hand or of both, more than there were"}, cell.Misses)
		}
	}
}

// A clip is judged as the program judges it: one hand, or both.
func TestWhoIsJudged(t *testing.T) {
	for id, both := range map[string]bool{"hook-fist": false, "wringing-alternating": true} {
		m, err := exercise.Find(id)
		require.NoError(t, err)
		for _, c := range Cases(m) {
			v, err := c.Judge([]Picture{{At: 0}, {At: time.Second}})
			require.NoError(t, err)
			require.Equal(t, both, v.Pair != nil, c.ID())
		}
	}
}
