package draft

import (
	"cmp"
	"errors"
	"fmt"
	"slices"

	"volar/internal/hand"
	"volar/internal/program"
)

// All stands for the limits of all exercises where an exercise's index is
// asked for.
const All = -1

// Where says whose limits are meant.
type Where struct {
	// Of is an exercise's index, or All.
	Of int
	// Other means the hand that does not do the exercise, or that the program is
	// not for.
	Other bool
}

// Hand is the hand whose limits are meant.
func (d *Draft) Hand(w Where) program.Side {
	if w.Other {
		return d.side(w.Of).Other()
	}
	return d.side(w.Of)
}

// Limits are the limits of all exercises, or of one, of both hands.
func (d *Draft) Limits(of int) []program.Limit { return *d.limits(of) }

func (d *Draft) limits(of int) *[]program.Limit {
	if of == All {
		return &d.p.Limits
	}
	return &d.p.Exercises[of].Limits
}

// LimitField is the name of the list of limits of all exercises, or of one.
func LimitField(of int) string {
	if of == All {
		return "limits"
	}
	return Field(of, "limits")
}

// Row is one step of a limit, as a table of dates shows it.
type Row struct {
	Joints program.Joints
	Step   program.Step
	Reason string
	// Field names it in problems.
	Field string
}

// Rows lists the steps of a hand's limits, limit by limit in the order of the
// dates.
func (d *Draft) Rows(w Where) []Row {
	var rows []Row
	for i, l := range d.Limits(w.Of) {
		if !d.meant(w, &l) {
			continue
		}
		for k, s := range l.Schedule {
			rows = append(rows, Row{l.Joints, s, l.Reason, fmt.Sprintf("%s[%d].schedule[%d]", LimitField(w.Of), i+1, k+1)})
		}
	}
	return rows
}

// Words say a hand's limits with their dates, without naming the hand.
func (d *Draft) Words(w Where) []string {
	var words []string
	for _, l := range d.Limits(w.Of) {
		if d.meant(w, &l) {
			l.Side = 0
			words = append(words, l.Words())
		}
	}
	return words
}

// Unjudged says why limits of a hand are not judged, where the check of the
// program says so of one; else nothing.
func (d *Draft) Unjudged(w Where) string {
	for i, l := range d.Limits(w.Of) {
		if d.meant(w, &l) {
			if text, _ := d.At(fmt.Sprintf("%s[%d].side", LimitField(w.Of), i+1)); text != "" {
				return text
			}
		}
	}
	return ""
}

// Lacking is the first exercise that takes a hand without limits, while the
// other hand has some; -1 where there is none.
func (d *Draft) Lacking(w Where) int {
	for i := range d.p.Exercises {
		if w.Of != All && w.Of != i {
			continue
		}
		if side, found := d.p.Unlimited(&d.p.Exercises[i]); found && side == d.Hand(w) {
			return i
		}
	}
	return -1
}

// side is the hand that all exercises, or one, are for.
func (d *Draft) side(of int) program.Side {
	if of == All {
		return d.p.Side
	}
	return d.p.SideOf(&d.p.Exercises[of])
}

// meant is true for a limit of the hand that is meant.
func (d *Draft) meant(w Where, l *program.Limit) bool {
	return cmp.Or(l.Side, d.side(w.Of)) == d.Hand(w)
}

// find is the index of the limit of the same joints; -1 where there is none. Of
// several it is the last, which counts.
func (d *Draft) find(w Where, joints program.Joints) int {
	want := joints.List()
	at := -1
	for i, l := range d.Limits(w.Of) {
		if d.meant(w, &l) && slices.Equal(l.Joints.List(), want) {
			at = i
		}
	}
	return at
}

// Find is the limit of some joints; ok is false where there is none.
func (d *Draft) Find(w Where, joints program.Joints) (l program.Limit, ok bool) {
	i := d.find(w, joints)
	if i < 0 {
		return program.Limit{}, false
	}
	return d.Limits(w.Of)[i], true
}

// Step is the step of some joints that begins on a day; ok is false where there
// is none.
func (d *Draft) Step(w Where, joints program.Joints, from program.Date) (r Row, ok bool) {
	for _, r := range d.Rows(w) {
		if slices.Equal(r.Joints.List(), joints.List()) && r.Step.From == from {
			return r, true
		}
	}
	return Row{}, false
}

