package vault

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"
)

// Measurement is a hand's angles as they were measured at one moment, as JSON.
// It is kept apart from the baselines, since nothing is measured against it.
type Measurement struct {
	Client, Side string
	Taken        time.Time
	Body         json.RawMessage
}

// PutMeasurement keeps one more measurement; older ones stay.
func (v *Vault) PutMeasurement(ctx context.Context, m Measurement) error {
	if !json.Valid(m.Body) {
		return fmt.Errorf("client %s: the measurement is not JSON", m.Client)
	}
	return v.change(ctx, func(tx *sql.Tx) error {
		client, err := clientID(ctx, tx, m.Client)
		if err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO measurement (client, side, taken, body) VALUES (?, ?, ?, ?)`,
			client, m.Side, m.Taken.UnixMilli(), string(m.Body))
		return err
	})
}

// Measurements returns a client's measurements, newest first.
func (v *Vault) Measurements(ctx context.Context, client string) ([]Measurement, error) {
	var all []Measurement
	err := v.view(func(db *sql.DB) error {
		return each(ctx, db, `SELECT m.side, m.taken, m.body FROM measurement m JOIN client c ON c.id = m.client
			WHERE c.code = ? ORDER BY m.taken DESC, m.id DESC`, []any{client}, func(r *sql.Rows) error {
			m := Measurement{Client: client}
			var taken int64
			var body string
			err := r.Scan(&m.Side, &taken, &body)
			m.Taken, m.Body = time.UnixMilli(taken).UTC(), json.RawMessage(body)
			all = append(all, m)
			return err
		})
	})
	return all, err
}
