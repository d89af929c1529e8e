package post

import (
	"context"
	"errors"
	"io/fs"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"volar/internal/exchange"
	"volar/internal/homestore"
	"volar/internal/session"
	"volar/internal/vault"
)

// errPower is the power going in the middle.
var errPower = errors.New("the power went")

// cut fails at the n-th step of either side, and at every one after it until it
// is mended.
type cut struct {
	left    int
	reached bool
}

func (c *cut) step(string) error {
	if c.left == 0 {
		c.reached = true
		return errPower
	}
	c.left--
	return nil
}

// The power goes between any two steps of a whole round, and afterwards all is
// done again: nothing is lost and nothing is there twice.
func TestPowerGoesAtAnyStep(t *testing.T) {
	for n := 0; ; n++ {
		if reached := roundCutAt(t, n); !reached {
			assert.Greater(t, n, 12, "every step was one at which it ended")
			return
		}
	}
}

func roundCutAt(t *testing.T, n int) bool {
	c := newClock()
	power := &cut{left: n}
	v, s, f := clinicVault(t), homeStore(t, c), shelf(t)
	o := Options{Clock: c.read, Retry: once, step: power.step}
	clinic, home := NewClinic(v, o), NewHome(s, o)
	ctx := t.Context()
	keep(t, v, prescribed(t, "K-104"))
	again := func(what string, act func() error) {
		t.Helper()
		if err := act(); err != nil {
			require.ErrorIs(t, err, errPower, "%s", what)
			power.left = -1
			require.NoError(t, act(), "%s, once more", what)
		}
	}
	hd, inv := invite(t, clinic, "K-104")
	again("accept", func() error { _, err := home.accept(ctx, hd, inv); return err })
	id := practise(t, s, 1)
	again("send", func() error { _, err := home.Send(ctx, f); return err })
	again("share", func() error { _, err := clinic.Send(ctx, f, ""); return err })
	again("fetch", func() error { _, err := clinic.Fetch(ctx, f); return err })
	old, err := homestore.Unpack(mustProgram(t, v, "K-104").Body)
	require.NoError(t, err)
	keep(t, v, old.Next(c.read()))
	again("answer", func() error { _, err := clinic.Send(ctx, f, ""); return err })
	again("home fetches", func() error { _, err := home.Fetch(ctx, f); return err })

	same(t, s.Vault(), v, id)
	all, err := v.Sessions(ctx, vault.Filter{})
	require.NoError(t, err)
	assert.Len(t, all, 1)
	assert.Equal(t, []int{2, 1}, numbers(t, s.Vault(), "K-104"))
	for side, st := range map[string]*vault.Vault{"clinic": v, "home": s.Vault()} {
		got, err := state(ctx, st)
		require.NoError(t, err)
		assert.Empty(t, got.Waiting, side)
		assert.Empty(t, got.Trouble, side)
	}
	boxes, err := clinic.Boxes(ctx, "K-104")
	require.NoError(t, err)
	require.Len(t, boxes, 1)
	assert.False(t, boxes[0].Answered.IsZero())
	list, err := f.List(ctx, "")
	require.NoError(t, err)
	count := map[exchange.Kind]int{}
	for _, e := range list {
		count[e.Name.Kind]++
	}
	assert.Equal(t, 1, count[exchange.KindSession])
	assert.Equal(t, 1, count[exchange.KindGreeting])
	assert.Equal(t, 1, count[exchange.KindProgram])
	return power.reached
}

// flaky is a carrier on a bad line: every n-th call fails, before or after it
// did what was asked.
type flaky struct {
	exchange.Carrier
	every, calls int
}

var errLine = errors.New("the network is unreachable")

func (f *flaky) call(do func() error) error {
	f.calls++
	if f.calls%f.every != 0 {
		return do()
	}
	if f.calls/f.every%2 == 0 {
		if err := do(); err != nil {
			return err
		}
	}
	return errLine
}

func (f *flaky) Put(ctx context.Context, n exchange.Name, b []byte) error {
	return f.call(func() error { return f.Carrier.Put(ctx, n, b) })
}

func (f *flaky) Get(ctx context.Context, n exchange.Name) (b []byte, err error) {
	err = f.call(func() (err error) { b, err = f.Carrier.Get(ctx, n); return err })
	return b, err
}

func (f *flaky) List(ctx context.Context, m string) (l []exchange.Entry, err error) {
	err = f.call(func() (err error) { l, err = f.Carrier.List(ctx, m); return err })
	return l, err
}

// On a line that fails at every n-th call all gets there in the end, once.
func TestBadLine(t *testing.T) {
	for _, every := range []int{1, 2, 3, 5} {
		p := connected(t, "K-104")
		ctx := t.Context()
		var ids []session.ID
		for range 4 {
			ids = append(ids, practise(t, p.store, 1))
		}
		line := &flaky{Carrier: p.shelf, every: every}
		if every == 1 {
			// Weeks without any network: it keeps waiting, and says so.
			for range 20 {
				_, err := p.home.Send(ctx, &flaky{Carrier: p.shelf, every: 1})
				require.ErrorIs(t, err, errLine)
			}
			s, err := p.home.State(ctx)
			require.NoError(t, err)
			require.Len(t, s.Waiting, 4)
			assert.Equal(t, 20, s.Waiting[0].Attempts)
			assert.Contains(t, s.Waiting[0].Problem, "unreachable")
			line.every = 7
		}
		p.home.o.Retry = exchange.Retry{Times: 3, Pause: time.Nanosecond}
		p.clinic.o.Retry = p.home.o.Retry
		until := func(do func() error) {
			t.Helper()
			for range 50 {
				err := do()
				if err == nil {
					return
				}
				require.ErrorIs(t, err, errLine)
			}
			t.Fatal("it never got there")
		}
		until(func() error { _, err := p.home.Send(ctx, line); return err })
		until(func() error { _, err := p.clinic.Fetch(ctx, line); return err })
		for _, id := range ids {
			same(t, p.store.Vault(), p.vault, id)
		}
		s, err := p.home.State(ctx)
		require.NoError(t, err)
		assert.Empty(t, s.Waiting)
	}
}

// Where files are carried is checked before it is kept.
func TestNoPlace(t *testing.T) {
	_, err := Place{}.Open()
	assert.ErrorIs(t, err, ErrNoPlace)
	for _, bad := range []string{"relative", "ftp://host/x", "s3://host", "s3://key:secret@host/b"} {
		assert.Error(t, Place{Where: bad}.Check(), bad)
	}
	dir := t.TempDir()
	f, err := Place{Where: dir}.Open()
	require.NoError(t, err)
	defer f.Close()
	_, err = f.Get(t.Context(), exchange.Name{Mailbox: "0123456789abcdef0123456789abcdef", Kind: exchange.KindSession, ID: "0123456789abcdef0123456789abcdef"})
	assert.ErrorIs(t, err, fs.ErrNotExist)
	v := clinicVault(t)
	want := Place{Where: "s3://host/bucket", Key: "k", Secret: "s", HomeKey: "hk", HomeSecret: "hs"}
	c := NewClinic(v, Options{})
	require.NoError(t, c.SetPlace(t.Context(), want))
	got, err := c.Place(t.Context())
	require.NoError(t, err)
	assert.Equal(t, want, got)
	assert.Error(t, c.SetPlace(t.Context(), Place{Where: "nowhere"}))
}
