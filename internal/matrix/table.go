package matrix

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
)

// Table is the result of a run.
type Table struct {
	Cells []Cell
	// Date and Commit say when and of what; Took is the time of this run, which
	// is short where the clips had been observed already.
	Date   time.Time
	Commit string
	Took   time.Duration
}

// Write writes the table as Markdown: a summary by case, what is not met, and
// every cell.
func (t *Table) Write(w io.Writer) error {
	var b strings.Builder
	p := func(format string, a ...any) { fmt.Fprintf(&b, format, a...) }
	met := 0
	type count struct{ met, all int }
	var kinds []string
	by := map[string]*count{}
	for i := range t.Cells {
		c := &t.Cells[i]
		kind, _, _ := strings.Cut(c.Case, ":")
		if by[kind] == nil {
			by[kind] = &count{}
			kinds = append(kinds, kind)
		}
		by[kind].all++
		if c.Met() {
			by[kind].met++
			met++
		}
	}
	p("# Clips of known truth: movement × case\n\n")
	p("%s, commit %s. %d of %d cells are met. This run took %s; what had been observed in a clip before was taken as it was.\n\n",
		t.Date.UTC().Format("2 January 2006, 15:04 UTC"), t.Commit, met, len(t.Cells), t.Took.Round(time.Second))
	p("Each clip is rendered from the catalogue's key poses (%d × %d pixels, twice that for two hands, %d pictures a second, two repetitions, the second with the fault) and judged by the live path. ", width, height, fps)
	p("Met means: repetitions exact, each hold within %.1f s, the fault flagged on the right joint and in the right repetition, and no other flag; where two hands work together, the other one counted and not flagged, and both counted together. ", holdOff.Seconds())
	p("In the wrong view it means: said not to be judged for at least 90 %% of the time, no flag, nothing counted that was not there.\n\n")
	if slices.ContainsFunc(t.Cells, func(c Cell) bool { return c.Hand != "" }) {
		p("The hands are those named in brackets: rigged ones that the hand model never saw in training.\n\n")
	}
	if n, mean, within := t.holds(); n > 0 {
		p("Of %d holds the mean error is %.2f s; %d are within %.1f s.\n\n", n, mean.Seconds(), within, holdOff.Seconds())
	}
	p("| case | met | of |\n|---|---|---|\n")
	for _, k := range kinds {
		p("| %s | %d | %d |\n", k, by[k].met, by[k].all)
	}
	p("\n| movement | case | expected | got | met |\n|---|---|---|---|---|\n")
	for i := range t.Cells {
		c := &t.Cells[i]
		mark := "yes"
		if !c.Met() {
			mark = "**no**: " + strings.Join(c.Misses, "; ")
		}
		p("| %s | %s | %s | %s | %s |\n", c.Movement, c.name(), c.Expected, c.Got, mark)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// name is the case and, where it is not the renderer's own, whose hand it is of.
func (c *Cell) name() string {
	if c.Hand == "" {
		return c.Case
	}
	return c.Case + " (" + c.Hand + ")"
}

// holds counts the holds whose time was compared, those within holdOff among
// them, and the mean error of all.
func (t *Table) holds() (n int, mean time.Duration, within int) {
	for i := range t.Cells {
		for _, off := range t.Cells[i].HoldsOff {
			n++
			mean += off.Abs()
			if off.Abs() <= holdOff {
				within++
			}
		}
	}
	return n, mean / time.Duration(max(n, 1)), within
}
