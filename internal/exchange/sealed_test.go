package exchange

import (
	"bytes"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	mathrand "math/rand/v2"
	"strings"
	"testing"
	"time"

	"filippo.io/age"
	"github.com/klauspost/compress/zstd"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const mailbox = "00112233445566778899aabbccddeeff"

func identity(t testing.TB) *Identity {
	t.Helper()
	i, err := NewIdentity()
	require.NoError(t, err)
	return i
}

// known is a sender function for the given identities.
func known(who ...*Identity) func(string) (Public, bool) {
	return func(print string) (Public, bool) {
		for _, i := range who {
			if p := i.Public(); p.Fingerprint() == print {
				return p, true
			}
		}
		return Public{}, false
	}
}

func sealed(t testing.TB, h Header, body []byte, from *Identity, to ...*Identity) []byte {
	t.Helper()
	var b bytes.Buffer
	var readers []Public
	for _, i := range to {
		readers = append(readers, i.Public())
	}
	_, err := Seal(&b, h, body, from, readers...)
	require.NoError(t, err)
	return b.Bytes()
}

func session(client string) Header {
	return Header{Kind: KindSession, Mailbox: mailbox, Client: client}
}

func program(n uint64) Header {
	return Header{Kind: KindProgram, Mailbox: mailbox, Client: "C-017", Number: n}
}

func TestSealedAndOpened(t *testing.T) {
	clinic, home := identity(t), identity(t)
	big := make([]byte, 3*chunk+17)
	_, err := rand.Read(big)
	require.NoError(t, err)
	for _, body := range [][]byte{nil, []byte("one"), make([]byte, chunk), big} {
		b := sealed(t, session("C-017"), body, home, clinic)
		f, err := Open(bytes.NewReader(b), clinic, Expect{Kinds: []Kind{KindSession}, Mailbox: mailbox, Client: "C-017", Sender: known(home)})
		require.NoError(t, err)
		assert.True(t, bytes.Equal(body, f.Body))
		assert.Equal(t, KindSession, f.Kind)
		assert.Equal(t, home.Public().Fingerprint(), f.From)
		assert.WithinDuration(t, time.Now(), f.Created(), time.Minute)
	}
}

// A clinic seals programs for itself too, so that another of its machines can
// build its store again from the files.
func TestSenderReadsAlong(t *testing.T) {
	clinic, home := identity(t), identity(t)
	b := sealed(t, program(1), []byte("p"), clinic, home, clinic)
	for _, who := range []*Identity{home, clinic} {
		f, err := Open(bytes.NewReader(b), who, Expect{Sender: known(clinic)})
		require.NoError(t, err)
		assert.Equal(t, "p", string(f.Body))
	}
}

// The layers are what the package says they are: each is opened here by its own
// library alone.
func TestOpenFormats(t *testing.T) {
	clinic, home := identity(t), identity(t)
	b := sealed(t, session("C-017"), []byte("body"), home, clinic)
	text, err := clinic.MarshalBinary()
	require.NoError(t, err)
	var keys struct {
		Age string `cbor:"age"`
	}
	require.NoError(t, lenient.Unmarshal(text, &keys))
	id, err := age.ParseX25519Identity(keys.Age)
	require.NoError(t, err)
	dec, err := age.Decrypt(bytes.NewReader(b), id)
	require.NoError(t, err)
	z, err := zstd.NewReader(dec)
	require.NoError(t, err)
	defer z.Close()
	seq, err := io.ReadAll(z)
	require.NoError(t, err)
	var header map[string]any
	rest, err := lenient.UnmarshalFirst(seq, &header)
	require.NoError(t, err)
	assert.Equal(t, formatName, header["format"])
	// RFC 8949: a byte string of four bytes is 0x44; RFC 9052: tag 18 is 0xd2.
	assert.Equal(t, append([]byte{0x44}, "body"...), rest[:5])
	assert.Equal(t, byte(0xd2), rest[5])
}

func TestWhatIsRefused(t *testing.T) {
	clinic, home, other := identity(t), identity(t), identity(t)
	s := sealed(t, session("C-017"), []byte("b"), home, clinic)
	p := sealed(t, program(3), []byte("b"), clinic, home)
	forged := func() []byte {
		// Signed by someone else in the name of home.
		h := session("C-017")
		liar := &Identity{open: other.open, sign: other.sign}
		var b bytes.Buffer
		h.Format, h.Version, h.CreatedMS, h.ID = formatName, Version, 1, strings.Repeat("a", 32)
		h.From, h.To = home.Public().Fingerprint(), clinic.Public().Fingerprint()
		seq, err := sequence(h, []byte("b"), liar)
		require.NoError(t, err)
		require.NoError(t, encrypt(&b, seq, clinic.open.Recipient()))
		return b.Bytes()
	}()
	passedOn := func() []byte {
		// The clinic passes a home's file on to another, sealed anew.
		f, _, err := unseal(bytes.NewReader(s), clinic.open)
		require.NoError(t, err)
		seq, err := sequence(f.Header, f.Body, home)
		require.NoError(t, err)
		var b bytes.Buffer
		require.NoError(t, encrypt(&b, seq, other.open.Recipient()))
		return b.Bytes()
	}()
	for _, c := range []struct {
		name string
		file []byte
		with *Identity
		e    Expect
		want error
	}{
		{"wrong key", s, other, Expect{Sender: known(home)}, ErrNotForUs},
		{"unknown sender", s, clinic, Expect{Sender: known(other)}, ErrForeign},
		{"nobody known", s, clinic, Expect{}, ErrForeign},
		{"sender with other keys", s, clinic, Expect{Sender: func(string) (Public, bool) { return other.Public(), true }}, ErrForeign},
		{"forged", forged, clinic, Expect{Sender: known(home)}, ErrForged},
		{"passed on", passedOn, other, Expect{Sender: known(home)}, ErrNotForUs},
		{"wrong kind", s, clinic, Expect{Kinds: []Kind{KindProgram, KindReview}, Sender: known(home)}, ErrWrongKind},
		{"wrong client", s, clinic, Expect{Client: "C-018", Sender: known(home)}, ErrWrongClient},
		{"wrong mailbox", s, clinic, Expect{Mailbox: strings.Repeat("0", 32), Sender: known(home)}, ErrWrongClient},
		{"another name", s, clinic, Expect{Name: Name{mailbox, KindSession, strings.Repeat("0", 32)}, Sender: known(home)}, ErrDamaged},
		{"same version again", p, home, Expect{NewerThan: 3, Sender: known(clinic)}, ErrStale},
		{"older version", p, home, Expect{NewerThan: 4, Sender: known(clinic)}, ErrStale},
		{"empty", nil, clinic, Expect{Sender: known(home)}, ErrDamaged},
		{"text", []byte("age-encryption.org/v1\nnot really"), clinic, Expect{Sender: known(home)}, ErrDamaged},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, err := Open(bytes.NewReader(c.file), c.with, c.e)
			assert.ErrorIs(t, err, c.want)
			assert.Nil(t, f)
		})
	}
	f, err := Open(bytes.NewReader(p), home, Expect{NewerThan: 2, Sender: known(clinic)})
	require.NoError(t, err)
	assert.EqualValues(t, 3, f.Number)
}

