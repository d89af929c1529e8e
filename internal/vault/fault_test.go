package vault

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sort"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sync/errgroup"

	"volar/internal/hand"
	"volar/internal/session"
)

// second is the n-th batch of a recording, as a recorder makes it.
func second(n int) *session.Batch {
	r := rand.New(rand.NewPCG(uint64(n), 4))
	b := &session.Batch{Seq: n}
	for i := range 10 {
		b.Samples = append(b.Samples, sampleAt(time.Duration(n)*time.Second+time.Duration(i)*100*time.Millisecond, r))
	}
	b.Events = []session.Event{{At: time.Duration(n) * time.Second, Kind: session.FlagEnded, Flag: n, Numbers: map[string]float64{"peak_deg": -9}, Words: map[string]string{"kind": "hyperextension"}}}
	b.Pictures = []session.Picture{{Number: n, Width: 2, Height: 2, JPEG: make([]byte, 9000)}}
	return b
}

// record writes a session of some batches and returns how many of them the
// store said it keeps.
func record(v *Vault, id session.ID, batches int) (kept int, err error) {
	if err := v.Begin(session.Header{ID: id, Client: "C-017", Started: day0}); err != nil {
		return 0, err
	}
	for n := 1; n <= batches; n++ {
		if err := v.Append(id, second(n)); err != nil {
			return kept, err
		}
		kept = n
	}
	return kept, v.Finish(id, session.Closed, time.Minute)
}

// sound opens a store with the ordinary file system, checks every page, and
// holds the session to what the store had promised. It may be called from any
// goroutine.
func sound(t *testing.T, dir string, id session.ID, kept int, what string) bool {
	t.Helper()
	ctx := context.Background()
	v, err := Open(ctx, dir, clinic())
	if !assert.NoError(t, err, what) {
		return false
	}
	defer func() { assert.NoError(t, v.Close(), what) }()
	if !assert.NoError(t, v.Check(ctx), what) {
		return false
	}
	s, err := v.Load(ctx, id)
	if kept == 0 && errors.Is(err, os.ErrNotExist) {
		return true
	}
	if !assert.NoError(t, err, what) {
		return false
	}
	// It goes on.
	_, err = record(v, session.NewID(day0), 1)
	return assert.NoError(t, err, what) &&
		assert.NotEqual(t, session.Open, s.State, what) &&
		assert.GreaterOrEqual(t, len(s.Samples), 10*kept, "%s: %d batches were promised", what, kept) &&
		assert.Equal(t, len(s.Samples), 10*len(s.Pictures), "%s: a batch is whole or not there", what)
}

// The n-th write, sync, truncation or removal fails, for every n: once, and
// from then on. What the store promised before is there afterwards.
func TestEveryOperationFails(t *testing.T) {
	base := filepath.Join(t.TempDir(), "base")
	require.NoError(t, create(t, base, clinic()).Close())
	// The same recording without a fault says how many operations there are.
	operations, err := recordWithFault(t, base, 0, false)
	require.NoError(t, err)
	require.Greater(t, operations, 80)
	for _, sticky := range []bool{false, true} {
		t.Run(fmt.Sprintf("sticky=%v", sticky), func(t *testing.T) {
			var failures atomic.Int64
			parallel(operations, func(i int) {
				_, err := recordWithFault(t, base, i+1, sticky)
				if err != nil {
					failures.Add(1)
				}
			})
			t.Logf("%d operations, of which %d led to an error", operations, failures.Load())
			require.Greater(t, int(failures.Load()), operations/2)
		})
	}
}

// parallel runs f for 0 to n-1, some at a time: most of the time goes into
// waiting for the disk.
func parallel(n int, f func(i int)) {
	var g errgroup.Group
	g.SetLimit(8)
	for i := range n {
		g.Go(func() error { f(i); return nil })
	}
	// No function returns an error.
	_ = g.Wait()
}

// recordWithFault records on a copy of base while the n-th operation fails,
// holds the store to its promise, and returns how many operations there were.
func recordWithFault(t *testing.T, base string, n int, sticky bool) (operations int, err error) {
	const batches = 2
	what := fmt.Sprintf("operation %d, and all after it: %v", n, sticky)
	dir := filepath.Join(t.TempDir(), "store")
	copyStore(t, base, dir)
	f := newFaults()
	o := clinic()
	o.disk = f
	f.arm(n, sticky)
	id := session.NewID(day0)
	kept := 0
	v, err := Open(context.Background(), dir, o)
	if err == nil {
		kept, err = record(v, id, batches)
		err = errors.Join(err, v.Close())
	}
	operations = f.count()
	assert.NotErrorIs(t, err, ErrWrongKey, what)
	if err == nil {
		assert.Equal(t, batches, kept, what)
	}
	sound(t, dir, id, kept, what)
	return operations, err
}

// A recorder whose disk fails once keeps what it has and writes it later.
func TestOneFaultLosesNothing(t *testing.T) {
	ctx := context.Background()
	dir := filepath.Join(t.TempDir(), "store")
	f := newFaults()
	o := clinic()
	o.disk = f
	v := create(t, dir, o)
	rec, err := session.NewRecorder(session.Options{Sink: v, Header: session.Header{Client: "C-017"}, Interval: time.Hour})
	require.NoError(t, err)
	failed := 0
	for i := range 60 {
		require.NoError(t, rec.Frame(session.Frame{Sample: hand.Sample{Time: time.Duration(i) * time.Millisecond}}))
		f.arm(i%12+1, false)
		if rec.Flush() != nil {
			failed++
		}
		f.arm(0, false)
	}
	require.NoError(t, rec.Close())
	require.Greater(t, failed, 20)
	s, err := v.Load(ctx, rec.ID())
	require.NoError(t, err)
	require.Len(t, s.Samples, 60)
	for i := range s.Samples {
		require.Equal(t, time.Duration(i)*time.Millisecond, s.Samples[i].Time)
	}
	require.NoError(t, v.Check(ctx))
}

