package vault

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
	"volar/internal/session"
)

// fill puts a few sessions into a store.
func fill(t testing.TB, v *Vault, n int) []session.ID {
	t.Helper()
	var ids []session.ID
	for i := range n {
		s := whole("C-017", uint64(i), day0.AddDate(0, 0, i), 2, 2)
		require.NoError(t, v.Import(context.Background(), s))
		ids = append(ids, s.ID)
	}
	return ids
}

func TestBackupWhileRecording(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	v := create(t, dir, clinic())
	fill(t, v, 10)
	rec, err := session.NewRecorder(session.Options{Sink: v, Header: session.Header{Client: "C-017"}, Interval: 2 * time.Millisecond})
	require.NoError(t, err)
	stop, stopped := make(chan struct{}), make(chan error, 1)
	go func() {
		for i := 0; ; i++ {
			select {
			case <-stop:
				stopped <- nil
				return
			case <-time.After(time.Millisecond):
			}
			if err := rec.Frame(session.Frame{Sample: hand.Sample{Time: time.Duration(i) * time.Millisecond, Found: true}}); err != nil {
				stopped <- err
				return
			}
		}
	}()
	steps := 0
	other := Passphrase("for the safe")
	elsewhere := filepath.Join(t.TempDir(), "stick")
	info, err := v.Backup(ctx, BackupOptions{Dir: elsewhere, Secret: other, Progress: func(done, total int) {
		steps++
		require.LessOrEqual(t, done, total)
	}})
	require.NoError(t, err)
	require.Positive(t, steps)
	close(stop)
	require.NoError(t, <-stopped)
	require.NoError(t, rec.Close())

	all, err := Backups(elsewhere)
	require.NoError(t, err)
	require.Equal(t, []BackupInfo{info}, all)
	o := clinic()
	o.ReadOnly = true
	_, err = Open(ctx, info.Dir, o)
	require.ErrorIs(t, err, ErrWrongKey, "it has a passphrase of its own")
	o.Secret = other
	b := reopen(t, info.Dir, o)
	require.NoError(t, b.Check(ctx))
	have, err := b.Sessions(ctx, Filter{})
	require.NoError(t, err)
	require.Len(t, have, 11)
	for _, e := range have {
		s, err := b.Load(ctx, e.ID)
		require.NoError(t, err)
		require.Len(t, s.Samples, e.Samples, "whole batches only")
	}

	// Cancelled half way it leaves nothing.
	cancelled, cancel := context.WithCancel(ctx)
	cancel()
	_, err = v.Backup(cancelled, BackupOptions{Dir: filepath.Join(dir, "other")})
	require.ErrorIs(t, err, context.Canceled)
	left, err := os.ReadDir(filepath.Join(dir, "other"))
	require.NoError(t, err)
	require.Empty(t, left)
}

func TestRestore(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	v := create(t, dir, clinic())
	ids := fill(t, v, 3)
	info, err := v.Backup(ctx, BackupOptions{})
	require.NoError(t, err)
	require.NoError(t, v.Close())

	require.NoError(t, os.Truncate(v.path(), 5000))
	_, err = Open(ctx, dir, clinic())
	require.ErrorIs(t, err, ErrDamaged)
	var d *DamagedError
	require.ErrorAs(t, err, &d)
	require.Equal(t, []BackupInfo{info}, d.Backups)
	require.Contains(t, err.Error(), "it can be restored from the backup of "+info.Made.Format("2006-01-02 15:04"))

	wrong := clinic()
	wrong.Secret = Passphrase("x")
	require.ErrorIs(t, Restore(ctx, dir, info.Dir, wrong), ErrWrongKey)
	require.NoError(t, Restore(ctx, dir, info.Dir, clinic()))
	v = reopen(t, dir, clinic())
	for _, id := range ids {
		_, err := v.Load(ctx, id)
		require.NoError(t, err)
	}
	require.FileExists(t, filepath.Join(dir, "damaged-1.db"))
	require.FileExists(t, filepath.Join(dir, "damaged-1.vault.key"))
	require.NoError(t, v.Close())

	// A backup that is damaged itself is refused and changes nothing.
	require.NoError(t, os.Truncate(filepath.Join(info.Dir, databaseFile(1)), 9000))
	require.ErrorIs(t, Restore(ctx, dir, info.Dir, clinic()), ErrDamaged)
	require.NoError(t, reopen(t, dir, clinic()).Close())

	// On a new computer there is only the backup.
	v = reopen(t, dir, clinic())
	info, err = v.Backup(ctx, BackupOptions{Dir: filepath.Join(dir, "backups", "more")})
	require.NoError(t, err)
	fresh := filepath.Join(t.TempDir(), "new")
	require.NoError(t, Restore(ctx, fresh, info.Dir, clinic()))
	require.NoError(t, reopen(t, fresh, clinic()).Check(ctx))
}

