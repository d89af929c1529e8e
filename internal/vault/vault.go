package vault

import (
	"context"
	"crypto/rand"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"

	"github.com/ncruces/go-sqlite3/vfs"
	"github.com/ncruces/go-sqlite3/vfs/adiantum"
)

// quickCheckBytes is how large a database may be for all of its pages to be
// checked at the start after a crash: about two seconds. The pages of a larger
// one are checked as they are read, and by Check.
const quickCheckBytes = 256 << 20

// Options of a store. The zero value opens, to read and write, a store whose
// key this device keeps.
type Options struct {
	Secret Secret
	// ReadOnly opens a store beside the one that writes; no call changes it.
	ReadOnly bool
	// KDF are the costs of the passphrase for a store that is made; the zero
	// value is documented at the type.
	KDF KDF

	// What follows is for tests; withDefaults fills it in.
	disk       vfs.VFS
	files      files
	keyring    keyrings
	migrations []migration
}

func (o Options) withDefaults() (Options, error) {
	if o.disk == nil {
		o.disk = vfs.Find("")
	}
	if o.files == nil {
		o.files = osFiles{}
	}
	if o.keyring == nil {
		o.keyring = systemKeyring{}
	}
	if o.migrations == nil {
		var err error
		if o.migrations, err = embedded(); err != nil {
			return o, err
		}
	}
	o.KDF = o.KDF.withDefaults()
	return o, nil
}

// A Vault is an open store. Its methods may be called from any goroutine.
type Vault struct {
	dir  string
	opts Options
	lock *lock

	// mu is held for reading by every use of the database, and for writing
	// while the database itself is replaced.
	mu      sync.RWMutex
	key     keyFile
	dataKey []byte
	// write is the one connection that writes, nil where only reading; read
	// are those that read.
	write, read *sql.DB
	closed      bool
	interrupted int
	// creating is true until the first schema is written.
	creating bool
	// stale is true until the sessions that were found open are marked.
	stale atomic.Bool
	pack  packer
	// guard and the VFS over it belong to this store alone.
	guard   *guard
	vfsName string
}

// newVault makes a Vault that is not connected yet, with a VFS of its own;
// dispose takes that away again.
func newVault(dir string, o Options) *Vault {
	name := make([]byte, 8)
	rand.Read(name)
	v := &Vault{dir: dir, opts: o, guard: &guard{VFS: o.disk}, vfsName: "volar-" + hex.EncodeToString(name)}
	vfs.Register(v.vfsName, adiantum.Wrap(v.guard, nil))
	return v
}

func (v *Vault) dispose() {
	v.pack.close()
	v.lock.release()
	vfs.Unregister(v.vfsName)
}

// Exists says whether there is a store in the folder, whole or not: a database
// whose key files are lost is a damaged store, and no room for a new one.
func Exists(dir string) bool {
	for _, name := range []string{keyName, copyName} {
		if there(filepath.Join(dir, name)) {
			return true
		}
	}
	old, _, err := generations(dir)
	return err == nil && len(old) > 0 && !there(filepath.Join(dir, newName))
}

func there(name string) bool {
	_, err := os.Lstat(name)
	return err == nil
}

// Create makes a new store in a folder, which is made too, and opens it. An
// existing store is left alone.
func Create(ctx context.Context, dir string, o Options) (_ *Vault, err error) {
	if o, err = o.withDefaults(); err != nil {
		return nil, err
	}
	if o.ReadOnly {
		return nil, errReadOnly
	}
	if dir, err = filepath.Abs(dir); err != nil {
		return nil, err
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, err
	}
	// The folder may have been there, open to others.
	if err := os.Chmod(dir, 0o700); err != nil {
		return nil, err
	}
	v := newVault(dir, o)
	defer func() {
		if err != nil {
			v.dispose()
		}
	}()
	if v.lock, err = acquire(dir); err != nil {
		return nil, err
	}
	if Exists(dir) {
		return nil, fmt.Errorf("%s already holds a store: %w", dir, fs.ErrExist)
	}
	name := make([]byte, 16)
	rand.Read(name)
	k := keyFile{Format: keyFormat, Version: keyVersion, Store: hex.EncodeToString(name), Generation: 1, Database: databaseFile(1)}
	dataKey := randomKey()
	if err := o.seal(dir, &k, dataKey, o.Secret); err != nil {
		return nil, err
	}
	v.key, v.dataKey, v.creating = k, dataKey, true
	// The database is whole before the key file names it. A crash in between
	// leaves a database without a key; the mark tells it from one whose key is
	// lost.
	if err := writeWhole(o.files, filepath.Join(dir, newName), nil); err != nil {
		return nil, err
	}
	if err := v.removeDatabase(k.Database); err != nil {
		return nil, err
	}
	if err := v.connect(ctx); err != nil {
		return nil, err
	}
	v.creating = false
	err = writeKeyFile(o.files, dir, k)
	if err == nil {
		err = o.files.Remove(filepath.Join(dir, newName))
	}
	if err != nil {
		return nil, errors.Join(err, v.disconnect())
	}
	return v, nil
}

