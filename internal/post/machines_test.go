package post

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"volar/internal/exchange"
	"volar/internal/homestore"
	"volar/internal/review"
	"volar/internal/session"
	"volar/internal/vault"
)

// second is a further machine of a clinic, with its keys and nothing else.
func second(t *testing.T, first *Clinic, o Options) (*vault.Vault, *Clinic) {
	t.Helper()
	var keys bytes.Buffer
	require.NoError(t, first.ExportKeys(t.Context(), &keys, "words for the keys"))
	v := clinicVault(t)
	c := NewClinic(v, o)
	require.NoError(t, c.ImportKeys(t.Context(), &keys, "words for the keys"))
	return v, c
}

func reading(p *pair, id session.ID, by string, j review.Judgement) review.Review {
	return review.Review{Format: 1, Session: id, Client: "K-104", At: p.clock.read().UTC(), By: by, Read: true,
		Marks: []review.Mark{{Flag: 1, Judgement: j}}, Note: review.Note{Plan: "go on"}, Seconds: 60}
}

// Two machines share everything and overwrite nothing; the second is made from
// the keys and the carrier alone.
func TestTwoMachines(t *testing.T) {
	p := connected(t, "K-104")
	ctx := t.Context()
	o := Options{Clock: p.clock.read, Retry: once}
	require.NoError(t, p.vault.PutClient(ctx, vault.Client{Code: "K-104", Side: "right", NextReview: "2026-12-04", PicturesTherapist: true}))
	require.NoError(t, p.vault.PutMeasurement(ctx, vault.Measurement{Client: "K-104", Side: "right", Taken: day0, Body: []byte(`{ "a": 1 }`)}))
	id := practise(t, p.store, 1)
	_, err := p.home.Send(ctx, p.shelf)
	require.NoError(t, err)
	_, err = p.clinic.Fetch(ctx, p.shelf)
	require.NoError(t, err)
	mine := reading(p, id, "A", review.Right)
	require.NoError(t, p.vault.PutReview(ctx, mine))
	_, err = p.clinic.Send(ctx, p.shelf, "")
	require.NoError(t, err)

	v2, c2 := second(t, p.clinic, o)
	got, err := c2.Fetch(ctx, p.shelf)
	require.NoError(t, err)
	assert.Empty(t, got.Trouble)
	assert.Equal(t, 1, got.Sessions)
	same(t, p.vault, v2, id)
	a, err := p.vault.Client(ctx, "K-104")
	require.NoError(t, err)
	b, err := v2.Client(ctx, "K-104")
	require.NoError(t, err)
	b.Created = a.Created
	assert.Equal(t, a, b)
	assert.Equal(t, mustProgram(t, p.vault, "K-104").Body, mustProgram(t, v2, "K-104").Body, "with what stays in the clinic")
	measured, err := v2.Measurements(ctx, "K-104")
	require.NoError(t, err)
	require.Len(t, measured, 1)

	// Both read the same session, and both readings are on both machines.
	theirs := reading(p, id, "B", review.Wrong)
	require.NoError(t, v2.PutReview(ctx, theirs))
	swap := func() {
		t.Helper()
		for _, c := range []*Clinic{p.clinic, c2, p.clinic} {
			got, err := c.Fetch(ctx, p.shelf)
			require.NoError(t, err)
			require.Empty(t, got.Trouble)
			_, err = c.Send(ctx, p.shelf, "")
			require.NoError(t, err)
		}
	}
	swap()
	for _, v := range []*vault.Vault{p.vault, v2} {
		all, err := v.Reviews(ctx, id)
		require.NoError(t, err)
		assert.Equal(t, []review.Review{mine, theirs}, all)
	}
	// The second machine answers; the home follows it, and the first knows.
	old, err := homestore.Unpack(mustProgram(t, v2, "K-104").Body)
	require.NoError(t, err)
	next := old.Next(p.clock.read())
	keep(t, v2, next)
	swap()
	in, err := p.home.Fetch(ctx, p.shelf)
	require.NoError(t, err)
	assert.Equal(t, 1, in.Programs)
	assert.Equal(t, []int{2, 1}, numbers(t, p.vault, "K-104"))

	// And then it is quiet: nothing goes back and forth for ever.
	before, err := p.shelf.List(ctx, "")
	require.NoError(t, err)
	swap()
	after, err := p.shelf.List(ctx, "")
	require.NoError(t, err)
	assert.Equal(t, before, after)
	measured, err = p.vault.Measurements(ctx, "K-104")
	require.NoError(t, err)
	assert.Len(t, measured, 1, "a measurement that came back is the same one")

	// Both make a third version at once: each keeps its own and both are told,
	// until a fourth settles it.
	m, n := next.Next(p.clock.read()), next.Next(p.clock.read())
	m.Message, n.Message = "slower", "faster"
	keep(t, p.vault, m)
	keep(t, v2, n)
	_, err = p.clinic.Send(ctx, p.shelf, "")
	require.NoError(t, err)
	_, err = c2.Send(ctx, p.shelf, "")
	require.NoError(t, err)
	for _, c := range []*Clinic{p.clinic, c2} {
		got, err := c.Fetch(ctx, p.shelf)
		require.NoError(t, err)
		require.Len(t, got.Trouble, 1)
		assert.Contains(t, got.Trouble[0].Words, "compare both")
		assert.Contains(t, got.Trouble[0].Problem, "version 3 of K-104")
		assert.Equal(t, "K-104", got.Trouble[0].Client)
	}
	keep(t, p.vault, m.Next(p.clock.read()))
	_, err = p.clinic.Send(ctx, p.shelf, "")
	require.NoError(t, err)
	in, err = p.home.Fetch(ctx, p.shelf)
	require.NoError(t, err)
	assert.Empty(t, in.Trouble, "the client has nothing to do with it")
	_, err = c2.Fetch(ctx, p.shelf)
	require.NoError(t, err)
	got, err = c2.Fetch(ctx, p.shelf)
	require.NoError(t, err)
	assert.Empty(t, got.Trouble)
	assert.Equal(t, []int{4, 3, 2, 1}, numbers(t, v2, "K-104"))
}

