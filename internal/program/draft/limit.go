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

// Limits are the limits of all exercises, or of one. Those that a file sets for
// the other hand are among them; Rows, Step, PutStep, RemoveStep and Marked are
// about the hand that does the exercises and leave them as they are.
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

// Rows lists the steps of all limits, limit by limit in the order of the dates.
func (d *Draft) Rows(of int) []Row {
	var rows []Row
	for i, l := range d.Limits(of) {
		if d.othersHand(of, &l) {
			continue
		}
		for k, s := range l.Schedule {
			rows = append(rows, Row{l.Joints, s, l.Reason, fmt.Sprintf("%s[%d].schedule[%d]", LimitField(of), i+1, k+1)})
		}
	}
	return rows
}

// side is the hand that all exercises, or one, are for.
func (d *Draft) side(of int) program.Side {
	if of == All {
		return d.p.Side
	}
	return d.p.SideOf(&d.p.Exercises[of])
}

// othersHand is true for a limit in a list that is for the other hand.
func (d *Draft) othersHand(of int, l *program.Limit) bool {
	return l.Side != 0 && l.Side != d.side(of)
}

// find is the index of the limit of the same joints; -1 where there is none.
func (d *Draft) find(of int, joints program.Joints) int {
	want := joints.List()
	return slices.IndexFunc(d.Limits(of), func(l program.Limit) bool {
		return !d.othersHand(of, &l) && slices.Equal(l.Joints.List(), want)
	})
}

// Step is the step of some joints that begins on a day; ok is false where there
// is none.
func (d *Draft) Step(of int, joints program.Joints, from program.Date) (r Row, ok bool) {
	for _, r := range d.Rows(of) {
		if slices.Equal(r.Joints.List(), joints.List()) && r.Step.From == from {
			return r, true
		}
	}
	return Row{}, false
}

// PutStep reads a step of a limit and puts it into the schedule of its joints by
// its date, in place of one of the same day. An empty day is from the
// beginning. The reason is that of the whole limit.
func (d *Draft) PutStep(of int, joints program.Joints, from, lower, upper, reason string) error {
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
	i := d.find(of, joints)
	if i < 0 {
		i = d.insert(of, program.Limit{Joints: joints})
	}
	l := &(*d.limits(of))[i]
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
func (d *Draft) RemoveStep(of int, joints program.Joints, from program.Date) {
	i := d.find(of, joints)
	if i < 0 {
		return
	}
	all := d.limits(of)
	l := &(*all)[i]
	l.Schedule = slices.DeleteFunc(l.Schedule, func(s program.Step) bool { return s.From == from })
	if len(l.Schedule) == 0 {
		*all = slices.Delete(*all, i, i+1)
	}
	d.check()
}

// insert puts a limit before the first that is for some of its joints only,
// since a later entry goes before an earlier one.
func (d *Draft) insert(of int, l program.Limit) int {
	all := d.limits(of)
	joints := l.Joints.List()
	at := slices.IndexFunc(*all, func(other program.Limit) bool {
		some := other.Joints.List()
		return len(some) < len(joints) && !slices.ContainsFunc(some, func(j hand.Joint) bool { return !slices.Contains(joints, j) })
	})
	if at < 0 {
		at = len(*all)
	}
	l.Schedule = slices.Clone(l.Schedule)
	*all = slices.Insert(*all, at, l)
	return at
}

// Marked says which joints have a limit on a day, and which only on a later
// one, of all exercises or of one with its own.
func (d *Draft) Marked(of int, day program.Date) (now, later [hand.NumJoints]bool) {
	side := d.side(of)
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
	if of != All {
		mark(of)
	}
	return now, later
}