func randomKey() []byte {
	key := make([]byte, keySize)
	rand.Read(key)
	return key
}

// seal puts a data key into a key file under a secret.
func (o *Options) seal(dir string, k *keyFile, dataKey []byte, s Secret) error {
	secret, err := o.fresh(dir, k, s)
	if err != nil {
		return err
	}
	k.KDF, k.Salt = KDF{}, nil
	if k.Source == fromPassphrase {
		k.KDF, k.Salt = o.KDF, make([]byte, 16)
		rand.Read(k.Salt)
	}
	return k.wrap(dataKey, secret)
}

// Open opens the store in a folder. One that another process writes to can be
// opened only with ReadOnly.
func Open(ctx context.Context, dir string, o Options) (_ *Vault, err error) {
	if o, err = o.withDefaults(); err != nil {
		return nil, err
	}
	if dir, err = filepath.Abs(dir); err != nil {
		return nil, err
	}
	if !Exists(dir) {
		return nil, missing("there is no store in %s", dir)
	}
	v := newVault(dir, o)
	defer func() {
		if err != nil {
			v.dispose()
		}
	}()
	if !o.ReadOnly {
		if v.lock, err = acquire(dir); err != nil {
			return nil, err
		}
	}
	if v.key, err = readKeyFile(o.files, dir); err != nil {
		return nil, err
	}
	secret, err := o.known(dir, &v.key)
	if err != nil {
		return nil, err
	}
	if v.dataKey, err = v.key.unwrap(secret); err != nil {
		return nil, fmt.Errorf("%s: %w", dir, err)
	}
	if _, err := os.Stat(v.path()); err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil, damaged(dir, "%s is missing", v.key.Database)
		}
		return nil, err
	}
	if err := v.connect(ctx); err != nil {
		return nil, err
	}
	if o.ReadOnly {
		return v, nil
	}
	// Only now that the key file is known to name a database that opens is
	// anything removed.
	if err := v.tidy(); err != nil && !errors.Is(err, syscall.ENOSPC) {
		return nil, errors.Join(err, v.disconnect())
	}
	// No other process writes, so nobody is recording what is open now.
	if err := v.read.QueryRowContext(ctx, `SELECT count(*) FROM session WHERE state = 'open'`).Scan(&v.interrupted); err != nil {
		return nil, errors.Join(v.explain(err), v.disconnect())
	}
	if v.interrupted > 0 {
		v.stale.Store(true)
		// A store on a full disk opens all the same, so that what is there can
		// be read and room can be made; the mark is then set with whatever is
		// written first.
		err := v.change(ctx, func(*sql.Tx) error { return nil })
		if err != nil && !errors.Is(err, syscall.ENOSPC) {
			return nil, errors.Join(err, v.disconnect())
		}
	}
	if err := v.digestMissing(ctx); err != nil && !errors.Is(err, syscall.ENOSPC) {
		return nil, errors.Join(err, v.disconnect())
	}
	return v, nil
}

func (v *Vault) path() string { return filepath.Join(v.dir, v.key.Database) }

