package program

import (
	"fmt"
	"math"
	"slices"

	"volar/internal/exercise"
	"volar/internal/hand"
)

// seen warns of lower limits that the camera cannot judge in the exercise's
// view.
func (c *checker) seen(e *Exercise, m *exercise.Movement, field string) {
	v := e.view(m)
	var unseen [hand.NumJoints]bool
	var why string
	for _, d := range c.days(c.p.Limits, e.Limits) {
		for _, side := range c.hands(e, m) {
			b := c.p.bounds(e, side, d)
			for j := range b.joints {
				if deg, ok := b.joints[j].lower.end.Deg(); ok && deg < nearStraightDeg && !unseen[j] {
					ok, because := showsExtension(v, hand.Joint(j))
					if unseen[j] = !ok; !ok {
						why = because
					}
				}
			}
		}
	}
	var joints []string
	for j, not := range unseen {
		if not {
			joints = append(joints, JointWords(hand.Joint(j)))
		}
	}
	if len(joints) == 0 {
		return
	}
	at := field + ".movement"
	if e.View != "" {
		at = field + ".view"
	}
	c.warn(at, "in the %s view the camera mostly cannot judge whether %s %s straight, for which a limit is set: %s", v.Name, and(joints), map[bool]string{true: "passes", false: "pass"}[len(joints) == 1], why)
}

// contradictDeg is how far a pose may lie outside a limit without a word: key
// poses are no more exact.
const contradictDeg = 2

// poses warns where a pose of the movement lies outside the limits. One
// warning is enough: the first day, the first pose.
func (c *checker) poses(e *Exercise, m *exercise.Movement, field string) {
	names := []string{m.Measure.From}
	for _, p := range m.Phases {
		if !slices.Contains(names, p.To) {
			names = append(names, p.To)
		}
	}
	for _, d := range c.days(c.p.Limits, e.Limits) {
		var found []string
		for _, side := range c.hands(e, m) {
			found = append(found, c.outside(c.p.bounds(e, side, d), side, m, names)...)
		}
		if len(found) == 0 {
			continue
		}
		more, then := "", "the client is to stop at the limit, and the way is counted up to there"
		if len(found) > 1 {
			more = fmt.Sprintf(" (and %d more such)", len(found)-1)
		}
		if !ownWay(m) {
			then = "the client is to stop at the limit, and a step that is not reached is not counted"
		}
		c.warn(field+".movement", "%s%s wants %s%s; %s", c.from(d), m.ID, found[0], more, then)
		return
	}
}

// outside are the joints of one hand that poses of the movement take past their
// limits, in words.
func (c *checker) outside(b *bounds, side Side, m *exercise.Movement, names []string) (found []string) {
	whose := ""
	if side != c.p.Side {
		whose = " of the " + side.String() + " hand"
	}
	for j := range b.joints {
		low, ok := b.joints[j].lower.end.Deg()
		high, also := b.joints[j].upper.end.Deg()
		for _, name := range names {
			x, limit := m.Poses[name].Flexion()[j], ""
			switch {
			case ok && x < low-contradictDeg:
				limit = lowerWords(Deg(low))
			case also && x > high+contradictDeg:
				limit = upperWords(Deg(high))
			default:
				continue
			}
			found = append(found, fmt.Sprintf("%s%s at %s in pose %s, whose limit is: %s", JointWords(hand.Joint(j)), whose, AngleWords(x), name, limit))
		}
	}
	return found
}

// leastWayDeg is the least way that tells a movement's end pose from its start
// pose, as for the movements of the catalogue.
const leastWayDeg = 30

// way warns where the way that the limits leave is too short to be followed.
func (c *checker) way(e *Exercise, m *exercise.Movement, field string) {
	if !ownWay(m) {
		return
	}
	// What is not a joint has no limit and keeps its way.
	var rest float64
	for ch, w := range m.Measure.Ways {
		rest += m.Measure.Weights[ch] * math.Abs(w.To-w.From)
	}
	from, to := m.StartPose().Flexion(), m.EndPose().Flexion()
	for _, d := range c.days(c.p.Limits, e.Limits) {
		limits := c.p.bounds(e, c.p.SideOf(e), d).limits()
		left := rest
		for j := hand.Joint(0); j < hand.NumJoints; j++ {
			left += m.Measure.Weights[j] * math.Abs(within(limits[j], to[j])-within(limits[j], from[j]))
		}
		if left < leastWayDeg {
			c.warn(field+".movement", "%sthe limits leave %.0f weighted degrees of %s, too few to count repetitions by (wants %d)", c.from(d), left, m.ID, leastWayDeg)
			return
		}
	}
}

// from dates a warning that does not hold from the first day.
func (c *checker) from(d Date) string {
	if c.p.ValidFrom.Before(d) {
		return "from " + d.Words() + " "
	}
	return ""
}
