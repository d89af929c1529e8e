package program

import (
	"fmt"
	"slices"

	"volar/internal/exercise"
	"volar/internal/hand"
)

func (c *checker) exercises() {
	switch n := len(c.p.Exercises); {
	case n == 0:
		c.fault("exercises", "wants at least one exercise")
	case n > maxExercises:
		c.fault("exercises", "has %d entries; at most %d are read", n, maxExercises)
		return
	}
	names := map[string]int{}
	for i := range c.p.Exercises {
		e, field := &c.p.Exercises[i], fmt.Sprintf("exercises[%d]", i+1)
		c.exercise(e, field)
		if first, ok := names[e.Name()]; ok {
			at := field + ".movement"
			if e.ID != "" {
				at = field + ".id"
			}
			c.fault(at, "%s is exercise %d already; give this one an id of its own", e.Name(), first)
		} else {
			names[e.Name()] = i + 1
		}
	}
}

func (c *checker) exercise(e *Exercise, field string) {
	if e.ID != "" && (!idForm.MatchString(e.ID) || len(e.ID) > 60) {
		c.fault(field+".id", "%q is no id; wants lower-case letters and digits joined by hyphens, at most 60", e.ID)
	}
	oneOf(c, field+".view", e.View, "", BestView, SecondView)
	c.limits(field+".limits", e.Limits)
	c.room(c.p.limits(), c.p.own(e, field+".limits"), field)
	c.wider(e, field)
	if e.Tempo.LeastSeconds != 0 {
		c.within(field+".tempo.least_s", e.Tempo.LeastSeconds, 0.1, 10)
	}
	m := e.movement
	if m == nil {
		return
	}
	object, ok := c.object(e, m, field)
	c.dose(e, m, field)
	c.targets(e, m, field)
	if m.Kind == exercise.Unmeasured {
		if len(e.Limits) > 0 {
			c.warn(field+".limits", "the camera does not measure %s; no limit is judged in it", m.ID)
		}
		return
	}
	c.seen(e, m, field)
	if !ok {
		return
	}
	if with, err := m.With(object.ID); err == nil {
		c.poses(e, with, field)
		c.way(e, with, field)
	}
}

// object finds the object and what forbids it.
func (c *checker) object(e *Exercise, m *exercise.Movement, field string) (exercise.Object, bool) {
	if !oneOf(c, field+".grade", e.Grade, "", exercise.Easier, exercise.Usual, exercise.Harder) {
		return exercise.Object{}, false
	}
	o, err := e.pick(m)
	at := field + ".object"
	if e.Object == "" && e.Grade != "" {
		at = field + ".grade"
	}
	if err != nil {
		c.fault(at, "%v", err)
		return o, false
	}
	for _, a := range c.p.Avoid {
		if why := a.forbids(m, o); why != "" {
			c.fault(at, "%s, and the program says to avoid %s; change one of the two", why, a)
		}
	}
	for _, q := range c.p.Precautions {
		for _, a := range q.Kind.Defaults().Avoid {
			if why := a.forbids(m, o); why != "" && !slices.Contains(c.p.Avoid, a) {
				c.warn(at, "%s, which is usually avoided with %s", why, q.Kind)
			}
		}
	}
	return o, true
}

// pick returns the object that the exercise is done with.
func (e *Exercise) pick(m *exercise.Movement) (exercise.Object, error) {
	if e.Object != "" {
		o, err := m.Object(e.Object)
		if err == nil && e.Grade != "" && o.Grade != e.Grade {
			err = fmt.Errorf("%s has the grade %s, not %s; leave one of the two out", o.ID, o.Grade, e.Grade)
		}
		return o, err
	}
	if e.Grade == "" {
		return m.Object("")
	}
	for _, o := range m.Objects {
		if o.Grade == e.Grade {
			return o, nil
		}
	}
	if len(m.Objects) == 0 {
		return exercise.Object{}, fmt.Errorf("movement %s is done without an object and has no grades", m.ID)
	}
	return exercise.Object{}, fmt.Errorf("movement %s has no object of grade %s", m.ID, e.Grade)
}

func (c *checker) dose(e *Exercise, m *exercise.Movement, field string) {
	field += ".dose"
	d := e.Dose.Over(m.Dose)
	ok := c.within(field+".sets", float64(d.Sets), 1, 10)
	ok = c.within(field+".repetitions", float64(d.Repetitions), 1, 50) && ok
	ok = c.within(field+".hold_s", d.HoldSeconds, 0, 120) && ok
	ok = c.within(field+".rest_s", d.RestSeconds, 0, 600) && ok
	ok = c.within(field+".times_a_day", float64(d.TimesADay), 1, 24) && ok
	ok = c.within(field+".days_a_week", float64(d.DaysAWeek), 1, 7) && ok
	if !ok {
		return
	}
	switch {
	case d.Sets > 1 && d.RestSeconds == 0:
		c.fault(field+".rest_s", "%d sets want a rest between them", d.Sets)
	case d.Sets > 1 && e.Dose.Sets != nil && e.Dose.RestSeconds == nil:
		c.warn(field+".rest_s", "no rest is given for %d sets; the usual %s s is taken", d.Sets, trim(d.RestSeconds))
	}
	if m.Kind == exercise.Hold && d.HoldSeconds == 0 {
		c.fault(field+".hold_s", "%s is a hold; without a time there is nothing to do", m.ID)
	}
	c.above(field, d, m.Dose)
}

