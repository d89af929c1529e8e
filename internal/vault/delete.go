package vault

import (
	"context"
	"database/sql"
	"errors"
	"time"
)

// DeleteClient removes a client and everything that is known of them. Settings
// are their callers' own and stay, as do backups that were made before.
func (v *Vault) DeleteClient(ctx context.Context, code string) error {
	return v.erase(ctx, func(tx *sql.Tx) error {
		if _, err := clientID(ctx, tx, code); err != nil {
			return err
		}
		return deleteClient(ctx, tx, code)
	})
}

func deleteClient(ctx context.Context, tx *sql.Tx, code string) error {
	for _, q := range []string{
		`DELETE FROM outbox WHERE client = ?`, `DELETE FROM inbox WHERE client = ?`, `DELETE FROM client WHERE code = ?`,
	} {
		if _, err := tx.ExecContext(ctx, q, code); err != nil {
			return err
		}
	}
	return nil
}

// Purge removes every client whose last day of keeping lies before today, and
// returns their codes.
func (v *Vault) Purge(ctx context.Context, today time.Time) ([]string, error) {
	var due []string
	find := func(db *sql.DB) error {
		return each(ctx, db, `SELECT code FROM client WHERE retain_until <> '' AND retain_until < ? ORDER BY code`, []any{today.Format(day)}, func(r *sql.Rows) error {
			var code string
			err := r.Scan(&code)
			due = append(due, code)
			return err
		})
	}
	if err := v.view(find); err != nil || len(due) == 0 {
		return nil, err
	}
	err := v.erase(ctx, func(tx *sql.Tx) error {
		for _, code := range due {
			if err := deleteClient(ctx, tx, code); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return due, nil
}

// erase deletes and leaves nothing behind: freed pages are overwritten, the
// database is rebuilt without them, and the log is cut to nothing.
func (v *Vault) erase(ctx context.Context, f func(tx *sql.Tx) error) error {
	if err := v.change(ctx, f); err != nil {
		return err
	}
	return v.heal(v.use(func() error { return v.rebuild(ctx) }))
}

func (v *Vault) rebuild(ctx context.Context) error {
	if _, err := v.write.ExecContext(ctx, `VACUUM`); err != nil {
		return err
	}
	var busy, pages, moved int
	if err := v.write.QueryRowContext(ctx, `PRAGMA wal_checkpoint(TRUNCATE)`).Scan(&busy, &pages, &moved); err != nil {
		return err
	}
	if busy != 0 {
		return errors.New("the data is deleted, but its traces in the log could not be cut while another volar reads the store; close it and delete again")
	}
	return nil
}
