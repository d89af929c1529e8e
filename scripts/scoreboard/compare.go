package main

import (
	"fmt"
	"math"
)

// regressions compares a board with one that was kept and names every figure
// that is worse than chance allows: beyond the kept interval, on the worse
// side. Figures without a goal are not compared. Both boards must be of the
// same set, or the hands differ and the comparison says nothing.
func regressions(kept, now *Board) ([]string, error) {
	if kept.Set != now.Set {
		return nil, fmt.Errorf("the kept board is of the %s set, this one of the %s set", kept.Set, now.Set)
	}
	have, err := now.figures()
	if err != nil {
		return nil, err
	}
	var out []string
	for _, s := range kept.Sections {
		for _, k := range s.Figures {
			if k.Goal.Better == Unranked || math.IsNaN(float64(k.Value)) || math.IsNaN(float64(k.Low)) {
				continue
			}
			f, ok := have[k.Key]
			switch {
			case !ok:
				out = append(out, fmt.Sprintf("%s: is on the kept board and not on this one", k.Key))
			case math.IsNaN(float64(f.Value)):
				out = append(out, fmt.Sprintf("%s: nothing to measure it by any more, kept %s", k.Key, k.cell()))
			case k.worse(float64(f.Value)):
				out = append(out, fmt.Sprintf("%s: %s%s, kept %s", k.Key, f.number(float64(f.Value)), f.unit(), k.cell()))
			}
		}
	}
	return out, nil
}

// rounding is what a figure loses when it is kept as JSON, and more.
const rounding = 1e-3

// worse reports whether a value lies beyond the figure's interval on the worse
// side.
func (f *Figure) worse(v float64) bool {
	low, high := float64(f.Low)-rounding, float64(f.High)+rounding
	switch f.Goal.Better {
	case Lower:
		return v > high
	case Higher:
		return v < low
	case Near:
		t := f.Goal.Target
		return math.Abs(v-t) > max(math.Abs(low-t), math.Abs(high-t))
	}
	return false
}