// Every way to damage a file ends in a named error, with nothing handed out.
func TestDamage(t *testing.T) {
	clinic, home := identity(t), identity(t)
	body := bytes.Repeat([]byte("0123456789abcdef"), 20000) // five age chunks when it does not compress
	rng := mathrand.New(mathrand.NewPCG(1, 2))
	for i := range body {
		body[i] ^= byte(rng.Uint32())
	}
	good := sealed(t, session("C-017"), body, home, clinic)
	refused := func(t *testing.T, what string, b []byte) {
		t.Helper()
		f, err := Open(bytes.NewReader(b), clinic, Expect{Sender: known(home)})
		require.Error(t, err, what)
		require.Nil(t, f, what)
		// A changed stanza may no longer be ours; all else is damage.
		if !errors.Is(err, ErrDamaged) && !errors.Is(err, ErrNotForUs) {
			t.Fatalf("%s: %v is not a named error", what, err)
		}
	}
	t.Run("cut off", func(t *testing.T) {
		for n := 0; n < len(good); n += 64<<10 + 16 {
			for _, at := range []int{n - 1, n, n + 1} {
				if at >= 0 {
					refused(t, fmt.Sprintf("at %d", at), good[:at])
				}
			}
		}
		for range 100 {
			n := rng.IntN(len(good))
			refused(t, fmt.Sprintf("at %d", n), good[:n])
		}
	})
	t.Run("flipped bit", func(t *testing.T) {
		for k := range 400 {
			at := rng.IntN(len(good))
			if k < 250 {
				at = k % 250 // every byte of the age header
			}
			b := bytes.Clone(good)
			b[at] ^= 1 << (k % 8)
			refused(t, fmt.Sprintf("byte %d bit %d", at, k%8), b)
		}
	})
	t.Run("swapped chunks", func(t *testing.T) {
		const size = 64<<10 + 16 // age: chunks of 64 KiB and a tag
		start := len(good) % size
		b := bytes.Clone(good)
		copy(b[start:start+size], good[start+size:start+2*size])
		copy(b[start+size:start+2*size], good[start:start+size])
		refused(t, "swapped", b)
	})
	t.Run("appended", func(t *testing.T) {
		for _, n := range []int{1, 16, 1000} {
			refused(t, "appended", append(bytes.Clone(good), make([]byte, n)...))
		}
		refused(t, "twice", append(bytes.Clone(good), good...))
	})
}

