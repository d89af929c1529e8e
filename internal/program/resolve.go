package program

import (
	"errors"
	"fmt"
	"math"
	"time"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
)

// Resolved is what a program asks for on one day.
type Resolved struct {
	Program *Program
	Date    Date
	// InForce is false before the program's first day; the rest is then what
	// it will ask for if nothing changes.
	InForce bool
	// Limits of the program's side in every exercise, and those of the other
	// hand.
	Limits, OtherLimits coach.Limits
	Exercises           []Prescribed
	// NextChange is the next day on which a limit changes; the zero Date where
	// none does.
	NextChange Date
}

// Prescribed is one exercise as prescribed on one day.
type Prescribed struct {
	// ID within the program.
	ID string
	// Exercise as it stands in the program.
	Exercise *Exercise
	// Movement with the object's end pose and the prescribed tempo.
	Movement *exercise.Movement
	// Object is the zero Object where the movement has none.
	Object exercise.Object
	Side   hand.Side
	View   exercise.View
	Dose   exercise.Dose
	// Limits of the exercising hand, and of the other in a movement of two
	// hands.
	Limits, OtherLimits coach.Limits
	Cue                 Cue
	Note                string
}

// At returns what the program asks for at an instant, by the local date there;
// a nil zone is the program's own.
func (p *Program) At(t time.Time, loc *time.Location) Resolved {
	if loc == nil {
		loc = p.Location()
	}
	return p.On(DateOf(t, loc))
}

// On returns what the program asks for on a day. Exercises whose movement is
// not known are left out; a program that was checked without a fault has none.
func (p *Program) On(d Date) Resolved {
	r := Resolved{Program: p, Date: d, InForce: !d.Before(p.ValidFrom)}
	var all, other bounds
	all.lay(p.limits(), p.Side, d)
	other.lay(p.limits(), p.Side.Other(), d)
	r.Limits, r.OtherLimits = all.limits(), other.limits()
	lists := [][]Limit{p.Limits}
	for i := range p.Exercises {
		e := &p.Exercises[i]
		lists = append(lists, e.Limits)
		if q, err := p.prescribed(e, d); err == nil {
			r.Exercises = append(r.Exercises, q)
		}
	}
	for _, c := range changes(lists...) {
		if d.Before(c) && p.ValidFrom.Before(c) {
			r.NextChange = c
			break
		}
	}
	return r
}

var errNoMovement = errors.New("the movement is not known; check the program first")

func (p *Program) prescribed(e *Exercise, d Date) (Prescribed, error) {
	if e.movement == nil {
		return Prescribed{}, errNoMovement
	}
	o, err := e.pick(e.movement)
	if err != nil {
		return Prescribed{}, err
	}
	m, err := e.movement.With(o.ID)
	if err != nil {
		return Prescribed{}, err
	}
	if e.Tempo.LeastSeconds > 0 {
		m.Tempo.LeastSeconds = e.Tempo.LeastSeconds
	}
	q := Prescribed{
		ID: e.Name(), Exercise: e, Movement: m, Object: o, Side: p.SideOf(e).Hand(), View: e.view(m),
		Dose: e.Dose.Over(m.Dose), Cue: p.Cue, Note: e.Note,
	}
	if q.Cue == "" {
		q.Cue = UsualCue
	}
	q.Limits, q.OtherLimits = p.bounds(e, p.SideOf(e), d).limits(), coach.Limits{}
	if m.Hands == 2 {
		q.OtherLimits = p.bounds(e, p.SideOf(e).Other(), d).limits()
	}
	return q, nil
}

// limits are those of the program for all exercises.
func (p *Program) limits() limitList { return limitList{p.Limits, "limits", p.Side} }

// own are those of one exercise.
func (p *Program) own(e *Exercise, field string) limitList {
	return limitList{e.Limits, field, p.SideOf(e)}
}

// bounds are the limits of one hand in an exercise.
func (p *Program) bounds(e *Exercise, side Side, d Date) *bounds {
	var b bounds
	b.lay(p.limits(), side, d)
	b.lay(p.own(e, "exercise limits"), side, d)
	return &b
}

// earlyCue asks for less proof than the coach's defaults. On made-up readings
// that scatter by 3.5 degrees, as they do on rendered hands, a knuckle 6 degrees
// past straight for a second is then found in 93 of 100 instead of 68, and told
// 0.1 s sooner; four straight fingers held for 10 s raise a flag in fewer than 1
// of 100 either way. A least margin of 3.5 would raise one in 6 of 100.
var earlyCue = coach.Tolerances{MarginSE: 1, LeastMarginDeg: 4, GreatestMarginDeg: 7}

