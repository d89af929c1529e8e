package reading

import (
	"fmt"
	"math"
	"strings"
	"time"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/program"
	"volar/internal/review"
	"volar/internal/session"
)

// angle is an angle in words, to a degree.
func angle(deg float64) string { return program.AngleWords(math.Round(deg)) }

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

// sentence begins with a capital.
func sentence(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// movement is the name of a movement of the catalogue, or what a movement is
// called that is not in it.
func movement(id string) string {
	m, err := exercise.Find(id)
	if err != nil {
		return id
	}
	return m.Name
}

// flagged tells a flag in one line.
func flagged(f *session.Flag) string {
	what := sentence(review.FaultWords(f.Kind, f.Subject))
	switch coach.FlagKind(f.Kind) {
	case coach.Hyperextension, coach.OverFlexion:
		return fmt.Sprintf("%s: %s ± %.0f°; limit %s", what, angle(f.PeakDeg), math.Max(1, math.Round(f.SEDeg)), angle(f.LimitDeg))
	case coach.IncompleteGrip:
		return fmt.Sprintf("%s: bent %.0f° of %.0f° in all", what, f.PeakDeg, f.LimitDeg)
	case coach.ShortHold, coach.TooFast:
		return fmt.Sprintf("%s: %.1f s of %.1f s", what, f.Took.Seconds(), f.Wanted.Seconds())
	}
	if f.Say != "" {
		return what + ": " + f.Say
	}
	return what
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
