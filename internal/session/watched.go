package session

import "time"

// Watched is how long an exercise's sets went on, without the rests between
// them, the client's pauses and the questions before and after: the time that
// the exercise's shares are of. Where no event tells of sets it is all of the
// exercise.
func (s *Session) Watched(e *Exercise) time.Duration {
	var sum, from time.Duration
	told, inSet, halted := false, false, false
	upTo := func(at time.Duration) {
		if inSet && !halted {
			sum += max(at-from, 0)
		}
		from = at
	}
	for i := range s.Events {
		x := &s.Events[i]
		if x.Exercise != e.Number {
			continue
		}
		switch x.Kind {
		case SetStarted:
			upTo(x.At)
			told, inSet, halted = true, true, false
		case SetDone:
			upTo(x.At)
			inSet, halted = false, false
		case PracticePaused:
			upTo(x.At)
			halted = true
		case PracticeResumed:
			upTo(x.At)
			halted = false
		}
	}
	// A session that was interrupted has a set without an end.
	upTo(max(e.End, from))
	if !told {
		return max(e.End-e.Start, 0)
	}
	return sum
}
