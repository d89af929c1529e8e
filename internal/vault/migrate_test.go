package vault

import (
	"context"
	"flag"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/review"
	"volar/internal/session"
)

var update = flag.Bool("update", false, "write the sample store of the current version")

// sampleID is the session in every kept sample.
const sampleID = "019cad27-5000-7000-8000-000000000001"

// TestKeptSamples opens a store of every version there ever was, brings it up
// to date and reads it.
func TestKeptSamples(t *testing.T) {
	ctx := context.Background()
	all, err := embedded()
	require.NoError(t, err)
	for n := range all {
		name := filepath.Join("testdata", "store-v"+string(rune('1'+n)))
		if *update && n == len(all)-1 {
			writeSample(t, name)
		}
		dir := filepath.Join(t.TempDir(), "store")
		copyStore(t, name, dir)
		o := clinic()
		v := reopen(t, dir, o)
		require.NoError(t, v.Check(ctx))
		c, err := v.Client(ctx, "C-017")
		require.NoError(t, err)
		require.Equal(t, "2026-12-31", c.RetainUntil)
		id, err := session.ParseID(sampleID)
		require.NoError(t, err)
		s, err := v.Load(ctx, id)
		require.NoError(t, err)
		require.Len(t, s.Samples, 30)
		require.InDelta(t, 45, s.Samples[0].Joints[0].FlexionDeg, 20)
		list, err := v.Sessions(ctx, Filter{})
		require.NoError(t, err)
		require.Equal(t, []int{2, 1, 1}, []int{list[0].Flags, list[0].Limits, list[0].Pictures})
		p, err := v.Program(ctx, "C-017", 0)
		require.NoError(t, err)
		require.Equal(t, "code: C-017\n", string(p.Body))
		reviews, err := v.Reviews(ctx, id)
		require.NoError(t, err)
		require.Equal(t, []review.Mark{{Flag: 1, Judgement: review.Right}}, reviews[0].Marks)
		require.Equal(t, id, reviews[0].Session)
		require.Equal(t, day0, reviews[0].At)
		require.NotEmpty(t, list[0].Why, "it is known why it needs eyes")
		counts, err := v.MarkCounts(ctx, "C-017")
		require.NoError(t, err)
		require.Len(t, counts, 1)
		ms, err := v.Measurements(ctx, "C-017")
		require.NoError(t, err)
		if n > 0 { // version 2 is the first that has them
			require.JSONEq(t, `{"a":1}`, string(ms[0].Body))
		}
	}
}

func writeSample(t *testing.T, name string) {
	ctx := context.Background()
	require.NoError(t, os.RemoveAll(name))
	v := create(t, name, clinic())
	require.NoError(t, v.PutClient(ctx, Client{Code: "C-017", Side: "right", RetainUntil: "2026-12-31"}))
	require.NoError(t, v.PutProgram(ctx, Program{Client: "C-017", Name: "P", Number: 1, ValidFrom: "2026-03-01", Body: []byte("code: C-017\n")}))
	s := whole("C-017", 0, day0, 1, 2)
	var err error
	s.ID, err = session.ParseID(sampleID)
	require.NoError(t, err)
	s.Pictures = []session.Picture{{Number: 1, Width: 1, Height: 1, JPEG: []byte{0xff, 0xd8, 0xff, 0xd9}}}
	require.NoError(t, v.Import(ctx, s))
	require.NoError(t, v.PutMeasurement(ctx, Measurement{Client: "C-017", Side: "right", Taken: day0, Body: []byte(`{"a":1}`)}))
	require.NoError(t, v.PutReview(ctx, review.Review{Format: 1, Session: s.ID, Client: "C-017", By: "T-1", At: day0, Read: true, Marks: []review.Mark{{Flag: 1, Judgement: review.Right}}}))
	require.NoError(t, v.Close())
	require.NoError(t, os.Remove(filepath.Join(name, lockName)))
}

