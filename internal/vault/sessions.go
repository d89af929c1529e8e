package vault

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"time"

	"volar/internal/session"
)

var _ session.Sink = (*Vault)(nil)

// Begin makes the row of a session; its client has to be in the store.
func (v *Vault) Begin(h session.Header) error {
	ctx := context.Background()
	return v.change(ctx, func(tx *sql.Tx) error {
		_, err := begin(ctx, tx, h, session.Open)
		return err
	})
}

func begin(ctx context.Context, tx *sql.Tx, h session.Header, state session.State) (int64, error) {
	client, err := clientID(ctx, tx, h.Client)
	if err != nil {
		return 0, err
	}
	r, err := tx.ExecContext(ctx, `INSERT INTO session (uid, client, program, version, started, zone, software, consent, state)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		h.ID[:], client, h.Program, h.Version, h.Started.UnixMilli(), h.Zone, h.Software, h.Pictures, string(state))
	if err != nil {
		return 0, err
	}
	return r.LastInsertId()
}

// sessionRow is what a write needs to know of the session it belongs to.
type sessionRow struct {
	id, client, started int64
	state               session.State
}

func rowOf(ctx context.Context, tx *sql.Tx, id session.ID) (sessionRow, error) {
	var s sessionRow
	err := tx.QueryRowContext(ctx, `SELECT id, client, started, state FROM session WHERE uid = ?`, id[:]).
		Scan(&s.id, &s.client, &s.started, &s.state)
	if errors.Is(err, sql.ErrNoRows) {
		return s, missing("session %s is not in the store", id)
	}
	return s, err
}

// Append keeps a batch of an open session. A batch that comes again under the
// same number takes the place of the first.
func (v *Vault) Append(id session.ID, b *session.Batch) error {
	ctx := context.Background()
	digest, body, err := v.encode(b)
	if err != nil {
		return err
	}
	return v.change(ctx, func(tx *sql.Tx) error {
		s, err := rowOf(ctx, tx, id)
		if err != nil {
			return err
		}
		if s.state != session.Open {
			return fmt.Errorf("session %s is %s: nothing can be added", id, s.state)
		}
		if err := insertBatch(ctx, tx, s, b, digest, body); err != nil {
			return err
		}
		return summarise(ctx, tx, s, b.Last())
	})
}

// encode packs all of a batch but its pictures, which have a table.
func (v *Vault) encode(b *session.Batch) (digest, body []byte, err error) {
	rest := *b
	rest.Pictures = nil
	data, err := session.EncodeBatch(&rest)
	if err != nil {
		return nil, nil, err
	}
	return v.pack.seal(data)
}

// insertBatch writes a batch and what lists and trends read of it.
func insertBatch(ctx context.Context, tx *sql.Tx, s sessionRow, b *session.Batch, digest, body []byte) error {
	found := 0
	for i := range b.Samples {
		if b.Samples[i].Found {
			found++
		}
	}
	_, err := tx.ExecContext(ctx, `INSERT OR REPLACE INTO batch (session, seq, samples, found, digest, body) VALUES (?, ?, ?, ?, ?, ?)`,
		s.id, b.Seq, len(b.Samples), found, digest, body)
	if err != nil {
		return err
	}
	for i := range b.Exercises {
		if err := insertExercise(ctx, tx, s, &b.Exercises[i]); err != nil {
			return err
		}
	}
	for _, f := range session.Flags(b.Events) {
		if err := insertFlag(ctx, tx, s, &f); err != nil {
			return err
		}
	}
	for i := range b.Answers {
		a := &b.Answers[i]
		_, err := tx.ExecContext(ctx, `INSERT OR REPLACE INTO answer (session, seq, number, at, exercise, kind, value, text) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
			s.id, b.Seq, i+1, a.At.Microseconds(), a.Exercise, string(a.Kind), a.Value, a.Text)
		if err != nil {
			return err
		}
	}
	for i := range b.Pictures {
		p := &b.Pictures[i]
		_, err := tx.ExecContext(ctx, `INSERT OR REPLACE INTO picture
			(session, number, at, exercise, flag, width, height, x0, y0, x1, y1, jpeg) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
			s.id, p.Number, p.At.Microseconds(), p.Exercise, p.Flag, p.Width, p.Height, p.Left, p.Top, p.Right, p.Bottom, p.JPEG)
		if err != nil {
			return err
		}
	}
	return nil
}

func insertExercise(ctx context.Context, tx *sql.Tx, s sessionRow, e *session.Exercise) error {
	body, err := json.Marshal(e)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `INSERT OR REPLACE INTO exercise
		(session, number, movement, outcome, prescribed, counted, partial, unjudged, pain_before, pain_after, effort, sharp, body)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		s.id, e.Number, e.Movement, string(e.Outcome), e.Prescribed(), e.Counted, e.Partial, e.Unjudged,
		e.PainBefore, e.PainAfter, e.Effort, e.Sharp, string(body))
	return err
}

