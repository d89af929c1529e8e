package score

import "fmt"

// Unanswered stands for an item without an answer.
const Unanswered = -1

// Answered is the outcome of a questionnaire.
type Answered struct {
	// Complete is false where too many items are unanswered; Score is then 0
	// and means nothing.
	Complete bool
	// Score from 0, best, to 100, worst.
	Score float64
	// Unanswered counts items without an answer.
	Unanswered int
}

// QuickDASHItems and QuickDASHWanted are how many items the questionnaire has
// and how many must be answered; ModuleItems is the size of its two optional
// modules, work and sport or music.
const (
	QuickDASHItems  = 11
	QuickDASHWanted = 10
	ModuleItems     = 4
)

// QuickDASH scores the short questionnaire on disabilities of arm, shoulder and
// hand: the mean of the answers, each 1 to 5, less 1, times 25. Ten of the
// eleven items must be answered. Answers are in the order of the items, with
// Unanswered where one is missing.
func QuickDASH(answers []int) (Answered, error) {
	return meanScore("QuickDASH", answers, QuickDASHItems, QuickDASHWanted)
}

// QuickDASHModule scores one of the optional modules, of which all four items
// must be answered (from memory).
func QuickDASHModule(answers []int) (Answered, error) {
	return meanScore("QuickDASH module", answers, ModuleItems, ModuleItems)
}

func meanScore(name string, answers []int, items, wanted int) (Answered, error) {
	sum, n, err := tally(name, answers, items, 1, 5)
	if err != nil {
		return Answered{}, err
	}
	a := Answered{Unanswered: items - n}
	if n >= wanted {
		a.Complete, a.Score = true, (float64(sum)/float64(n)-1)*25
	}
	return a, nil
}

// PRWHEPainItems and PRWHEFunctionItems are how many items the two parts of
// the questionnaire have.
const (
	PRWHEPainItems     = 5
	PRWHEFunctionItems = 10
)

// PRWHE scores the patient-rated wrist and hand evaluation: the sum of five
// answers on pain, each 0 to 10, and half the sum of ten on function. An
// unanswered item counts as the mean of the answered ones of its part (from
// memory); a part of which more than half is unanswered has no score (a
// choice, as no rule is known).
func PRWHE(pain, function []int) (Answered, error) {
	p, np, err := tally("PRWHE pain", pain, PRWHEPainItems, 0, 10)
	if err != nil {
		return Answered{}, err
	}
	f, nf, err := tally("PRWHE function", function, PRWHEFunctionItems, 0, 10)
	if err != nil {
		return Answered{}, err
	}
	const leastPain, leastFunction = PRWHEPainItems/2 + 1, PRWHEFunctionItems / 2
	a := Answered{Unanswered: PRWHEPainItems - np + PRWHEFunctionItems - nf}
	if np >= leastPain && nf >= leastFunction {
		a.Complete = true
		a.Score = float64(p)/float64(np)*PRWHEPainItems + float64(f)/float64(nf)*PRWHEFunctionItems/2
	}
	return a, nil
}

// tally adds the answers up.
func tally(name string, answers []int, items, least, greatest int) (sum, n int, err error) {
	if len(answers) != items {
		return 0, 0, fmt.Errorf("%s has %d items, not %d; give Unanswered for one without an answer", name, items, len(answers))
	}
	for i, a := range answers {
		if a == Unanswered {
			continue
		}
		if a < least || a > greatest {
			return 0, 0, fmt.Errorf("%s item %d: the answer %d is outside %d to %d", name, i+1, a, least, greatest)
		}
		sum += a
		n++
	}
	return sum, n, nil
}

// Change is the least change of a score that matters to people, with what is
// known of it.
type Change struct {
	Points     float64
	Source     string
	FromMemory bool
}

// QuickDASHChange is 14, with a 95 % confidence interval from 9 to 20.
func QuickDASHChange() Change { return Change{14, "Sorensen et al. 2013", false} }

// PRWHEChange is 14, from memory.
func PRWHEChange() Change { return Change{14, "Sorensen et al. 2013", true} }
