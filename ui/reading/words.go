package reading

import (
	"fmt"
	"math"
	"time"

	"volar/internal/program"
	"volar/internal/review"
)

// clock is a time within a session, to a tenth of a second.
func clock(d time.Duration) string {
	d = d.Round(100 * time.Millisecond)
	return fmt.Sprintf("%d:%04.1f", int(d.Minutes()), (d % time.Minute).Seconds())
}

// day is when a session was, where the client was.
func day(t time.Time, zone string) string {
	loc, err := program.ParseZone(zone)
	if err != nil {
		loc = time.UTC
	}
	return t.In(loc).Format("Mon 2 Jan 2006, 15:04")
}

// done is what was done of a dose.
func done(counted, prescribed int) string {
	if prescribed == 0 {
		return fmt.Sprint(counted)
	}
	return fmt.Sprintf("%d of %d", counted, prescribed)
}

// pain is pain before and after, from 0 to 10.
func pain(before, after *int) string {
	one := func(n *int) string {
		if n == nil {
			return "?"
		}
		return fmt.Sprint(*n)
	}
	if before == nil && after == nil {
		return "not asked"
	}
	return one(before) + " → " + one(after)
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// judged puts a judgement into words.
func judged(j review.Judgement) string {
	if j == "" {
		return "not marked yet"
	}
	return "marked " + string(j)
}

// hits is the program's hit rate in words.
func hits(h review.HitRate) string {
	if h.Right+h.Wrong == 0 {
		return "No flag has been marked right or wrong yet."
	}
	return fmt.Sprintf("%d of %d flags marked were right (%.0f %%, 95 %% interval %.0f to %.0f %%); %d unclear.",
		h.Right, h.Right+h.Wrong, 100*h.Share, 100*h.Low, 100*h.High, h.Unclear)
}

// angleNumber is a size in degrees, such as an error.
func angleNumber(deg float64) string { return fmt.Sprintf("%.0f°", deg) }

// minutes is a time in whole minutes, at least one.
func minutes(n float64) string { return plural(int(max(1, math.Round(n))), "minute", "minutes") }