// A client who was removed does not come back from the carrier.
func TestRemovedClientStaysAway(t *testing.T) {
	p := connected(t, "K-104")
	ctx := t.Context()
	_, err := p.clinic.Send(ctx, p.shelf, "")
	require.NoError(t, err)
	practise(t, p.store, 1)
	_, err = p.home.Send(ctx, p.shelf)
	require.NoError(t, err)
	require.NoError(t, p.vault.DeleteClient(ctx, "K-104"))
	for range 2 {
		got, err := p.clinic.Fetch(ctx, p.shelf)
		require.NoError(t, err)
		assert.Empty(t, got.Trouble)
		_, err = p.clinic.Send(ctx, p.shelf, "")
		require.NoError(t, err)
	}
	all, err := p.vault.Clients(ctx)
	require.NoError(t, err)
	assert.Empty(t, all)
	n, err := p.vault.Count(ctx, vault.Filter{})
	require.NoError(t, err)
	assert.Zero(t, n)

	// And what lies on the carrier is taken away once somebody asks for it, and
	// nobody else's.
	keep(t, p.vault, prescribed(t, "K-105"))
	_, err = p.clinic.Send(ctx, p.shelf, "")
	require.NoError(t, err)
	removed, err := p.clinic.Removed(ctx)
	require.NoError(t, err)
	assert.Equal(t, []string{"K-104"}, removed)
	n, err = p.clinic.Sweep(ctx, p.shelf)
	require.NoError(t, err)
	assert.Equal(t, 5, n, "greeting, session, client, mailbox and program")
	left, err := p.shelf.List(ctx, "")
	require.NoError(t, err)
	for _, e := range left {
		assert.Equal(t, mustKeys(t, p.vault).Mailbox("K-105"), e.Name.Mailbox)
	}
	assert.Len(t, left, 2)
	removed, err = p.clinic.Removed(ctx)
	require.NoError(t, err)
	assert.Empty(t, removed)

	// Somebody makes the client anew.
	keep(t, p.vault, prescribed(t, "K-104"))
	_, err = p.clinic.Fetch(ctx, p.shelf)
	require.NoError(t, err)
	_, err = p.clinic.Send(ctx, p.shelf, "")
	require.NoError(t, err)
	all, err = p.vault.Clients(ctx)
	require.NoError(t, err)
	assert.Len(t, all, 2)
}

