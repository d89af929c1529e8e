package review

import (
	"math"
	"time"

	"volar/internal/program"
	"volar/internal/session"
)

// Done is what was done on one day of one prescribed exercise.
type Done struct {
	Day program.Date
	// Item is the exercise's ID within the program.
	Item string
	// Repetitions counted; a partial one is not a part of the dose.
	Repetitions int
}

// DoneIn lists what sessions hold, by local day and exercise. A session belongs
// to the day on which it started, where the client was then.
func DoneIn(sessions []*session.Session) []Done {
	type key struct {
		day  program.Date
		item string
	}
	sum := map[key]int{}
	var order []key
	for _, s := range sessions {
		day := LocalDay(s.Started, s.Zone)
		for i := range s.Exercises {
			e := &s.Exercises[i]
			k := key{day, e.Item}
			if e.Item == "" {
				k.item = e.Movement
			}
			if _, ok := sum[k]; !ok {
				order = append(order, k)
			}
			sum[k] += e.Counted
		}
	}
	list := make([]Done, len(order))
	for i, k := range order {
		list[i] = Done{k.day, k.item, sum[k]}
	}
	return list
}

// LocalDay is the date that a session belongs to; an unknown zone counts as
// UTC.
func LocalDay(t time.Time, zone string) program.Date {
	loc, err := program.ParseZone(zone)
	if err != nil {
		loc = time.UTC
	}
	return program.DateOf(t, loc)
}

// Adherence is how much of the dose was done, day by day and in all.
type Adherence struct {
	Days []DayDone
	// Prescribed and Done repetitions over all days. Done counts no more of an
	// exercise in a week than was prescribed: too much of one does not stand
	// for another that was left out.
	Prescribed, Done float64
	// Share is Done of Prescribed; NaN where nothing was prescribed.
	Share float64
	// Active is how many days have any repetition, and Last30 how many of the
	// last 30 days do.
	Active, Last30 int
}

// DayDone is one day.
type DayDone struct {
	Day program.Date
	// Prescribed is the day's part of the weekly dose, Done what was counted.
	Prescribed float64
	Done       int
}

// Adhered compares what was done with what was prescribed from the first to
// the last day, both included; asked gives the program in force on a day, and
// false for a day without one.
//
// A dose of fewer than seven days a week may be done on any days of it, so
// each day carries a share of the week's dose, and the cap is by blocks of
// seven days from the first.
func Adhered(done []Done, first, last program.Date, asked func(program.Date) (program.Resolved, bool)) Adherence {
	byDay := map[program.Date]map[string]int{}
	for _, d := range done {
		if byDay[d.Day] == nil {
			byDay[d.Day] = map[string]int{}
		}
		byDay[d.Day][d.Item] += d.Repetitions
	}
	var a Adherence
	week := map[string][2]float64{} // prescribed, done
	settle := func() {
		for _, w := range week {
			a.Prescribed += w[0]
			a.Done += min(w[0], w[1])
		}
		clear(week)
	}
	for day, n := first, 0; !last.Before(day); day, n = day.AddDays(1), n+1 {
		if n%7 == 0 {
			settle()
		}
		dd := DayDone{Day: day}
		if r, ok := asked(day); ok {
			for i := range r.Exercises {
				e := &r.Exercises[i]
				dose := float64(e.Dose.Sets*e.Dose.Repetitions*e.Dose.TimesADay*e.Dose.DaysAWeek) / 7
				dd.Prescribed += dose
				w := week[e.ID]
				w[0] += dose
				week[e.ID] = w
			}
		}
		for item, k := range byDay[day] {
			dd.Done += k
			if w, ok := week[item]; ok {
				w[1] += float64(k)
				week[item] = w
			}
		}
		if dd.Done > 0 {
			a.Active++
			if day.DaysUntil(last) < 30 {
				a.Last30++
			}
		}
		a.Days = append(a.Days, dd)
	}
	settle()
	a.Share = math.NaN()
	if a.Prescribed > 0 {
		a.Share = a.Done / a.Prescribed
	}
	return a
}
