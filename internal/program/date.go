package program

import (
	"cmp"
	"errors"
	"fmt"
	"time"

	// A home computer may lack the table of time zones.
	_ "time/tzdata"
)

// Date is a day in the calendar, without a time or a zone. The zero Date is no
// date.
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// DateOf returns the local date of an instant in the zone.
func DateOf(t time.Time, loc *time.Location) Date {
	y, m, d := t.In(loc).Date()
	return Date{y, m, d}
}

// ParseDate reads a date such as 2026-12-08.
func ParseDate(s string) (Date, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil || t.Year() < 1900 {
		return Date{}, fmt.Errorf("%q is no date; write year-month-day, such as 2026-12-08", s)
	}
	return DateOf(t, time.UTC), nil
}

// UnmarshalText reads what String writes.
func (d *Date) UnmarshalText(b []byte) (err error) {
	*d, err = ParseDate(string(b))
	return err
}

// MarshalText is String; the zero Date is empty.
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// IsZero reports whether it is no date.
func (d Date) IsZero() bool { return d == Date{} }

// String writes the date as files have it, such as 2026-12-08; the zero Date
// is empty.
func (d Date) String() string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.Year, d.Month, d.Day)
}

// Words writes the date for a person, such as 8 December 2026.
func (d Date) Words() string {
	if d.IsZero() {
		return "no date"
	}
	return fmt.Sprintf("%d %s %d", d.Day, d.Month, d.Year)
}

// Compare is negative where d comes before e, and 0 for the same day. The zero
// Date comes before all others.
func (d Date) Compare(e Date) int {
	return cmp.Or(cmp.Compare(d.Year, e.Year), cmp.Compare(d.Month, e.Month), cmp.Compare(d.Day, e.Day))
}

// Before reports whether d comes before e.
func (d Date) Before(e Date) bool { return d.Compare(e) < 0 }

// AddDays returns the date n days later.
func (d Date) AddDays(n int) Date {
	return DateOf(time.Date(d.Year, d.Month, d.Day+n, 12, 0, 0, 0, time.UTC), time.UTC)
}

// DaysUntil returns how many days later e is.
func (d Date) DaysUntil(e Date) int {
	noon := func(d Date) time.Time { return time.Date(d.Year, d.Month, d.Day, 12, 0, 0, 0, time.UTC) }
	return int(noon(e).Sub(noon(d)) / (24 * time.Hour))
}

// Instant is a moment in a file, written in UTC to the second, such as
// 2026-12-01T09:30:00Z. The zero Instant is none.
type Instant struct{ time.Time }

// UnmarshalText reads a moment with its distance from UTC.
func (i *Instant) UnmarshalText(b []byte) error {
	t, err := time.Parse(time.RFC3339, string(b))
	if err != nil || t.Year() < 1900 || t.Year() > 9998 {
		return fmt.Errorf("%q is no moment; write it in UTC as 2026-12-01T09:30:00Z", b)
	}
	i.Time = t.UTC().Truncate(time.Second)
	return nil
}

// MarshalText is the moment as files have it.
func (i Instant) MarshalText() ([]byte, error) {
	if i.IsZero() {
		return nil, nil
	}
	return i.UTC().AppendFormat(nil, time.RFC3339), nil
}

// ParseZone finds a time zone by its name, such as Europe/Berlin.
func ParseZone(name string) (*time.Location, error) {
	if name == "" || name == "Local" {
		return nil, errors.New("wants the name of a time zone, such as Europe/Berlin")
	}
	loc, err := time.LoadLocation(name)
	if err != nil {
		return nil, fmt.Errorf("%q is no time zone; write one such as Europe/Berlin or America/New_York", name)
	}
	return loc, nil
}