// Whoever has the reader's public key can encrypt anything for it.
func TestHostileInside(t *testing.T) {
	clinic, home := identity(t), identity(t)
	e := Expect{Sender: known(home)}
	open := func(raw []byte) error {
		f, err := Open(bytes.NewReader(raw), clinic, e)
		require.Nil(t, f)
		return err
	}
	wrap := func(seq []byte) []byte {
		var b bytes.Buffer
		require.NoError(t, encrypt(&b, seq, clinic.open.Recipient()))
		return b.Bytes()
	}
	h := session("C-017")
	h.Format, h.Version, h.CreatedMS, h.ID = formatName, Version, 1, strings.Repeat("a", 32)
	h.From, h.To = home.Public().Fingerprint(), clinic.Public().Fingerprint()
	seq, err := sequence(h, []byte("body"), home)
	require.NoError(t, err)

	t.Run("not compressed", func(t *testing.T) {
		var b bytes.Buffer
		w, err := age.Encrypt(&b, clinic.open.Recipient())
		require.NoError(t, err)
		_, err = w.Write(seq)
		require.NoError(t, err)
		require.NoError(t, w.Close())
		assert.ErrorIs(t, open(b.Bytes()), ErrDamaged)
	})
	t.Run("bomb", func(t *testing.T) {
		var b bytes.Buffer
		w, err := age.Encrypt(&b, clinic.open.Recipient())
		require.NoError(t, err)
		z, err := zstd.NewWriter(w)
		require.NoError(t, err)
		zeros := make([]byte, 1<<20)
		for range MaxFile>>20 + 1 {
			_, err := z.Write(zeros)
			require.NoError(t, err)
		}
		require.NoError(t, z.Close())
		require.NoError(t, w.Close())
		assert.Less(t, b.Len(), 1<<20)
		assert.ErrorIs(t, open(b.Bytes()), ErrTooLarge)
	})
	t.Run("deep nesting", func(t *testing.T) {
		assert.ErrorIs(t, open(wrap(append(bytes.Repeat([]byte{0x81}, 1<<20), 0))), ErrDamaged)
	})
	t.Run("great lengths", func(t *testing.T) {
		assert.ErrorIs(t, open(wrap([]byte{0x5b, 0x7f, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff})), ErrDamaged)
		assert.ErrorIs(t, open(wrap([]byte{0x9b, 0, 0, 0, 0x7f, 0xff, 0xff, 0xff, 0xff})), ErrDamaged)
	})
	t.Run("no signature", func(t *testing.T) {
		first, _, err := next(seq)
		require.NoError(t, err)
		assert.ErrorIs(t, open(wrap(first)), ErrDamaged)
	})
	t.Run("more after the signature", func(t *testing.T) {
		assert.ErrorIs(t, open(wrap(append(bytes.Clone(seq), 0x41, 0))), ErrDamaged)
	})
	t.Run("body exchanged under a good signature", func(t *testing.T) {
		b := bytes.Replace(seq, []byte("body"), []byte("BODY"), 1)
		assert.ErrorIs(t, open(wrap(b)), ErrForged)
	})
	t.Run("chunk left out", func(t *testing.T) {
		b := bytes.Replace(seq, append([]byte{0x44}, "body"...), nil, 1)
		assert.ErrorIs(t, open(wrap(b)), ErrForged)
	})
	t.Run("later version", func(t *testing.T) {
		b, err := encoding.Marshal(map[string]any{"format": formatName, "version": 2, "unheard": []int{1}})
		require.NoError(t, err)
		assert.ErrorIs(t, open(wrap(b)), ErrNewer)
	})
	t.Run("header with more in it", func(t *testing.T) {
		b, err := encoding.Marshal(map[string]any{"format": formatName, "version": 1, "unheard": 1})
		require.NoError(t, err)
		assert.ErrorIs(t, open(wrap(b)), ErrDamaged)
	})
	for what, bad := range map[string]func(*Header){
		"kind":    func(h *Header) { h.Kind = "x" },
		"id":      func(h *Header) { h.ID = "../../../../etc/passwd" },
		"mailbox": func(h *Header) { h.Mailbox = "" },
		"client":  func(h *Header) { h.Client = strings.Repeat("x", 65) },
		"number":  func(h *Header) { h.Number = 1 },
	} {
		t.Run("impossible "+what, func(t *testing.T) {
			h := h
			bad(&h)
			seq, err := sequence(h, []byte("body"), home)
			require.NoError(t, err)
			err = open(wrap(seq))
			assert.True(t, errors.Is(err, ErrDamaged) || errors.Is(err, ErrWrongKind), "%v", err)
		})
	}
}

