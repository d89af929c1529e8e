package vault

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"volar/internal/session"
)

// Verdict is what a reviewer says of a flag.
type Verdict string

// The verdicts.
const (
	Right   Verdict = "right"
	Wrong   Verdict = "wrong"
	Unclear Verdict = "unclear"
)

// Review is one reviewer's reading of a session. Several reviewers never
// overwrite each other.
type Review struct {
	Session  session.ID
	Reviewer string
	// Read is when it was marked as read; zero is not yet.
	Read time.Time
	Note string
	// Spent is the time that the reading took.
	Spent time.Duration
	// Marks are verdicts by the flag's number.
	Marks   map[int]Verdict
	Updated time.Time
}

// PutReview keeps a review in place of the same reviewer's earlier one. One
// that is older than what is there changes nothing, so that reviews may come
// in any order; Updated must be set.
func (v *Vault) PutReview(ctx context.Context, r Review) error {
	if r.Reviewer == "" || r.Updated.IsZero() {
		return fmt.Errorf("session %s: a review needs a reviewer and a time", r.Session)
	}
	for n, m := range r.Marks {
		if m != Right && m != Wrong && m != Unclear {
			return fmt.Errorf("session %s: flag %d: verdict %q is none of right, wrong, unclear", r.Session, n, m)
		}
	}
	return v.change(ctx, func(tx *sql.Tx) error {
		s, err := rowOf(ctx, tx, r.Session)
		if err != nil {
			return err
		}
		var read any
		if !r.Read.IsZero() {
			read = r.Read.UnixMilli()
		}
		res, err := tx.ExecContext(ctx, `INSERT INTO review (session, reviewer, read, note, seconds, updated) VALUES (?, ?, ?, ?, ?, ?)
			ON CONFLICT (session, reviewer) DO UPDATE SET read = excluded.read, note = excluded.note, seconds = excluded.seconds, updated = excluded.updated
			WHERE excluded.updated >= updated`,
			s.id, r.Reviewer, read, r.Note, int64(r.Spent.Seconds()), r.Updated.UnixMilli())
		if err != nil {
			return err
		}
		if n, err := res.RowsAffected(); err != nil || n == 0 {
			return err
		}
		if _, err := tx.ExecContext(ctx, `DELETE FROM mark WHERE session = ? AND reviewer = ?`, s.id, r.Reviewer); err != nil {
			return err
		}
		for n, m := range r.Marks {
			if _, err := tx.ExecContext(ctx, `INSERT INTO mark (session, reviewer, flag, verdict) VALUES (?, ?, ?, ?)`, s.id, r.Reviewer, n, string(m)); err != nil {
				return err
			}
		}
		_, err = tx.ExecContext(ctx, `UPDATE session SET read = (SELECT min(read) FROM review WHERE session = ?1) WHERE id = ?1`, s.id)
		return err
	})
}

// Reviews returns all reviews of a session, by reviewer.
func (v *Vault) Reviews(ctx context.Context, id session.ID) ([]Review, error) {
	var all []Review
	err := v.view(func(db *sql.DB) error {
		err := each(ctx, db, `SELECT r.reviewer, r.read, r.note, r.seconds, r.updated FROM review r JOIN session s ON s.id = r.session
			WHERE s.uid = ? ORDER BY r.reviewer`, []any{id[:]}, func(rows *sql.Rows) error {
			r := Review{Session: id, Marks: map[int]Verdict{}}
			var read sql.NullInt64
			var seconds, updated int64
			err := rows.Scan(&r.Reviewer, &read, &r.Note, &seconds, &updated)
			if read.Valid {
				r.Read = time.UnixMilli(read.Int64).UTC()
			}
			r.Spent, r.Updated = time.Duration(seconds)*time.Second, time.UnixMilli(updated).UTC()
			all = append(all, r)
			return err
		})
		if err != nil {
			return err
		}
		return each(ctx, db, `SELECT m.reviewer, m.flag, m.verdict FROM mark m JOIN session s ON s.id = m.session WHERE s.uid = ?`, []any{id[:]}, func(rows *sql.Rows) error {
			var who string
			var flag int
			var verdict Verdict
			err := rows.Scan(&who, &flag, &verdict)
			for i := range all {
				if all[i].Reviewer == who {
					all[i].Marks[flag] = verdict
				}
			}
			return err
		})
	})
	return all, err
}

// MarkCount sums up the verdicts on one kind of flag.
type MarkCount struct {
	Kind                  string
	Right, Wrong, Unclear int
}

// MarkCounts sums up all reviewers' verdicts on a client's flags, by kind.
func (v *Vault) MarkCounts(ctx context.Context, client string) ([]MarkCount, error) {
	var all []MarkCount
	err := v.view(func(db *sql.DB) error {
		return each(ctx, db, `SELECT f.kind, sum(m.verdict = 'right'), sum(m.verdict = 'wrong'), sum(m.verdict = 'unclear')
			FROM session s JOIN mark m ON m.session = s.id JOIN flag f ON f.session = s.id AND f.number = m.flag
			WHERE s.client = (SELECT id FROM client WHERE code = ?) GROUP BY f.kind ORDER BY f.kind`, []any{client}, func(r *sql.Rows) error {
			var c MarkCount
			err := r.Scan(&c.Kind, &c.Right, &c.Wrong, &c.Unclear)
			all = append(all, c)
			return err
		})
	})
	return all, err
}

// ReviewTime is the time that reviewers spent on a client between two times,
// by the time of the review.
func (v *Vault) ReviewTime(ctx context.Context, client string, from, to time.Time) (time.Duration, error) {
	var seconds int64
	err := v.view(func(db *sql.DB) error {
		return db.QueryRowContext(ctx, `SELECT coalesce(sum(r.seconds), 0) FROM session s JOIN review r ON r.session = s.id
			WHERE s.client = (SELECT id FROM client WHERE code = ?) AND r.updated >= ? AND r.updated < ?`, client, from.UnixMilli(), to.UnixMilli()).Scan(&seconds)
	})
	return time.Duration(seconds) * time.Second, err
}
