package vault

import (
	"context"
	"database/sql"
	"encoding/json"
	"strings"
	"time"

	"volar/internal/hand"
	"volar/internal/review"
	"volar/internal/session"
)

// Entry is a session as a list shows it: everything that says whether it needs
// a reader's eyes.
type Entry struct {
	ID      session.ID
	Client  string
	Program string
	Version int
	Started time.Time
	Zone    string
	State   session.State
	// Ended is how long the session's own time ran.
	Ended time.Duration
	// Samples were taken, and the hand was found in Found of them.
	Samples, Found int
	// Exercises were begun; the others count what became of them.
	Exercises, Done, Stopped, Skipped int
	// Prescribed repetitions of the exercises begun, and what was done.
	Prescribed, Counted, Partial, Unjudged int
	// PainBefore, PainAfter and Effort are the greatest answers; nil where
	// there is none.
	PainBefore, PainAfter, Effort *int
	// Hurt is how often the client said that it hurts; Sharp is true for sharp
	// or shooting pain.
	Hurt  int
	Sharp bool
	// Flags in all; Limits of them passed a limit of an angle; NewFlags are
	// kinds of fault, on a joint in a movement, that the client had in no
	// earlier session.
	Flags, Limits, NewFlags int
	Pictures                int
	// Why it needs eyes, most pressing first; none while it is being recorded.
	Why []review.Why
	// Read is when it was first marked as read; zero where it was not.
	Read time.Time
}

// Order of a list.
type Order string

// The orders. NeedsEyes is that of review.Queue: what was not read first, by
// the most pressing reason.
const (
	Newest    Order = ""
	Oldest    Order = "oldest"
	NeedsEyes Order = "needs-eyes"
)

// Filter picks sessions; the zero value picks all, newest first.
type Filter struct {
	// Client is a code; empty is every client. ClientPrefix is how codes begin,
	// capitals or not.
	Client, ClientPrefix string
	// From and To bound the start: From <= started < To; zero is no bound.
	From, To time.Time
	// Unread and Read keep only what is unread or read; Pain, Limits and
	// NewFlags what was stopped, hurting or sharp; past a limit; showing a new
	// fault.
	Unread, Read, Pain, Limits, NewFlags bool
	// State keeps only one state.
	State session.State
	// IDPrefix keeps only ids that begin so, hyphens or not.
	IDPrefix string
	Order    Order
	// Limit is how many at most, 0 all; Offset how many to leave out first.
	Limit, Offset int
}

// where turns the filter into SQL.
func (f *Filter) where() (string, []any) {
	var terms []string
	var args []any
	add := func(term string, a ...any) { terms, args = append(terms, term), append(args, a...) }
	if f.Client != "" {
		add(`s.client = (SELECT id FROM client WHERE code = ?)`, f.Client)
	}
	if f.ClientPrefix != "" {
		add(`s.client IN (SELECT id FROM client WHERE substr(lower(code), 1, length(?)) = ?)`, strings.ToLower(f.ClientPrefix), strings.ToLower(f.ClientPrefix))
	}
	if !f.From.IsZero() {
		add(`s.started >= ?`, f.From.UnixMilli())
	}
	if !f.To.IsZero() {
		add(`s.started < ?`, f.To.UnixMilli())
	}
	if f.Unread {
		add(`s.read IS NULL`)
	}
	if f.Read {
		add(`s.read IS NOT NULL`)
	}
	if f.Pain {
		add(`(s.hurt > 0 OR s.sharp > 0 OR s.stopped > 0)`)
	}
	if f.Limits {
		add(`s.limits > 0`)
	}
	if f.NewFlags {
		add(`s.new_flags > 0`)
	}
	if f.State != "" {
		add(`s.state = ?`, string(f.State))
	}
	if f.IDPrefix != "" {
		add(`substr(lower(hex(s.uid)), 1, ?) = ?`, len(plainID(f.IDPrefix)), plainID(f.IDPrefix))
	}
	if len(terms) == 0 {
		return "", nil
	}
	return " WHERE " + strings.Join(terms, " AND "), args
}

func plainID(s string) string { return strings.ToLower(strings.ReplaceAll(s, "-", "")) }

func (o Order) sql() string {
	switch o {
	case Oldest:
		return ` ORDER BY s.started, s.id`
	case NeedsEyes:
		// The words are those of the index session_eyes.
		return ` ORDER BY (s.read IS NOT NULL), (iif(s.read IS NULL, s.eyes, 0)) DESC, s.started DESC, s.id DESC`
	}
	return ` ORDER BY s.started DESC, s.id DESC`
}

