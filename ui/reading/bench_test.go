package reading

import (
	"context"
	"fmt"
	"image"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/clinicstore"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/overlay"
	"volar/internal/report"
	"volar/internal/review"
	"volar/internal/session"
	"volar/internal/vault"
)

// BenchmarkTenThousand is a clinic with ten thousand sessions of forty clients:
// what its therapist waits for.
func BenchmarkTenThousand(b *testing.B) {
	ctx := context.Background()
	store, err := clinicstore.Create(ctx, b.TempDir(), "correct horse battery", clinicstore.Options{KDF: vault.KDF{Time: 1, MemoryKiB: 64, Threads: 1}})
	require.NoError(b, err)
	defer store.Close()
	made, err := sessions()
	require.NoError(b, err)
	code := func(n int) string { return fmt.Sprintf("K-%03d", 100+n) }
	for n := range 40 {
		require.NoError(b, store.PutClient(ctx, clinicstore.Client{Code: code(n), Hands: "right", Created: evening}))
	}
	var last session.ID
	for n := range 10_000 {
		s := *made[n%5]
		s.Client, s.Started = code(n%40), evening.Add(-time.Duration(10_000-n)*13*time.Minute)
		last = session.NewID(s.Started)
		s.ID = last
		require.NoError(b, store.PutSession(ctx, &s))
	}
	r := newReader(Options{Store: store, Now: func() time.Time { return evening }, Do: func(f func()) { f() }}, nil)
	list := func(f vault.Filter) func(b *testing.B) {
		return func(b *testing.B) {
			for b.Loop() {
				f.Limit, f.Order = pageOf, vault.NeedsEyes
				all, err := store.Sessions(ctx, f)
				require.NoError(b, err)
				require.NotEmpty(b, all)
				_, err = store.CountSessions(ctx, f)
				require.NoError(b, err)
				for i := range all {
					row(&all[i])
				}
			}
		}
	}
	b.Run("list", list(vault.Filter{Unread: true}))
	b.Run("filter as typed", list(vault.Filter{ClientPrefix: "k-11"}))
	b.Run("open a session", func(b *testing.B) {
		for b.Loop() {
			_, err := open(ctx, r, last)
			require.NoError(b, err)
		}
	})
	f, err := open(ctx, r, last)
	require.NoError(b, err)
	b.Run("draw a trace", func(b *testing.B) {
		img := image.NewRGBA(image.Rect(0, 0, 1100, 300))
		c := whole(f, &f.s.Exercises[0], hand.UnknownSide, hand.IndexPIP)
		c.reach()
		for b.Loop() {
			c.draw(img, inks{}, 1)
		}
	})
	b.Run("draw a hand and its points", func(b *testing.B) {
		mesh, err := handrender.Default()
		require.NoError(b, err)
		bones, err := overlay.New()
		require.NoError(b, err)
		h := handrender.NewRenderer(mesh, handrender.Options{})
		s := scene{sample: &f.s.Samples[10], side: hand.Right}
		s.view = seenAs(s.sample)
		for b.Loop() {
			s.hand(h)
			s.points(bones)
		}
	})
	var x *report.Report
	b.Run("twelve weeks of a client", func(b *testing.B) {
		for b.Loop() {
			x, err = gather(ctx, r, code(0), stretches[1])
			require.NoError(b, err)
		}
		b.ReportMetric(float64(len(x.Sessions)), "sessions")
	})
	b.Run("their report as PDF", func(b *testing.B) {
		for b.Loop() {
			require.NoError(b, x.PDF(discard{}))
		}
	})
	b.Run("the queue of all, computed", func(b *testing.B) {
		all := make([]review.Summary, 10_000)
		for i := range all {
			all[i] = review.Summarize(made[i%5])
			all[i].Client = code(i % 40)
		}
		for b.Loop() {
			review.Queue(all, func(session.ID) bool { return false })
		}
	})
}

type discard struct{}

func (discard) Write(p []byte) (int, error) { return len(p), nil }