// tidy makes both key files the same and removes databases and parts of files
// that a crash left behind.
func (v *Vault) tidy() error {
	want, err := v.key.marshal()
	if err != nil {
		return err
	}
	for _, name := range []string{copyName, keyName} {
		have, err := v.opts.files.ReadFile(filepath.Join(v.dir, name))
		if err == nil && string(have) == string(want) {
			continue
		}
		if err := writeWhole(v.opts.files, filepath.Join(v.dir, name), want); err != nil {
			return err
		}
	}
	entries, err := os.ReadDir(v.dir)
	if err != nil {
		return err
	}
	for _, e := range entries {
		base := e.Name()
		for _, tail := range databaseTails {
			base = strings.TrimSuffix(base, tail)
		}
		left := databaseName.MatchString(base) && base != v.key.Database
		part := strings.HasSuffix(e.Name(), ".key.part") || e.Name() == copyName+".part" || e.Name() == newName || e.Name() == newName+".part"
		if left || part {
			if err := removeIfThere(v.opts.files, filepath.Join(v.dir, e.Name())); err != nil {
				return err
			}
		}
	}
	return nil
}

// databaseTails are what SQLite appends to a database's name for the files
// that it keeps beside it.
var databaseTails = []string{"-wal", "-shm", "-journal"}

// removeDatabase removes a database and what SQLite keeps beside it.
func (v *Vault) removeDatabase(name string) error {
	for _, tail := range append([]string{""}, databaseTails...) {
		if err := removeIfThere(v.opts.files, filepath.Join(v.dir, name+tail)); err != nil {
			return err
		}
	}
	return nil
}

// Close writes the log back into the database and releases the store.
func (v *Vault) Close() error {
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.closed {
		return nil
	}
	v.closed = true
	err := v.disconnect()
	v.dispose()
	return err
}

// Dir is the store's folder.
func (v *Vault) Dir() string { return v.dir }

// Interrupted is how many sessions were found open when the store was opened.
func (v *Vault) Interrupted() int { return v.interrupted }

// Warning is what the owner should know of how the key is kept; empty where
// there is nothing to say.
func (v *Vault) Warning() string {
	v.mu.RLock()
	defer v.mu.RUnlock()
	if v.key.Source == fromFile {
		return fileWarning
	}
	return ""
}

// HasPassphrase says whether the store in the folder is opened by a passphrase.
func HasPassphrase(dir string) (bool, error) {
	if !Exists(dir) {
		return false, missing("there is no store in %s", dir)
	}
	k, err := readKeyFile(osFiles{}, dir)
	return k.Source == fromPassphrase, err
}

// errClosed is what every call on a closed store returns.
var errClosed = errors.New("the store is closed")

// view runs a query under the lock that keeps the database in place.
func (v *Vault) view(f func(db *sql.DB) error) error {
	err := v.use(func() error { return f(v.read) })
	return v.heal(err)
}

// change runs a transaction on the connection that writes.
func (v *Vault) change(ctx context.Context, f func(tx *sql.Tx) error) error {
	err := v.use(func() error {
		if v.write == nil {
			return errReadOnly
		}
		tx, err := v.write.BeginTx(ctx, nil)
		if err != nil {
			return err
		}
		stale := v.stale.Load()
		if stale {
			_, err = tx.ExecContext(ctx, `UPDATE session SET state = 'interrupted' WHERE state = 'open'`)
		}
		if err == nil {
			err = f(tx)
		}
		if err != nil {
			// Where the rollback fails too, SQLite has rolled back by itself.
			_ = tx.Rollback()
			return err
		}
		if err := tx.Commit(); err != nil {
			return err
		}
		if stale {
			v.stale.Store(false)
		}
		return nil
	})
	return v.heal(err)
}

// use runs f while the database is in place.
func (v *Vault) use(f func() error) error {
	v.mu.RLock()
	defer v.mu.RUnlock()
	switch {
	case v.closed:
		return errClosed
	case v.read == nil:
		return errAway
	}
	return v.explain(f())
}

// errAway is a database that could not be opened again after the log failed.
var errAway = errors.New("the store cannot be reached: its disk failed")

// heal opens the database anew after a failure of the log, so that it is
// recovered, and returns the error that brought it about.
func (v *Vault) heal(err error) error {
	if err == nil || !v.guard.failed.Load() && !errors.Is(err, errAway) {
		return err
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.closed || !v.guard.failed.Load() && v.read != nil {
		// Another call was here first.
		return err
	}
	// Closing cannot write to a log that failed, and need not.
	_ = v.disconnect()
	if again := v.connect(context.Background()); again != nil {
		return errors.Join(err, again)
	}
	return err
}
