package post

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"filippo.io/age"
	"github.com/klauspost/compress/zstd"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"volar/internal/exchange"
	"volar/internal/homestore"
	"volar/internal/session"
	"volar/internal/vault"
)

// secret stands in the client's note, so that it can be looked for in the clear.
const secretNote = "the words that nobody else may read"

// holding sums up what a store holds that a file from outside could change.
func holding(t *testing.T, v *vault.Vault) string {
	t.Helper()
	ctx := context.Background()
	var b strings.Builder
	sessions, err := v.Sessions(ctx, vault.Filter{})
	require.NoError(t, err)
	for _, s := range sessions {
		fmt.Fprintln(&b, "session", s.ID, s.Client, s.Ended)
	}
	clients, err := v.Clients(ctx)
	require.NoError(t, err)
	for _, c := range clients {
		fmt.Fprintln(&b, "client", c)
		programs, err := v.Programs(ctx, c.Code)
		require.NoError(t, err)
		for _, p := range programs {
			fmt.Fprintln(&b, "program", p.Number, p.Hash)
		}
		hands, err := v.Baselines(ctx, c.Code)
		require.NoError(t, err)
		fmt.Fprintln(&b, "hands", len(hands))
	}
	reviews, err := v.EveryReview(ctx)
	require.NoError(t, err)
	fmt.Fprintln(&b, "reviews", len(reviews))
	in, err := v.Inbox(ctx)
	require.NoError(t, err)
	for _, f := range in {
		fmt.Fprintln(&b, "inbox", f.Name, f.State)
	}
	out, err := v.Outbox(ctx, false)
	require.NoError(t, err)
	for _, f := range out {
		fmt.Fprintln(&b, "outbox", f.Name, f.Sent.IsZero())
	}
	for _, name := range []string{settingLedger, settingHome, settingKeys, settingPlace} {
		s, err := v.Setting(ctx, name)
		require.NoError(t, err)
		fmt.Fprintf(&b, "%s %x\n", name, s)
	}
	return b.String()
}

// wrap seals a sequence of bytes that nobody may have written for a reader.
func wrap(t *testing.T, to exchange.Public, write func(*zstd.Encoder)) []byte {
	t.Helper()
	r, err := age.ParseX25519Recipient(to.Recipient)
	require.NoError(t, err)
	var b bytes.Buffer
	w, err := age.Encrypt(&b, r)
	require.NoError(t, err)
	z, err := zstd.NewWriter(w)
	require.NoError(t, err)
	write(z)
	require.NoError(t, z.Close())
	require.NoError(t, w.Close())
	return b.Bytes()
}

// noted is practise with a note of the client's, and noise that does not
// compress, so that the file has some chunks.
func noted(t *testing.T, s *homestore.Store) session.ID {
	t.Helper()
	r, err := s.Record("", 1)
	require.NoError(t, err)
	_, err = r.StartExercise(session.Exercise{Movement: "straight-finger-hold", Sets: 1, Repetitions: 1})
	require.NoError(t, err)
	x := uint32(1)
	for i := range 100 {
		noise := make([]byte, 2000)
		for k := range noise {
			x = x*1664525 + 1013904223
			noise[k] = byte(x >> 24)
		}
		require.NoError(t, r.Answer(session.Answer{At: time.Duration(i) * time.Millisecond, Kind: session.Note, Text: secretNote + hex.EncodeToString(noise)}))
	}
	id := r.ID()
	require.NoError(t, r.Close())
	return id
}

