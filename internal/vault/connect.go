package vault

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/driver"
)

// uri names a database file for SQLite. Files that SQLite makes get the mode of
// the file modeOf, where one is given.
func (v *Vault) uri(path, modeOf string) string {
	u := url.URL{Scheme: "file", Path: filepath.ToSlash(path)}
	s := u.String() + "?vfs=" + url.QueryEscape(v.vfsName)
	if modeOf != "" {
		s += "&modeof=" + url.QueryEscape(modeOf)
	}
	return s
}

// open makes a pool of connections with the key and the pragmas set.
func (v *Vault) open(connections int, queryOnly bool) (*sql.DB, error) {
	modeOf := ""
	if v.lock != nil {
		modeOf = filepath.Join(v.dir, lockName)
	}
	db, err := driver.Open(v.uri(v.path(), modeOf), func(c *sqlite3.Conn) error {
		if err := c.Exec(`PRAGMA hexkey='` + hex.EncodeToString(v.dataKey) + `'`); err != nil {
			return err
		}
		if err := c.BusyTimeout(5 * time.Second); err != nil {
			return err
		}
		err := c.Exec(`PRAGMA foreign_keys=ON; PRAGMA trusted_schema=OFF; PRAGMA cell_size_check=ON;
			PRAGMA secure_delete=ON; PRAGMA temp_store=MEMORY; PRAGMA synchronous=FULL;`)
		if err == nil && queryOnly {
			err = c.Exec(`PRAGMA query_only=ON`)
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(connections)
	db.SetMaxIdleConns(connections)
	return db, nil
}

// connect opens the database, brings its schema up to date and, where this
// process writes, marks what was interrupted.
func (v *Vault) connect(ctx context.Context) (err error) {
	defer func() {
		if err != nil {
			err = errors.Join(v.explain(err), v.disconnect())
		}
	}()
	v.guard.log = v.path() + "-wal"
	v.guard.failed.Store(false)
	if !v.opts.ReadOnly {
		unclean := false
		if fi, err := os.Stat(v.path() + "-wal"); err == nil && fi.Size() > 0 {
			unclean = true
		}
		if v.write, err = v.open(1, false); err != nil {
			return err
		}
		if err := v.prepare(ctx, unclean); err != nil {
			return err
		}
		if fi, err := os.Stat(v.path()); err == nil && unclean && fi.Size() <= quickCheckBytes {
			if err := v.verify(ctx, v.write, "quick_check"); err != nil {
				return err
			}
		}
	}
	if v.read, err = v.open(2, true); err != nil {
		return err
	}
	version, err := schemaVersion(ctx, v.read)
	if err != nil {
		return err
	}
	if newest := len(v.opts.migrations); version > newest {
		return fmt.Errorf("%s: schema %d: %w", v.dir, version, ErrNewer)
	} else if version == 0 {
		return damaged(v.dir, "%s is empty", v.key.Database)
	} else if version < newest {
		return fmt.Errorf("%s: schema %d: %w", v.dir, version, ErrOlder)
	}
	return v.restrict()
}

// prepare sets up the connection that writes.
func (v *Vault) prepare(ctx context.Context, unclean bool) error {
	version, err := schemaVersion(ctx, v.write)
	if err != nil {
		return err
	}
	if version > len(v.opts.migrations) {
		return fmt.Errorf("%s: schema %d: %w", v.dir, version, ErrNewer)
	}
	if version == 0 && !v.creating {
		// SQLite takes an empty file for a new database; this one was not.
		return damaged(v.dir, "%s is empty", v.key.Database)
	}
	if version == 0 {
		// Checksums can be had only from the first page on.
		if err := raw(ctx, v.write, func(c *sqlite3.Conn) error { return c.EnableChecksums("main") }); err != nil {
			return err
		}
	}
	var mode string
	if err := v.write.QueryRowContext(ctx, `PRAGMA journal_mode=WAL`).Scan(&mode); err != nil {
		return err
	}
	if mode != "wal" {
		return fmt.Errorf("%s: the file system does not carry a write-ahead log; keep the store on a local disk", v.dir)
	}
	if unclean {
		// After a recovery the last frame may have lost its second copy (see
		// guard): what is committed goes into the database before anything is
		// appended behind it.
		var busy, pages, moved int
		err := v.write.QueryRowContext(ctx, `PRAGMA wal_checkpoint(TRUNCATE)`).Scan(&busy, &pages, &moved)
		if err != nil && !errors.Is(err, sqlite3.FULL) {
			return err
		}
	}
	return migrate(ctx, v.write, v.opts.migrations)
}

// restrict keeps the files to their owner whatever the umask says.
func (v *Vault) restrict() error {
	if v.opts.ReadOnly {
		return nil
	}
	for _, tail := range []string{"", "-wal", "-shm"} {
		if err := os.Chmod(v.path()+tail, 0o600); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}

func (v *Vault) disconnect() error {
	var err error
	if v.read != nil {
		err = v.read.Close()
		v.read = nil
	}
	if v.write != nil {
		err = errors.Join(err, v.write.Close())
		v.write = nil
	}
	return err
}

// raw runs f on a connection of the library itself.
func raw(ctx context.Context, db *sql.DB, f func(*sqlite3.Conn) error) error {
	c, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	err = c.Raw(func(dc any) error {
		rc, ok := dc.(driver.Conn)
		if !ok {
			return errors.New("the database driver is not the expected one")
		}
		return f(rc.Raw())
	})
	return errors.Join(err, c.Close())
}

// verify runs quick_check or integrity_check.
func (v *Vault) verify(ctx context.Context, db *sql.DB, pragma string) error {
	rows, err := db.QueryContext(ctx, `PRAGMA `+pragma+`(3)`)
	if err != nil {
		return err
	}
	defer rows.Close()
	var found []string
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			return err
		}
		if s != "ok" {
			found = append(found, s)
		}
	}
	if err := rows.Err(); err != nil {
		return err
	}
	if len(found) > 0 {
		return damaged(v.dir, "%s", strings.Join(found, "; "))
	}
	return nil
}

// Check reads every page of the store and every recorded batch.
func (v *Vault) Check(ctx context.Context) error {
	return v.view(func(db *sql.DB) error {
		if err := v.verify(ctx, db, "integrity_check"); err != nil {
			return err
		}
		rows, err := db.QueryContext(ctx, `SELECT digest, body FROM batch`)
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var digest, body sql.RawBytes
			if err := rows.Scan(&digest, &body); err != nil {
				return err
			}
			if _, err := v.pack.open(digest, body); err != nil {
				return err
			}
		}
		return rows.Err()
	})
}
