package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
)

// Board is everything that was measured in one run.
type Board struct {
	// Made is the date of the run, Commit the state of the project and Model
	// the SHA-256 of the hand model.
	Made   string `json:"made"`
	Commit string `json:"commit"`
	Model  string `json:"model_sha256"`
	Engine string `json:"engine"`
	// Set is how much was shown; figures of different sets do not compare.
	Set      string    `json:"set"`
	Sections []Section `json:"sections"`
}

// The sets.
const (
	fullSet    = "full"
	quickSet   = "quick"
	reducedSet = "reduced" // what the tests run
)

// Section is one table. Figures with the same Row stand beside each other.
type Section struct {
	ID    string `json:"id"`
	Title string `json:"title"`
	// About says in sentences what was shown and what the words mean.
	About []string `json:"about,omitempty"`
	// LeftOut says why there are no figures.
	LeftOut string   `json:"left_out,omitempty"`
	Figures []Figure `json:"figures,omitempty"`
}

// Figure is one number with its 95 % interval.
type Figure struct {
	// Key names the figure for good.
	Key    string `json:"key"`
	Row    string `json:"row"`
	Column string `json:"column"`
	Unit   string `json:"unit,omitempty"`
	Value  Number `json:"value"`
	Low    Number `json:"low"`
	High   Number `json:"high"`
	// N is how many readings the figure sums up, from how many Groups.
	N      int `json:"n"`
	Groups int `json:"groups"`
	// Goal says which way is better; a figure without one only informs.
	Goal Goal `json:"goal,omitzero"`
}

// Goal is what a figure ought to be.
type Goal struct {
	Better Better  `json:"better"`
	Target float64 `json:"target"`
	// Within is how far from the target a figure may be that ought to be near
	// it.
	Within float64 `json:"within,omitempty"`
	// Name is what the aim is called in the list of aims; empty for a goal
	// that is no aim of the project but tells better from worse.
	Name string `json:"name,omitempty"`
	// Before is what the experiment had that this project began from.
	Before string `json:"before,omitempty"`
}

// Better says which way is better.
type Better string

// The ways.
const (
	Unranked Better = ""
	Lower    Better = "lower"
	Higher   Better = "higher"
	Near     Better = "near"
)

// met reports whether a value reaches the aim.
func (g Goal) met(v float64) bool {
	switch g.Better {
	case Lower:
		return v <= g.Target
	case Higher:
		return v >= g.Target
	}
	return math.Abs(v-g.Target) <= g.Within
}

// Number is a number that may be missing: NaN is null in JSON.
type Number float64

// MarshalJSON writes null for what is no number, and no more digits than
// mean something.
func (n Number) MarshalJSON() ([]byte, error) {
	if v := float64(n); math.IsNaN(v) || math.IsInf(v, 0) {
		return []byte("null"), nil
	}
	return json.Marshal(math.Round(float64(n)*1e4) / 1e4)
}

// UnmarshalJSON reads a number or null.
func (n *Number) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*n = Number(math.NaN())
		return nil
	}
	return json.Unmarshal(b, (*float64)(n))
}

// write keeps a board as JSON.
func (b *Board) write(file string) error {
	text, err := json.MarshalIndent(b, "", " ")
	if err != nil {
		return err
	}
	return os.WriteFile(file, append(text, '\n'), 0o644)
}

// readBoard reads what write wrote.
func readBoard(file string) (*Board, error) {
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	b := new(Board)
	if err := json.Unmarshal(text, b); err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	return b, nil
}

// figures lists a board's figures by their keys.
func (b *Board) figures() (map[string]Figure, error) {
	m := map[string]Figure{}
	for _, s := range b.Sections {
		for _, f := range s.Figures {
			if _, twice := m[f.Key]; twice {
				return nil, fmt.Errorf("figure %s stands on the board twice", f.Key)
			}
			m[f.Key] = f
		}
	}
	return m, nil
}

// sheet makes the figures of one section from tallies over the same groups.
type sheet struct {
	Section
	groups int
}

// mean adds the mean of a tally.
func (s *sheet) mean(key, row, column, unit string, t *tally, g Goal) {
	s.add(Figure{Key: key, Row: row, Column: column, Unit: unit, N: t.n, Groups: t.taken(), Goal: g}, t.mean)
}

// share adds a tally of yes and no in per cent.
func (s *sheet) share(key, row, column string, t *tally, g Goal) {
	f := Figure{Key: key, Row: row, Column: column, N: t.n, Groups: t.taken(), Goal: g}
	s.percent(f, func(times []int) float64 { return 100 * t.mean(times) })
}

// percent adds a share in per cent. Where all or none were yes the interval is
// the exact one over groups.
func (s *sheet) percent(f Figure, statistic func(times []int) float64) {
	f.Unit = "%"
	s.add(f, statistic)
	switch last := &s.Figures[len(s.Figures)-1]; last.Value {
	case 0:
		last.High = Number(100 * noneSeen(f.Groups))
	case 100:
		last.Low = Number(100 - 100*noneSeen(f.Groups))
	}
}

// add completes a figure with a statistic and its interval.
func (s *sheet) add(f Figure, statistic func(times []int) float64) {
	f.Value = Number(statistic(nil))
	low, high := interval(s.groups, statistic)
	f.Low, f.High = Number(low), Number(high)
	s.Figures = append(s.Figures, f)
}
