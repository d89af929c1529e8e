package post

import (
	"bytes"
	"context"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"volar/internal/exchange"
	"volar/internal/hand"
	"volar/internal/homestore"
	"volar/internal/program"
	"volar/internal/session"
	"volar/internal/strictyaml"
	"volar/internal/vault"
)

// cheap keeps the passphrase of a test's store from taking a second.
var cheap = vault.KDF{Time: 1, MemoryKiB: 64, Threads: 1}

var day0 = time.Date(2026, 11, 20, 9, 0, 0, 0, time.UTC)

// clock is a wall clock that a test moves.
type clock struct{ now time.Time }

func (c *clock) read() time.Time { c.now = c.now.Add(time.Second); return c.now }

func newClock() *clock { return &clock{day0} }

var once = exchange.Retry{Times: 1}

func clinicVault(t testing.TB) *vault.Vault {
	t.Helper()
	v, err := vault.Create(t.Context(), t.TempDir(), vault.Options{Secret: vault.Passphrase("a clinic"), KDF: cheap})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, v.Close()) })
	return v
}

func homeStore(t testing.TB, c *clock) *homestore.Store {
	t.Helper()
	dir := t.TempDir()
	// Made beforehand, so that the key is cheap to derive.
	v, err := vault.Create(t.Context(), dir, vault.Options{Secret: vault.Passphrase("a home"), KDF: cheap})
	require.NoError(t, err)
	require.NoError(t, v.Close())
	s, err := homestore.Open(t.Context(), dir, homestore.Options{Secret: vault.Passphrase("a home"), Software: "test", Clock: c.read})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	return s
}

// prescribed is a first program.
func prescribed(t testing.TB, client string) *program.Program {
	t.Helper()
	p, _, err := prescribedProgram(client)
	require.NoError(t, err)
	p.History = "fell on the hand"
	return p
}

func prescribedProgram(client string) (*program.Program, []strictyaml.Problem, error) {
	return program.New(program.Options{Client: client, Side: program.Side(hand.Right), Exercises: []string{"straight-finger-hold"}, Now: day0}, program.Source{})
}

// keep puts a program into the clinic's store, and its client where needed.
func keep(t testing.TB, v *vault.Vault, p *program.Program) {
	t.Helper()
	if _, err := v.Client(t.Context(), p.Client); err != nil {
		require.NoError(t, v.PutClient(t.Context(), vault.Client{Code: p.Client, Side: "right"}))
	}
	body, err := homestore.Pack(p)
	require.NoError(t, err)
	require.NoError(t, v.PutProgram(t.Context(), vault.Program{Client: p.Client, Name: p.Client, Number: p.Version, ValidFrom: p.ValidFrom.String(), Body: body}))
}

// practise records a session of a second at the home.
func practise(t testing.TB, s *homestore.Store, version int) session.ID {
	t.Helper()
	r, err := s.Record("", version)
	require.NoError(t, err)
	n, err := r.StartExercise(session.Exercise{Movement: "straight-finger-hold", Side: hand.Right, Sets: 1, Repetitions: 1})
	require.NoError(t, err)
	for i := range 30 {
		f := session.Frame{Sample: hand.Sample{Time: time.Duration(i) * time.Second / 30, Side: hand.Right}, Width: 640, Height: 480}
		require.NoError(t, r.Frame(f))
	}
	pain := 2
	require.NoError(t, r.Answer(session.Answer{At: time.Second, Kind: session.PainAfter, Value: &pain}))
	require.NoError(t, r.FinishExercise(n, time.Second, func(e *session.Exercise) { e.Outcome, e.Counted = session.Done, 1 }))
	id := r.ID()
	require.NoError(t, r.Close())
	return id
}

func shelf(t testing.TB) *exchange.Folder {
	t.Helper()
	f, err := exchange.OpenFolder(t.TempDir())
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, f.Close()) })
	return f
}

// pair is a clinic and a home with a folder between them.
type pair struct {
	clock  *clock
	vault  *vault.Vault
	clinic *Clinic
	store  *homestore.Store
	home   *Home
	shelf  *exchange.Folder
}

// invite does what Clinic.Invite does but for the sealing with a code, which
// takes a second; accept takes it.
func invite(t testing.TB, c *Clinic, client string) (exchange.Header, exchange.Invitation) {
	t.Helper()
	ctx := t.Context()
	keys, err := c.Keys(ctx)
	require.NoError(t, err)
	p, err := c.prescription(ctx, client, 0)
	require.NoError(t, err)
	body, err := p.encode()
	require.NoError(t, err)
	mailbox, err := exchange.NewMailbox()
	require.NoError(t, err)
	now := c.o.Clock()
	id, err := exchange.NewID(now)
	require.NoError(t, err)
	number := p.programs[len(p.programs)-1].Version
	inv := exchange.Invitation{Clinic: keys, Secret: bytes.Repeat([]byte{7}, 32), Program: body}
	l, err := c.ledger(ctx)
	require.NoError(t, err)
	l.Boxes = append(l.Boxes, box{Mailbox: mailbox, Client: client, Secret: inv.Secret, Invited: now, Number: number})
	require.NoError(t, putSetting(ctx, c.v, settingLedger, l))
	return exchange.Header{Kind: exchange.KindInvitation, ID: id, Mailbox: mailbox, Client: client, Number: uint64(number), CreatedMS: now.UnixMilli(), From: keys.Fingerprint()}, inv
}