func TestKeysThatAreInUseStay(t *testing.T) {
	p := connected(t, "K-104")
	ctx := t.Context()
	other := NewClinic(clinicVault(t), Options{})
	var keys bytes.Buffer
	require.NoError(t, other.ExportKeys(ctx, &keys, "words"))
	assert.ErrorIs(t, p.clinic.ImportKeys(ctx, bytes.NewReader(keys.Bytes()), "words"), ErrKeysInUse)
	assert.ErrorIs(t, p.clinic.ImportKeys(ctx, bytes.NewReader(keys.Bytes()), "other words"), exchange.ErrNotForUs)
	_, second := second(t, p.clinic, Options{})
	a, err := p.clinic.Keys(ctx)
	require.NoError(t, err)
	b, err := second.Keys(ctx)
	require.NoError(t, err)
	assert.True(t, a.Equal(b))
}

// Two clinics use one bucket, and neither is troubled by the other.
func TestTwoClinicsShareACarrier(t *testing.T) {
	p := connected(t, "K-104")
	ctx := t.Context()
	_, err := p.clinic.Send(ctx, p.shelf, "")
	require.NoError(t, err)
	v := clinicVault(t)
	other := NewClinic(v, Options{Clock: p.clock.read, Retry: once})
	got, err := other.Fetch(ctx, p.shelf)
	require.NoError(t, err)
	assert.Equal(t, Fetched{}, got)
	clients, err := v.Clients(ctx)
	require.NoError(t, err)
	assert.Empty(t, clients)
}

// A client with a new computer is invited again and goes on.
func TestNewComputer(t *testing.T) {
	p := connected(t, "K-104")
	ctx := t.Context()
	old, err := homestore.Unpack(mustProgram(t, p.vault, "K-104").Body)
	require.NoError(t, err)
	keep(t, p.vault, old.Next(p.clock.read()))
	hd, inv := invite(t, p.clinic, "K-104")
	s := homeStore(t, p.clock)
	h := NewHome(s, p.home.o)
	_, err = h.accept(ctx, hd, inv)
	require.NoError(t, err)
	id := practise(t, s, 2)
	_, err = h.Send(ctx, p.shelf)
	require.NoError(t, err)
	got, err := p.clinic.Fetch(ctx, p.shelf)
	require.NoError(t, err)
	assert.Empty(t, got.Trouble)
	same(t, s.Vault(), p.vault, id)
	keep(t, p.vault, old.Next(p.clock.read()).Next(p.clock.read()))
	_, err = p.clinic.Send(ctx, p.shelf, "")
	require.NoError(t, err)
	in, err := h.Fetch(ctx, p.shelf)
	require.NoError(t, err)
	assert.Equal(t, 1, in.Programs)
	in, err = p.home.Fetch(ctx, p.shelf)
	require.NoError(t, err)
	assert.Zero(t, in.Programs, "the old computer gets no more")
}

// A client who takes a second invitation on the same computer sends nothing
// once more, and is still the same to the clinic.
func TestInvitedAgain(t *testing.T) {
	p := connected(t, "K-104")
	ctx := t.Context()
	one := practise(t, p.store, 1)
	_, err := p.home.Collect(ctx)
	require.NoError(t, err)
	hd, inv := invite(t, p.clinic, "K-104")
	_, err = p.home.accept(ctx, hd, inv)
	require.NoError(t, err)
	two := practise(t, p.store, 1)
	sent, err := p.home.Send(ctx, p.shelf)
	require.NoError(t, err)
	assert.Equal(t, 3, sent, "two sessions and a greeting")
	got, err := p.clinic.Fetch(ctx, p.shelf)
	require.NoError(t, err)
	assert.Empty(t, got.Trouble)
	assert.Equal(t, 2, got.Sessions)
	same(t, p.store.Vault(), p.vault, one)
	same(t, p.store.Vault(), p.vault, two)
}

// A session that was cut short is sent once it can no longer be gone on with.
func TestInterruptedSessionWaits(t *testing.T) {
	p := connected(t, "K-104")
	ctx := t.Context()
	r, err := p.store.Record("", 1)
	require.NoError(t, err)
	require.NoError(t, r.Interrupt())
	n, err := p.home.Collect(ctx)
	require.NoError(t, err)
	assert.Zero(t, n)
	p.clock.now = p.clock.now.Add(3 * time.Hour)
	n, err = p.home.Collect(ctx)
	require.NoError(t, err)
	assert.Equal(t, 1, n)
}
