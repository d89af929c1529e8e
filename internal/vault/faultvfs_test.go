package vault

import (
	"io/fs"
	"sync"
	"syscall"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/util/vfsutil"
	"github.com/ncruces/go-sqlite3/vfs"
)

// faultVFS sits under the encryption and makes file operations fail: the n-th
// of them, once or from then on. It also keeps a log of what was written and
// synced, from which a power cut can be replayed.
type faultVFS struct {
	vfs.VFS
	mu sync.Mutex
	// n counts operations; the at-th fails, and those after it if sticky.
	n, at  int
	sticky bool
	// room is how many bytes may still be added to files; -1 is no bound.
	room int64
	// log is kept where record is set.
	record bool
	log    []fileOp
}

// fileOp is one change of a file on the disk.
type fileOp struct {
	name string
	kind byte // 'w' write, 't' truncate, 's' sync, 'd' delete
	off  int64
	data []byte
}

func newFaults() *faultVFS { return &faultVFS{VFS: vfs.Find(""), room: -1} }

// arm sets which operation fails, counting from now; 0 is none.
func (f *faultVFS) arm(at int, sticky bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.n, f.at, f.sticky = 0, at, sticky
}

func (f *faultVFS) count() int {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.n
}

func (f *faultVFS) setRoom(n int64) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.room = n
}

// step counts an operation and says whether it fails.
func (f *faultVFS) step() bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.n++
	return f.at > 0 && (f.n == f.at || f.sticky && f.n > f.at)
}

// grow takes room for bytes that a file grows by.
func (f *faultVFS) grow(by int64) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.room < 0 || by <= 0 {
		return nil
	}
	if f.room < by {
		// As package os reports it.
		return &fs.PathError{Op: "write", Path: "the disk", Err: syscall.ENOSPC}
	}
	f.room -= by
	return nil
}

func (f *faultVFS) note(op fileOp) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.record {
		op.data = append([]byte(nil), op.data...)
		f.log = append(f.log, op)
	}
}

func (f *faultVFS) OpenFilename(name *vfs.Filename, flags vfs.OpenFlag) (vfs.File, vfs.OpenFlag, error) {
	file, flags, err := vfsutil.WrapOpenFilename(f.VFS, name, flags)
	if err != nil || name == nil {
		return file, flags, err
	}
	return &faultFile{File: file, v: f, name: name.String()}, flags, nil
}

func (f *faultVFS) Delete(name string, syncDir bool) error {
	if f.step() {
		return sqlite3.IOERR_DELETE
	}
	err := f.VFS.Delete(name, syncDir)
	if err == nil {
		f.note(fileOp{name: name, kind: 'd'})
	}
	return err
}

type faultFile struct {
	vfs.File
	v    *faultVFS
	name string
}

func (f *faultFile) WriteAt(p []byte, off int64) (int, error) {
	if f.v.step() {
		// Half of it reaches the disk, as when a plug is pulled.
		n, _ := f.File.WriteAt(p[:len(p)/2], off)
		return n, sqlite3.IOERR_WRITE
	}
	size, err := f.Size()
	if err != nil {
		return 0, err
	}
	if err := f.v.grow(off + int64(len(p)) - size); err != nil {
		return 0, err
	}
	n, err := f.File.WriteAt(p, off)
	f.v.note(fileOp{f.name, 'w', off, p[:n]})
	return n, err
}

func (f *faultFile) Truncate(size int64) error {
	if f.v.step() {
		return sqlite3.IOERR_TRUNCATE
	}
	err := f.File.Truncate(size)
	if err == nil {
		f.v.note(fileOp{name: f.name, kind: 't', off: size})
	}
	return err
}

func (f *faultFile) Sync(flags vfs.SyncFlag) error {
	if f.v.step() {
		return sqlite3.IOERR_FSYNC
	}
	err := f.File.Sync(flags)
	if err == nil {
		f.v.note(fileOp{name: f.name, kind: 's'})
	}
	return err
}

func (f *faultFile) Unwrap() vfs.File                { return f.File }
func (f *faultFile) SharedMemory() vfs.SharedMemory  { return vfsutil.WrapSharedMemory(f.File) }
func (f *faultFile) LockState() vfs.LockLevel        { return vfsutil.WrapLockState(f.File) }
func (f *faultFile) PersistentWAL() bool             { return vfsutil.WrapPersistWAL(f.File) }
func (f *faultFile) SetPersistentWAL(keep bool)      { vfsutil.WrapSetPersistWAL(f.File, keep) }
func (f *faultFile) HasMoved() (bool, error)         { return vfsutil.WrapHasMoved(f.File) }
func (f *faultFile) BusyHandler(handler func() bool) { vfsutil.WrapBusyHandler(f.File, handler) }
