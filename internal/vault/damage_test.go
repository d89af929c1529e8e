package vault

import (
	"context"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"volar/internal/session"
)

// A byte of the database is not as it was written, at many places; or the file
// is cut. Each use either gives what was stored or says that the store is
// damaged: no panic, no other content, nothing silently empty.
func TestDamagedDatabase(t *testing.T) {
	ctx := context.Background()
	base := filepath.Join(t.TempDir(), "base")
	v := create(t, base, clinic())
	ids := fill(t, v, 3)
	want := map[session.ID]int{}
	for _, id := range ids {
		s, err := v.Load(ctx, id)
		require.NoError(t, err)
		want[id] = len(s.Samples)
	}
	_, err := v.Backup(ctx, BackupOptions{})
	require.NoError(t, err)
	require.NoError(t, v.Close())
	good, err := os.ReadFile(v.path())
	require.NoError(t, err)
	name := filepath.Base(v.path())

	r := rand.New(rand.NewPCG(20261125, 8))
	var damages [][]byte
	for at := 0; at < len(good); at += 1 + r.IntN(2*4096) {
		bad := append([]byte(nil), good...)
		bad[at] ^= 1 << r.IntN(8)
		damages = append(damages, bad)
	}
	for _, n := range []int{0, 1, 100, 512, 4095, 4096, 4097, len(good) / 2, len(good) - 4096, len(good) - 1} {
		damages = append(damages, append([]byte(nil), good[:n]...))
	}
	for range 6 {
		// A page is zeros, or takes the place of another.
		bad := append([]byte(nil), good...)
		page := r.IntN(len(good)/4096) * 4096
		clear(bad[page : page+4096])
		damages = append(damages, bad)
		bad = append([]byte(nil), good...)
		copy(bad[page:page+4096], good[4096:8192])
		damages = append(damages, bad)
	}
	found := make([]bool, len(damages))
	parallel(len(damages), func(i int) {
		dir := filepath.Join(t.TempDir(), "store")
		copyStore(t, base, dir)
		if !assert.NoError(t, os.WriteFile(filepath.Join(dir, name), damages[i], 0o600)) {
			return
		}
		found[i] = useDamaged(t, dir, want, string(damages[i]) == string(good))
	})
	n := 0
	for _, f := range found {
		if f {
			n++
		}
	}
	t.Logf("%d damages, %d of them found", len(damages), n)
	require.GreaterOrEqual(t, n, len(damages)-2, "only a page that replaced itself may go unnoticed")
}

// useDamaged opens and reads a damaged store and says whether the damage was
// found, which Check must always do.
func useDamaged(t *testing.T, dir string, want map[session.ID]int, whole bool) (found bool) {
	ctx := context.Background()
	told := func(err error) bool {
		var d *DamagedError
		if err == nil {
			return false
		}
		found = true
		assert.ErrorIs(t, err, ErrDamaged)
		assert.NotErrorIs(t, err, ErrWrongKey)
		if assert.ErrorAs(t, err, &d) {
			assert.Len(t, d.Backups, 1, "it offers what there is to restore")
		}
		return true
	}
	v, err := Open(ctx, dir, clinic())
	if told(err) {
		return true
	}
	defer func() {
		// The log of a damaged database may not go back into it.
		if err := v.Close(); err != nil && !found {
			assert.NoError(t, err)
		}
	}()
	list, err := v.Sessions(ctx, Filter{})
	if !told(err) {
		assert.Len(t, list, len(want), "nothing is silently missing")
	}
	for id, n := range want {
		s, err := v.Load(ctx, id)
		if !told(err) {
			assert.Len(t, s.Samples, n)
		}
	}
	if err := v.Check(ctx); !told(err) && !whole {
		assert.Error(t, err, "the damage was not found")
	}
	return found
}

// The log of a process that was killed is damaged: what is in front of the
// damage is there, and the store is sound.
func TestDamagedLog(t *testing.T) {
	ctx := context.Background()
	base := filepath.Join(t.TempDir(), "base")
	require.NoError(t, create(t, base, clinic()).Close())
	dir := filepath.Join(t.TempDir(), "store")
	copyStore(t, base, dir)
	v := reopen(t, dir, clinic())
	id := session.NewID(day0)
	require.NoError(t, v.Begin(session.Header{ID: id, Client: "C-017", Started: day0}))
	for n := 1; n <= 6; n++ {
		require.NoError(t, v.Append(id, second(n)))
	}
	log, err := os.ReadFile(v.path() + "-wal")
	require.NoError(t, err)
	database, err := os.ReadFile(v.path())
	require.NoError(t, err)
	r := rand.New(rand.NewPCG(20261125, 9))
	for at := 0; at < len(log); at += 1 + r.IntN(len(log)/12) {
		to := filepath.Join(t.TempDir(), "store")
		copyStore(t, base, to)
		bad := append([]byte(nil), log...)
		bad[at] ^= 0x10
		if r.IntN(3) == 0 {
			bad = bad[:at]
		}
		require.NoError(t, os.WriteFile(filepath.Join(to, filepath.Base(v.path())), database, 0o600))
		require.NoError(t, os.WriteFile(filepath.Join(to, filepath.Base(v.path())+"-wal"), bad, 0o600))
		require.True(t, sound(t, to, id, 0, "damaged log"))
		o := clinic()
		o.ReadOnly = true
		w := reopen(t, to, o)
		if s, err := w.Load(ctx, id); !errors.Is(err, os.ErrNotExist) {
			require.NoError(t, err)
			require.LessOrEqual(t, len(s.Samples), 60)
		}
	}
}
