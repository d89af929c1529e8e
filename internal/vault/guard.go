package vault

import (
	"errors"
	"io"
	"strings"
	"sync/atomic"
	"syscall"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/util/vfsutil"
	"github.com/ncruces/go-sqlite3/vfs"
)

// cipherBlock is the size of the blocks that are encrypted as one.
const cipherBlock = 4096

// guard lies between the encryption and the disk. It sees to two things that
// encryption by whole blocks changes for SQLite, and tells a full disk.
//
// A file that a power cut left with a part of a block at its end would give a
// read error there, and a log with a read error cannot be recovered. The guard
// fills such a block up with zeros; it then fails the log's or the page's
// checksum, which SQLite knows how to take.
//
// A frame that is appended to the log shares a block with the end of the frame
// before. A write that fails half way through such a block takes with it the
// end of what was committed. SQLite keeps a second copy of that frame, which
// it finds when it recovers the log, but not while it goes on with the log as
// it remembers it. So after such a failure the guard refuses everything until
// the database is opened anew, and with that recovered.
type guard struct {
	vfs.VFS
	// log is the file name of the log that is watched.
	log    string
	failed atomic.Bool
}

func (g *guard) OpenFilename(name *vfs.Filename, flags vfs.OpenFlag) (vfs.File, vfs.OpenFlag, error) {
	file, flags, err := vfsutil.WrapOpenFilename(g.VFS, name, flags)
	if err != nil || name == nil {
		return file, flags, err
	}
	n := name.String()
	return &guardedFile{
		File: file, g: g,
		watched: strings.TrimSuffix(n, "-wal") == strings.TrimSuffix(g.log, "-wal"),
		log:     n == g.log,
	}, flags, nil
}

func (g *guard) Delete(name string, syncDir bool) error {
	if name == g.log && g.failed.Load() {
		return sqlite3.IOERR_DELETE
	}
	return g.VFS.Delete(name, syncDir)
}

type guardedFile struct {
	vfs.File
	g *guard
	// watched is true for the database and its log, log for the log alone.
	watched, log bool
}

func (f *guardedFile) refuses() bool { return f.watched && f.g.failed.Load() }

func (f *guardedFile) ReadAt(p []byte, off int64) (int, error) {
	if f.refuses() {
		return 0, sqlite3.IOERR_READ
	}
	n, err := f.File.ReadAt(p, off)
	if err == io.EOF && n > 0 && len(p) == cipherBlock && off%cipherBlock == 0 {
		clear(p[n:])
		return len(p), nil
	}
	return n, err
}

func (f *guardedFile) WriteAt(p []byte, off int64) (int, error) {
	if f.refuses() {
		return 0, sqlite3.IOERR_WRITE
	}
	n, err := f.File.WriteAt(p, off)
	if f.log && err != nil && n > 0 {
		f.g.failed.Store(true)
	}
	if errors.Is(err, syscall.ENOSPC) {
		// The VFS below looks for the bare error and not inside the one that
		// package os wraps it in, and so calls a full disk a failing one.
		err = vfs.SystemError(err, sqlite3.FULL)
	}
	return n, err
}

func (f *guardedFile) Truncate(size int64) error {
	if f.refuses() {
		return sqlite3.IOERR_TRUNCATE
	}
	return f.File.Truncate(size)
}

func (f *guardedFile) Sync(flags vfs.SyncFlag) error {
	if f.refuses() {
		return sqlite3.IOERR_FSYNC
	}
	err := f.File.Sync(flags)
	if f.log && err != nil {
		// What of the log is on the disk is not known any more.
		f.g.failed.Store(true)
	}
	return err
}

// Size counts the part of a block at the end as a whole one.
func (f *guardedFile) Size() (int64, error) {
	n, err := f.File.Size()
	return (n + cipherBlock - 1) / cipherBlock * cipherBlock, err
}

// What the encryption and SQLite ask of the file below.

func (f *guardedFile) Unwrap() vfs.File                { return f.File }
func (f *guardedFile) SharedMemory() vfs.SharedMemory  { return vfsutil.WrapSharedMemory(f.File) }
func (f *guardedFile) LockState() vfs.LockLevel        { return vfsutil.WrapLockState(f.File) }
func (f *guardedFile) PersistentWAL() bool             { return vfsutil.WrapPersistWAL(f.File) }
func (f *guardedFile) SetPersistentWAL(keep bool)      { vfsutil.WrapSetPersistWAL(f.File, keep) }
func (f *guardedFile) HasMoved() (bool, error)         { return vfsutil.WrapHasMoved(f.File) }
func (f *guardedFile) SizeHint(size int64) error       { return vfsutil.WrapSizeHint(f.File, size) }
func (f *guardedFile) BusyHandler(handler func() bool) { vfsutil.WrapBusyHandler(f.File, handler) }
