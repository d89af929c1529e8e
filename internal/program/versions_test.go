package program_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
	"volar/internal/program"
)

func zone(t *testing.T, name string) *time.Location {
	t.Helper()
	loc, err := program.ParseZone(name)
	require.NoError(t, err)
	return loc
}

func date(t *testing.T, s string) program.Date {
	t.Helper()
	d, err := program.ParseDate(s)
	require.NoError(t, err)
	return d
}

// lowerAt is the lower limit of the index PIP at an instant.
func lowerAt(t *testing.T, r program.Resolved) float64 {
	t.Helper()
	l := r.Limits[hand.IndexPIP].Lower
	require.NotNil(t, l)
	return *l
}

func TestDate(t *testing.T) {
	d := date(t, "2028-02-28")
	require.Equal(t, "2028-02-29", d.AddDays(1).String(), "2028 is a leap year")
	require.Equal(t, "2028-03-01", d.AddDays(2).String())
	require.Equal(t, 366, date(t, "2028-01-01").DaysUntil(date(t, "2029-01-01")))
	require.Equal(t, -1, d.DaysUntil(d.AddDays(-1)))
	require.Equal(t, "28 February 2028", d.Words())
	for _, s := range []string{"", "2027-02-29", "2028-2-28", "28.2.2028", "2028-02-28T00:00:00Z", "0000-00-00", " 2028-02-28"} {
		_, err := program.ParseDate(s)
		require.Error(t, err, s)
	}
}

// TestLimitOnTheDay: what the schedule says, on the days around each
// change, at the first and the last moment of each local day.
func TestLimitOnTheDay(t *testing.T) {
	p := parse(t, block)
	for _, name := range []string{"Europe/Berlin", "America/New_York", "Pacific/Auckland", "Asia/Kathmandu"} {
		loc := zone(t, name)
		for _, c := range []struct {
			day   string
			lower float64
			upper bool
		}{
			{"2026-12-01", 30, true}, {"2026-12-07", 30, true}, {"2026-12-08", 20, true},
			{"2026-12-14", 20, true}, {"2026-12-15", 10, false}, {"2027-06-30", 10, false},
		} {
			d := date(t, c.day)
			for _, at := range []time.Time{
				time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, loc),
				time.Date(d.Year, d.Month, d.Day, 23, 59, 59, 999, loc),
			} {
				r := p.At(at.UTC(), loc)
				require.Equal(t, d, r.Date)
				require.Equal(t, c.lower, lowerAt(t, r), "%s in %s", at, name)
				require.Equal(t, c.upper, r.Limits[hand.IndexPIP].Upper != nil)
				require.Zero(t, *r.Limits[hand.RingPIP].Lower, "the general entry holds for the others")
			}
		}
	}
	require.Equal(t, "2026-12-08", p.On(date(t, "2026-12-01")).NextChange.String())
	require.Equal(t, "2026-12-15", p.On(date(t, "2026-12-08")).NextChange.String())
	require.True(t, p.On(date(t, "2026-12-15")).NextChange.IsZero())
	require.False(t, p.On(date(t, "2026-11-30")).InForce)
	require.True(t, p.On(date(t, "2026-12-01")).InForce)
}

// halfYear is a program whose limit is lowered by a degree each day for half a
// year, so that any slip by an hour shows.
func halfYear(t *testing.T, from program.Date, zone string) *program.Program {
	t.Helper()
	p := parse(t, block)
	p.Zone, p.ValidFrom, p.NextReview, p.Issued = zone, from, program.Date{}, program.Instant{}
	p.Limits = []program.Limit{{Joints: "index.pip"}}
	for i := range 183 {
		s := program.Step{Lower: program.Deg(float64(i) / 2)}
		if i > 0 {
			s.From = from.AddDays(i)
		}
		p.Limits[0].Schedule = append(p.Limits[0].Schedule, s)
	}
	p.Exercises = p.Exercises[:1]
	p.Exercises[0].Targets = nil
	faults, _ := p.Check(program.Source{})
	require.Empty(t, faults)
	return p
}