// Sessions lists sessions.
func (v *Vault) Sessions(ctx context.Context, f Filter) ([]Entry, error) {
	where, args := f.where()
	query := `SELECT s.uid, c.code, s.program, s.version, s.started, s.zone, s.state, s.ended, s.samples, s.found,
		s.exercises, s.done, s.stopped, s.skipped, s.prescribed, s.counted, s.partial, s.unjudged,
		s.pain_before, s.pain_after, s.effort, s.hurt, s.sharp, s.flags, s.limits, s.new_flags, s.pictures, s.read, s.why
		FROM session s JOIN client c ON c.id = s.client` + where + f.Order.sql()
	if f.Limit > 0 || f.Offset > 0 {
		limit := f.Limit
		if limit <= 0 {
			limit = -1
		}
		query += ` LIMIT ? OFFSET ?`
		args = append(args, limit, f.Offset)
	}
	var all []Entry
	err := v.view(func(db *sql.DB) error {
		return each(ctx, db, query, args, func(r *sql.Rows) error {
			var e Entry
			var uid, why sql.RawBytes
			var started, ended int64
			var before, after, effort, read sql.NullInt64
			err := r.Scan(&uid, &e.Client, &e.Program, &e.Version, &started, &e.Zone, &e.State, &ended, &e.Samples, &e.Found,
				&e.Exercises, &e.Done, &e.Stopped, &e.Skipped, &e.Prescribed, &e.Counted, &e.Partial, &e.Unjudged,
				&before, &after, &effort, &e.Hurt, &e.Sharp, &e.Flags, &e.Limits, &e.NewFlags, &e.Pictures, &read, &why)
			copy(e.ID[:], uid)
			e.Started, e.Ended = time.UnixMilli(started).UTC(), time.Duration(ended)*time.Microsecond
			e.PainBefore, e.PainAfter, e.Effort = optional(before), optional(after), optional(effort)
			if read.Valid {
				e.Read = time.UnixMilli(read.Int64).UTC()
			}
			if err == nil && len(why) > 2 {
				err = json.Unmarshal(why, &e.Why)
			}
			all = append(all, e)
			return err
		})
	})
	return all, err
}

// Count says how many sessions a filter picks, whatever its Limit.
func (v *Vault) Count(ctx context.Context, f Filter) (int, error) {
	where, args := f.where()
	var n int
	err := v.view(func(db *sql.DB) error {
		return db.QueryRowContext(ctx, `SELECT count(*) FROM session s`+where, args...).Scan(&n)
	})
	return n, err
}

func optional(n sql.NullInt64) *int {
	if !n.Valid {
		return nil
	}
	i := int(n.Int64)
	return &i
}

// ExerciseEntry is one exercise of one session, for trends.
type ExerciseEntry struct {
	Session session.ID
	Started time.Time
	session.Exercise
}

// Exercises returns what a client did between two times, oldest first.
func (v *Vault) Exercises(ctx context.Context, client string, from, to time.Time) ([]ExerciseEntry, error) {
	f := Filter{Client: client, From: from, To: to}
	where, args := f.where()
	var all []ExerciseEntry
	err := v.view(func(db *sql.DB) error {
		return each(ctx, db, `SELECT s.uid, s.started, e.body FROM session s JOIN exercise e ON e.session = s.id`+where+` ORDER BY s.started, s.id, e.number`, args,
			func(r *sql.Rows) error {
				var e ExerciseEntry
				var uid, body sql.RawBytes
				var started int64
				if err := r.Scan(&uid, &started, &body); err != nil {
					return err
				}
				copy(e.Session[:], uid)
				e.Started = time.UnixMilli(started).UTC()
				err := json.Unmarshal(body, &e.Exercise)
				all = append(all, e)
				return err
			})
	})
	return all, err
}

// FlagEntry is one flag of one session.
type FlagEntry struct {
	Session  session.ID
	Started  time.Time
	Movement string
	session.Flag
}

// Flags returns a client's flags between two times, oldest first.
func (v *Vault) Flags(ctx context.Context, client string, from, to time.Time) ([]FlagEntry, error) {
	f := Filter{Client: client, From: from, To: to}
	where, args := f.where()
	var all []FlagEntry
	err := v.view(func(db *sql.DB) error {
		return each(ctx, db, `SELECT s.uid, s.started, f.movement, f.number, f.exercise, f.repetition, f.kind, f.subject, f.side, f.start, f.finish,
			f.peak_deg, f.limit_deg, f.se_deg, f.took, f.wanted, f.say
			FROM session s JOIN flag f ON f.session = s.id`+where+` ORDER BY s.started, s.id, f.number`, args,
			func(r *sql.Rows) error {
				var e FlagEntry
				var uid sql.RawBytes
				var started, start, took, wanted int64
				var finish sql.NullInt64
				var side string
				err := r.Scan(&uid, &started, &e.Movement, &e.Number, &e.Exercise, &e.Repetition, &e.Kind, &e.Subject, &side, &start, &finish,
					&e.PeakDeg, &e.LimitDeg, &e.SEDeg, &took, &wanted, &e.Say)
				copy(e.Session[:], uid)
				e.Started = time.UnixMilli(started).UTC()
				e.Start, e.Took, e.Wanted = time.Duration(start)*time.Microsecond, time.Duration(took)*time.Microsecond, time.Duration(wanted)*time.Microsecond
				// "unknown" is no side that can be read, and is the zero one.
				e.Side, _ = hand.ParseSide(side)
				if e.Ended = finish.Valid; e.Ended {
					e.End = time.Duration(finish.Int64) * time.Microsecond
				}
				all = append(all, e)
				return err
			})
	})
	return all, err
}
