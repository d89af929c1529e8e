package reading

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"fyne.io/fyne/v2"

	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/review"
	"volar/internal/session"
	"volar/internal/vault"
	"volar/ui/parts"
)

// compare sets a session beside another one of the client's: what was done,
// each joint's range, and one joint's course in the first movement that both
// have.
type compare struct {
	base
	f    *file
	back *overview
	// list are the client's other sessions, newest first, and at the one that is
	// compared with, which is read anew for each.
	list  []vault.Entry
	at    int
	other *file
	joint int
	shown int // what is shown where only one thing fits
	// changes of the ranges; table shows them.
	changes []review.Change
	table   *parts.Table
	traces  [2]*trace
}

func newCompare(r *Reader, f *file, back *overview) screen {
	c := &compare{base: base{r: r, title: "Two sessions of " + f.s.Client}, f: f, back: back, at: -1}
	list, err := r.opt.Store.Sessions(r.ctx, vault.Filter{Client: f.s.Client})
	if err != nil {
		return trouble(r, c.title, err, func() { r.show(newCompare(r, f, back)) }, func() { r.show(back) })
	}
	for i := range list {
		if list[i].ID == f.s.ID {
			continue
		}
		// The nearest earlier one comes first to mind; else the nearest later.
		if c.at < 0 && list[i].Started.Before(f.s.Started) {
			c.at = len(c.list)
		}
		c.list = append(c.list, list[i])
	}
	if len(c.list) == 0 {
		return &says{base: base{r: r, title: c.title}, words: "There is no other session of this client yet.", back: func() { r.show(back) }}
	}
	if c.at < 0 {
		c.at = len(c.list) - 1
	}
	return c.beside()
}

// beside reads the other session.
func (c *compare) beside() screen {
	l := newLoading(c.r, c.list[c.at].ID, func() { c.r.show(c.back) })
	l.then = func(f *file) screen {
		c.other = f
		return c
	}
	return l
}

// pair is the earlier and the later of the two.
func (c *compare) pair() (before, after *file) {
	if c.other.s.Started.Before(c.f.s.Started) {
		return c.other, c.f
	}
	return c.f, c.other
}

// Content is part of parts.Screen.
func (c *compare) Content() fyne.CanvasObject {
	c.Clear()
	before, after := c.pair()
	c.changes = review.Compare(before.s, after.s)
	c.joint = max(0, min(c.joint, len(c.changes)-1))
	columns := []parts.TableColumn{
		{Title: "joint", Weight: 1.9}, {Title: "before", Weight: 3}, {Title: "after", Weight: 3},
		{Title: "least bent", Weight: 1.5}, {Title: "most bent", Weight: 1.5}, {Title: "more than the error?", Weight: 2},
	}
	if parts.Large() {
		columns = columns[:3] // the sign says the rest
	}
	c.table = parts.NewTable(columns, "No joint was seen in both.", c.chosen, nil).AtLeast(3)
	rows := make([]parts.TableRow, len(c.changes))
	for i := range c.changes {
		rows[i] = changeRow(&c.changes[i], c.name(i))
	}
	var heads, courses []fyne.CanvasObject
	for i, f := range []*file{before, after} {
		c.traces[i] = newTrace(nil)
		heads, courses = append(heads, c.head([]string{"Before", "After"}[i], f)), append(courses, c.traces[i])
	}
	c.table.SetRows(rows)
	c.table.Choose(c.joint)
	c.first = c.table
	var actions []fyne.CanvasObject
	if c.at+1 < len(c.list) {
		actions = append(actions, c.Action(parts.Plain, "With an earlier one", fyne.KeyLeft, func() { c.with(c.at + 1) }))
	}
	if c.at > 0 {
		actions = append(actions, c.Action(parts.Plain, "With a later one", fyne.KeyRight, func() { c.with(c.at - 1) }))
	}
	actions = append(actions, c.Action(parts.Plain, "Back", fyne.KeyEscape, func() { c.r.show(c.back) }))
	head := parts.Column(4, parts.Heading(c.title), parts.Row(gap, []float32{1, 1}, heads...))
	if e, _ := both(before, after, hand.UnknownSide); e != nil {
		head.Add(small("The joint's course is that of the whole of " + review.MovementName(e.Movement) + "."))
	} else {
		head.Add(small("No movement was done in both, so there is no course to set beside the other."))
	}
	var middle fyne.CanvasObject = below(c.table, side(courses...))
	if parts.Large() {
		// One thing at a time, in full.
		middle = []fyne.CanvasObject{c.table, side(courses...)}[c.shown]
		actions = slices.Insert(actions, 0, fyne.CanvasObject(c.Action(parts.Lead, "Ranges, course", fyne.KeyM, func() {
			c.shown = 1 - c.shown
			c.r.show(c)
		})))
	}
	return c.page(head, middle, actions...)
}