func TestChangeSecret(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	ring := memoryKeyring{}
	home := Options{keyring: ring, KDF: cheap}
	v := create(t, dir, home)
	ids := fill(t, v, 3)
	oldKey, err := os.ReadFile(filepath.Join(dir, keyName))
	require.NoError(t, err)
	oldDatabase := v.path()
	require.NoError(t, v.ChangeSecret(ctx, Passphrase("new one")))
	_, err = v.Load(ctx, ids[0])
	require.NoError(t, err, "it goes on under the new key")
	require.NoError(t, v.PutClient(ctx, Client{Code: "C-030"}))
	require.NoFileExists(t, oldDatabase)
	require.NoError(t, v.Check(ctx))
	require.NoError(t, v.Close())

	_, err = Open(ctx, dir, home)
	require.ErrorIs(t, err, ErrWrongKey)
	home.Secret = Passphrase("new one")
	v = reopen(t, dir, home)
	require.Equal(t, byte(8), reserved(t, v), "pages go on carrying checksums")
	require.NoError(t, v.Close())

	// The old key file opens nothing of what is there now.
	k, err := parseKeyFile(oldKey)
	require.NoError(t, err)
	secret, err := (&Options{keyring: ring}).known(dir, &k)
	require.NoError(t, err)
	dataKey, err := k.unwrap(secret)
	require.NoError(t, err)
	w := newVault(dir, v.opts)
	defer w.dispose()
	w.dataKey = dataKey
	require.ErrorIs(t, w.checkCopy(ctx, v.path()), ErrDamaged)
}

// reserved reads how many bytes of each page are set aside: byte 20 of the
// database's header (SQLite file format, 1.3.4).
func reserved(t *testing.T, v *Vault) byte {
	data := plain(t, v)
	return data[20]
}

// The moment at which a new key counts is one rename: whatever fails before or
// after it, the store opens with one of the two passphrases.
func TestChangeSecretFails(t *testing.T) {
	ctx := context.Background()
	base := t.TempDir()
	v := create(t, base, clinic())
	fill(t, v, 1)
	require.NoError(t, v.Close())
	failed := 0
	for n := 1; ; n++ {
		dir := filepath.Join(t.TempDir(), "store")
		copyStore(t, base, dir)
		f := &failFiles{files: osFiles{}}
		o := clinic()
		o.files = f
		v, err := Open(ctx, dir, o)
		require.NoError(t, err)
		f.at, f.n = n, 0
		err = v.ChangeSecret(ctx, Passphrase("new one"))
		f.at = 0
		if err != nil {
			require.ErrorIs(t, err, errInjected)
			failed++
		}
		// Whatever happened, what is open goes on.
		_, listErr := v.Sessions(ctx, Filter{})
		require.NoError(t, listErr, "step %d", n)
		require.NoError(t, v.Close())
		opens := 0
		for _, s := range []string{"correct horse", "new one"} {
			o := clinic()
			o.Secret = Passphrase(s)
			v, openErr := Open(ctx, dir, o)
			if errors.Is(openErr, ErrWrongKey) {
				continue
			}
			require.NoError(t, openErr, "step %d", n)
			opens++
			require.NoError(t, v.Check(ctx))
			require.NoError(t, v.Close())
			entries, err := filepath.Glob(filepath.Join(dir, "store-*"))
			require.NoError(t, err)
			require.Len(t, entries, 1, "what does not count is tidied away")
		}
		require.Equal(t, 1, opens, "step %d", n)
		if err == nil {
			break
		}
	}
	require.Greater(t, failed, 8)
}

var errInjected = errors.New("injected fault")

// failFiles makes the n-th step on plain files fail.
type failFiles struct {
	files
	n, at int
}

func (f *failFiles) step() error {
	f.n++
	if f.n == f.at {
		return errInjected
	}
	return nil
}

func (f *failFiles) Create(name string) (writer, error) {
	if err := f.step(); err != nil {
		return nil, err
	}
	w, err := f.files.Create(name)
	return &failWriter{w, f}, err
}

func (f *failFiles) Rename(from, to string) error {
	if err := f.step(); err != nil {
		return err
	}
	return f.files.Rename(from, to)
}

func (f *failFiles) Remove(name string) error {
	if err := f.step(); err != nil {
		return err
	}
	return f.files.Remove(name)
}

func (f *failFiles) SyncDir(dir string) error {
	if err := f.step(); err != nil {
		return err
	}
	return f.files.SyncDir(dir)
}

type failWriter struct {
	writer
	f *failFiles
}

func (w *failWriter) Write(p []byte) (int, error) {
	if err := w.f.step(); err != nil {
		n, _ := w.writer.Write(p[:len(p)/2])
		return n, err
	}
	return w.writer.Write(p)
}

func (w *failWriter) Sync() error {
	if err := w.f.step(); err != nil {
		return err
	}
	return w.writer.Sync()
}

