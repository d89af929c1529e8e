package exchange

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"filippo.io/age"
	"github.com/klauspost/compress/zstd"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "make the vector files again, with new keys")

// errorNames are the words that vectors.json has for the errors.
var errorNames = map[string]error{
	"": nil, "damaged": ErrDamaged, "not for us": ErrNotForUs, "foreign": ErrForeign, "forged": ErrForged, "wrong kind": ErrWrongKind,
	"wrong client": ErrWrongClient, "stale": ErrStale, "newer": ErrNewer, "too large": ErrTooLarge,
}

// vectors is the list of kept files. They were sealed once and must stay
// readable, or refused for the same reason, by every later version.
type vectors struct {
	// Reader is the identity that opens, Sender the keys that it knows; both
	// are made for these files and for nothing else.
	Reader []byte            `json:"reader"`
	Sender Public            `json:"sender"`
	Code   Code              `json:"code"`
	Files  map[string]string `json:"files"`
}

// Each file of testdata/vectors has one fault, and the reader finds that one.
func TestVectors(t *testing.T) {
	dir := filepath.Join("testdata", "vectors")
	if *update {
		writeVectors(t, dir)
	}
	text, err := os.ReadFile(filepath.Join(dir, "vectors.json"))
	require.NoError(t, err)
	var v vectors
	require.NoError(t, json.Unmarshal(text, &v))
	reader := new(Identity)
	require.NoError(t, reader.UnmarshalBinary(v.Reader))
	e := Expect{Kinds: []Kind{KindSession, KindProgram}, Mailbox: mailbox, Client: "C-017", NewerThan: 3,
		Sender: func(f string) (Public, bool) { return v.Sender, f == v.Sender.Fingerprint() }}
	for file, want := range v.Files {
		t.Run(file, func(t *testing.T) {
			expect, ok := errorNames[want]
			require.True(t, ok, want)
			b, err := os.ReadFile(filepath.Join(dir, file+suffix))
			require.NoError(t, err)
			var body []byte
			if strings.HasPrefix(file, "invitation") {
				var inv Invitation
				_, inv, err = Accept(bytes.NewReader(b), v.Code)
				body = inv.Program
			} else {
				var f *File
				if f, err = Open(bytes.NewReader(b), reader, e); f != nil {
					body = f.Body
				}
			}
			if expect == nil {
				require.NoError(t, err)
				assert.Equal(t, "version 1", string(body))
				return
			}
			assert.True(t, errors.Is(err, expect), "%v, want %v", err, expect)
			assert.Empty(t, body)
		})
	}
	kept, err := filepath.Glob(filepath.Join(dir, "*"+suffix))
	require.NoError(t, err)
	assert.Len(t, v.Files, len(kept))
}

