package vault

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
)

//go:embed migrations/*.sql
var migrationFiles embed.FS

// migration brings the schema from one version to the next.
type migration struct{ name, text string }

// embedded returns the migrations in order; the n-th, from 1, leads to
// version n.
func embedded() ([]migration, error) {
	entries, err := migrationFiles.ReadDir("migrations")
	if err != nil {
		return nil, err
	}
	var all []migration
	for i, e := range entries {
		if want := fmt.Sprintf("%04d.sql", i+1); e.Name() != want {
			return nil, fmt.Errorf("migration %s stands where %s belongs", e.Name(), want)
		}
		text, err := migrationFiles.ReadFile("migrations/" + e.Name())
		if err != nil {
			return nil, err
		}
		all = append(all, migration{e.Name(), string(text)})
	}
	return all, nil
}

func schemaVersion(ctx context.Context, db *sql.DB) (int, error) {
	var n int
	err := db.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&n)
	return n, err
}

// migrate runs what is missing, each step with its number in one transaction,
// so that a crash leaves a whole version behind.
func migrate(ctx context.Context, db *sql.DB, all []migration) error {
	version, err := schemaVersion(ctx, db)
	if err != nil {
		return err
	}
	for n := version; n < len(all); n++ {
		tx, err := db.BeginTx(ctx, nil)
		if err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, all[n].text+fmt.Sprintf("\n;PRAGMA user_version = %d", n+1))
		if err != nil {
			return fmt.Errorf("migration %s: %w", all[n].name, errors.Join(err, tx.Rollback()))
		}
		if err := tx.Commit(); err != nil {
			return fmt.Errorf("migration %s: %w", all[n].name, err)
		}
	}
	return nil
}