// Config puts the exercise in the coach's words. Own is the client's own range
// of each joint from the straight hand to the full fist, of the exercising
// hand, where it was recorded; it may be nil.
//
// A key pose that the client's own range does not reach is replaced by the end
// of that range, a target takes the place of the end pose, and a limit goes
// before both: the way that is counted ends where the client is to stop.
func (q *Prescribed) Config(own map[hand.Joint]coach.Range) (coach.Config, error) {
	c := coach.Config{
		Movement: q.Movement, Object: q.Object.ID, Side: q.Side, Limits: q.Limits,
		Repetitions: q.Dose.Repetitions, Hold: q.Dose.Hold(),
	}
	if c.Hold == 0 {
		c.Hold = -1 // the coach's word for none; 0 is the movement's usual
	}
	if q.Cue == EarlyCue {
		c.Tolerances = earlyCue
	}
	if !ownWay(q.Movement) {
		return c, nil
	}
	goals, err := q.goals(own)
	if err != nil {
		return coach.Config{}, fmt.Errorf("exercise %s: %w", q.ID, err)
	}
	from, to := q.Movement.StartPose().Flexion(), q.Movement.EndPose().Flexion()
	for j := hand.Joint(0); j < hand.NumJoints; j++ {
		if q.Movement.Measure.Weights[j] == 0 {
			continue
		}
		way := coach.Range{Start: from[j], End: to[j]}
		if r, ok := own[j]; ok {
			low, high := min(r.Start, r.End), max(r.Start, r.End)
			way = coach.Range{Start: min(max(way.Start, low), high), End: min(max(way.End, low), high)}
		}
		if deg, ok := goals[j]; ok {
			way.End = deg
		}
		least, greatest := exercise.Possible(j)
		inside := func(x float64) float64 { return within(q.Limits[j], min(max(x, least), greatest)) }
		way = coach.Range{Start: inside(way.Start), End: inside(way.End)}
		if way == (coach.Range{Start: from[j], End: to[j]}) {
			continue
		}
		if c.Own == nil {
			c.Own = map[hand.Joint]coach.Range{}
		}
		c.Own[j] = way
	}
	return c, nil
}

// goals are the targets in degrees. A share needs the client's own range.
func (q *Prescribed) goals(own map[hand.Joint]coach.Range) (map[hand.Joint]float64, error) {
	goals := map[hand.Joint]float64{}
	for _, t := range q.Exercise.Targets {
		for _, j := range t.Joints.List() {
			switch r, ok := own[j]; {
			case t.Deg != nil:
				goals[j] = *t.Deg
			case t.Share == nil:
			case ok:
				goals[j] = r.Start + *t.Share*(r.End-r.Start)
			default:
				return nil, fmt.Errorf("the target of %s is a share of the client's own range, which has not been recorded; record the straight hand and the fist first, or give the target in degrees: %w", j, ErrNoBaseline)
			}
		}
	}
	return goals, nil
}

// ErrNoBaseline says that a target needs the client's own range, and that it
// was not recorded.
var ErrNoBaseline = errors.New("no baseline")

func within(l coach.Limit, x float64) float64 {
	if l.Lower != nil {
		x = math.Max(x, *l.Lower)
	}
	if l.Upper != nil {
		x = math.Min(x, *l.Upper)
	}
	return x
}

// OwnLimits are the movement's own limits that hold beside those that the
// therapist set, because he set none on that end.
func (q *Prescribed) OwnLimits() coach.Limits {
	l := coach.Limits{}
	for _, b := range q.Movement.Judge.Lower {
		for _, j := range b.Joints {
			if set := q.Limits[j]; set.Lower == nil && (set.Upper == nil || *set.Upper > b.Deg) {
				l[j] = coach.Limit{Lower: &b.Deg, Upper: l[j].Upper}
			}
		}
	}
	for _, b := range q.Movement.Judge.Upper {
		for _, j := range b.Joints {
			if set := q.Limits[j]; set.Upper == nil && (set.Lower == nil || *set.Lower < b.Deg) {
				l[j] = coach.Limit{Lower: l[j].Lower, Upper: &b.Deg}
			}
		}
	}
	return l
}

// Unseen lists the joints of which the exercise's view mostly cannot show
// whether they pass a limit near straight, and says why.
func (q *Prescribed) Unseen() (joints []hand.Joint, why string) {
	if q.Movement.Kind == exercise.Unmeasured {
		return nil, ""
	}
	own := q.OwnLimits()
	for j := hand.Joint(0); j < hand.NumJoints; j++ {
		lower := q.Limits[j].Lower
		if lower == nil {
			lower = own[j].Lower
		}
		if lower == nil || *lower >= nearStraightDeg {
			continue
		}
		if ok, because := showsExtension(q.View, j); !ok {
			joints, why = append(joints, j), because
		}
	}
	return joints, why
}

// Takes is about how long the exercise takes, done once as prescribed: its
// repetitions with their holds at the movement's usual pace, and the rests.
func (q *Prescribed) Takes() time.Duration {
	hold := q.Dose.Hold()
	if hold == 0 {
		hold = time.Nanosecond // KeyPoses takes 0 for the movement's usual hold
	}
	var once time.Duration
	if keys := q.Movement.KeyPoses(hold, 1); len(keys) > 0 {
		once = keys[len(keys)-1].At
	}
	rest := time.Duration(q.Dose.RestSeconds * float64(time.Second))
	n := time.Duration(q.Dose.Sets)
	return (n*time.Duration(q.Dose.Repetitions)*once + (n-1)*rest).Round(time.Second)
}

// Takes is about how long all exercises take, done once.
func (r *Resolved) Takes() (all time.Duration) {
	for i := range r.Exercises {
		all += r.Exercises[i].Takes()
	}
	return all
}

// Find returns the exercise with the ID, or the only one of the movement with
// that ID.
func (r *Resolved) Find(id string) (*Prescribed, error) {
	i, err := r.Program.Find(id)
	if err != nil {
		return nil, err
	}
	name := r.Program.Exercises[i].Name()
	for k := range r.Exercises {
		if r.Exercises[k].ID == name {
			return &r.Exercises[k], nil
		}
	}
	return nil, fmt.Errorf("exercise %s: %w", id, errNoMovement)
}