func writeVectors(t *testing.T, dir string) {
	require.NoError(t, os.RemoveAll(dir))
	require.NoError(t, os.MkdirAll(dir, 0o755))
	reader, sender, other := identity(t), identity(t), identity(t)
	code, err := NewCode()
	require.NoError(t, err)
	key, err := reader.MarshalBinary()
	require.NoError(t, err)
	v := vectors{Reader: key, Sender: sender.Public(), Code: code, Files: map[string]string{}}
	put := func(name, want string, b []byte) {
		v.Files[name] = want
		require.NoError(t, os.WriteFile(filepath.Join(dir, name+suffix), b, 0o644))
	}
	body := []byte("version 1")
	h := session("C-017")
	good := sealed(t, h, body, sender, reader)
	put("session", "", good)
	put("program", "", sealed(t, program(4), body, sender, reader))
	put("program-stale", "stale", sealed(t, program(3), body, sender, reader))
	put("cut-in-key", "damaged", good[:60])
	put("cut-in-body", "damaged", good[:len(good)-20])
	put("cut-last-byte", "damaged", good[:len(good)-1])
	flip := func(at int) []byte {
		b := bytes.Clone(good)
		b[at] ^= 1
		return b
	}
	put("flipped-name", "damaged", flip(3))
	put("flipped-body", "damaged", flip(len(good)-30))
	put("appended", "damaged", append(bytes.Clone(good), 0))
	put("twice", "damaged", append(bytes.Clone(good), good...))
	put("other-reader", "not for us", sealed(t, h, body, sender, other))
	put("other-sender", "foreign", sealed(t, h, body, other, reader))
	put("other-client", "wrong client", sealed(t, session("C-018"), body, sender, reader))
	box := h
	box.Mailbox = strings.Repeat("f", 32)
	put("other-mailbox", "wrong client", sealed(t, box, body, sender, reader))
	put("other-kind", "wrong kind", sealed(t, Header{Kind: KindReview, Mailbox: mailbox, Client: "C-017"}, body, sender, reader))

	noise := make([]byte, 200<<10)
	for i, x := 0, uint32(1); i < len(noise); i++ {
		x = x*1664525 + 1013904223
		noise[i] = byte(x >> 24)
	}
	long := sealed(t, h, noise, sender, reader)
	const size = 64<<10 + 16
	from := len(long) % size
	swapped := bytes.Clone(long)
	copy(swapped[from:from+size], long[from+size:])
	copy(swapped[from+size:from+2*size], long[from:])
	put("swapped-chunks", "damaged", swapped)
	put("cut-between-chunks", "damaged", long[:len(long)-size])

	h.Format, h.Version, h.CreatedMS, h.ID = formatName, Version, 1, strings.Repeat("a", 32)
	h.From, h.To = sender.Public().Fingerprint(), reader.Public().Fingerprint()
	wrap := func(seq []byte) []byte {
		var b bytes.Buffer
		require.NoError(t, encrypt(&b, seq, reader.open.Recipient()))
		return b.Bytes()
	}
	seq, err := sequence(h, body, sender)
	require.NoError(t, err)
	liar, err := sequence(h, body, &Identity{open: other.open, sign: other.sign})
	require.NoError(t, err)
	put("forged", "forged", wrap(liar))
	put("body-exchanged", "forged", wrap(bytes.Replace(seq, body, []byte("version 2"), 1)))
	put("after-signature", "damaged", wrap(append(bytes.Clone(seq), 0x41, 0)))
	first, _, err := next(seq)
	require.NoError(t, err)
	put("no-signature", "damaged", wrap(first))
	put("deep-nesting", "damaged", wrap(append(bytes.Repeat([]byte{0x81}, 1<<20), 0)))
	put("great-length", "damaged", wrap([]byte{0x5b, 0x7f, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff}))
	path := h
	path.ID = "../../../../../../../etc/passwd0"
	seq, err = sequence(path, body, sender)
	require.NoError(t, err)
	put("path-trick", "damaged", wrap(seq))
	to := h
	to.To = other.Public().Fingerprint()
	seq, err = sequence(to, body, sender)
	require.NoError(t, err)
	put("passed-on", "not for us", wrap(seq))
	newer, err := encoding.Marshal(map[string]any{"format": formatName, "version": 2, "unheard": 1})
	require.NoError(t, err)
	put("newer", "newer", wrap(newer))
	var plain bytes.Buffer
	w, err := age.Encrypt(&plain, reader.open.Recipient())
	require.NoError(t, err)
	_, err = w.Write(seq)
	require.NoError(t, err)
	require.NoError(t, w.Close())
	put("not-compressed", "damaged", plain.Bytes())
	var bomb bytes.Buffer
	w, err = age.Encrypt(&bomb, reader.open.Recipient())
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
	put("bomb", "too large", bomb.Bytes())

	var inv bytes.Buffer
	_, _, err = Invite(&inv, Header{Mailbox: mailbox, Client: "C-017", Number: 1}, Invitation{Program: body}, sender, code)
	require.NoError(t, err)
	put("invitation", "", inv.Bytes())
	put("invitation-cut", "damaged", inv.Bytes()[:inv.Len()-5])
	another := code
	for another == code {
		another, err = NewCode()
		require.NoError(t, err)
	}
	inv.Reset()
	_, _, err = Invite(&inv, Header{Mailbox: mailbox, Client: "C-017", Number: 1}, Invitation{Program: body}, sender, another)
	require.NoError(t, err)
	put("invitation-other-code", "not for us", inv.Bytes())
	text, err := json.MarshalIndent(v, "", "\t")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "vectors.json"), append(text, '\n'), 0o644))
}
