package vault

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"volar/internal/hand"
	"volar/internal/review"
	"volar/internal/session"
)

// digest keeps what package review says of a whole session, so that a list of
// ten thousand need not open one. A fault that is new here is not so any more in
// the client's later sessions, whose reasons are found anew.
func digest(ctx context.Context, tx *sql.Tx, row sessionRow, s *session.Session) error {
	m := review.Summarize(s)
	body, err := json.Marshal(&m)
	if err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, `UPDATE session SET summary = ? WHERE id = ?`, string(body), row.id); err != nil {
		return err
	}
	return reasons(ctx, tx, row)
}

// reasons says why the session of the row, and those of its client that are
// later, need eyes.
func reasons(ctx context.Context, tx *sql.Tx, row sessionRow) error {
	type later struct {
		id      int64
		summary string
	}
	var rows []later
	err := each(ctx, tx, `SELECT id, summary FROM session WHERE client = ? AND started >= ? AND summary != '' ORDER BY started, id`, []any{row.client, row.started},
		func(r *sql.Rows) error {
			var l later
			err := r.Scan(&l.id, &l.summary)
			rows = append(rows, l)
			return err
		})
	if err != nil {
		return err
	}
	past := review.Summary{Faults: map[review.Fault]int{}}
	some := false
	if err := tx.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM session WHERE client = ? AND started < ?)`, row.client, row.started).Scan(&some); err != nil {
		return err
	}
	err = each(ctx, tx, `SELECT DISTINCT kind, subject, side FROM flag WHERE client = ? AND started < ?`, []any{row.client, row.started}, func(r *sql.Rows) error {
		var f review.Fault
		var side string
		err := r.Scan(&f.Kind, &f.Subject, &side)
		// A side that is none is one that is not known.
		f.Side, _ = hand.ParseSide(side)
		past.Faults[f]++
		return err
	})
	if err != nil {
		return err
	}
	err = each(ctx, tx, `SELECT summary FROM session WHERE client = ? AND started < ? AND summary LIKE '%"standing":%'`, []any{row.client, row.started}, func(r *sql.Rows) error {
		var body string
		if err := r.Scan(&body); err != nil {
			return err
		}
		var m review.Summary
		err := json.Unmarshal([]byte(body), &m)
		past.Standing = append(past.Standing, m.Standing...)
		return err
	})
	if err != nil {
		return err
	}
	for _, l := range rows {
		var m review.Summary
		if err := json.Unmarshal([]byte(l.summary), &m); err != nil {
			return fmt.Errorf("summary of a session: %w", err)
		}
		var earlier []review.Summary
		if some {
			earlier = []review.Summary{past}
		}
		why := review.NeedsEyes(&m, earlier)
		body, err := json.Marshal(why)
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `UPDATE session SET why = ?2, eyes = ?3 WHERE id = ?1 AND (why != ?2 OR eyes != ?3)`, l.id, string(body), review.Urgency(why)); err != nil {
			return err
		}
		some = true
		for what, n := range m.Faults {
			past.Faults[what] += n
		}
		past.Standing = append(past.Standing, m.Standing...)
	}
	return nil
}

// digestWhole is digest of a session as it is stored. One that cannot be read
// keeps no digest: that it is damaged is said where it is opened.
func (v *Vault) digestWhole(ctx context.Context, tx *sql.Tx, id session.ID) error {
	row, err := rowOf(ctx, tx, id)
	if err != nil {
		return err
	}
	var s session.Session
	switch err := v.load(ctx, tx, id, &s); {
	case errors.Is(err, errBatch), errors.Is(err, session.ErrMalformed):
		return nil
	case err != nil:
		return err
	}
	return digest(ctx, tx, row, &s)
}

// digestMissing makes up for sessions that an older volar wrote or that were
// cut short.
func (v *Vault) digestMissing(ctx context.Context) error {
	var ids []session.ID
	err := v.view(func(db *sql.DB) error {
		return each(ctx, db, `SELECT uid FROM session WHERE summary = '' AND state != 'open' ORDER BY started, id`, nil, func(r *sql.Rows) error {
			var uid sql.RawBytes
			var id session.ID
			err := r.Scan(&uid)
			copy(id[:], uid)
			ids = append(ids, id)
			return err
		})
	})
	if err != nil || len(ids) == 0 {
		return err
	}
	return v.change(ctx, func(tx *sql.Tx) error {
		for _, id := range ids {
			if err := v.digestWhole(ctx, tx, id); err != nil {
				return err
			}
		}
		return nil
	})
}
