package vault

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"volar/internal/review"
	"volar/internal/session"
)

// PutReview keeps a review beside the others of its session. The same again
// changes nothing, and reviews may come in any order: of two judgements of a
// flag the later one counts.
func (v *Vault) PutReview(ctx context.Context, r review.Review) error {
	body, err := r.Encode()
	if err != nil {
		return fmt.Errorf("session %s: %w", r.Session, err)
	}
	return v.change(ctx, func(tx *sql.Tx) error {
		s, err := rowOf(ctx, tx, r.Session)
		if err != nil {
			return err
		}
		var code string
		if err := tx.QueryRowContext(ctx, `SELECT code FROM client WHERE id = ?`, s.client).Scan(&code); err != nil {
			return err
		}
		if code != r.Client {
			return fmt.Errorf("session %s belongs to another client than its review", r.Session)
		}
		res, err := tx.ExecContext(ctx, `INSERT INTO reading (session, reviewer, at, read, seconds, body) VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`,
			s.id, r.By, r.At.UnixMicro(), r.Read, r.Seconds, string(body))
		if err != nil {
			return err
		}
		if n, err := res.RowsAffected(); err != nil || n == 0 {
			return err
		}
		for _, m := range r.Marks {
			if _, err := tx.ExecContext(ctx, `INSERT INTO judgement (session, flag, verdict, at) VALUES (?, ?, ?, ?)
				ON CONFLICT DO UPDATE SET verdict = excluded.verdict, at = excluded.at WHERE excluded.at >= at`,
				s.id, m.Flag, string(m.Judgement), r.At.UnixMicro()); err != nil {
				return err
			}
		}
		if r.Read {
			_, err = tx.ExecContext(ctx, `UPDATE session SET read = min(coalesce(read, ?2), ?2) WHERE id = ?1`, s.id, r.At.UnixMilli())
		}
		return err
	})
}

// Reviews returns all reviews of a session, oldest first.
func (v *Vault) Reviews(ctx context.Context, id session.ID) ([]review.Review, error) {
	return v.reviews(ctx, `s.uid = ?`, id[:])
}

// ReviewsOf returns the reviews of all of a client's sessions, oldest first.
func (v *Vault) ReviewsOf(ctx context.Context, client string) (map[session.ID][]review.Review, error) {
	all, err := v.reviews(ctx, `s.client = (SELECT id FROM client WHERE code = ?)`, client)
	bySession := map[session.ID][]review.Review{}
	for _, r := range all {
		bySession[r.Session] = append(bySession[r.Session], r)
	}
	return bySession, err
}

func (v *Vault) reviews(ctx context.Context, where string, arg any) ([]review.Review, error) {
	var all []review.Review
	err := v.view(func(db *sql.DB) error {
		return each(ctx, db, `SELECT r.body FROM session s JOIN reading r ON r.session = s.id WHERE `+where+` ORDER BY r.at, r.id`, []any{arg}, func(rows *sql.Rows) error {
			var body sql.RawBytes
			if err := rows.Scan(&body); err != nil {
				return err
			}
			r, err := review.Decode(body)
			if err != nil {
				return err
			}
			all = append(all, *r)
			return nil
		})
	})
	return all, err
}

// MarkCount sums up the judgements of one kind of flag.
type MarkCount struct {
	Kind                  string
	Right, Wrong, Unclear int
}

// MarkCounts sums up the latest judgements of a client's flags, by kind.
func (v *Vault) MarkCounts(ctx context.Context, client string) ([]MarkCount, error) {
	var all []MarkCount
	err := v.view(func(db *sql.DB) error {
		return each(ctx, db, `SELECT f.kind, sum(m.verdict = 'right'), sum(m.verdict = 'wrong'), sum(m.verdict = 'unclear')
			FROM session s JOIN judgement m ON m.session = s.id JOIN flag f ON f.session = s.id AND f.number = m.flag
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
		return db.QueryRowContext(ctx, `SELECT coalesce(sum(r.seconds), 0) FROM session s JOIN reading r ON r.session = s.id
			WHERE s.client = (SELECT id FROM client WHERE code = ?) AND r.at >= ? AND r.at < ?`, client, from.UnixMicro(), to.UnixMicro()).Scan(&seconds)
	})
	return time.Duration(seconds) * time.Second, err
}
