package vault

import (
	"context"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/ncruces/go-sqlite3"
)

// BackupInfo is one backup.
type BackupInfo struct {
	// Dir is the folder: a store of its own.
	Dir  string
	Made time.Time
}

// BackupOptions say how a backup is made; the zero value puts it into the
// store's own folder, opened by the store's own secret.
type BackupOptions struct {
	// Dir is where the backup's folder is made; empty = backups in the store.
	Dir string
	// Secret, where set, opens the backup in place of the store's own. A store
	// whose key this device keeps needs one if its backup is to be opened
	// elsewhere.
	Secret Secret
	// Progress is told how many pages are copied of how many; may be nil.
	Progress func(done, total int)
}

const (
	backupLayout  = "volar-20060102-150405"
	partialSuffix = ".partial"
	// backupStep is how many pages are copied between looks at the context.
	backupStep = 256
)

func backupDir(dir string) string { return filepath.Join(dir, "backups") }

// Backups lists the backups in a folder, newest first. A folder that is not
// there has none.
func Backups(dir string) ([]BackupInfo, error) {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var all []BackupInfo
	for _, e := range entries {
		made, err := time.Parse(backupLayout, e.Name())
		if err != nil || !e.IsDir() || !Exists(filepath.Join(dir, e.Name())) {
			continue
		}
		all = append(all, BackupInfo{Dir: filepath.Join(dir, e.Name()), Made: made})
	}
	slices.SortFunc(all, func(a, b BackupInfo) int { return b.Made.Compare(a.Made) })
	return all, nil
}

// Backup copies the store as it stands at this moment, while it may be written
// to, checks the copy, and returns where it is. A backup that was not finished
// leaves nothing that could be taken for one.
func (v *Vault) Backup(ctx context.Context, o BackupOptions) (info BackupInfo, err error) {
	v.mu.RLock()
	defer v.mu.RUnlock()
	if v.closed {
		return info, errClosed
	}
	if v.read == nil {
		return info, errAway
	}
	if o.Dir == "" {
		o.Dir = backupDir(v.dir)
	}
	if o.Dir, err = filepath.Abs(o.Dir); err != nil {
		return info, err
	}
	info.Made = time.Now().UTC().Truncate(time.Second)
	info.Dir = filepath.Join(o.Dir, info.Made.Format(backupLayout))
	part := info.Dir + partialSuffix
	if err := os.MkdirAll(o.Dir, 0o700); err != nil {
		return info, err
	}
	if _, err := os.Lstat(info.Dir); err == nil {
		return info, fmt.Errorf("%s: %w", info.Dir, fs.ErrExist)
	}
	if err := os.RemoveAll(part); err != nil {
		return info, err
	}
	if err := os.Mkdir(part, 0o700); err != nil {
		return info, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("backup: %w", v.explain(err)), os.RemoveAll(part))
		}
	}()
	k := v.key
	k.Generation, k.Database = 1, databaseFile(1)
	if o.Secret != (Secret{}) {
		if err := v.opts.seal(part, &k, v.dataKey, o.Secret); err != nil {
			return info, err
		}
	}
	file := filepath.Join(part, k.Database)
	if err := v.copyTo(ctx, file, o.Progress); err != nil {
		return info, err
	}
	if err := writeKeyFile(v.opts.files, part, k); err != nil {
		return info, err
	}
	if err := v.opts.files.Rename(part, info.Dir); err != nil {
		return info, err
	}
	return info, v.opts.files.SyncDir(o.Dir)
}

