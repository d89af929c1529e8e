package post

import (
	"context"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// A courier goes when it is woken, tries again after pauses that grow, and stays
// at home otherwise.
func TestCourier(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var runs, fails atomic.Int32
		fails.Store(3)
		var at []time.Duration
		start := time.Now()
		c := NewCourier(CourierOptions{First: time.Minute, Most: 3 * time.Minute, Run: func(context.Context) error {
			runs.Add(1)
			at = append(at, time.Since(start))
			if fails.Add(-1) >= 0 {
				return errLine
			}
			return nil
		}})
		time.Sleep(time.Hour)
		require.Zero(t, runs.Load(), "nobody woke it")
		start = time.Now()
		c.Wake()
		time.Sleep(24 * time.Hour)
		synctest.Wait()
		assert.Equal(t, []time.Duration{0, time.Minute, 3 * time.Minute, 6 * time.Minute}, at)
		c.Wake()
		synctest.Wait()
		assert.EqualValues(t, 5, runs.Load())
		c.Close()
		c.Close()
	})
}

func TestCourierIsCalledBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := NewCourier(CourierOptions{Run: func(ctx context.Context) error { <-ctx.Done(); return ctx.Err() },
			Told: func(error) { t.Error("it was called back, and came to nothing") }})
		c.Wake()
		synctest.Wait()
		c.Close()
	})
}

// Nothing goes by itself unless the client chose so.
func TestExchangeAsksFirst(t *testing.T) {
	p := connected(t, "K-104")
	ctx := t.Context()
	practise(t, p.store, 1)
	require.NoError(t, p.home.SetPlace(ctx, Place{Where: p.shelf.Path()}))
	require.NoError(t, p.home.Exchange(ctx))
	s, err := p.home.State(ctx)
	require.NoError(t, err)
	assert.Len(t, s.Waiting, 1)
	require.NoError(t, p.home.SetAuto(ctx, true))
	require.NoError(t, p.home.Exchange(ctx))
	s, err = p.home.State(ctx)
	require.NoError(t, err)
	assert.Empty(t, s.Waiting)
	assert.False(t, s.LastSent.IsZero())
}
