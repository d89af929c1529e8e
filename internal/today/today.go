// Package today says what a client has to do today: which exercises of the
// program are left, done or left out, in which order, how long they take; and,
// after one was done, in plain words how it went.
//
// A day is the client's local date. An exercise that is prescribed several
// times a day is done in rounds: all exercises once, then all of them again. A
// week runs from Monday to Sunday (ISO 8601). The package is pure: the clock
// comes in.
package today

import (
	"time"

	"volar/internal/coach"
	"volar/internal/program"
	"volar/internal/session"
)

// State is where an exercise stands today.
type State string

// The states. DayOff is an exercise that was done on as many days of this week
// as are prescribed.
const (
	ToDo    State = "to do"
	Done    State = "done"
	LeftOut State = "left out"
	DayOff  State = "day off"
)

// Past is an exercise that was done, or begun, before.
type Past struct {
	// Item is the exercise's ID within the program.
	Item       string
	At         time.Time
	Outcome    session.Outcome
	StopReason coach.StopReason
}

// Item is one exercise of today.
type Item struct {
	program.Prescribed
	State State
	// Times it was done today, of how many.
	Times, Of int
	Takes     time.Duration
}

// Day is what there is to do today.
type Day struct {
	Items []Item
	// Next is the index of the exercise that comes next; -1 where none is left.
	Next int
	// Left is about how long what is left of this round takes.
	Left time.Duration
	// Round is the round that Next belongs to, of Rounds.
	Round, Rounds int
	// Stopped is why the client was told to stop for today; empty where not.
	Stopped coach.StopReason
}

// Plan lists today's exercises in the order of the program. Past may hold any
// time; only this week's counts.
func Plan(r program.Resolved, past []Past, now time.Time, loc *time.Location) Day {
	d := Day{Next: -1}
	date := program.DateOf(now, loc)
	week := monday(now, loc)
	for i := range r.Exercises {
		q := &r.Exercises[i]
		it := Item{Prescribed: *q, Of: max(1, q.Dose.TimesADay), Takes: q.Takes(), State: ToDo}
		days := map[program.Date]bool{}
		for _, p := range past {
			on := program.DateOf(p.At, loc)
			if p.Item != q.ID || on.Before(week) || date.Before(on) {
				continue
			}
			switch {
			case on != date:
				if p.Outcome == session.Done {
					days[on] = true
				}
			case p.Outcome == session.Done:
				it.Times, it.State = it.Times+1, ToDo
			case p.Outcome == session.Skipped:
				it.State = LeftOut
			}
		}
		switch {
		case it.Times >= it.Of:
			it.State = Done
		case it.Times == 0 && it.State == ToDo && q.Dose.DaysAWeek > 0 && len(days) >= q.Dose.DaysAWeek:
			it.State = DayOff
		}
		d.Items = append(d.Items, it)
	}
	for _, p := range past {
		if program.DateOf(p.At, loc) == date && p.StopReason.EndsSession() {
			d.Stopped = p.StopReason
		}
	}
	d.next()
	return d
}

// next finds what comes next: the first of those done the fewest times.
func (d *Day) next() {
	for i := range d.Items {
		it := &d.Items[i]
		d.Rounds = max(d.Rounds, it.Of)
		if it.State == ToDo && (d.Next < 0 || it.Times < d.Items[d.Next].Times) {
			d.Next = i
		}
	}
	if d.Next < 0 {
		return
	}
	d.Round = d.Items[d.Next].Times + 1
	for i := range d.Items {
		if it := &d.Items[i]; it.State == ToDo && it.Times < d.Round {
			d.Left += it.Takes
		}
	}
}

// monday is the first day of the week.
func monday(now time.Time, loc *time.Location) program.Date {
	back := (int(now.In(loc).Weekday()) + 6) % 7
	return program.DateOf(now, loc).AddDays(-back)
}
