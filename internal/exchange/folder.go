package exchange

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"sync"
)

// Folder is a carrier in a folder: a stick, a folder that another program keeps
// in step, or the outbox. Close frees it.
type Folder struct {
	path string
	root *os.Root
	// step is called before each change on disk; tests make it fail.
	step func(what string) error
	once sync.Once
}

// OpenFolder opens a folder and makes it where there is none. Nothing outside
// it can be reached through a Folder, whatever links lie in it.
func OpenFolder(dir string) (*Folder, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("opening folder %s: %w", dir, err)
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, fmt.Errorf("opening folder %s: %w", dir, err)
	}
	return &Folder{path: dir, root: root, step: func(string) error { return nil }}, nil
}

// Close frees the folder.
func (f *Folder) Close() (err error) {
	f.once.Do(func() { err = f.root.Close() })
	return err
}

// Path is where the folder is.
func (f *Folder) Path() string { return f.path }

func (f *Folder) String() string { return "folder " + f.path }

// Put writes the file under another name, brings it to the disk and renames it,
// so that no half of a file is ever seen under its own name.
func (f *Folder) Put(ctx context.Context, n Name, data []byte) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if _, err := ParseName(n.String()); err != nil {
		return err
	}
	if _, err := f.root.Lstat(n.String()); err == nil {
		return nil
	}
	dir := path.Dir(n.String())
	if err := f.root.MkdirAll(dir, 0o700); err != nil {
		return fmt.Errorf("%s: %w", f, err)
	}
	var b [8]byte
	if _, err := rand.Read(b[:]); err != nil {
		return fmt.Errorf("%s: %w", f, err)
	}
	tmp := dir + "/.part-" + hex.EncodeToString(b[:])
	if err := f.write(tmp, data); err != nil {
		return fmt.Errorf("%s: writing: %w", f, errors.Join(err, removed(f.root, tmp)))
	}
	if err := f.rename(tmp, n.String()); err != nil {
		return fmt.Errorf("%s: writing: %w", f, errors.Join(err, removed(f.root, tmp)))
	}
	return nil
}

// removed removes a file and does not mind if it is not there.
func removed(r *os.Root, name string) error {
	if err := r.Remove(name); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

func (f *Folder) write(name string, data []byte) (err error) {
	if err := f.step("create"); err != nil {
		return err
	}
	w, err := f.root.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, w.Close()) }()
	if err := f.step("write"); err != nil {
		return err
	}
	if _, err := w.Write(data); err != nil {
		return err
	}
	if err := f.step("sync"); err != nil {
		return err
	}
	return w.Sync()
}

func (f *Folder) rename(from, to string) error {
	if err := f.step("rename"); err != nil {
		return err
	}
	if err := f.root.Rename(from, to); err != nil {
		return err
	}
	return f.sync(path.Dir(to))
}

// sync brings a folder's list of names to the disk. Not every file system can,
// and then there is nothing more to be done.
func (f *Folder) sync(dir string) error {
	if err := f.step("sync folder"); err != nil {
		return err
	}
	d, err := f.root.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, errors.ErrUnsupported) && !errors.Is(err, fs.ErrInvalid) {
		return err
	}
	return nil
}

// List passes over whatever is not a sealed file.
func (f *Folder) List(ctx context.Context, mailbox string) ([]Entry, error) {
	start := "."
	if mailbox != "" {
		if !isID(mailbox) {
			return nil, fmt.Errorf("%.40q is not a mailbox", mailbox)
		}
		start = mailbox
	}
	var list []Entry
	err := fs.WalkDir(f.root.FS(), start, func(p string, d fs.DirEntry, err error) error {
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil && errors.Is(err, fs.ErrNotExist):
			return nil // gone while walking, or no such mailbox yet
		case err != nil:
			return err
		case !d.Type().IsRegular():
			return nil
		}
		n, err := ParseName(p)
		if err != nil {
			return nil
		}
		i, err := d.Info()
		if err != nil {
			return nil
		}
		list = append(list, Entry{n, i.Size()})
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", f, err)
	}
	return list, nil
}

// Get reads one file.
func (f *Folder) Get(ctx context.Context, n Name) ([]byte, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if _, err := ParseName(n.String()); err != nil {
		return nil, err
	}
	r, err := f.root.Open(n.String())
	if err != nil {
		return nil, fmt.Errorf("%s: %w", f, err)
	}
	defer r.Close()
	b, err := io.ReadAll(&limited{r: r, left: MaxFile})
	if err != nil {
		return nil, fmt.Errorf("%s: reading %s: %w", f, n, err)
	}
	return b, nil
}

// Remove takes a file away; one that is not there is no error.
func (f *Folder) Remove(ctx context.Context, n Name) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if _, err := ParseName(n.String()); err != nil {
		return err
	}
	return removed(f.root, n.String())
}
