package review

import "time"

// idle is the longest pause between two acts that still counts as looking: a
// window that is left open is not read.
const idle = time.Minute

// Looking adds up how long somebody looks at a session. The zero Looking has
// not begun.
type Looking struct {
	last time.Time
	sum  time.Duration
}

// Act notes that somebody did something; the time since the last act counts, up
// to a minute.
func (l *Looking) Act(now time.Time) {
	if !l.last.IsZero() {
		l.sum += max(0, min(now.Sub(l.last), idle))
	}
	l.last = now
}

// Take returns the whole seconds that were not taken yet, a day at most.
func (l *Looking) Take(now time.Time) int {
	l.Act(now)
	n := min(l.sum/time.Second, 24*60*60)
	l.sum -= n * time.Second
	return int(n)
}
