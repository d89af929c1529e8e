package vault

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/gofrs/flock"
)

// lock is the sign that this process writes to the store. The system takes it
// away when the process ends, however it ends; the number in the file is only
// for the message.
type lock struct{ f *flock.Flock }

// acquire takes the lock, or says who has it.
func acquire(dir string) (*lock, error) {
	name := filepath.Join(dir, lockName)
	f := flock.New(name, flock.SetPermissions(0o600))
	ok, err := f.TryLock()
	if err != nil {
		return nil, fmt.Errorf("lock the store: %w", err)
	}
	if !ok {
		if pid, err := os.ReadFile(name); err == nil {
			if n, err := strconv.Atoi(strings.TrimSpace(string(pid))); err == nil {
				return nil, fmt.Errorf("%w: process %d has %s", ErrLocked, n, dir)
			}
		}
		return nil, fmt.Errorf("%w: %s", ErrLocked, dir)
	}
	// The number helps a person; a store on a full disk opens without it.
	_ = os.WriteFile(name, []byte(strconv.Itoa(os.Getpid())+"\n"), 0o600)
	return &lock{f}, nil
}

// release gives the lock back. The file stays: removing it would let a third
// process lock a new file of the same name.
func (l *lock) release() {
	if l != nil {
		// Unlock fails only on a handle that is closed, and then it is free.
		_ = l.f.Unlock()
	}
}