// copyTo copies the database into a new file and checks the copy.
func (v *Vault) copyTo(ctx context.Context, file string, progress func(done, total int)) error {
	if err := v.startCopy(file); err != nil {
		return err
	}
	err := raw(ctx, v.read, func(c *sqlite3.Conn) (err error) {
		// A snapshot, so that what is written meanwhile does not start the
		// copying over again.
		if err := c.Exec(`BEGIN; SELECT count(*) FROM setting`); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, c.Exec(`ROLLBACK`)) }()
		b, err := c.BackupInit("main", v.keyed(file))
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, b.Close()) }()
		for done := false; !done; {
			if err := ctx.Err(); err != nil {
				return err
			}
			if done, err = b.Step(backupStep); err != nil {
				return err
			}
			if progress != nil {
				progress(b.PageCount()-b.Remaining(), b.PageCount())
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	if err := v.checkCopy(ctx, file); err != nil {
		return err
	}
	return syncFile(file)
}

// keyed is the URI of a database under the data key. It is seen only by the
// library, in this process.
func (v *Vault) keyed(file string) string {
	return v.uri(file, "") + "&hexkey=" + hex.EncodeToString(v.dataKey)
}

// startCopy makes an empty database with checksums, so that every page of the
// copy gets one whatever the order in which they are written.
func (v *Vault) startCopy(file string) error {
	f, err := os.OpenFile(file, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	c, err := sqlite3.Open(v.keyed(file))
	if err != nil {
		return err
	}
	return errors.Join(c.EnableChecksums("main"), c.Close())
}

// checkCopy reads every page of a database under this store's data key.
func (v *Vault) checkCopy(ctx context.Context, file string) error {
	w := newVault(filepath.Dir(file), v.opts)
	defer w.dispose()
	w.dataKey, w.key = v.dataKey, keyFile{Database: filepath.Base(file)}
	db, err := w.open(1, true)
	if err != nil {
		return err
	}
	err = w.verify(ctx, db, "integrity_check")
	var version int
	if err == nil {
		version, err = schemaVersion(ctx, db)
	}
	if err == nil && version == 0 {
		err = damaged(w.dir, "%s is empty", filepath.Base(file))
	}
	if err == nil && version > len(v.opts.migrations) {
		err = fmt.Errorf("schema %d: %w", version, ErrNewer)
	}
	return errors.Join(w.explain(err), db.Close())
}

func syncFile(name string) error {
	f, err := os.OpenFile(name, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// Restore puts a backup in the place of a store that is damaged or lost. The
// options' secret opens the backup. What was there is kept beside the new
// database under names that begin with damaged-.
func Restore(ctx context.Context, dir, backup string, o Options) (err error) {
	if o, err = o.withDefaults(); err != nil {
		return err
	}
	if dir, err = filepath.Abs(dir); err != nil {
		return err
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	l, err := acquire(dir)
	if err != nil {
		return err
	}
	defer l.release()
	k, err := readKeyFile(o.files, backup)
	if err != nil {
		return err
	}
	// A device keeps its secrets in its own store, not in the backup.
	secret, err := o.known(dir, &k)
	if err != nil {
		return err
	}
	dataKey, err := k.unwrap(secret)
	if err != nil {
		return fmt.Errorf("%s: %w", backup, err)
	}
	from := filepath.Join(backup, k.Database)
	old, next, err := generations(dir)
	if err != nil {
		return err
	}
	k.Generation, k.Database = next, databaseFile(next)
	v := newVault(dir, o)
	defer v.dispose()
	v.key, v.dataKey = k, dataKey
	if err := v.takeIn(ctx, from); err != nil {
		return errors.Join(err, v.removeDatabase(k.Database))
	}
	for _, name := range []string{keyName, copyName} {
		if data, err := o.files.ReadFile(filepath.Join(dir, name)); err == nil {
			if err := writeWhole(o.files, filepath.Join(dir, fmt.Sprintf("damaged-%d.%s", next-1, name)), data); err != nil {
				return err
			}
		}
	}
	if err := writeKeyFile(o.files, dir, k); err != nil {
		return err
	}
	for _, name := range old {
		if err := o.files.Rename(filepath.Join(dir, name), filepath.Join(dir, "damaged-"+name[len("store-"):])); err != nil {
			return err
		}
	}
	return o.files.SyncDir(dir)
}

// takeIn copies a backup's database, and a log that was left beside it, into
// the store and checks it.
func (v *Vault) takeIn(ctx context.Context, from string) error {
	for _, tail := range []string{"", "-wal"} {
		in, err := os.Open(from + tail)
		if errors.Is(err, fs.ErrNotExist) && tail != "" {
			continue
		}
		if errors.Is(err, fs.ErrNotExist) {
			return damaged(filepath.Dir(from), "%s is missing", filepath.Base(from))
		}
		if err != nil {
			return err
		}
		out, err := v.opts.files.Create(v.path() + tail)
		if err != nil {
			return errors.Join(err, in.Close())
		}
		_, err = io.Copy(out, in)
		if err == nil {
			err = out.Sync()
		}
		if err := errors.Join(err, out.Close(), in.Close()); err != nil {
			return err
		}
	}
	if err := v.checkCopy(ctx, v.path()); err != nil {
		return fmt.Errorf("the backup in %s: %w", filepath.Dir(from), err)
	}
	return nil
}

// generations lists the database files in a store and the number after the
// highest in use.
func generations(dir string) (old []string, next int, err error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, 0, err
	}
	next = 1
	for _, e := range entries {
		var n int
		for _, tail := range append([]string{""}, databaseTails...) {
			if _, err := fmt.Sscanf(e.Name(), "store-%d.db", &n); err == nil && e.Name() == databaseFile(n)+tail {
				old = append(old, e.Name())
				next = max(next, n+1)
			}
		}
		if _, err := fmt.Sscanf(e.Name(), "damaged-%d.", &n); err == nil {
			next = max(next, n+1)
		}
	}
	return old, next, nil
}

// ChangeSecret encrypts the whole store anew, with a new data key under a new
// secret: neither the old secret nor an old copy of vault.key opens what is
// written from then on. It needs as much free space as the store takes, and
// is refused while a session is recorded. Backups keep the secret that they
// were made with.
func (v *Vault) ChangeSecret(ctx context.Context, s Secret) error {
	v.mu.Lock()
	defer v.mu.Unlock()
	switch {
	case v.closed:
		return errClosed
	case v.read == nil:
		return errAway
	case v.write == nil:
		return errReadOnly
	}
	var recording int
	if err := v.write.QueryRowContext(ctx, `SELECT count(*) FROM session WHERE state = 'open'`).Scan(&recording); err != nil {
		return v.explain(err)
	}
	if recording > 0 {
		return errors.New("a session is being recorded: end it before the passphrase is changed")
	}
	_, next, err := generations(v.dir)
	if err != nil {
		return err
	}
	w := newVault(v.dir, v.opts)
	defer w.dispose()
	w.key, w.dataKey = v.key, randomKey()
	w.key.Generation, w.key.Database = next, databaseFile(next)
	if err := w.rewrite(ctx, v.write, s); err != nil {
		return errors.Join(v.explain(err), w.removeDatabase(w.key.Database))
	}
	old := v.key
	if err := v.disconnect(); err != nil {
		return v.explain(err)
	}
	problem := writeKeyFile(v.opts.files, v.dir, w.key)
	if problem == nil {
		v.key, v.dataKey = w.key, w.dataKey
	} else if now, err := readKeyFile(v.opts.files, v.dir); err == nil && now.Generation == w.key.Generation {
		// The rename was made before something failed: it counts.
		v.key, v.dataKey = w.key, w.dataKey
	}
	if err := v.connect(ctx); err != nil {
		return errors.Join(problem, err)
	}
	if problem != nil || v.key.Generation == old.Generation {
		// What does not count is removed at the next start.
		return problem
	}
	return v.removeDatabase(old.Database)
}

// rewrite writes the database that from is connected to anew under w's key.
func (v *Vault) rewrite(ctx context.Context, from *sql.DB, s Secret) error {
	if err := v.opts.seal(v.dir, &v.key, v.dataKey, s); err != nil {
		return err
	}
	f, err := os.OpenFile(v.path(), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	if _, err := from.ExecContext(ctx, `VACUUM INTO ?`, v.keyed(v.path())); err != nil {
		return err
	}
	if err := v.checkCopy(ctx, v.path()); err != nil {
		return err
	}
	if err := syncFile(v.path()); err != nil {
		return err
	}
	return v.opts.files.SyncDir(v.dir)
}
