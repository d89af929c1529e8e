package homestore

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"volar/internal/vault"
)

// A backup is made on closing where the newest is older than a day, and five
// are kept (choices): a store that is found damaged loses a day at most, and
// damage that is found late has a good copy among them.
const (
	backupAge   = 24 * time.Hour
	backupsKept = 5
)

func (s *Store) backups() string { return filepath.Join(s.dir, "backups") }

// BackUp makes a backup where one is due, and removes the oldest where there
// are more than are kept. A store in which nothing was kept yet has none, nor
// has one that On made.
func (s *Store) BackUp(ctx context.Context) error {
	if s.dir == "" {
		return nil
	}
	clients, err := s.v.Clients(ctx)
	if err != nil || len(clients) == 0 {
		return err
	}
	have, err := vault.Backups(s.backups())
	if err != nil {
		return fmt.Errorf("look for backups: %w", err)
	}
	// A backup from the future was made before the clock was set back.
	now := s.opt.Clock()
	if len(have) > 0 && now.Sub(have[0].Made) < backupAge && !now.Before(have[0].Made) {
		return nil
	}
	if _, err := s.v.Backup(ctx, vault.BackupOptions{}); err != nil {
		return fmt.Errorf("today's backup could not be made: %w", err)
	}
	_, err = s.keepBackups(backupsKept)
	return err
}

// keepBackups removes all backups but the newest n, and says how many bytes
// that freed.
func (s *Store) keepBackups(n int) (freed int64, err error) {
	if s.dir == "" {
		return 0, nil
	}
	have, err := vault.Backups(s.backups())
	if err != nil {
		return 0, fmt.Errorf("look for backups: %w", err)
	}
	for _, b := range have[min(n, len(have)):] {
		size := sizeOf(b.Dir)
		if err := os.RemoveAll(b.Dir); err != nil {
			return freed, fmt.Errorf("remove an old backup: %w", err)
		}
		freed += size
	}
	return freed, nil
}

// Spare is how many bytes Free would give back; 0 where it could not.
func (s *Store) Spare() (int64, error) {
	if s.dir == "" {
		return 0, nil
	}
	have, err := vault.Backups(s.backups())
	if err != nil {
		return 0, fmt.Errorf("look for backups: %w", err)
	}
	var n int64
	for _, b := range have[min(1, len(have)):] {
		n += sizeOf(b.Dir)
	}
	return n, nil
}

// Free makes room on a full disk with what can be spared: every backup but the
// newest.
func (s *Store) Free() error {
	_, err := s.keepBackups(1)
	return err
}

// forget puts a fresh backup in the place of all that hold what was deleted.
// They go even where there is no room for a fresh one: deleted is deleted.
func (s *Store) forget(ctx context.Context) error {
	old, err := vault.Backups(s.backups())
	if err != nil || len(old) == 0 {
		return err
	}
	_, err = s.v.Backup(ctx, vault.BackupOptions{})
	if errors.Is(err, fs.ErrExist) {
		err = nil // made within this second, and removed below; one is due on closing
	}
	for _, b := range old {
		err = errors.Join(err, os.RemoveAll(b.Dir))
	}
	return err
}

// sizeOf is how many bytes a folder's files take.
func sizeOf(dir string) (n int64) {
	// What cannot be read counts for nothing; it is told when it is removed.
	filepath.WalkDir(dir, func(_ string, e fs.DirEntry, err error) error {
		if err != nil {
			return nil
		}
		if i, err := e.Info(); err == nil && i.Mode().IsRegular() {
			n += i.Size()
		}
		return nil
	})
	return n
}