// Whatever lies on the carrier in place of a session: it is named, nothing is
// stored, nothing is sent, nothing lies about in the clear, and the good file
// that comes later is taken.
func TestHostileFilesAtTheClinic(t *testing.T) {
	tmp := t.TempDir()
	t.Setenv("TMPDIR", tmp)
	p := connected(t, "K-104")
	ctx := t.Context()
	id := noted(t, p.store)
	_, err := p.home.Collect(ctx)
	require.NoError(t, err)
	out, err := p.store.Vault().Outbox(ctx, true)
	require.NoError(t, err)
	require.Len(t, out, 1)
	name, err := exchange.ParseName(out[0].Name)
	require.NoError(t, err)
	good, err := p.store.Vault().OutgoingBody(ctx, out[0].ID)
	require.NoError(t, err)
	const sealedChunk = 64<<10 + 16 // age's STREAM: 64 KiB and a tag
	// The head ends with the line of its authentication tag; a nonce follows.
	tag := bytes.Index(good, []byte("\n--- ")) + 1
	body := tag + bytes.IndexByte(good[tag:], '\n') + 1 + 16
	require.Greater(t, len(good), body+2*sealedChunk, "the file has more than one chunk")

	other := newIdentity(t)
	me, err := p.clinic.Keys(ctx)
	require.NoError(t, err)
	homeKeys, err := identity(ctx, p.store.Vault())
	require.NoError(t, err)
	seal := func(h exchange.Header, body []byte, from *exchange.Identity, to exchange.Public) []byte {
		var b bytes.Buffer
		if h.ID == "" {
			h.ID = name.ID
		}
		_, err := exchange.Seal(&b, h, body, from, to)
		require.NoError(t, err)
		return b.Bytes()
	}
	mine := exchange.Header{Kind: exchange.KindSession, Mailbox: name.Mailbox, Client: "K-104"}
	var encoded bytes.Buffer
	whole, err := p.store.Vault().Load(ctx, id)
	require.NoError(t, err)
	stranger := *whole
	stranger.Client = "K-999"
	require.NoError(t, session.Encode(&encoded, &stranger))

	type fault struct {
		file []byte
		want error
	}
	faults := map[string]fault{
		"empty":                 {nil, exchange.ErrDamaged},
		"no file of ours":       {[]byte("nothing of ours"), exchange.ErrDamaged},
		"appended":              {append(bytes.Clone(good), 0), exchange.ErrDamaged},
		"twice":                 {append(bytes.Clone(good), good...), exchange.ErrDamaged},
		"another reader":        {seal(mine, []byte("x"), homeKeys, other.Public()), exchange.ErrNotForUs},
		"another sender":        {seal(mine, []byte("x"), other, me), exchange.ErrForeign},
		"another kind":          {seal(exchange.Header{Kind: exchange.KindReview, Mailbox: name.Mailbox, Client: "K-104"}, []byte("x"), homeKeys, me), exchange.ErrWrongKind},
		"another client":        {seal(exchange.Header{Kind: exchange.KindSession, Mailbox: name.Mailbox, Client: "K-105"}, []byte("x"), homeKeys, me), exchange.ErrWrongClient},
		"another client inside": {seal(mine, encoded.Bytes(), homeKeys, me), exchange.ErrWrongClient},
		"no session inside":     {seal(mine, []byte("no session"), homeKeys, me), session.ErrMalformed},
		"another name":          {seal(exchange.Header{Kind: exchange.KindSession, Mailbox: name.Mailbox, Client: "K-104", ID: strings.Repeat("a", 32)}, []byte("x"), homeKeys, me), exchange.ErrDamaged},
		"another mailbox":       {seal(exchange.Header{Kind: exchange.KindSession, Mailbox: strings.Repeat("b", 32), Client: "K-104"}, []byte("x"), homeKeys, me), exchange.ErrWrongClient},
		"deep nesting":          {wrap(t, me, func(z *zstd.Encoder) { z.Write(append(bytes.Repeat([]byte{0x81}, 1<<20), 0)) }), exchange.ErrDamaged},
		"great length":          {wrap(t, me, func(z *zstd.Encoder) { z.Write([]byte{0x5b, 0x7f, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff}) }), exchange.ErrDamaged},
		"bomb": {wrap(t, me, func(z *zstd.Encoder) {
			zeros := make([]byte, 1<<20)
			for range exchange.MaxFile>>20 + 1 {
				z.Write(zeros)
			}
		}), exchange.ErrTooLarge},
	}
	for at := body; at < len(good); at += sealedChunk {
		faults[fmt.Sprintf("cut off at %d", at)] = fault{good[:at], exchange.ErrDamaged}
	}
	for _, at := range []int{10, body / 2, body - 1, len(good) - 1} {
		faults[fmt.Sprintf("cut off at %d", at)] = fault{good[:at], exchange.ErrDamaged}
	}
	swapped := bytes.Clone(good)
	copy(swapped[body:], good[body+sealedChunk:body+2*sealedChunk])
	copy(swapped[body+sealedChunk:], good[body:body+sealedChunk])
	faults["swapped chunks"] = fault{swapped, exchange.ErrDamaged}
	// A bit of every line of the head, of every chunk, of every tag.
	for at := 5; at < len(good); at += max(1, min(37, body-at)) {
		if at > body {
			at += sealedChunk / 2
			if at >= len(good) {
				break
			}
		}
		b := bytes.Clone(good)
		b[at] ^= 1 << (at % 8)
		faults[fmt.Sprintf("flipped bit at %d", at)] = fault{b, nil} // damaged, or for nobody here
	}

	before := holding(t, p.vault)
	path := filepath.Join(p.shelf.Path(), filepath.FromSlash(name.String()))
	require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
	for what, f := range faults {
		p.clock.now = p.clock.now.Add(48 * time.Hour) // whatever was refused is tried again
		require.NoError(t, os.WriteFile(path, f.file, 0o600))
		l, err := p.clinic.ledger(ctx)
		require.NoError(t, err)
		r := &receiving{c: p.clinic, keys: mustKeys(t, p.vault), l: l, own: map[string]string{}}
		err = r.take(ctx, name, "K-104", f.file)
		require.Error(t, err, what)
		if f.want != nil {
			assert.ErrorIs(t, err, f.want, what)
		} else {
			assert.True(t, errors.Is(err, exchange.ErrDamaged) || errors.Is(err, exchange.ErrNotForUs), "%s: %v", what, err)
		}
		assert.True(t, Refused(err), "%s: %v is named", what, err)
		got, err := p.clinic.Fetch(ctx, p.shelf)
		require.NoError(t, err, what)
		assert.Zero(t, got.Sessions, what)
		require.Len(t, got.Trouble, 1, what)
		assert.NotContains(t, got.Trouble[0].Problem+got.Trouble[0].Words, secretNote)
		require.Equal(t, before, holding(t, p.vault), what)
	}
	for _, dir := range []string{tmp, p.vault.Dir(), p.store.Vault().Dir(), p.shelf.Path()} {
		require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			b, err := os.ReadFile(path)
			require.NoError(t, err)
			assert.False(t, bytes.Contains(b, []byte(secretNote)), "%s holds it in the clear", path)
			return nil
		}))
	}
	left, err := os.ReadDir(tmp)
	require.NoError(t, err)
	for _, e := range left {
		assert.NotContains(t, e.Name(), "volar")
	}
	// The good file comes after all, and the trouble is over.
	require.NoError(t, os.WriteFile(path, good, 0o600))
	p.clock.now = p.clock.now.Add(48 * time.Hour)
	got, err := p.clinic.Fetch(ctx, p.shelf)
	require.NoError(t, err)
	assert.Equal(t, 1, got.Sessions)
	assert.Empty(t, got.Trouble)
	same(t, p.store.Vault(), p.vault, id)
}

