package vault

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"
	"unicode/utf8"
)

// day is how dates are written.
const day = "2006-01-02"

// Client is a person, known by a code.
type Client struct {
	// Code is the clinic's own, such as C-017; never a name.
	Code string
	// Side is the hand that is treated: "left", "right", "both" or empty.
	Side        string
	Precautions string
	// NextReview and RetainUntil are days as 2006-01-02; empty is not set.
	// After RetainUntil, Purge removes all there is of the client.
	NextReview, RetainUntil string
	// PicturesClient and PicturesTherapist say who agreed that pictures of
	// flagged moments are kept; both must.
	PicturesClient, PicturesTherapist bool
	// Created is set by the store.
	Created time.Time
}

func (c *Client) check() error {
	if c.Code == "" || len(c.Code) > 64 || !utf8.ValidString(c.Code) {
		return errors.New("a client needs a code of 1 to 64 characters, such as C-017")
	}
	for _, d := range []string{c.NextReview, c.RetainUntil} {
		if err := checkDay(d); err != nil {
			return fmt.Errorf("client %s: %w", c.Code, err)
		}
	}
	return nil
}

func checkDay(d string) error {
	if d == "" {
		return nil
	}
	if _, err := time.Parse(day, d); err != nil {
		return errors.New("a date has to be a day such as 2026-11-25")
	}
	return nil
}

// PutClient makes or changes a client.
func (v *Vault) PutClient(ctx context.Context, c Client) error {
	if err := c.check(); err != nil {
		return err
	}
	return v.change(ctx, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, `INSERT INTO client
			(code, side, precautions, next_review, retain_until, pictures_client, pictures_therapist, created)
			VALUES (?, ?, ?, ?, ?, ?, ?, ?)
			ON CONFLICT (code) DO UPDATE SET side = excluded.side, precautions = excluded.precautions,
			next_review = excluded.next_review, retain_until = excluded.retain_until,
			pictures_client = excluded.pictures_client, pictures_therapist = excluded.pictures_therapist`,
			c.Code, c.Side, c.Precautions, c.NextReview, c.RetainUntil, c.PicturesClient, c.PicturesTherapist, time.Now().UnixMilli())
		return err
	})
}

const clientColumns = `code, side, precautions, next_review, retain_until, pictures_client, pictures_therapist, created`

func scanClient(row interface{ Scan(...any) error }) (Client, error) {
	var c Client
	var created int64
	err := row.Scan(&c.Code, &c.Side, &c.Precautions, &c.NextReview, &c.RetainUntil, &c.PicturesClient, &c.PicturesTherapist, &created)
	c.Created = time.UnixMilli(created).UTC()
	return c, err
}

// Clients returns all clients by code.
func (v *Vault) Clients(ctx context.Context) ([]Client, error) {
	var all []Client
	err := v.view(func(db *sql.DB) error {
		return each(ctx, db, `SELECT `+clientColumns+` FROM client ORDER BY code`, nil, func(r *sql.Rows) error {
			c, err := scanClient(r)
			all = append(all, c)
			return err
		})
	})
	return all, err
}

// Client returns one client.
func (v *Vault) Client(ctx context.Context, code string) (Client, error) {
	var c Client
	err := v.view(func(db *sql.DB) (err error) {
		c, err = scanClient(db.QueryRowContext(ctx, `SELECT `+clientColumns+` FROM client WHERE code = ?`, code))
		if errors.Is(err, sql.ErrNoRows) {
			return missing("client %s is not in the store", code)
		}
		return err
	})
	return c, err
}

// Program is one version of what was prescribed.
type Program struct {
	Client string
	// Name is the program's own id, Number its version, from 1.
	Name   string
	Number int
	// ValidFrom is the first day, as 2006-01-02.
	ValidFrom string
	// Body is the program file; Hash is its SHA-256 and set by the store.
	Body    []byte
	Hash    [sha256.Size]byte
	Created time.Time
}