func TestSealRefuses(t *testing.T) {
	clinic, home := identity(t), identity(t)
	_, err := Seal(io.Discard, session("C-017"), nil, home)
	assert.ErrorContains(t, err, "no reader")
	_, err = Seal(io.Discard, session("C-017"), nil, home, Public{})
	assert.ErrorContains(t, err, "public keys")
	_, err = Seal(io.Discard, session(""), nil, home, clinic.Public())
	assert.Error(t, err)
	_, err = Seal(io.Discard, session("C-017"), make([]byte, MaxFile), home, clinic.Public())
	assert.ErrorIs(t, err, ErrTooLarge)
}

func TestIDsSortByTime(t *testing.T) {
	t0 := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	last := ""
	for i := range 50 {
		id, err := NewID(t0.Add(time.Duration(i) * time.Millisecond))
		require.NoError(t, err)
		assert.Greater(t, id, last)
		assert.True(t, isID(id))
		last = id
	}
}

func FuzzParse(f *testing.F) {
	clinic, home := identity(f), identity(f)
	h := session("C-017")
	h.Format, h.Version, h.CreatedMS, h.ID = formatName, Version, 1, strings.Repeat("a", 32)
	h.From, h.To = home.Public().Fingerprint(), clinic.Public().Fingerprint()
	seq, err := sequence(h, []byte("body"), home)
	require.NoError(f, err)
	f.Add(seq)
	f.Add(seq[:len(seq)-1])
	f.Add([]byte{0xa0})
	f.Fuzz(func(t *testing.T, b []byte) {
		file, sig, err := parse(b)
		if err != nil {
			return
		}
		// What can be taken apart has an honest header and a signature that
		// speaks of these bytes or fails.
		if file.check() != nil {
			t.Fatal("a header was let through that check refuses")
		}
		if sig.msg == nil || len(sig.want) == 0 {
			t.Fatal("no signature to check")
		}
	})
}

func FuzzOpen(f *testing.F) {
	clinic, home := identity(f), identity(f)
	f.Add(sealed(f, session("C-017"), []byte("body"), home, clinic))
	f.Fuzz(func(t *testing.T, b []byte) {
		if file, err := Open(bytes.NewReader(b), clinic, Expect{Sender: known(home)}); err == nil && string(file.Body) != "body" {
			t.Fatal("another body under home's signature")
		}
	})
}