// above warns of a dose above the usual one, or above the lower one that goes
// with arthritis.
func (c *checker) above(field string, d, usual exercise.Dose) {
	whose := "usual"
	if c.p.Has(Arthritis) {
		usual, whose = LowerDose(usual), "with arthritis usual"
	}
	day := func(d exercise.Dose) int { return d.Sets * d.Repetitions * d.TimesADay }
	if day(d) > day(usual) {
		c.warn(field, "%d repetitions a day are more than the %d that are %s", day(d), day(usual), whose)
	}
	if d.HoldSeconds > usual.HoldSeconds {
		c.warn(field+".hold_s", "a hold of %s s is longer than the usual %s s", trim(d.HoldSeconds), trim(usual.HoldSeconds))
	}
}

func (c *checker) targets(e *Exercise, m *exercise.Movement, field string) {
	if len(e.Targets) > 0 && !ownWay(m) {
		c.fault(field+".targets", "%s has no single end pose that a target could change", m.ID)
		return
	}
	given := map[hand.Joint]bool{}
	for i, t := range e.Targets {
		at := fmt.Sprintf("%s.targets[%d]", field, i+1)
		joints, err := t.Joints.parse()
		if err != nil {
			c.fault(at+".joints", "%v", err)
			continue
		}
		idle := ""
		for _, j := range joints {
			if given[j] {
				c.fault(at+".joints", "%s has a target already", j)
			}
			given[j] = true
			if m.Measure.Weights[j] == 0 && idle == "" {
				idle = j.String()
			}
		}
		if idle != "" {
			c.warn(at+".joints", "%s takes no part in what is counted in %s", idle, m.ID)
		}
		switch {
		case (t.Share == nil) == (t.Deg == nil):
			c.fault(at, "wants either share_of_own or deg")
		case t.Share != nil:
			c.within(at+".share_of_own", *t.Share, 0.1, 1.5)
		default:
			c.possible(at+".deg", joints, Deg(*t.Deg))
			c.targetLimit(e, at+".deg", joints, *t.Deg)
		}
	}
}

// targetLimit refuses a target that a limit forbids.
func (c *checker) targetLimit(e *Exercise, field string, joints []hand.Joint, deg float64) {
	for _, d := range c.days(c.p.Limits, e.Limits) {
		b := c.p.bounds(e, c.p.SideOf(e), d)
		for _, j := range joints {
			low, ok := b.joints[j].lower.end.Deg()
			high, also := b.joints[j].upper.end.Deg()
			if ok && deg < low || also && deg > high {
				c.fault(field, "the target of %s, %s, lies outside its limit on %s", j, AngleWords(deg), d.Words())
				return
			}
		}
	}
}

// wider warns where an exercise allows what the program forbids.
func (c *checker) wider(e *Exercise, field string) {
	if len(e.Limits) == 0 {
		return
	}
	for _, side := range c.sides() {
		c.widerOf(side, e, field)
	}
}

func (c *checker) widerOf(side Side, e *Exercise, field string) {
	told := map[string]bool{}
	for _, d := range c.days(c.p.Limits, e.Limits) {
		var all, own bounds
		all.lay(c.p.limits(), side, d)
		own.lay(c.p.own(e, field+".limits"), side, d)
		for j := range own.joints {
			for n, pair := range [2][2]bound{{all.joints[j].lower, own.joints[j].lower}, {all.joints[j].upper, own.joints[j].upper}} {
				was, ok := pair[0].end.Deg()
				is, set := pair[1].end.Deg()
				at := pair[1].field
				if !ok || pair[1].end.IsZero() || set && (n == 0 && is >= was || n == 1 && is <= was) || told[at] {
					continue
				}
				told[at] = true
				c.warn(at, "allows %s more than the limit for all exercises (%s)", c.joint(hand.Joint(j), side), pair[0].field)
			}
		}
	}
}

// forbids says what of a movement done with an object is to be avoided; empty
// is nothing.
func (a Avoid) forbids(m *exercise.Movement, o exercise.Object) string {
	switch {
	case a == HarderGrade && o.Grade == exercise.Harder:
		return o.ID + " is the harder grade"
	case a == HardObjects && o.Hard:
		return o.ID + " does not give way"
	case a == Heat && o.Warm:
		return o.ID + " is used warm"
	case a == StrongPinch && m.Strength == exercise.Pinch:
		return m.ID + " pinches with force"
	case a == Resistance && m.Strength != exercise.NoStrength:
		return m.ID + " works against a resistance"
	}
	return ""
}

// ownWay reports whether the movement goes between one start and one end pose,
// so that a client's own range can take their place.
func ownWay(m *exercise.Movement) bool {
	return m.Kind == exercise.Cycle || m.Kind == exercise.Hold
}

func (e *Exercise) view(m *exercise.Movement) exercise.View {
	if e.View == SecondView {
		return m.View.Second
	}
	return m.View.Best
}