// PutStep reads a step of a limit and puts it into the schedule of its joints by
// its date, in place of one of the same day. An empty day is from the
// beginning. The reason is that of the whole limit.
func (d *Draft) PutStep(w Where, joints program.Joints, from, lower, upper, reason string) error {
	if len(joints.List()) == 0 {
		return errors.New("choose a joint first")
	}
	day, err := parseDate(from)
	if err != nil {
		return err
	}
	s := program.Step{From: day}
	if s.Lower, err = ParseEnd(lower); err != nil {
		return err
	}
	if s.Upper, err = ParseEnd(upper); err != nil {
		return err
	}
	if s.Lower.IsZero() && s.Upper.IsZero() {
		return errors.New("give one end at least: an angle, or free to lift a limit")
	}
	i := d.find(w, joints)
	if i < 0 {
		i = d.insert(w, program.Limit{Joints: joints})
	}
	l := &(*d.limits(w.Of))[i]
	l.Reason = reason
	at, same := slices.BinarySearchFunc(l.Schedule, day, func(s program.Step, d program.Date) int { return s.From.Compare(d) })
	if same {
		l.Schedule[at] = s
	} else {
		l.Schedule = slices.Insert(l.Schedule, at, s)
	}
	d.check()
	return nil
}

// RemoveStep takes a step away, and its limit with the last one.
func (d *Draft) RemoveStep(w Where, joints program.Joints, from program.Date) {
	i := d.find(w, joints)
	if i < 0 {
		return
	}
	all := d.limits(w.Of)
	l := &(*all)[i]
	l.Schedule = slices.DeleteFunc(l.Schedule, func(s program.Step) bool { return s.From == from })
	if len(l.Schedule) == 0 {
		*all = slices.Delete(*all, i, i+1)
	}
	d.check()
}

// insert puts a limit of the hand that is meant before the first that is for
// some of its joints only, since a later entry goes before an earlier one.
func (d *Draft) insert(w Where, l program.Limit) int {
	all := d.limits(w.Of)
	joints := l.Joints.List()
	at := slices.IndexFunc(*all, func(other program.Limit) bool {
		some := other.Joints.List()
		return d.meant(w, &other) && len(some) < len(joints) && !slices.ContainsFunc(some, func(j hand.Joint) bool { return !slices.Contains(joints, j) })
	})
	if at < 0 {
		at = len(*all)
	}
	*all = slices.Insert(*all, at, d.given(w, l))
	return at
}

// given is a copy of a limit for the hand that is meant.
func (d *Draft) given(w Where, l program.Limit) program.Limit {
	l.Side, l.Schedule = 0, slices.Clone(l.Schedule)
	if w.Other {
		l.Side = d.Hand(w)
	}
	return l
}

// Same gives the other hand, where it has no limits of its own, those of the
// hand that is meant.
func (d *Draft) Same(w Where) {
	to := Where{w.Of, !w.Other}
	if len(d.Rows(to)) > 0 {
		return
	}
	all := d.limits(w.Of)
	for _, l := range slices.Clone(*all) {
		if d.meant(w, &l) {
			// In the same order, which is part of what they say.
			*all = append(*all, d.given(to, l))
		}
	}
	d.check()
}

// bind writes its hand into every limit of a list in which the hand of one is
// written, before the hand that does the exercises changes: a limit then stays
// with the hand for which it was set. Limits of one hand alone go along.
func (d *Draft) bind(of int) {
	all := *d.limits(of)
	if !slices.ContainsFunc(all, func(l program.Limit) bool { return l.Side != 0 }) {
		return
	}
	for i := range all {
		all[i].Side = cmp.Or(all[i].Side, d.side(of))
	}
}

// Marked says which joints of a hand have a limit on a day, and which only on a
// later one, of all exercises or of one with its own.
func (d *Draft) Marked(w Where, day program.Date) (now, later [hand.NumJoints]bool) {
	side := d.Hand(w)
	mark := func(list int) {
		for _, l := range d.Limits(list) {
			if cmp.Or(l.Side, d.side(list)) != side {
				continue
			}
			lower, upper := l.On(day)
			_, low := lower.Deg()
			_, high := upper.Deg()
			for _, j := range l.Joints.List() {
				if low || high {
					now[j] = true
				} else if slices.ContainsFunc(l.Schedule, func(s program.Step) bool { return day.Before(s.From) }) {
					later[j] = true
				}
			}
		}
	}
	mark(All)
	if w.Of != All {
		mark(w.Of)
	}
	return now, later
}