// TestHalfYearAcrossDaylightSaving walks half a year by half hours of
// real time. Clock changes by the table of time zones: Berlin 28 March 2027,
// New York 14 March 2027, Auckland 4 April 2027.
func TestHalfYearAcrossDaylightSaving(t *testing.T) {
	for name, change := range map[string]time.Time{
		"Europe/Berlin":    time.Date(2027, 3, 28, 1, 0, 0, 0, time.UTC),
		"America/New_York": time.Date(2027, 3, 14, 7, 0, 0, 0, time.UTC),
		"Pacific/Auckland": time.Date(2027, 4, 3, 14, 0, 0, 0, time.UTC),
	} {
		loc := zone(t, name)
		_, before := change.Add(-time.Second).In(loc).Zone()
		_, after := change.In(loc).Zone()
		require.NotEqual(t, before, after, "the clock changes in %s", name)
		from := date(t, "2027-01-01")
		p := halfYear(t, from, name)
		begin := time.Date(2027, 1, 1, 0, 0, 0, 0, loc)
		day := 0
		for at := begin; day < 182; at = at.Add(30 * time.Minute) {
			// Count midnights rather than trust the date.
			if l := at.In(loc); at != begin && l.Hour() == 0 && l.Minute() == 0 {
				day++
			}
			r := p.At(at, nil)
			require.Equal(t, float64(day)/2, lowerAt(t, r), "%s in %s", at.In(loc), name)
		}
	}
}

// TestSkippedDay: Samoa left out 30 December 2011 altogether. What was to begin
// on that day holds from the next.
func TestSkippedDay(t *testing.T) {
	p := parse(t, block)
	p.ValidFrom, p.NextReview = date(t, "2011-12-01"), program.Date{}
	p.Limits = []program.Limit{{Joints: "index.pip", Schedule: []program.Step{{Lower: program.Deg(30)}, {From: date(t, "2011-12-30"), Lower: program.Deg(20)}}}}
	loc := zone(t, "Pacific/Apia")
	last := time.Date(2011, 12, 29, 23, 59, 59, 0, loc)
	require.Equal(t, 30.0, lowerAt(t, p.At(last, loc)))
	r := p.At(last.Add(time.Second), loc)
	require.Equal(t, "2011-12-31", r.Date.String())
	require.Equal(t, 20.0, lowerAt(t, r))
}

