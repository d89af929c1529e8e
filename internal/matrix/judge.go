package matrix

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"volar/internal/coach"
	"volar/internal/demonstration"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/live"
)

// Verdict is what the judge says of a clip: of the hand that is judged, and
// where two work together of both.
type Verdict struct {
	coach.Summary
	Pair *coach.PairSummary
}

// other is what is said of the other hand.
func (v *Verdict) other(side hand.Side) *coach.Summary {
	if side == hand.Left {
		return &v.Pair.Right
	}
	return &v.Pair.Left
}

// Judge sends what was observed of the case's clip through the live path, which
// judges both hands where it takes two.
func (c *Case) Judge(seen []Picture) (v Verdict, err error) {
	o := live.Options{Side: c.Side, Coach: coach.Config{Movement: c.Movement.For(c.Side), Hold: c.hold(), Repetitions: repetitions}}
	if c.Movement.Hands == 2 {
		// The pair turns the movement for each hand by itself.
		o.Coach.Movement, o.Other = c.Movement, &coach.Config{}
	}
	j, err := live.Of(o)
	if err != nil {
		return v, fmt.Errorf("%s: %w", c.ID(), err)
	}
	var last time.Duration
	for _, p := range seen {
		if _, err := j.Observed(p.Hands, p.At); err != nil {
			return v, fmt.Errorf("%s: %w", c.ID(), err)
		}
		last = p.At
	}
	v.Summary = j.Finish(last)
	if both, ok := j.FinishBoth(last); ok {
		v.Pair = &both
	}
	return v, nil
}

// Cell is one row of the table.
type Cell struct {
	Movement, Case string
	// Hand names the hand in the clip; "" is the renderer's own.
	Hand          string
	Expected, Got string
	// Misses say what was not met; empty is met.
	Misses []string
	// HoldsOff is by how much each hold was too long, negative too short.
	HoldsOff []time.Duration
}

// Met is true where all was as expected.
func (c *Cell) Met() bool { return len(c.Misses) == 0 }

// holdOff is how far a hold's time may be off.
const holdOff = 200 * time.Millisecond

// Compare holds what the judge said against the truth.
func (c *Case) Compare(v *Verdict) (Cell, error) {
	s := &v.Summary
	p, other, err := c.Performance()
	if err != nil {
		return Cell{}, err
	}
	cell := Cell{Movement: c.Movement.ID, Case: c.Name, Hand: c.HandName}
	miss := func(format string, a ...any) { cell.Misses = append(cell.Misses, fmt.Sprintf(format, a...)) }
	cell.Got = fmt.Sprintf("%d counted, %d partial", s.Counted, s.Partial)
	if c.Blind {
		c.compareBlind(s, &cell, miss)
		c.compareOther(v, other, &cell, miss)
		return cell, nil
	}
	cell.Expected = fmt.Sprintf("%d counted, %d partial", c.Counted, c.Partial)
	if s.Counted != c.Counted {
		miss("counted %d of %d", s.Counted, c.Counted)
	}
	if s.Partial != c.Partial {
		miss("%d partial, not %d", s.Partial, c.Partial)
	}
	c.compareHolds(s, p, &cell, miss)
	c.compareFlags(s, &cell, miss)
	c.compareOther(v, other, &cell, miss)
	return cell, nil
}

// compareOther holds that of two hands the other one, which does all of it
// well, is counted and not flagged, and that both are counted together.
func (c *Case) compareOther(v *Verdict, p *demonstration.Performance, cell *Cell, miss func(string, ...any)) {
	if p == nil {
		return
	}
	other := v.other(c.Side)
	cell.Got += fmt.Sprintf("; other hand %d counted, %d partial; together %d", other.Counted, other.Partial, v.Pair.Counted)
	if c.Blind {
		if n := max(other.Counted, v.Pair.Counted); n > repetitions {
			miss("counted %d of the other hand or of both, more than there were", n)
		}
	} else {
		want := len(p.Repetitions)
		cell.Expected += fmt.Sprintf("; other hand %d counted; together %d", want, min(want, c.Counted))
		if other.Counted != want || other.Partial > 0 {
			miss("other hand: counted %d of %d, %d partial", other.Counted, want, other.Partial)
		}
		if v.Pair.Counted != min(want, c.Counted) {
			miss("together: counted %d of %d", v.Pair.Counted, min(want, c.Counted))
		}
	}
	for _, l := range []struct {
		whose string
		flags []coach.Flag
	}{{"other hand", other.Flags}, {"together", v.Pair.Flags}} {
		for i := range l.flags {
			f := &l.flags[i]
			miss("%s: unasked %s", l.whose, Want{f.Kind, f.Subject(), f.Repetition})
		}
	}
}

