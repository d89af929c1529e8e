package exchange

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func name(t testing.TB, kind Kind, last string) Name {
	t.Helper()
	n := Name{mailbox, kind, strings.Repeat("0", 32-len(last)) + last}
	_, err := ParseName(n.String())
	require.NoError(t, err)
	return n
}

func folder(t testing.TB) *Folder {
	t.Helper()
	f, err := OpenFolder(t.TempDir())
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, f.Close()) })
	return f
}

func TestNames(t *testing.T) {
	for _, s := range []string{
		"", "a/b/c", "../" + mailbox + "/session/" + mailbox + suffix, mailbox + "/session/../" + mailbox + suffix,
		mailbox + "/other/" + mailbox + suffix, mailbox + "/session/" + mailbox, mailbox + "/session/" + strings.ToUpper(mailbox) + suffix,
		mailbox + "//" + mailbox + suffix, "/" + mailbox + "/session/" + mailbox + suffix, mailbox + `\session\` + mailbox + suffix,
		mailbox + "/session/" + mailbox + suffix + "\x00",
	} {
		_, err := ParseName(s)
		assert.Error(t, err, "%q", s)
	}
}

// carrierWorks is what every carrier must do.
func carrierWorks(t *testing.T, c Carrier) {
	ctx := t.Context()
	a, b := name(t, KindSession, "a"), name(t, KindProgram, "b")
	list, err := c.List(ctx, mailbox)
	require.NoError(t, err)
	assert.Empty(t, list)
	_, err = c.Get(ctx, a)
	assert.ErrorIs(t, err, fs.ErrNotExist)
	require.NoError(t, c.Put(ctx, a, []byte("first")))
	require.NoError(t, c.Put(ctx, a, []byte("second")), "sending twice does no harm")
	got, err := c.Get(ctx, a)
	require.NoError(t, err)
	assert.Equal(t, "first", string(got))
	require.NoError(t, c.Put(ctx, b, nil))
	list, err = c.List(ctx, "")
	require.NoError(t, err)
	assert.Equal(t, []Entry{{b, 0}, {a, 5}}, list)
	list, err = c.List(ctx, strings.Repeat("9", 32))
	require.NoError(t, err)
	assert.Empty(t, list)
	require.NoError(t, c.Remove(ctx, b))
	require.NoError(t, c.Remove(ctx, b), "what is gone stays gone")
	_, err = c.Get(ctx, b)
	assert.ErrorIs(t, err, fs.ErrNotExist)
	for _, bad := range []Name{{}, {"..", KindSession, mailbox}, {mailbox, "x", mailbox}} {
		assert.Error(t, c.Remove(ctx, bad))
		assert.Error(t, c.Put(ctx, bad, nil))
		_, err := c.Get(ctx, bad)
		assert.Error(t, err)
	}
	_, err = c.List(ctx, "../")
	assert.Error(t, err)
	over, cancel := context.WithCancel(ctx)
	cancel()
	assert.ErrorIs(t, c.Put(over, name(t, KindSession, "c"), nil), context.Canceled)
	_, err = c.List(over, mailbox)
	assert.ErrorIs(t, err, context.Canceled)
}

func TestFolder(t *testing.T) { carrierWorks(t, folder(t)) }

// Other files, half-written ones and links out of the folder are passed over.
func TestFolderWithOtherThings(t *testing.T) {
	f := folder(t)
	n := name(t, KindSession, "a")
	require.NoError(t, f.Put(t.Context(), n, []byte("x")))
	dir := filepath.Join(f.path, mailbox, "session")
	require.NoError(t, os.WriteFile(filepath.Join(f.path, "notes.txt"), nil, 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, ".part-00"), []byte("half"), 0o600))
	secret := filepath.Join(t.TempDir(), "secret")
	require.NoError(t, os.WriteFile(secret, []byte("s"), 0o600))
	link := name(t, KindSession, "b")
	require.NoError(t, os.Symlink(secret, filepath.Join(dir, link.ID+suffix)))
	list, err := f.List(t.Context(), "")
	require.NoError(t, err)
	assert.Equal(t, []Entry{{n, 1}}, list)
	_, err = f.Get(t.Context(), link)
	assert.Error(t, err, "a link must not lead out")
	i, err := os.Stat(filepath.Join(dir, n.ID+suffix))
	require.NoError(t, err)
	assert.Equal(t, fs.FileMode(0o600), i.Mode().Perm())
}

// Whichever step on the disk fails, no file is seen half-written, nothing is
// left behind, and the next try works.
func TestFolderFails(t *testing.T) {
	full := errors.New("no space left on device")
	n := name(t, KindSession, "a")
	for fail := 0; ; fail++ {
		f := folder(t)
		step := 0
		f.step = func(string) error {
			step++
			if step-1 == fail {
				return full
			}
			return nil
		}
		err := f.Put(t.Context(), n, []byte("whole"))
		if step <= fail {
			require.NoError(t, err)
			assert.Greater(t, fail, 4, "every step was made to fail")
			return
		}
		assert.ErrorIs(t, err, full)
		f.step = func(string) error { return nil }
		if b, err := f.Get(t.Context(), n); err == nil {
			assert.Equal(t, "whole", string(b))
		}
		left, err := filepath.Glob(filepath.Join(f.path, mailbox, "session", ".part-*"))
		require.NoError(t, err)
		assert.Empty(t, left)
		require.NoError(t, f.Put(t.Context(), n, []byte("whole")))
		b, err := f.Get(t.Context(), n)
		require.NoError(t, err)
		assert.Equal(t, "whole", string(b))
	}
}

// flaky fails for a while.
type flaky struct {
	Carrier
	fails int
	err   error
}

func (f *flaky) fail() error {
	if f.fails > 0 {
		f.fails--
		return f.err
	}
	return nil
}

func (f *flaky) Put(ctx context.Context, n Name, data []byte) error {
	if err := f.fail(); err != nil {
		return err
	}
	return f.Carrier.Put(ctx, n, data)
}

func (f *flaky) Get(ctx context.Context, n Name) ([]byte, error) {
	if err := f.fail(); err != nil {
		return nil, err
	}
	return f.Carrier.Get(ctx, n)
}

func TestSendAndFetch(t *testing.T) {
	down := errors.New("network is unreachable")
	quick := Retry{Times: 3, Pause: time.Nanosecond}
	out, there := folder(t), folder(t)
	names := []Name{name(t, KindProgram, "1"), name(t, KindSession, "2"), name(t, KindSession, "3")}
	for _, n := range names {
		require.NoError(t, out.Put(t.Context(), n, []byte(n.ID)))
	}
	// Offline: nothing is lost.
	sent, err := Send(t.Context(), out, &flaky{there, 1000, down}, quick)
	assert.ErrorIs(t, err, down)
	assert.Zero(t, sent)
	list, err := out.List(t.Context(), "")
	require.NoError(t, err)
	assert.Len(t, list, 3)
	// A refusal is not tried again.
	no := &flaky{there, 2, &RefusedError{"there", errors.New("access denied")}}
	_, err = Send(t.Context(), out, no, quick)
	assert.Error(t, err)
	assert.Equal(t, 1, no.fails)
	// A bad line: it gets there, and the outbox is empty.
	sent, err = Send(t.Context(), out, &flaky{there, 2, down}, quick)
	require.NoError(t, err)
	assert.Equal(t, 3, sent)
	list, err = out.List(t.Context(), "")
	require.NoError(t, err)
	assert.Empty(t, list)

	got := map[Name]string{}
	take := func(n Name, b []byte) error {
		if n.ID == names[1].ID {
			return ErrDamaged
		}
		got[n] = string(b)
		return nil
	}
	have := func(n Name) bool { _, ok := got[n]; return ok }
	taken, refused, err := Fetch(t.Context(), &flaky{there, 2, down}, mailbox, have, take, quick)
	require.NoError(t, err)
	assert.Equal(t, 2, taken)
	assert.Equal(t, []Failure{{names[1], ErrDamaged}}, refused)
	// Once more: what is here already is not fetched again.
	taken, _, err = Fetch(t.Context(), there, mailbox, have, take, quick)
	require.NoError(t, err)
	assert.Zero(t, taken)
	_, _, err = Fetch(t.Context(), &flaky{there, 1000, down}, "", func(Name) bool { return false }, take, quick)
	assert.ErrorIs(t, err, down)
}

func TestAddress(t *testing.T) {
	for _, s := range []string{
		"s3://store.example.org/clinic", "s3://127.0.0.1:7070/b/some/prefix?region=eu-1&path-style&insecure",
		"s3://store.example.org/clinic?ca=%2Fetc%2Fca.pem",
	} {
		a, err := ParseAddress(s)
		require.NoError(t, err)
		assert.Equal(t, s, a.String())
	}
	for _, s := range []string{"", "https://h/b", "s3://h", "s3:///b", "s3://h/b?verify=no", "s3://key:secret@h/b"} {
		_, err := ParseAddress(s)
		require.Error(t, err, s)
		assert.NotContains(t, err.Error(), "secret@")
	}
	_, err := OpenBucket(Address{Endpoint: "h", Bucket: "b", Key: "k"})
	assert.ErrorContains(t, err, "VOLAR_S3_SECRET")
	_, err = OpenBucket(Address{Endpoint: "h", Bucket: "b", Key: "k", Secret: "s", CAFile: "/nonexistent"})
	assert.Error(t, err)
}
