package main

import (
	"errors"
	"fmt"
	"strings"

	"volar/internal/hand"
	"volar/internal/live"
	"volar/internal/program"
)

// programResult says in check's JSON what was judged by.
type programResult struct {
	Client   string       `json:"client"`
	Version  int          `json:"version"`
	Date     program.Date `json:"date"`
	Exercise string       `json:"exercise"`
	// Sets, Repetitions of each and the rest between two that are prescribed.
	Sets        int     `json:"sets"`
	Repetitions int     `json:"repetitions"`
	RestS       float64 `json:"rest_s"`
}

// prescribed takes what is judged from a home program.
func (c *checkCmd) prescribed(e *environment) (live.Options, error) {
	bad := func(err error) (live.Options, error) { return live.Options{}, &usageError{err} }
	if c.Object != "" || len(c.Limit) > 0 || c.Hold != 0 || c.NoHold {
		return bad(errors.New("the program says which object, limits and hold count; leave --object, --limit, --hold and --no-hold out, or --program"))
	}
	p, err := loadProgram(e, c.Program)
	if err != nil {
		return live.Options{}, err
	}
	d, err := dayOf(p, c.Date)
	if err != nil {
		return live.Options{}, err
	}
	r := p.On(d)
	if !r.InForce {
		return bad(fmt.Errorf("the program is in force from %s, not yet on %s; name a day with --date", p.ValidFrom, d))
	}
	if c.Exercise == "" {
		if len(r.Exercises) > 1 {
			var ids []string
			for _, q := range r.Exercises {
				ids = append(ids, q.ID)
			}
			return bad(fmt.Errorf("the program has %d exercises; name one with --exercise: %s", len(ids), strings.Join(ids, ", ")))
		}
		c.Exercise = r.Exercises[0].ID
	}
	q, err := r.Find(c.Exercise)
	if err != nil {
		return bad(err)
	}
	if c.Side != "any" {
		if side, err := hand.ParseSide(c.Side); err == nil && side != q.Side {
			return bad(fmt.Errorf("the program gives %s to the %s hand, not to the %s", q.ID, q.Side, c.Side))
		}
	}
	// The hand is known: a second one in the picture is not in question.
	c.Side = q.Side.String()
	config, err := q.Config(nil)
	if err != nil {
		return bad(err)
	}
	c.by = &programResult{p.Client, p.Version, d, q.ID, q.Dose.Sets, q.Dose.Repetitions, q.Dose.RestSeconds}
	o := live.Options{Threads: c.Threads, Side: q.Side, Coach: config}
	if q.Movement.Hands == 2 {
		other := config
		other.Limits, other.Own = q.OtherLimits, nil
		o.Other = &other
	}
	return o, nil
}