func TestDiskFull(t *testing.T) {
	ctx := context.Background()
	dir := filepath.Join(t.TempDir(), "store")
	f := newFaults()
	o := clinic()
	o.disk = f
	v := create(t, dir, o)
	id := session.NewID(day0)
	f.setRoom(400_000)
	kept, err := record(v, id, 100)
	require.ErrorIs(t, err, syscall.ENOSPC)
	require.Contains(t, err.Error(), "free some space")
	require.Positive(t, kept)
	require.Less(t, kept, 100)
	list, err := v.Sessions(ctx, Filter{})
	require.NoError(t, err, "what is there can be read")
	require.Equal(t, kept*10, list[0].Samples)
	require.NoError(t, v.Close())
	// It starts on the full disk, and goes on once there is room.
	v = reopen(t, dir, o)
	require.Equal(t, 1, v.Interrupted())
	f.setRoom(-1)
	_, _, err = v.Resume(ctx, id)
	require.NoError(t, err)
	require.NoError(t, v.Append(id, second(kept+1)))
	require.NoError(t, v.Close())
	sound(t, dir, id, kept+1, "after the disk was full")
}

// A backup to a disk that fails leaves nothing that could be taken for one,
// and the store as it was.
func TestBackupFails(t *testing.T) {
	ctx := context.Background()
	dir := filepath.Join(t.TempDir(), "store")
	f := newFaults()
	o := clinic()
	o.disk = f
	v := create(t, dir, o)
	fill(t, v, 1)
	for n, failed := 1, 0; ; n += 7 {
		out := t.TempDir()
		f.arm(n, true)
		_, err := v.Backup(ctx, BackupOptions{Dir: out})
		reached := f.count() >= n
		f.arm(0, false)
		all, listErr := Backups(out)
		require.NoError(t, listErr)
		if err != nil {
			failed++
			require.Empty(t, all)
		} else {
			require.Len(t, all, 1)
			b := reopen(t, all[0].Dir, clinic())
			require.NoError(t, b.Check(ctx))
			require.NoError(t, b.Close())
		}
		if !reached {
			require.Greater(t, failed, 2)
			break
		}
	}
	require.NoError(t, v.Check(ctx))
}

// The power is cut: of what was written since the last sync of its file,
// any part may have reached the disk, in any order, in whole sectors. The log
// of a recording is cut at many places and replayed so. What was promised
// before the cut must be there.
func TestPowerCut(t *testing.T) {
	ctx := context.Background()
	base := filepath.Join(t.TempDir(), "base")
	require.NoError(t, create(t, base, clinic()).Close())
	dir := filepath.Join(t.TempDir(), "store")
	copyStore(t, base, dir)
	f := newFaults()
	f.record = true
	o := clinic()
	o.disk = f
	v := reopen(t, dir, o)
	id := session.NewID(day0)
	require.NoError(t, v.Begin(session.Header{ID: id, Client: "C-017", Started: day0}))
	// promised says how many batches were promised when the log had a length.
	type promise struct{ ops, batches int }
	var promised []promise
	for n := 1; n <= 12; n++ {
		require.NoError(t, v.Append(id, second(n)))
		f.mu.Lock()
		promised = append(promised, promise{len(f.log), n})
		f.mu.Unlock()
		if n%5 == 0 {
			require.NoError(t, raw(ctx, v.write, func(c *sqlite3.Conn) error { return c.Exec(`PRAGMA wal_checkpoint(FULL)`) }))
		}
	}
	log := f.log
	require.Greater(t, len(log), 100)
	r := rand.New(rand.NewPCG(20261125, 6))
	for cut := 10; cut < len(log); cut += 1 + r.IntN(12) {
		to := filepath.Join(t.TempDir(), "cut")
		copyStore(t, base, to)
		replay(t, log[:cut], dir, to, r)
		kept := sort.Search(len(promised), func(i int) bool { return promised[i].ops > cut })
		if kept > 0 {
			kept = promised[kept-1].batches
		}
		sound(t, to, id, kept, "power cut")
	}
}

// replay writes the log into another folder: all that was synced, and of the
// rest a random choice of sectors.
func replay(t *testing.T, log []fileOp, from, to string, r *rand.Rand) {
	t.Helper()
	const sector = 512
	synced := map[string]int{}
	for i, op := range log {
		if op.kind == 's' {
			synced[op.name] = i
		}
	}
	files := map[string]*os.File{}
	defer func() {
		for _, f := range files {
			require.NoError(t, f.Close())
		}
	}()
	for i, op := range log {
		rel, err := filepath.Rel(from, op.name)
		require.NoError(t, err)
		name := filepath.Join(to, rel)
		f := files[name]
		if f == nil {
			f, err = os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o600)
			require.NoError(t, err)
			files[name] = f
		}
		durable := i <= synced[op.name]
		switch op.kind {
		case 't':
			if durable || r.IntN(2) == 0 {
				require.NoError(t, f.Truncate(op.off))
			}
		case 'd':
			require.NoError(t, f.Truncate(0))
		case 'w':
			for at := 0; at < len(op.data); at += sector {
				if durable || r.IntN(2) == 0 {
					_, err := f.WriteAt(op.data[at:min(len(op.data), at+sector)], op.off+int64(at))
					require.NoError(t, err)
				}
			}
		}
	}
}