// PutProgram keeps a version. Versions never change: the same bytes again are
// no error, other bytes under a number that is taken are.
func (v *Vault) PutProgram(ctx context.Context, p Program) error {
	if p.Number < 1 || p.ValidFrom == "" {
		return fmt.Errorf("client %s: a program needs a version from 1 and a first day", p.Client)
	}
	if err := checkDay(p.ValidFrom); err != nil {
		return fmt.Errorf("client %s: program %d: %w", p.Client, p.Number, err)
	}
	hash := sha256.Sum256(p.Body)
	return v.change(ctx, func(tx *sql.Tx) error {
		client, err := clientID(ctx, tx, p.Client)
		if err != nil {
			return err
		}
		var have []byte
		err = tx.QueryRowContext(ctx, `SELECT hash FROM program WHERE client = ? AND number = ?`, client, p.Number).Scan(&have)
		if err == nil {
			if string(have) != string(hash[:]) {
				return fmt.Errorf("client %s: program version %d is already there and differs; give the change a new number", p.Client, p.Number)
			}
			return nil
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO program (client, name, number, valid_from, hash, body, created) VALUES (?, ?, ?, ?, ?, ?, ?)`,
			client, p.Name, p.Number, p.ValidFrom, hash[:], p.Body, time.Now().UnixMilli())
		return err
	})
}

// Programs returns a client's versions, newest first, without their bodies.
func (v *Vault) Programs(ctx context.Context, client string) ([]Program, error) {
	var all []Program
	err := v.view(func(db *sql.DB) error {
		return each(ctx, db, `SELECT p.name, p.number, p.valid_from, p.hash, p.created FROM program p JOIN client c ON c.id = p.client
			WHERE c.code = ? ORDER BY p.number DESC`, []any{client}, func(r *sql.Rows) error {
			p := Program{Client: client}
			var hash []byte
			var created int64
			err := r.Scan(&p.Name, &p.Number, &p.ValidFrom, &hash, &created)
			copy(p.Hash[:], hash)
			p.Created = time.UnixMilli(created).UTC()
			all = append(all, p)
			return err
		})
	})
	return all, err
}

// Program returns one version with its body; number 0 is the newest.
func (v *Vault) Program(ctx context.Context, client string, number int) (Program, error) {
	p := Program{Client: client}
	err := v.view(func(db *sql.DB) error {
		var hash []byte
		var created int64
		err := db.QueryRowContext(ctx, `SELECT p.name, p.number, p.valid_from, p.hash, p.body, p.created FROM program p JOIN client c ON c.id = p.client
			WHERE c.code = ?1 AND (?2 = 0 OR p.number = ?2) ORDER BY p.number DESC LIMIT 1`, client, number).
			Scan(&p.Name, &p.Number, &p.ValidFrom, &hash, &p.Body, &created)
		if errors.Is(err, sql.ErrNoRows) {
			if number == 0 {
				return missing("client %s has no program", client)
			}
			return missing("client %s has no program version %d", client, number)
		}
		copy(p.Hash[:], hash)
		p.Created = time.UnixMilli(created).UTC()
		if err == nil && sha256.Sum256(p.Body) != p.Hash {
			return damaged(v.dir, "program version %d of client %s is not as it was written", p.Number, client)
		}
		return err
	})
	return p, err
}

// Baseline is a client's recorded straight hand and range, as JSON.
type Baseline struct {
	Client, Side string
	Captured     time.Time
	Body         json.RawMessage
}

// PutBaseline keeps one more baseline; older ones stay.
func (v *Vault) PutBaseline(ctx context.Context, b Baseline) error {
	if !json.Valid(b.Body) {
		return fmt.Errorf("client %s: the baseline is not JSON", b.Client)
	}
	return v.change(ctx, func(tx *sql.Tx) error {
		client, err := clientID(ctx, tx, b.Client)
		if err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO baseline (client, side, captured, body) VALUES (?, ?, ?, ?)`,
			client, b.Side, b.Captured.UnixMilli(), string(b.Body))
		return err
	})
}

// Baselines returns a client's baselines, newest first.
func (v *Vault) Baselines(ctx context.Context, client string) ([]Baseline, error) {
	var all []Baseline
	err := v.view(func(db *sql.DB) error {
		return each(ctx, db, `SELECT b.side, b.captured, b.body FROM baseline b JOIN client c ON c.id = b.client
			WHERE c.code = ? ORDER BY b.captured DESC, b.id DESC`, []any{client}, func(r *sql.Rows) error {
			b := Baseline{Client: client}
			var captured int64
			var body string
			err := r.Scan(&b.Side, &captured, &body)
			b.Captured, b.Body = time.UnixMilli(captured).UTC(), json.RawMessage(body)
			all = append(all, b)
			return err
		})
	})
	return all, err
}

// clientID finds a client's row.
func clientID(ctx context.Context, tx *sql.Tx, code string) (int64, error) {
	var id int64
	err := tx.QueryRowContext(ctx, `SELECT id FROM client WHERE code = ?`, code).Scan(&id)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, missing("client %s is not in the store", code)
	}
	return id, err
}

// querier is a database or a transaction in it.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// each runs f for every row of a query.
func each(ctx context.Context, db querier, query string, args []any, f func(*sql.Rows) error) error {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := f(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}
