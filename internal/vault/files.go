package vault

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
)

// files is what the store does to plain files; a test puts its own in its
// place to make the n-th step fail.
type files interface {
	ReadFile(name string) ([]byte, error)
	// Create makes a new file, mode 0600, over an older one.
	Create(name string) (writer, error)
	Rename(from, to string) error
	Remove(name string) error
	// SyncDir makes renames and removals in a folder last.
	SyncDir(dir string) error
}

type writer interface {
	io.WriteCloser
	Sync() error
}

// osFiles is the real thing.
type osFiles struct{}

func (osFiles) ReadFile(name string) ([]byte, error) { return os.ReadFile(name) }

func (osFiles) Create(name string) (writer, error) {
	return os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
}

func (osFiles) Rename(from, to string) error { return os.Rename(from, to) }
func (osFiles) Remove(name string) error     { return os.Remove(name) }

func (osFiles) SyncDir(dir string) error {
	if runtime.GOOS == "windows" {
		// A folder cannot be synced there, and need not be.
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// writeWhole puts data into a file so that at any moment either the old
// content or the new is there: written beside it, synced, renamed.
func writeWhole(fsys files, name string, data []byte) (err error) {
	part := name + ".part"
	f, err := fsys.Create(part)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			// The error that matters is the one that brought us here.
			_ = fsys.Remove(part)
		}
	}()
	if _, err = f.Write(data); err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	if err = fsys.Rename(part, name); err != nil {
		return err
	}
	return fsys.SyncDir(filepath.Dir(name))
}

// removeIfThere removes a file that need not exist.
func removeIfThere(fsys files, name string) error {
	if err := fsys.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// DefaultDir is the folder of a side's store in the user's data folder; side
// is "home" or "clinic". XDG_DATA_HOME is honoured where it is set.
func DefaultDir(side string) (string, error) {
	base := os.Getenv("XDG_DATA_HOME")
	if base == "" || !filepath.IsAbs(base) {
		home, err := os.UserHomeDir()
		if err != nil {
			return "", err
		}
		switch runtime.GOOS {
		case "windows":
			base = filepath.Join(home, "AppData", "Local")
		case "darwin":
			base = filepath.Join(home, "Library", "Application Support")
		default:
			base = filepath.Join(home, ".local", "share")
		}
	}
	return filepath.Join(base, "volar", side), nil
}
