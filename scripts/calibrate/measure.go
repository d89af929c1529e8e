package main

import (
	"fmt"
	"io"
	"math"
	"slices"

	"volar/internal/goniometry/calibration"
	"volar/internal/hand"
)

// moments sums errors.
type moments struct {
	n                    int
	sum, abs, sq, spread float64
}

func (m *moments) add(err, spread float64) {
	m.n++
	m.sum += err
	m.abs += math.Abs(err)
	m.sq += err * err
	m.spread += spread * spread
}

func (m *moments) ratio() float64 { return math.Sqrt(m.sq / m.spread) }
func (m *moments) rms() float64   { return math.Sqrt(m.sq / float64(m.n)) }

// thin is how many joints a cell needs before it counts more than its level as
// a whole.
const thin = 40

// tabulate measures the networks on examples that they were not fitted on.
func tabulate(d *calibration.Networks, ex []example) calibration.ErrorTable {
	var t calibration.ErrorTable
	var cell [calibration.Levels][calibration.Ranges][calibration.Views]moments
	var level [calibration.Levels]moments
	var yaw [calibration.Views]moments
	var s calibration.Scratch
	for i := range ex {
		e := &ex[i]
		turn := turned(d, e, &s)
		v := calibration.ViewOf(turn.Deg)
		yaw[v].add(math.Remainder(turn.Deg-e.yaw, 360), turn.SpreadDeg)
		for j, r := range readings(d, e, &s) {
			l := calibration.LevelOf(hand.Joint(j))
			err := r.FlexionDeg - e.target[j]
			cell[l][calibration.RangeOf(r.FlexionDeg)][v].add(err, r.SpreadDeg)
			level[l].add(err, r.SpreadDeg)
		}
	}
	for l := range cell {
		for g := range cell[l] {
			for v := range cell[l][g] {
				m := &cell[l][g][v]
				whole := level[l].ratio()
				t.Count[l][g][v] = m.n
				t.Ratio[l][g][v] = float32(whole)
				if m.n > 0 {
					w := float64(m.n) / float64(m.n+thin)
					t.Ratio[l][g][v] = float32(whole + w*(m.ratio()-whole))
					t.RMSDeg[l][g][v] = float32(m.rms())
				}
			}
		}
	}
	for v := range yaw {
		if yaw[v].n > 0 {
			t.Yaw[v], t.YawDeg[v] = float32(yaw[v].ratio()), float32(yaw[v].rms())
		}
	}
	return t
}

// report prints how good the networks are on the examples: by level and view,
// and how well hyperextension of the PIP joints is told from straight.
func report(w io.Writer, d *calibration.Networks, t *calibration.ErrorTable, ex []example) {
	var all, seen, hidden [calibration.Levels]moments
	var view [calibration.Levels][calibration.Views]moments
	var one, two [calibration.Levels]float64
	var past, level, yaw [calibration.Views][]float64
	var s calibration.Scratch
	for i := range ex {
		e := &ex[i]
		turn := turned(d, e, &s)
		v := calibration.ViewOf(turn.Deg)
		yaw[v] = append(yaw[v], math.Abs(math.Remainder(turn.Deg-e.yaw, 360)))
		for j, r := range readings(d, e, &s) {
			l := calibration.LevelOf(hand.Joint(j))
			err := r.FlexionDeg - e.target[j]
			all[l].add(err, r.SpreadDeg)
			view[l][v].add(err, r.SpreadDeg)
			if e.visible[j] {
				seen[l].add(err, r.SpreadDeg)
			} else {
				hidden[l].add(err, r.SpreadDeg)
			}
			z := math.Abs(err) / t.SE(hand.Joint(j), r, turn.Deg)
			if z <= 1 {
				one[l]++
			}
			if z <= 2 {
				two[l]++
			}
			if l == 1 && e.visible[j] {
				switch a := e.target[j]; {
				case a < -10 && a > -22:
					past[v] = append(past[v], r.FlexionDeg)
				case a > -3 && a < 6:
					level[v] = append(level[v], r.FlexionDeg)
				}
			}
		}
	}
	fmt.Fprintln(w, "level       MAE  bias  seen  hidden  in 1 SE  in 2 SE   MAE by view")
	for l, name := range calibration.LevelNames {
		m := &all[l]
		n := float64(m.n)
		fmt.Fprintf(w, "%-9s %5.1f %+5.1f %5.1f %5.1f %8.2f %8.2f  ", name, m.abs/n, m.sum/n,
			seen[l].abs/float64(seen[l].n), hidden[l].abs/float64(hidden[l].n), one[l]/n, two[l]/n)
		for v := range view[l] {
			fmt.Fprintf(w, " %5.1f", view[l][v].abs/float64(view[l][v].n))
		}
		fmt.Fprintln(w)
	}
	for v, name := range calibration.ViewNames {
		if len(past[v]) > 0 && len(level[v]) > 0 {
			fmt.Fprintf(w, "%-15s yaw off by %4.1f (median), %4.1f (rms); PIP -10..-22 reads %5.1f, straight reads %5.1f, told apart %.2f of pairs (%d, %d)\n",
				name, median(yaw[v]), t.YawDeg[v], mean(past[v]), mean(level[v]), below(past[v], level[v]), len(past[v]), len(level[v]))
		}
	}
}

func mean(x []float64) float64 {
	s := 0.0
	for _, v := range x {
		s += v / float64(len(x))
	}
	return s
}

func median(x []float64) float64 {
	y := slices.Sorted(slices.Values(x))
	return y[len(y)/2]
}

// below is the share of pairs in which the value from a is the lesser: the
// area under the curve of a test by threshold.
func below(a, b []float64) float64 {
	n := 0.0
	for _, x := range a {
		for _, y := range b {
			switch {
			case x < y:
				n++
			case x == y:
				n += 0.5
			}
		}
	}
	return n / float64(len(a)*len(b))
}