func (c *compare) with(i int) {
	c.at = i
	c.r.show(c.beside())
}

// head says what a session was.
func (c *compare) head(name string, f *file) fyne.CanvasObject {
	e := &f.entry
	line := fmt.Sprintf("%s repetitions; pain %s; %s", done(e.Counted, e.Prescribed), pain(e.PainBefore, e.PainAfter), plural(e.Flags, "flag", "flags"))
	if e.Version > 0 {
		line += fmt.Sprintf("; program version %d", e.Version)
	}
	return parts.Column(2, bold(name+": "+day(f.s.Started, f.s.Zone)), quiet(line+"."))
}

// name is that of a joint, with its hand where that is not the one of the later
// session's first exercise.
func (c *compare) name(i int) string {
	x := &c.changes[i]
	if _, after := c.pair(); len(after.s.Exercises) > 0 && x.Side == after.s.Exercises[0].Side {
		return program.JointWords(x.Joint)
	}
	return program.JointWords(x.Joint) + review.HandWords(x.Side)
}

// changeRow is a joint's range before and after.
func changeRow(x *review.Change, name string) parts.TableRow {
	sign, beyond := parts.NoSign, "no"
	if x.Beyond() {
		sign = parts.Point
	}
	switch {
	case x.MinBeyond && x.MaxBeyond:
		beyond = "yes, both"
	case x.MinBeyond:
		beyond = "yes, least bent"
	case x.MaxBeyond:
		beyond = "yes, most bent"
	}
	least := "not known"
	if x.MinKnown {
		least = changeWords(x.MinDeg)
	}
	return parts.TableRow{Sign: sign, Strong: x.Beyond(), Cells: []string{name, reachWords(x.Before), reachWords(x.After), least, changeWords(x.MaxDeg), beyond}}
}

// changeWords says by how much more or less a joint was bent.
func changeWords(deg float64) string {
	switch d := math.Round(deg); {
	case d > 0:
		return fmt.Sprintf("%.0f° more", d)
	case d < 0:
		return fmt.Sprintf("%.0f° less", -d)
	}
	return "as before"
}

// reachWords is a range in words; an end that was not judged is said to be so.
func reachWords(r review.Reach) string {
	low := "not judged"
	if r.MinJudged {
		low = review.AngleWords(r.MinDeg)
	}
	return low + " to " + review.AngleWords(r.MaxDeg)
}

// chosen draws the joint's course in both sessions.
func (c *compare) chosen(i int) {
	c.joint = i
	before, after := c.pair()
	x := &c.changes[i]
	a, b := both(before, after, x.Side)
	for k, f := range []*file{before, after} {
		e := []*session.Exercise{a, b}[k]
		if e == nil {
			c.traces[k].Hide()
			continue
		}
		c.traces[k].Draw(whole(f, e, cmp.Or(x.Side, e.Side), x.Joint))
		c.traces[k].Place(-1, "", "")
	}
}

// whole is the course of a hand's joint over all of an exercise.
func whole(f *file, e *session.Exercise, side hand.Side, j hand.Joint) *curve {
	to := e.End
	if to <= e.Start {
		to = f.s.Ended
	}
	return &curve{
		trace: review.TraceOf(f.s, e.Number, side, j, f.limits(e, side)), side: side, from: e.Start, to: to,
		spans: f.spansOf(side), moments: f.moments, lens: review.Lens{From: e.Start, Span: max(to-e.Start, 1), End: f.s.Ended},
	}
}

// both finds the first exercise of one session whose movement the other has too,
// for the same hand and in both with a course of the given one; an unknown hand is
// the exercise's own.
func both(a, b *file, side hand.Side) (x, y *session.Exercise) {
	has := func(f *file, e *session.Exercise) bool {
		return side == hand.UnknownSide || e.Side == side || f.both[e.Number]
	}
	for i := range a.s.Exercises {
		for k := range b.s.Exercises {
			x, y := &a.s.Exercises[i], &b.s.Exercises[k]
			if x.Movement == y.Movement && x.Side == y.Side && has(a, x) && has(b, y) {
				return x, y
			}
		}
	}
	return nil, nil
}

// read gathers the sessions of some days with what was said of them.
func read(ctx context.Context, r *Reader, f vault.Filter) ([]*session.Session, error) {
	list, err := r.opt.Store.Sessions(ctx, f)
	if err != nil {
		return nil, err
	}
	var all []*session.Session
	for i := range list {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		s, err := r.opt.Store.Session(ctx, list[i].ID)
		if err != nil {
			return nil, err
		}
		// Pictures are not shown in weeks, and are most of what a session holds.
		s.Pictures = nil
		all = append(all, s)
	}
	return all, nil
}