func newIdentity(t *testing.T) *exchange.Identity {
	t.Helper()
	i, err := exchange.NewIdentity()
	require.NoError(t, err)
	return i
}

func mustKeys(t *testing.T, v *vault.Vault) *exchange.Identity {
	t.Helper()
	i, err := identity(context.Background(), v)
	require.NoError(t, err)
	return i
}

// Whatever comes to the home in place of a program is named and changes
// nothing.
func TestHostileFilesAtHome(t *testing.T) {
	p := connected(t, "K-104")
	ctx := t.Context()
	conn, err := p.home.connection(ctx)
	require.NoError(t, err)
	clinicKeys, homeKeys, other := mustKeys(t, p.vault), mustKeys(t, p.store.Vault()), newIdentity(t)
	first, err := homestore.Unpack(mustProgram(t, p.vault, "K-104").Body)
	require.NoError(t, err)
	letterOf := func(version int, client string, files map[string][]byte) []byte {
		q := first.Clone()
		q.Version, q.Client = version, client
		l := prescription{}
		l.programs = append(l.programs, q)
		b, err := l.encode()
		require.NoError(t, err)
		if files != nil {
			b = bytes.Replace(b, []byte(`{"program":`), []byte(`{"files":{"`+keyOf(files)+`":"eA=="},"program":`), 1)
		}
		return b
	}
	seal := func(number uint64, client, mailbox string, body []byte, from *exchange.Identity, to exchange.Public) []byte {
		var b bytes.Buffer
		_, err := exchange.Seal(&b, exchange.Header{Kind: exchange.KindProgram, Number: number, Mailbox: mailbox, Client: client}, body, from, to)
		require.NoError(t, err)
		return b.Bytes()
	}
	good := seal(2, "K-104", conn.Mailbox, letterOf(2, "K-104", nil), clinicKeys, homeKeys.Public())
	flipped := bytes.Clone(good)
	flipped[len(flipped)-20] ^= 4
	changed := first.Clone()
	changed.Message = "another first version"
	l := prescription{}
	l.programs = append(l.programs, changed)
	otherFirst, err := l.encode()
	require.NoError(t, err)
	for what, f := range map[string]struct {
		file []byte
		want error
	}{
		"flipped":               {flipped, exchange.ErrDamaged},
		"cut off":               {good[:len(good)-1], exchange.ErrDamaged},
		"appended":              {append(bytes.Clone(good), 1), exchange.ErrDamaged},
		"another clinic":        {seal(2, "K-104", conn.Mailbox, letterOf(2, "K-104", nil), other, homeKeys.Public()), exchange.ErrForeign},
		"another home":          {seal(2, "K-104", conn.Mailbox, letterOf(2, "K-104", nil), clinicKeys, other.Public()), exchange.ErrNotForUs},
		"another client":        {seal(2, "K-105", conn.Mailbox, letterOf(2, "K-105", nil), clinicKeys, homeKeys.Public()), exchange.ErrWrongClient},
		"another client inside": {seal(2, "K-104", conn.Mailbox, letterOf(2, "K-105", nil), clinicKeys, homeKeys.Public()), exchange.ErrWrongClient},
		"another mailbox":       {seal(2, "K-104", strings.Repeat("c", 32), letterOf(2, "K-104", nil), clinicKeys, homeKeys.Public()), exchange.ErrWrongClient},
		"another number inside": {seal(3, "K-104", conn.Mailbox, letterOf(2, "K-104", nil), clinicKeys, homeKeys.Public()), exchange.ErrDamaged},
		"replayed":              {seal(1, "K-104", conn.Mailbox, letterOf(1, "K-104", nil), clinicKeys, homeKeys.Public()), exchange.ErrStale},
		"another first version": {seal(1, "K-104", conn.Mailbox, otherFirst, clinicKeys, homeKeys.Public()), exchange.ErrStale},
		"path trick":            {seal(2, "K-104", conn.Mailbox, letterOf(2, "K-104", map[string][]byte{"../../.profile": nil}), clinicKeys, homeKeys.Public()), exchange.ErrDamaged},
		"hidden name":           {seal(2, "K-104", conn.Mailbox, letterOf(2, "K-104", map[string][]byte{".profile": nil}), clinicKeys, homeKeys.Public()), exchange.ErrDamaged},
		"no letter":             {seal(2, "K-104", conn.Mailbox, []byte("{}"), clinicKeys, homeKeys.Public()), exchange.ErrDamaged},
		"no JSON":               {seal(2, "K-104", conn.Mailbox, []byte("text"), clinicKeys, homeKeys.Public()), exchange.ErrDamaged},
		"nested":                {seal(2, "K-104", conn.Mailbox, bytes.Repeat([]byte("["), 20000), clinicKeys, homeKeys.Public()), exchange.ErrDamaged},
		"newer letter":          {seal(2, "K-104", conn.Mailbox, []byte(`{"version":2,"unheard":1}`), clinicKeys, homeKeys.Public()), exchange.ErrNewer},
		"nothing of ours":       {[]byte("text"), exchange.ErrDamaged},
	} {
		before := holding(t, p.store.Vault())
		_, err := p.home.Take(ctx, f.file)
		assert.ErrorIs(t, err, f.want, what)
		assert.True(t, Refused(err), what)
		assert.Equal(t, before, holding(t, p.store.Vault()), what)
	}
	_, err = p.home.Take(ctx, good)
	require.NoError(t, err)
	_, err = p.home.Take(ctx, good)
	assert.ErrorIs(t, err, exchange.ErrStale)

	// An invitation of another clinic, of another client, and one that chooses a
	// folder on this computer.
	hd, inv := invite(t, p.clinic, "K-104")
	before := holding(t, p.store.Vault())
	foreign := inv
	foreign.Clinic = other.Public()
	_, err = p.home.accept(ctx, hd, foreign)
	assert.ErrorIs(t, err, ErrOtherClinic)
	els := hd
	els.Client = "K-105"
	_, err = p.home.accept(ctx, els, inv)
	assert.ErrorIs(t, err, exchange.ErrWrongClient)
	for _, where := range []string{"/etc", "s3://key:secret@host/b", "ftp://host/x"} {
		bad := inv
		bad.Carrier = where
		_, err = p.home.accept(ctx, hd, bad)
		assert.ErrorIs(t, err, exchange.ErrDamaged, where)
	}
	assert.Equal(t, before, holding(t, p.store.Vault()))
}

func keyOf(m map[string][]byte) string {
	for k := range m {
		return k
	}
	return ""
}