// connected is a pair that has met: the clinic knows the home's keys.
func connected(t testing.TB, client string) *pair {
	t.Helper()
	p := &pair{clock: newClock(), vault: clinicVault(t), shelf: shelf(t)}
	p.store = homeStore(t, p.clock)
	o := Options{Clock: p.clock.read, Retry: once}
	p.clinic, p.home = NewClinic(p.vault, o), NewHome(p.store, o)
	keep(t, p.vault, prescribed(t, client))
	hd, inv := invite(t, p.clinic, client)
	_, err := p.home.accept(t.Context(), hd, inv)
	require.NoError(t, err)
	_, err = p.home.Send(t.Context(), p.shelf)
	require.NoError(t, err)
	got, err := p.clinic.Fetch(t.Context(), p.shelf)
	require.NoError(t, err)
	require.Equal(t, 1, got.Greetings)
	require.Empty(t, got.Trouble)
	return p
}

// same says whether a session at the clinic is what the home recorded.
func same(t testing.TB, want, got *vault.Vault, id session.ID) {
	t.Helper()
	a, err := want.Load(context.Background(), id)
	require.NoError(t, err)
	b, err := got.Load(context.Background(), id)
	require.NoError(t, err)
	var x, y bytes.Buffer
	require.NoError(t, session.Encode(&x, a))
	require.NoError(t, session.Encode(&y, b))
	assert.Equal(t, x.Bytes(), y.Bytes(), "session %s", id)
}

// numbers lists the versions of a program that a store holds, newest first.
func numbers(t testing.TB, v *vault.Vault, client string) []int {
	t.Helper()
	list, err := v.Programs(context.Background(), client)
	require.NoError(t, err)
	var n []int
	for _, p := range list {
		n = append(n, p.Number)
	}
	return n
}

func TestThereAndBack(t *testing.T) {
	p := connected(t, "K-104")
	ctx := t.Context()
	assert.Equal(t, []int{1}, numbers(t, p.store.Vault(), "K-104"))
	v, err := p.store.Vault().Program(ctx, "K-104", 1)
	require.NoError(t, err)
	assert.NotContains(t, string(v.Body), "fell on the hand", "the history stays in the clinic")

	id := practise(t, p.store, 1)
	s, err := p.home.State(ctx)
	require.NoError(t, err)
	assert.Len(t, s.Waiting, 1)
	sent, err := p.home.Send(ctx, p.shelf)
	require.NoError(t, err)
	assert.Equal(t, 1, sent)
	sent, err = p.home.Send(ctx, p.shelf)
	require.NoError(t, err)
	assert.Zero(t, sent, "a session is sent once")

	got, err := p.clinic.Fetch(ctx, p.shelf)
	require.NoError(t, err)
	assert.Equal(t, 1, got.Sessions)
	same(t, p.store.Vault(), p.vault, id)
	got, err = p.clinic.Fetch(ctx, p.shelf)
	require.NoError(t, err)
	assert.Equal(t, Fetched{}, got, "nothing new")

	// The therapist answers with a second version.
	old, err := homestore.Unpack(mustProgram(t, p.vault, "K-104").Body)
	require.NoError(t, err)
	next := old.Next(p.clock.read())
	next.Message = "Go on like this."
	keep(t, p.vault, next)
	_, err = p.clinic.Send(ctx, p.shelf, "")
	require.NoError(t, err)
	in, err := p.home.Fetch(ctx, p.shelf)
	require.NoError(t, err)
	assert.Equal(t, 1, in.Programs)
	assert.Empty(t, in.Trouble)
	assert.Equal(t, []int{2, 1}, numbers(t, p.store.Vault(), "K-104"))
	in, err = p.home.Fetch(ctx, p.shelf)
	require.NoError(t, err)
	assert.Zero(t, in.Programs)
}

func mustProgram(t testing.TB, v *vault.Vault, client string) vault.Program {
	t.Helper()
	p, err := v.Program(context.Background(), client, 0)
	require.NoError(t, err)
	return p
}

// Trying a code takes a second and 256 MiB, as scrypt at N = 2^18 and r = 8 has
// to (RFC 7914, section 2): what was opened is taken without trying it again.
func TestAnOpenedInvitationIsTakenWithoutItsCode(t *testing.T) {
	c := newClock()
	v := clinicVault(t)
	keep(t, v, prescribed(t, "C-017"))
	inv, err := NewClinic(v, Options{Clock: c.read}).Invite(t.Context(), "C-017")
	require.NoError(t, err)
	home := NewHome(homeStore(t, c), Options{Clock: c.read})
	used := func(f func()) uint64 {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		f()
		runtime.ReadMemStats(&after)
		return (after.TotalAlloc - before.TotalAlloc) >> 20
	}
	var o Opened
	require.GreaterOrEqual(t, used(func() { o, err = OpenInvitation(inv.File, inv.Code) }), uint64(256))
	require.NoError(t, err)
	var got Accepted
	require.Less(t, used(func() { got, err = home.AcceptOpened(t.Context(), o) }), uint64(128))
	require.NoError(t, err)
	require.Equal(t, Accepted{Client: "C-017", Version: 1, New: 1}, got)
	st, err := home.State(t.Context())
	require.NoError(t, err)
	require.True(t, st.Connected)
}