// The making of a store that fails at any step leaves no store, or a whole one.
func TestCreateFails(t *testing.T) {
	for n := 1; ; n++ {
		dir := t.TempDir()
		o := clinic()
		o.files = &failFiles{files: osFiles{}, at: n}
		v, err := Create(context.Background(), dir, o)
		if err == nil {
			require.NoError(t, v.Close())
			require.Greater(t, n, 8)
			return
		}
		require.ErrorIs(t, err, errInjected)
		if Exists(dir) {
			require.NoError(t, reopen(t, dir, clinic()).Close(), "step %d", n)
		} else {
			require.NoError(t, create(t, dir, clinic()).Close(), "step %d", n)
		}
	}
}

// A damaged key file is told from a wrong passphrase, and its copy stands in.
func TestKeyFileDamage(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	require.NoError(t, create(t, dir, clinic()).Close())
	good, err := os.ReadFile(filepath.Join(dir, keyName))
	require.NoError(t, err)
	for i := range good {
		bad := append([]byte(nil), good...)
		bad[i] ^= 0x04
		_, err := parseKeyFile(bad)
		require.Error(t, err, "byte %d", i)
		_, err = parseKeyFile(good[:i])
		require.Error(t, err, "cut at %d", i)
	}
	write := func(name string, data []byte) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), data, 0o600))
	}
	write(keyName, good[:100])
	require.NoError(t, reopen(t, dir, clinic()).Close())
	again, err := os.ReadFile(filepath.Join(dir, keyName))
	require.NoError(t, err)
	require.Equal(t, good, again, "it is mended")
	write(keyName, good[:100])
	write(copyName, nil)
	_, err = Open(ctx, dir, clinic())
	require.ErrorIs(t, err, ErrDamaged)
	require.NotErrorIs(t, err, ErrWrongKey)

	k, err := parseKeyFile(good)
	require.NoError(t, err)
	k.Version = keyVersion + 1
	newer, err := k.marshal()
	require.NoError(t, err)
	write(keyName, newer)
	_, err = Open(ctx, dir, clinic())
	require.ErrorIs(t, err, ErrNewer)
	k.Version, k.Database = keyVersion, "../elsewhere.db"
	outside, err := k.marshal()
	require.NoError(t, err)
	_, err = parseKeyFile(outside)
	require.ErrorIs(t, err, errKeyFile)
	k.Database, k.KDF.MemoryKiB = databaseFile(1), 1<<31
	greedy, err := k.marshal()
	require.NoError(t, err)
	_, err = parseKeyFile(greedy)
	require.ErrorIs(t, err, errKeyFile)

	write(keyName, good)
	require.NoError(t, os.Remove(filepath.Join(dir, databaseFile(1))))
	_, err = Open(ctx, dir, clinic())
	require.ErrorIs(t, err, ErrDamaged)
	require.NotErrorIs(t, err, fs.ErrNotExist)
}

// Where both key files are gone the data is not taken for a place for a new
// store, and an older database beside the right one is not touched before the
// right one has opened.
func TestLostKeys(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	v := create(t, dir, clinic())
	info, err := v.Backup(ctx, BackupOptions{})
	require.NoError(t, err)
	require.NoError(t, v.Close())
	require.NoError(t, os.Remove(filepath.Join(dir, keyName)))
	require.NoError(t, os.Remove(filepath.Join(dir, copyName)))
	require.True(t, Exists(dir))
	_, err = Create(ctx, dir, clinic())
	require.ErrorIs(t, err, fs.ErrExist)
	_, err = Open(ctx, dir, clinic())
	require.ErrorIs(t, err, ErrDamaged)
	require.FileExists(t, filepath.Join(dir, databaseFile(1)))
	require.NoError(t, Restore(ctx, dir, info.Dir, clinic()))
	require.NoError(t, reopen(t, dir, clinic()).Close())
	require.FileExists(t, filepath.Join(dir, "damaged-1.db"))

	bystander := filepath.Join(dir, databaseFile(9))
	require.NoError(t, os.WriteFile(bystander, []byte("x"), 0o600))
	wrong := clinic()
	wrong.Secret = Passphrase("x")
	_, err = Open(ctx, dir, wrong)
	require.ErrorIs(t, err, ErrWrongKey)
	require.FileExists(t, bystander)
	require.NoError(t, reopen(t, dir, clinic()).Close())
	require.NoFileExists(t, bystander)
}

func FuzzKeyFile(f *testing.F) {
	k := keyFile{Format: keyFormat, Version: 1, Store: "s", Generation: 1, Database: "store-1.db"}
	o := clinic()
	if err := o.seal("", &k, make([]byte, keySize), o.Secret); err != nil {
		f.Fatal(err)
	}
	good, err := k.marshal()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(good)
	f.Add([]byte(`{"format":"volar-vault"}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		k, err := parseKeyFile(data)
		if err != nil {
			return
		}
		again, err := k.marshal()
		require.NoError(t, err)
		require.Equal(t, data, again)
	})
}
