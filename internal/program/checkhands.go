package program

import (
	"fmt"

	"volar/internal/exercise"
	"volar/internal/hand"
)

// sides are the program's hand and the other.
func (c *checker) sides() []Side {
	if c.p.Side == 0 {
		return []Side{0}
	}
	return []Side{c.p.Side, c.p.Side.Other()}
}

// joint names a joint, with its hand where that is not the program's.
func (c *checker) joint(j hand.Joint, side Side) string {
	if side == c.p.Side {
		return j.String()
	}
	return j.String() + " of the " + side.String() + " hand"
}

// idle warns of limits of a hand that no exercise watches.
func (c *checker) idle() {
	watched := map[Side]bool{}
	for i := range c.p.Exercises {
		e := &c.p.Exercises[i]
		side := c.p.SideOf(e)
		watched[side] = true
		if e.movement == nil || e.movement.Hands == 2 {
			watched[side.Other()] = true
			continue
		}
		for n := range e.Limits {
			if l := &e.Limits[n]; l.of(side) != side {
				c.warn(fmt.Sprintf("exercises[%d].limits[%d].side", i+1, n+1), "%s is done with the %s hand; a limit of the %s is not judged in it", e.movement.ID, side, l.Side)
			}
		}
	}
	for n := range c.p.Limits {
		if l := &c.p.Limits[n]; l.Side != 0 && !watched[l.Side] {
			c.warn(fmt.Sprintf("limits[%d].side", n+1), "no exercise is done with the %s hand; this limit is never judged", l.Side)
		}
	}
}

// oneHanded warns of an exercise of both hands where only one of them has
// limits: a precaution brings its usual limits to the program's hand alone, and
// what the other may do is the therapist's to say.
func (c *checker) oneHanded() {
	for i := range c.p.Exercises {
		e := &c.p.Exercises[i]
		if side, found := c.p.Unlimited(e); found {
			c.warn(fmt.Sprintf("exercises[%d].limits", i+1), "%s takes both hands, and no limit is set for the %s hand", e.movement.ID, side)
		}
	}
}

// hands are those that do the exercise.
func (c *checker) hands(e *Exercise, m *exercise.Movement) []Side {
	if side := c.p.SideOf(e); m.Hands == 1 {
		return []Side{side}
	}
	return c.sides()
}
