package vault

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// Outgoing is a sealed file that waits to be carried, or was.
type Outgoing struct {
	ID int64
	// Name is the file's name where it goes, Kind what it is; both are the
	// sender's own. Client is the code that it belongs to.
	Name, Kind, Client string
	Body               []byte
	Created            time.Time
	// Attempts counts the tries, Tried is the last one and Problem what it met.
	Attempts int
	Tried    time.Time
	Problem  string
	// Sent is zero while it waits.
	Sent time.Time
}

// PutOutgoing lays a file in the outbox. The same name again is no error and
// changes nothing.
func (v *Vault) PutOutgoing(ctx context.Context, o Outgoing) error {
	if o.Name == "" {
		return errors.New("a file that is to be sent needs a name")
	}
	return v.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO outbox (name, kind, client, body, created) VALUES (?, ?, ?, ?, ?) ON CONFLICT (name) DO NOTHING`,
			o.Name, o.Kind, o.Client, o.Body, time.Now().UnixMilli())
		return err
	})
}

// Outbox lists files in the order in which they were laid there; with waiting,
// only those not yet sent. Bodies are left out: see Outgoing.
func (v *Vault) Outbox(ctx context.Context, waiting bool) ([]Outgoing, error) {
	var all []Outgoing
	err := v.view(func(db *sql.DB) error {
		return each(ctx, db, `SELECT id, name, kind, client, created, attempts, tried, problem, sent FROM outbox WHERE NOT ? OR sent IS NULL ORDER BY id`, []any{waiting}, func(r *sql.Rows) error {
			var o Outgoing
			var created int64
			var tried, sent sql.NullInt64
			err := r.Scan(&o.ID, &o.Name, &o.Kind, &o.Client, &created, &o.Attempts, &tried, &o.Problem, &sent)
			o.Created, o.Tried, o.Sent = time.UnixMilli(created).UTC(), moment(tried), moment(sent)
			all = append(all, o)
			return err
		})
	})
	return all, err
}

// OutgoingBody returns the bytes of a file in the outbox.
func (v *Vault) OutgoingBody(ctx context.Context, id int64) ([]byte, error) {
	var body []byte
	err := v.view(func(db *sql.DB) error {
		err := db.QueryRowContext(ctx, `SELECT body FROM outbox WHERE id = ?`, id).Scan(&body)
		if errors.Is(err, sql.ErrNoRows) {
			return missing("file %d is not in the outbox", id)
		}
		return err
	})
	return body, err
}

// MarkTried notes a try that failed.
func (v *Vault) MarkTried(ctx context.Context, id int64, at time.Time, problem string) error {
	return v.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `UPDATE outbox SET attempts = attempts + 1, tried = ?, problem = ? WHERE id = ?`, at.UnixMilli(), problem, id)
		return err
	})
}

// MarkSent notes that a file arrived, and lets go of its bytes.
func (v *Vault) MarkSent(ctx context.Context, id int64, at time.Time) error {
	return v.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `UPDATE outbox SET attempts = attempts + 1, tried = ?1, problem = '', sent = ?1, body = x'' WHERE id = ?2`, at.UnixMilli(), id)
		return err
	})
}

// Incoming is a file that was fetched.
type Incoming struct {
	Name, Kind, Client string
	Digest             [sha256.Size]byte
	Received           time.Time
	// State is the receiver's own word, such as "opened" or "refused", and
	// Problem says why.
	State, Problem string
	Body           []byte
}

// PutIncoming notes a file, or how it fared now. Other bytes under a name that
// is taken are refused.
func (v *Vault) PutIncoming(ctx context.Context, in Incoming) error {
	if in.Name == "" {
		return errors.New("a file that was received needs a name")
	}
	return v.change(ctx, func(tx *sql.Tx) error {
		r, err := tx.ExecContext(ctx, `INSERT INTO inbox (name, kind, client, digest, received, state, problem, body) VALUES (?, ?, ?, ?, ?, ?, ?, ?)
			ON CONFLICT (name) DO UPDATE SET kind = excluded.kind, client = excluded.client, state = excluded.state, problem = excluded.problem, body = excluded.body
			WHERE digest = excluded.digest`,
			in.Name, in.Kind, in.Client, in.Digest[:], time.Now().UnixMilli(), in.State, in.Problem, append([]byte{}, in.Body...))
		if err != nil {
			return err
		}
		if n, err := r.RowsAffected(); err != nil || n == 1 {
			return err
		}
		return fmt.Errorf("file %q was received before with other content", in.Name)
	})
}

// Inbox lists what was received, oldest first, without the bytes.
func (v *Vault) Inbox(ctx context.Context) ([]Incoming, error) {
	var all []Incoming
	err := v.view(func(db *sql.DB) error {
		return each(ctx, db, `SELECT name, kind, client, digest, received, state, problem FROM inbox ORDER BY received, name`, nil, func(r *sql.Rows) error {
			var in Incoming
			var digest []byte
			var received int64
			err := r.Scan(&in.Name, &in.Kind, &in.Client, &digest, &received, &in.State, &in.Problem)
			copy(in.Digest[:], digest)
			in.Received = time.UnixMilli(received).UTC()
			all = append(all, in)
			return err
		})
	})
	return all, err
}

// IncomingNamed returns one received file with its bytes.
func (v *Vault) IncomingNamed(ctx context.Context, name string) (Incoming, error) {
	in := Incoming{Name: name}
	err := v.view(func(db *sql.DB) error {
		var digest []byte
		var received int64
		err := db.QueryRowContext(ctx, `SELECT kind, client, digest, received, state, problem, body FROM inbox WHERE name = ?`, name).
			Scan(&in.Kind, &in.Client, &digest, &received, &in.State, &in.Problem, &in.Body)
		if errors.Is(err, sql.ErrNoRows) {
			return missing("file %q was not received", name)
		}
		copy(in.Digest[:], digest)
		in.Received = time.UnixMilli(received).UTC()
		return err
	})
	return in, err
}

func moment(n sql.NullInt64) time.Time {
	if !n.Valid {
		return time.Time{}
	}
	return time.UnixMilli(n.Int64).UTC()
}

// PutSetting keeps a small value by name; nil removes it.
func (v *Vault) PutSetting(ctx context.Context, name string, value []byte) error {
	return v.change(ctx, func(tx *sql.Tx) error {
		if value == nil {
			_, err := tx.ExecContext(ctx, `DELETE FROM setting WHERE name = ?`, name)
			return err
		}
		_, err := tx.ExecContext(ctx, `INSERT OR REPLACE INTO setting (name, value) VALUES (?, ?)`, name, value)
		return err
	})
}

// Setting returns a value, or nil where there is none.
func (v *Vault) Setting(ctx context.Context, name string) ([]byte, error) {
	var value []byte
	err := v.view(func(db *sql.DB) error {
		err := db.QueryRowContext(ctx, `SELECT value FROM setting WHERE name = ?`, name).Scan(&value)
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		return err
	})
	return value, err
}
