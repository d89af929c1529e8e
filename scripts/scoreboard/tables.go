package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
)

// markdown writes the board: first the aims of the project and what was
// reached, then every table.
func (b *Board) markdown(w io.Writer) error {
	t := &text{w: w}
	t.line("# Scoreboard")
	t.line("")
	t.line("Made %s, commit %s, hand model %.12s, %s, %s set.", b.Made, b.Commit, b.Model, b.Engine, b.Set)
	t.line("In brackets 95 %% bootstrap intervals: whole hands, people or runs of neighbouring photographs are drawn, never single pictures. Several hands share a mesh, so that for hands of other meshes the intervals are rather too narrow. All angles are estimates. Hyperextension is measured on rendered hands alone.")
	if b.Set == reducedSet {
		t.line("The hands are the renderer's own mesh with other bones, which is easier than meshes that no training saw.")
	}
	t.line("")
	t.aims(b)
	for _, s := range b.Sections {
		t.section(&s)
	}
	return t.err
}

// text keeps the first error of many writes.
type text struct {
	w   io.Writer
	err error
}

func (t *text) line(format string, a ...any) {
	if t.err == nil {
		_, t.err = fmt.Fprintf(t.w, format+"\n", a...)
	}
}

// aims lists the figures that the project has an aim for.
func (t *text) aims(b *Board) {
	t.line("## Aims")
	t.line("")
	t.line("| figure | experiment before | now | aim | reached |")
	t.line("|---|---|---|---|---|")
	for _, s := range b.Sections {
		if s.LeftOut != "" {
			t.line("| *%s: left out, %s* | | | | |", s.Title, s.LeftOut)
		}
		for _, f := range s.Figures {
			if f.Goal.Name != "" {
				t.line("| %s | %s | %s | %s | %s |", f.Goal.Name, f.Goal.Before, f.cell(), f.Goal.words(f.Unit), f.reached())
			}
		}
	}
	t.line("")
}

// section writes one table, rows and columns in the order in which they first
// come.
func (t *text) section(s *Section) {
	t.line("## %s", s.Title)
	t.line("")
	if s.LeftOut != "" {
		t.line("Left out: %s.", s.LeftOut)
		t.line("")
		return
	}
	for _, a := range s.About {
		t.line("%s", a)
	}
	t.line("")
	var rows, columns []string
	cells := map[[2]string]string{}
	for _, f := range s.Figures {
		if !slices.Contains(rows, f.Row) {
			rows = append(rows, f.Row)
		}
		if !slices.Contains(columns, f.Column) {
			columns = append(columns, f.Column)
		}
		cells[[2]string{f.Row, f.Column}] = f.cell()
	}
	t.line("| | %s |", strings.Join(columns, " | "))
	t.line("|%s", strings.Repeat("---|", len(columns)+1))
	for _, r := range rows {
		line := []string{r}
		for _, c := range columns {
			line = append(line, cells[[2]string{r, c}])
		}
		t.line("| %s |", strings.Join(line, " | "))
	}
	t.line("")
}

// cell is a figure with its interval.
func (f *Figure) cell() string {
	v := float64(f.Value)
	if math.IsNaN(v) {
		return "–"
	}
	if math.IsNaN(float64(f.Low)) {
		return f.number(v) + f.unit()
	}
	return fmt.Sprintf("%s%s (%s to %s)", f.number(v), f.unit(), f.number(float64(f.Low)), f.number(float64(f.High)))
}

func (f *Figure) unit() string {
	if f.Unit == "%" || f.Unit == "ms" {
		return " " + f.Unit
	}
	return f.Unit
}

// number writes a value: two digits for shares of 1, ratios and times, else one,
// and a sign where a figure can have either.
func (f *Figure) number(v float64) string {
	format := "%.1f"
	if f.Unit == "" || f.Unit == "×" || f.Unit == "ms" {
		format = "%.2f"
	}
	if f.Unit == "°" && f.Goal.Better == Near {
		format = "%+.1f"
	}
	return strings.Replace(fmt.Sprintf(format, v), "-", "−", 1)
}

// words say the aim.
func (g Goal) words(unit string) string {
	space := ""
	if unit == "%" || unit == "ms" {
		space = " "
	}
	switch g.Better {
	case Lower:
		return fmt.Sprintf("≤ %g%s%s", g.Target, space, unit)
	case Higher:
		return fmt.Sprintf("≥ %g%s%s", g.Target, space, unit)
	}
	return fmt.Sprintf("%g ± %g%s%s", g.Target, g.Within, space, unit)
}

// reached says whether the aim is met, and whether the interval leaves a doubt.
func (f *Figure) reached() string {
	v, low, high := float64(f.Value), float64(f.Low), float64(f.High)
	if math.IsNaN(v) {
		return "not measured"
	}
	met := f.Goal.met(v)
	word := map[bool]string{true: "yes", false: "no"}[met]
	if !math.IsNaN(low) && (f.Goal.met(low) != met || f.Goal.met(high) != met) {
		word += ", within chance"
	}
	return word
}