// compareBlind holds that a view which cannot show the fault says so and
// flags nothing, and that nothing is counted that was not there.
func (c *Case) compareBlind(s *coach.Summary, cell *Cell, miss func(string, ...any)) {
	cell.Expected = fmt.Sprintf("at most %d counted, not judged, no flag", repetitions)
	if s.Counted > repetitions {
		miss("counted %d, more than there were", s.Counted)
	}
	share := 1 - s.Measured
	for _, n := range s.NotJudged {
		share = max(share, n.Share)
	}
	cell.Got += fmt.Sprintf(", not judged %.0f %%", 100*share)
	if share < 0.9 {
		miss("says only for %.0f %% of the time that it cannot judge", 100*share)
	}
	c.compareFlags(s, cell, miss)
}

func (c *Case) compareHolds(s *coach.Summary, p *demonstration.Performance, cell *Cell, miss func(string, ...any)) {
	if c.hold() == 0 || c.Movement.Kind == exercise.Sequence {
		return
	}
	truth := slices.Clone(p.Holds)
	// A hold from which the hand was away is timed by what was seen of it.
	away := time.Duration(0)
	for _, d := range p.Deviations {
		if d.Kind == demonstration.Leaves {
			away = d.End - d.Start
		}
	}
	var wants, gots []string
	worst := time.Duration(0)
	for i, h := range truth {
		want := h.End - h.Start
		wants = append(wants, fmt.Sprintf("%.1f", want.Seconds()))
		if i >= len(s.Holds) {
			continue
		}
		off := s.Holds[i].Held - want
		if away > 0 && i == len(truth)-1 {
			continue // how much of it was seen hangs on when the hand was lost
		}
		cell.HoldsOff = append(cell.HoldsOff, off)
		worst = max(worst, off.Abs())
	}
	for _, h := range s.Holds {
		gots = append(gots, fmt.Sprintf("%.2f", h.Held.Seconds()))
	}
	cell.Expected += ", holds " + strings.Join(wants, " ") + " s"
	cell.Got += ", holds " + strings.Join(gots, " ") + " s"
	if len(s.Holds) != len(truth) {
		miss("%d holds, not %d", len(s.Holds), len(truth))
	}
	if worst > holdOff {
		miss("a hold is %.2f s off", worst.Seconds())
	}
}

func (c *Case) compareFlags(s *coach.Summary, cell *Cell, miss func(string, ...any)) {
	var wants, gots []string
	for _, w := range c.Wants {
		wants = append(wants, w.String())
		if !slices.ContainsFunc(s.Flags, func(f coach.Flag) bool { return w.fits(&f) }) {
			miss("no %s", w)
		}
	}
	for i := range s.Flags {
		f := &s.Flags[i]
		got := Want{f.Kind, f.Subject(), f.Repetition}.String()
		if f.OnJoint && f.Kind != coach.IncompleteGrip {
			got += fmt.Sprintf(" (%s)", degrees(f.PeakDeg))
		}
		gots = append(gots, got)
		if !slices.ContainsFunc(c.Wants, func(w Want) bool { return w.fits(f) }) {
			miss("unasked %s", got)
		}
	}
	if len(wants) > 0 {
		cell.Expected += "; " + strings.Join(wants, ", ")
	}
	if len(gots) > 0 {
		cell.Got += "; " + strings.Join(gots, ", ")
	}
}

func (w Want) fits(f *coach.Flag) bool {
	return f.Kind == w.Kind && (w.Subject == "" || f.Subject() == w.Subject) &&
		(w.Repetition == 0 || f.Repetition == w.Repetition)
}

// degrees says an angle in words, without a bare sign.
func degrees(deg float64) string {
	if deg < 0 {
		return fmt.Sprintf("%.0f° past straight", math.Abs(deg))
	}
	return fmt.Sprintf("%.0f°", deg)
}