// insertFlag writes a flag, or fills in how one ended that is there.
func insertFlag(ctx context.Context, tx *sql.Tx, s sessionRow, f *session.Flag) error {
	var finish any
	if f.Ended {
		finish = f.End.Microseconds()
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO flag
		(session, number, client, started, movement, exercise, kind, subject, side, repetition, start, finish, peak_deg, limit_deg, se_deg, took, wanted, say)
		VALUES (?1, ?2, ?3, ?4, coalesce((SELECT movement FROM exercise WHERE session = ?1 AND number = ?5), ''), ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17)
		ON CONFLICT (session, number) DO UPDATE SET finish = coalesce(excluded.finish, finish), start = excluded.start,
		peak_deg = excluded.peak_deg, limit_deg = excluded.limit_deg, se_deg = excluded.se_deg, took = excluded.took, wanted = excluded.wanted`,
		s.id, f.Number, s.client, s.started, f.Exercise, f.Kind, f.Subject, f.Side.String(), f.Repetition, f.Start.Microseconds(), finish,
		f.PeakDeg, f.LimitDeg, f.SEDeg, f.Took.Microseconds(), f.Wanted.Microseconds(), f.Say)
	return err
}

// summarise brings the session's own row up to date with the tables below it.
func summarise(ctx context.Context, tx *sql.Tx, s sessionRow, ended time.Duration) error {
	_, err := tx.ExecContext(ctx, `UPDATE session SET
		ended = max(ended, ?2),
		(samples, found) = (SELECT coalesce(sum(samples), 0), coalesce(sum(found), 0) FROM batch WHERE session = ?1),
		(exercises, done, stopped, skipped, prescribed, counted, partial, unjudged, pain_before, pain_after, effort, sharp) =
			(SELECT count(*), coalesce(sum(outcome = 'done'), 0), coalesce(sum(outcome = 'stopped'), 0), coalesce(sum(outcome = 'skipped'), 0),
				coalesce(sum(prescribed), 0), coalesce(sum(counted), 0), coalesce(sum(partial), 0), coalesce(sum(unjudged), 0),
				max(pain_before), max(pain_after), max(effort), coalesce(max(sharp), 0) FROM exercise WHERE session = ?1),
		hurt = (SELECT count(*) FROM answer WHERE session = ?1 AND kind IN ('hurt', 'sharp-pain')),
		(flags, limits) = (SELECT count(*), coalesce(sum(kind IN ('hyperextension', 'over-flexion')), 0) FROM flag WHERE session = ?1),
		pictures = (SELECT count(*) FROM picture WHERE session = ?1)
		WHERE id = ?1`, s.id, ended.Microseconds())
	if err != nil {
		return err
	}
	return renew(ctx, tx, `id = ?1`, s.id)
}

// renew counts which kinds of fault the client did not have before, for the
// sessions that where picks.
func renew(ctx context.Context, tx *sql.Tx, where string, args ...any) error {
	_, err := tx.ExecContext(ctx, `UPDATE session SET new_flags =
		(SELECT count(*) FROM (SELECT DISTINCT kind, subject, movement FROM flag f WHERE f.session = session.id AND NOT EXISTS
			(SELECT 1 FROM flag g WHERE g.client = f.client AND g.kind = f.kind AND g.subject = f.subject AND g.movement = f.movement AND g.started < f.started)))
		WHERE `+where, args...)
	return err
}

// Finish ends a session.
func (v *Vault) Finish(id session.ID, state session.State, ended time.Duration) error {
	ctx := context.Background()
	return v.change(ctx, func(tx *sql.Tx) error {
		s, err := rowOf(ctx, tx, id)
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `UPDATE session SET state = ?2, ended = max(ended, ?3) WHERE id = ?1`, s.id, string(state), ended.Microseconds()); err != nil {
			return err
		}
		return v.digestWhole(ctx, tx, id)
	})
}

// Resume opens an interrupted session again and returns what a Recorder needs
// to go on with it.
func (v *Vault) Resume(ctx context.Context, id session.ID) (session.Header, session.Resume, error) {
	var h session.Header
	var p session.Resume
	err := v.change(ctx, func(tx *sql.Tx) error {
		s, err := rowOf(ctx, tx, id)
		if err != nil {
			return err
		}
		if s.state != session.Interrupted {
			return fmt.Errorf("session %s is %s: only one that was interrupted can be continued", id, s.state)
		}
		var ended, started int64
		err = tx.QueryRowContext(ctx, `SELECT c.code, s.program, s.version, s.started, s.zone, s.software, s.consent, s.ended,
			(SELECT coalesce(max(seq), 0) FROM batch WHERE session = s.id),
			(SELECT coalesce(max(number), 0) FROM exercise WHERE session = s.id),
			(SELECT coalesce(max(number), 0) FROM flag WHERE session = s.id),
			(SELECT coalesce(max(number), 0) FROM picture WHERE session = s.id)
			FROM session s JOIN client c ON c.id = s.client WHERE s.id = ?`, s.id).
			Scan(&h.Client, &h.Program, &h.Version, &started, &h.Zone, &h.Software, &h.Pictures, &ended, &p.NextSeq, &p.Exercises, &p.Flags, &p.Pictures)
		if err != nil {
			return err
		}
		h.ID, h.Started = id, time.UnixMilli(started).UTC()
		p.NextSeq++
		p.Ended = time.Duration(ended) * time.Microsecond
		_, err = tx.ExecContext(ctx, `UPDATE session SET state = 'open', summary = '' WHERE id = ?`, s.id)
		return err
	})
	return h, p, err
}

// Load returns a whole session, with its pictures.
func (v *Vault) Load(ctx context.Context, id session.ID) (*session.Session, error) {
	s := &session.Session{}
	err := v.view(func(db *sql.DB) error {
		// One transaction, so that a session that is being recorded is whole.
		tx, err := db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
		if err != nil {
			return err
		}
		// A transaction that only reads has nothing to lose.
		defer func() { _ = tx.Rollback() }()
		return v.load(ctx, tx, id, s)
	})
	if err != nil {
		return nil, err
	}
	return s, nil
}

func (v *Vault) load(ctx context.Context, tx *sql.Tx, id session.ID, s *session.Session) error {
	var row, ended, started int64
	err := tx.QueryRowContext(ctx, `SELECT s.id, c.code, s.program, s.version, s.started, s.zone, s.software, s.consent, s.state, s.ended
		FROM session s JOIN client c ON c.id = s.client WHERE s.uid = ?`, id[:]).
		Scan(&row, &s.Client, &s.Program, &s.Version, &started, &s.Zone, &s.Software, &s.Header.Pictures, &s.State, &ended)
	if errors.Is(err, sql.ErrNoRows) {
		return missing("session %s is not in the store", id)
	}
	if err != nil {
		return err
	}
	s.ID, s.Started, s.Ended = id, time.UnixMilli(started).UTC(), time.Duration(ended)*time.Microsecond
	rows, err := tx.QueryContext(ctx, `SELECT digest, body FROM batch WHERE session = ? ORDER BY seq`, row)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var digest, body sql.RawBytes
		if err := rows.Scan(&digest, &body); err != nil {
			return err
		}
		data, err := v.pack.open(digest, body)
		if err != nil {
			return fmt.Errorf("session %s: %w", id, err)
		}
		b, err := session.DecodeBatch(data)
		if err != nil {
			return fmt.Errorf("session %s: %w", id, err)
		}
		s.Add(&b)
	}
	if err := rows.Err(); err != nil {
		return err
	}
	s.Pictures, err = pictures(ctx, tx, row)
	return err
}

func pictures(ctx context.Context, tx *sql.Tx, row int64) ([]session.Picture, error) {
	rows, err := tx.QueryContext(ctx, `SELECT number, at, exercise, flag, width, height, x0, y0, x1, y1, jpeg FROM picture WHERE session = ? ORDER BY number`, row)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var all []session.Picture
	for rows.Next() {
		var p session.Picture
		var at int64
		if err := rows.Scan(&p.Number, &at, &p.Exercise, &p.Flag, &p.Width, &p.Height, &p.Left, &p.Top, &p.Right, &p.Bottom, &p.JPEG); err != nil {
			return nil, err
		}
		p.At = time.Duration(at) * time.Microsecond
		all = append(all, p)
	}
	return all, rows.Err()
}

// Import keeps a whole session that came from elsewhere. The same again
// changes nothing; a longer one takes the place of what is there and keeps its
// reviews. One that this store is recording is refused.
func (v *Vault) Import(ctx context.Context, in *session.Session) error {
	type packed struct {
		b            session.Batch
		digest, body []byte
	}
	var all []packed
	for _, b := range in.Batches() {
		digest, body, err := v.encode(&b)
		if err != nil {
			return err
		}
		all = append(all, packed{b, digest, body})
	}
	return v.change(ctx, func(tx *sql.Tx) error {
		s, err := rowOf(ctx, tx, in.ID)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			s.started = in.Started.UnixMilli()
			if s.client, err = clientID(ctx, tx, in.Client); err != nil {
				return err
			}
			if s.id, err = begin(ctx, tx, in.Header, in.State); err != nil {
				return err
			}
		case err != nil:
			return err
		default:
			stop, err := supersede(ctx, tx, s, in)
			if err != nil || stop {
				return err
			}
		}
		for i := range all {
			p := &all[i]
			if err := insertBatch(ctx, tx, s, &p.b, p.digest, p.body); err != nil {
				return err
			}
		}
		if err := summarise(ctx, tx, s, in.Ended); err != nil {
			return err
		}
		// What was new in a later session may not be so any more.
		if err := renew(ctx, tx, `client = ?1 AND started > ?2`, s.client, s.started); err != nil {
			return err
		}
		return digest(ctx, tx, s, in)
	})
}

// supersede makes room for a session that is there already, or says that
// there is nothing to do.
func supersede(ctx context.Context, tx *sql.Tx, s sessionRow, in *session.Session) (stop bool, err error) {
	var code string
	var ended, samples int64
	err = tx.QueryRowContext(ctx, `SELECT c.code, s.ended, s.samples FROM session s JOIN client c ON c.id = s.client WHERE s.id = ?`, s.id).Scan(&code, &ended, &samples)
	if err != nil {
		return false, err
	}
	switch {
	case code != in.Client:
		return false, fmt.Errorf("session %s belongs to another client", in.ID)
	case s.state == session.Open:
		return false, fmt.Errorf("session %s is being recorded here", in.ID)
	case in.Ended.Microseconds() < ended || int64(len(in.Samples)) < samples,
		in.Ended.Microseconds() == ended && int64(len(in.Samples)) == samples && s.state == in.State:
		return true, nil
	}
	for _, table := range []string{"batch", "picture", "exercise", "flag", "answer"} {
		if _, err := tx.ExecContext(ctx, `DELETE FROM `+table+` WHERE session = ?`, s.id); err != nil {
			return false, err
		}
	}
	_, err = tx.ExecContext(ctx, `UPDATE session SET state = ?2, program = ?3, version = ?4 WHERE id = ?1`, s.id, string(in.State), in.Program, in.Version)
	return false, err
}