func TestMigrations(t *testing.T) {
	ctx := context.Background()
	dir := filepath.Join(t.TempDir(), "store")
	v := create(t, dir, clinic())
	fill(t, v, 1)
	require.NoError(t, v.Close())
	now, err := embedded()
	require.NoError(t, err)
	next := append(append([]migration(nil), now...),
		migration{"next", `ALTER TABLE client ADD COLUMN dominant TEXT NOT NULL DEFAULT ''; UPDATE client SET dominant = side`})

	// A step that fails half way leaves the version before it.
	o := clinic()
	o.migrations = append(append([]migration(nil), next...), migration{"broken", `CREATE TABLE half (a); SELECT nonsense`})
	_, err = Open(ctx, dir, o)
	require.ErrorContains(t, err, "broken")
	o.migrations = next
	v = reopen(t, dir, o)
	version, err := schemaVersion(ctx, v.read)
	require.NoError(t, err)
	require.Equal(t, len(next), version)
	var halves int
	require.NoError(t, v.read.QueryRow(`SELECT count(*) FROM sqlite_schema WHERE name = 'half'`).Scan(&halves))
	require.Zero(t, halves)
	require.NoError(t, v.Check(ctx))
	require.NoError(t, v.Close())

	// The older program leaves the newer store alone.
	for _, readOnly := range []bool{false, true} {
		o := clinic()
		o.ReadOnly = readOnly
		_, err = Open(ctx, dir, o)
		require.ErrorIs(t, err, ErrNewer)
	}
	// A newer program that only reads does not change an older one.
	o.migrations, o.ReadOnly = append(next, migration{"more", `CREATE TABLE more (a)`}), true
	_, err = Open(ctx, dir, o)
	require.ErrorContains(t, err, "open it once for writing")
}

// A migration that is cut off at any operation leaves the old version or the
// new one, whole.
func TestMigrationFails(t *testing.T) {
	ctx := context.Background()
	base := filepath.Join(t.TempDir(), "base")
	require.NoError(t, create(t, base, clinic()).Close())
	all, err := embedded()
	require.NoError(t, err)
	all = append(all, migration{"next", `CREATE TABLE more (a); UPDATE client SET side = 'left'`})
	for n := 1; ; n++ {
		dir := filepath.Join(t.TempDir(), "store")
		copyStore(t, base, dir)
		f := newFaults()
		o := clinic()
		o.disk, o.migrations = f, all
		f.arm(n, true)
		v, err := Open(ctx, dir, o)
		if err == nil {
			err = v.Close()
		}
		reached := f.count() >= n
		o = clinic()
		o.migrations = all
		w := reopen(t, dir, o)
		require.NoError(t, w.Check(ctx))
		c, readErr := w.Client(ctx, "C-017")
		require.NoError(t, readErr)
		require.Equal(t, "left", c.Side)
		require.NoError(t, w.Close())
		if !reached {
			require.NoError(t, err)
			require.Greater(t, n, 8)
			return
		}
	}
}

// Ten thousand sessions of one clinic are listed and filtered for a screen.
func BenchmarkTenThousandSessions(b *testing.B) {
	ctx := context.Background()
	v := create(b, b.TempDir(), clinic())
	for c := range 40 {
		require.NoError(b, v.PutClient(ctx, Client{Code: code(c)}))
	}
	for i := range 10_000 {
		s := whole(code(i%40), uint64(i), day0.Add(time.Duration(i)*time.Hour), 0, i%4)
		require.NoError(b, v.Import(ctx, s))
	}
	from := day0.AddDate(0, 6, 0)
	for _, c := range []struct {
		name string
		f    Filter
	}{
		{"all", Filter{}},
		{"all, what needs eyes first", Filter{Order: NeedsEyes}},
		{"a screen of what needs eyes", Filter{Order: NeedsEyes, Unread: true, Limit: 100}},
		{"a screen of clients as typed", Filter{Order: NeedsEyes, ClientPrefix: "c-01", Limit: 100}},
		{"one client", Filter{Client: code(7)}},
		{"one client past a limit since", Filter{Client: code(7), Limits: true, From: from}},
		{"id prefix", Filter{IDPrefix: "019cb"}},
	} {
		b.Run(c.name, func(b *testing.B) {
			n := 0
			for b.Loop() {
				all, err := v.Sessions(ctx, c.f)
				if err != nil {
					b.Fatal(err)
				}
				n = len(all)
			}
			b.ReportMetric(float64(n), "sessions")
		})
	}
}

// One second of a recording, kept for good.
func BenchmarkAppend(b *testing.B) {
	v := create(b, b.TempDir(), clinic())
	id := session.NewID(day0)
	require.NoError(b, v.Begin(session.Header{ID: id, Client: "C-017", Started: day0}))
	n := 0
	batch := second(1)
	for len(batch.Samples) < 30 {
		batch.Samples = append(batch.Samples, batch.Samples[0])
	}
	batch.Pictures = nil
	for b.Loop() {
		n++
		batch.Seq = n
		if err := v.Append(id, batch); err != nil {
			b.Fatal(err)
		}
	}
}
