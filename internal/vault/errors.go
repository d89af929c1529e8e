package vault

import (
	"errors"
	"fmt"
	"io/fs"
	"syscall"

	"github.com/ncruces/go-sqlite3"

	"volar/internal/session"
)

var (
	// ErrWrongKey says that the passphrase, or the key of this device, does
	// not open the store.
	ErrWrongKey = errors.New("the passphrase does not open this store")
	// ErrDamaged says that a file of the store is not as it was written.
	ErrDamaged = errors.New("the store is damaged")
	// ErrLocked says that another volar writes to the store.
	ErrLocked = errors.New("the store is in use by another volar")
	// ErrNewer says that a later version of volar has changed the store.
	ErrNewer = errors.New("the store was written by a newer volar; update this one")
	// ErrOlder says that an earlier version of volar wrote a store that was
	// opened to read only. Opening it for writing brings it up to date.
	ErrOlder = errors.New("the store was written by an older volar; open it once for writing to bring it up to date")
)

// errReadOnly is what a change to a store that was opened to read returns.
var errReadOnly = errors.New("the store was opened to read only")

// A DamagedError says what is damaged and what could be restored. It is an
// ErrDamaged.
type DamagedError struct {
	// Dir is the store's folder, Problem what was found.
	Dir     string
	Problem string
	// Backups are the backups that lie in the store's own folder, newest first.
	Backups []BackupInfo
}

func (e *DamagedError) Error() string {
	s := fmt.Sprintf("%v: %s: %s", ErrDamaged, e.Dir, e.Problem)
	if len(e.Backups) > 0 {
		b := e.Backups[0]
		return s + fmt.Sprintf("; it can be restored from the backup of %s in %s", b.Made.UTC().Format("2006-01-02 15:04 UTC"), b.Dir)
	}
	return s + "; there is no backup in its folder: restore one that is kept elsewhere"
}

// Is makes a DamagedError an ErrDamaged.
func (e *DamagedError) Is(target error) bool { return target == ErrDamaged }

// damaged makes the error for a folder.
func damaged(dir, format string, a ...any) error {
	backups, err := Backups(backupDir(dir))
	if err != nil {
		// What is damaged matters more than that no backups could be listed.
		backups = nil
	}
	return &DamagedError{Dir: dir, Problem: fmt.Sprintf(format, a...), Backups: backups}
}

// explain turns what the database says into the errors of this package.
func (v *Vault) explain(err error) error {
	if err == nil {
		return nil
	}
	var known *DamagedError
	if errors.As(err, &known) {
		return err
	}
	switch {
	case errors.Is(err, sqlite3.NOTADB), errors.Is(err, sqlite3.CORRUPT), errors.Is(err, sqlite3.IOERR_DATA),
		errors.Is(err, sqlite3.IOERR_CORRUPTFS), errors.Is(err, session.ErrMalformed), errors.Is(err, errBatch):
		return damaged(v.dir, "%v", err)
	case errors.Is(err, sqlite3.FULL), errors.Is(err, syscall.ENOSPC):
		return fmt.Errorf("%w: free some space and go on: %w", syscall.ENOSPC, err)
	case errors.Is(err, sqlite3.BUSY):
		return fmt.Errorf("%w: %w", ErrLocked, err)
	}
	return err
}

// missing says that something is not in the store.
func missing(format string, a ...any) error {
	return fmt.Errorf("%s: %w", fmt.Sprintf(format, a...), fs.ErrNotExist)
}