// TestHistory: versions over half a year, issued in one zone and followed in
// another.
func TestHistory(t *testing.T) {
	v := func(n int, issued, from, zone string) *program.Program {
		p := parse(t, block)
		p.Version, p.Zone, p.ValidFrom, p.NextReview = n, zone, date(t, from), program.Date{}
		at, err := time.Parse(time.RFC3339, issued)
		require.NoError(t, err)
		p.Issued.Time = at.UTC()
		return p
	}
	h, err := program.NewHistory(
		v(3, "2027-04-01T10:00:00Z", "2027-04-01", "America/New_York"), // the client has moved
		v(1, "2027-01-04T09:00:00Z", "2027-01-04", "Europe/Berlin"),
		v(2, "2027-03-26T16:00:00Z", "2027-03-29", "Europe/Berlin"), // over the night of the clock change
		v(4, "2027-06-01T10:00:00Z", "2027-07-01", "America/New_York"),
		v(5, "2027-06-02T10:00:00Z", "2027-06-02", "America/New_York"), // an urgent change meanwhile
	)
	require.NoError(t, err)
	require.Equal(t, 5, h.Latest().Version)
	berlin, york, auckland := zone(t, "Europe/Berlin"), zone(t, "America/New_York"), zone(t, "Pacific/Auckland")
	for _, c := range []struct {
		at   time.Time
		in   *time.Location
		want int
	}{
		{time.Date(2027, 1, 4, 9, 59, 59, 0, berlin), berlin, 0}, // before it was issued, though on its first day
		{time.Date(2027, 1, 4, 10, 0, 0, 0, berlin), berlin, 1},
		{time.Date(2027, 3, 28, 23, 59, 59, 0, berlin), berlin, 1}, // a day of 23 hours
		{time.Date(2027, 3, 29, 0, 0, 0, 0, berlin), berlin, 2},
		{time.Date(2027, 3, 29, 0, 0, 0, 0, berlin), nil, 2}, // the version's own zone
		{time.Date(2027, 3, 29, 0, 0, 0, 0, berlin), york, 1},
		{time.Date(2027, 3, 29, 0, 0, 0, 0, york), york, 2},
		// In Auckland the day begins eleven hours earlier than in Berlin.
		{time.Date(2027, 3, 29, 0, 0, 0, 0, auckland), auckland, 2},
		{time.Date(2027, 3, 28, 23, 59, 0, 0, auckland), auckland, 1},
		{time.Date(2027, 4, 1, 10, 0, 0, 0, time.UTC), york, 3},
		{time.Date(2027, 4, 1, 9, 59, 0, 0, time.UTC), york, 2},
		{time.Date(2027, 6, 1, 12, 0, 0, 0, york), york, 3}, // issued, not yet begun
		{time.Date(2027, 6, 2, 6, 0, 0, 0, york), york, 5},
		{time.Date(2027, 7, 1, 0, 0, 0, 0, york), york, 5}, // a later version counts, whatever date an earlier one has
	} {
		p, ok := h.At(c.at, c.in)
		require.Equal(t, c.want != 0, ok, "%s", c.at)
		if ok {
			require.Equal(t, c.want, p.Version, "%s in %v", c.at, c.in)
			r, ok := h.Resolve(c.at, c.in)
			require.True(t, ok && r.InForce)
			require.Same(t, p, r.Program)
		}
	}

	// Flying west over the date: the day is lived once more.
	p := h.Versions()[0]
	inAuckland := time.Date(2026, 12, 8, 10, 0, 0, 0, auckland)
	require.Equal(t, 20.0, lowerAt(t, p.At(inAuckland, auckland)))
	require.Equal(t, 30.0, lowerAt(t, p.At(inAuckland.Add(6*time.Hour), york)), "six hours later it is 7 December in New York")

	_, err = program.NewHistory()
	require.ErrorContains(t, err, "at least one")
	_, err = program.NewHistory(parse(t, block), parse(t, block))
	require.ErrorContains(t, err, "two versions 3")
	other := parse(t, block)
	other.Client, other.Version = "C-018", 4
	_, err = program.NewHistory(parse(t, block), other)
	require.ErrorContains(t, err, "C-018")
}

func TestNext(t *testing.T) {
	p := parse(t, block)
	// Late in the evening of 23 December in Berlin.
	n := p.Next(time.Date(2026, 12, 23, 22, 59, 59, 7, time.UTC))
	require.Equal(t, 4, n.Version)
	require.Equal(t, "2026-12-23", n.ValidFrom.String())
	require.Equal(t, time.Date(2026, 12, 23, 22, 59, 59, 0, time.UTC), n.Issued.Time)
	require.True(t, n.NextReview.IsZero(), "the old review date has passed")
	require.Equal(t, "2026-12-24", p.Next(time.Date(2026, 12, 23, 23, 0, 0, 0, time.UTC)).ValidFrom.String())

	// The copy is its own.
	text := string(p.Format())
	n.Limits[0].Schedule[0].Lower = program.Deg(-5)
	*n.Exercises[0].Dose.Sets = 9
	*n.Exercises[0].Targets[0].Deg = 1
	n.Precautions[0].Kind, n.Avoid[0] = program.Arthritis, program.Heat
	n.Exercises[1].Movement = "hook-fist"
	require.Equal(t, text, string(p.Format()))
}

// TestForHome: what was told to the clinic stays there; what counts is the same.
func TestForHome(t *testing.T) {
	p := parse(t, block)
	text := string(p.Format())
	h := p.ForHome()
	require.Equal(t, text, string(p.Format()), "the program itself is unchanged")
	for _, secret := range []string{p.History, p.Notes, p.Limits[1].Reason} {
		require.NotEmpty(t, secret)
		require.NotContains(t, string(h.Format()), secret)
	}
	require.Contains(t, string(h.Format()), p.Message)
	for _, day := range []string{"2026-12-01", "2026-12-08", "2026-12-15"} {
		require.Equal(t, p.On(date(t, day)).Limits, h.On(date(t, day)).Limits)
	}
}
