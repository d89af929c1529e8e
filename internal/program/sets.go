package program

import (
	"cmp"
	"slices"
	"time"

	"volar/internal/coach"
	"volar/internal/exercise"
)

// Attempt is one try at a repetition in a recording, by one hand or by both.
type Attempt struct {
	Start, End time.Duration
	Counted    bool
}

// Attempts lists what one hand tried.
func Attempts(s coach.Summary) []Attempt {
	var all []Attempt
	for _, r := range s.Repetitions {
		all = append(all, Attempt{r.Start, r.End, r.Verdict == coach.Counted})
	}
	return all
}

// PairAttempts lists what two hands did together, and what each tried without
// the other, which does not count but is no rest either.
func PairAttempts(s coach.PairSummary) []Attempt {
	var all []Attempt
	left, right := map[int]bool{}, map[int]bool{}
	for _, r := range s.Repetitions {
		all = append(all, Attempt{r.Start, r.End, true})
		left[r.Left], right[r.Right] = true, true
	}
	for _, one := range []struct {
		reps   []coach.Repetition
		joined map[int]bool
	}{{s.Left.Repetitions, left}, {s.Right.Repetitions, right}} {
		for _, r := range one.reps {
			if !one.joined[r.Number] {
				all = append(all, Attempt{r.Start, r.End, false})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b Attempt) int { return cmp.Compare(a.Start, b.Start) })
	return all
}

// Set is one set as it was done in a recording, from its first attempt to its
// last.
type Set struct {
	Counted    int
	Start, End time.Duration
}

// Rest lies between two sets.
type Rest struct {
	Start, End time.Duration
	// Wanted is what is prescribed; 0 is nothing.
	Wanted  time.Duration
	Verdict RestVerdict
}

// RestVerdict compares a rest with the one that is prescribed. It tells, and
// flags nothing: a rest longer than planned is the client's own choice.
type RestVerdict string

// The verdicts; empty where no rest is prescribed.
const (
	RestKept  RestVerdict = "kept"
	RestShort RestVerdict = "short"
	RestLong  RestVerdict = "long"
)

const (
	// leastPause is the shortest pause that may be a rest wherever it comes: in
	// less somebody gets ready for the next repetition. From experience with
	// rendered clips, whose hands wait for up to 3 s.
	leastPause = 5 * time.Second
	// A rest is short by more than shortBy of it, and by a second at least, since
	// the ends of a repetition are known to about half a second each; it is long
	// by more than longBy. Nothing that is published says which; these are this
	// project's own.
	shortBy, longBy = 0.1, 0.5
	shortLeast      = time.Second
)

// SetsOf puts the attempts of a recording, in the order of their time, into
// sets. A recording does not say where a set ends: a pause of half of the
// prescribed rest ends one, and where none comes the prescribed number of
// repetitions does. A set of a few repetitions more than prescribed stays one.
func SetsOf(attempts []Attempt, dose exercise.Dose) []Set {
	if dose.Repetitions < 1 {
		return nil
	}
	rest := time.Duration(dose.RestSeconds * float64(time.Second))
	var sets []Set
	for len(attempts) > 0 {
		n, end := 1, attempts[0].End
		for n < len(attempts) && (rest <= 0 || attempts[n].Start-end < max(rest/2, leastPause)) {
			end = max(end, attempts[n].End)
			n++
		}
		sets = append(sets, split(attempts[:n], dose.Repetitions)...)
		attempts = attempts[n:]
	}
	return sets
}

// split cuts attempts without a rest between them after each prescribed number,
// into as many sets as come nearest. Attempts of which none counted are none.
func split(attempts []Attempt, each int) []Set {
	counted := 0
	for _, a := range attempts {
		if a.Counted {
			counted++
		}
	}
	if counted == 0 {
		return nil
	}
	wanted := max(1, (counted+each/2)/each)
	sets := []Set{{Start: attempts[0].Start}}
	for _, a := range attempts {
		s := &sets[len(sets)-1]
		if s.Counted == each && len(sets) < wanted {
			sets = append(sets, Set{Start: a.Start})
			s = &sets[len(sets)-1]
		}
		s.End = max(s.End, a.End)
		if a.Counted {
			s.Counted++
		}
	}
	return sets
}

// RestsOf are the rests between sets beside the prescribed one.
func RestsOf(sets []Set, dose exercise.Dose) []Rest {
	var rests []Rest
	wanted := time.Duration(dose.RestSeconds * float64(time.Second))
	for i := 1; i < len(sets); i++ {
		r := Rest{Start: sets[i-1].End, End: sets[i].Start, Wanted: wanted}
		took := r.End - r.Start
		switch {
		case wanted <= 0:
		case took < wanted-max(time.Duration(shortBy*float64(wanted)), shortLeast):
			r.Verdict = RestShort
		case took > wanted+time.Duration(longBy*float64(wanted)):
			r.Verdict = RestLong
		default:
			r.Verdict = RestKept
		}
		rests = append(rests, r)
	}
	return rests
}
