package exchange

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"time"

	"filippo.io/age"
	"github.com/fxamacker/cbor/v2"
	"github.com/klauspost/compress/zstd"
	"github.com/veraison/go-cose"
)

// Kind is what a sealed file holds.
type Kind string

// The kinds of file.
const (
	// KindInvitation is the first file from a clinic to a home.
	KindInvitation Kind = "invitation"
	// KindGreeting is the first file from a home to its clinic.
	KindGreeting Kind = "greeting"
	// KindProgram is a version of a client's program, clinic to home.
	KindProgram Kind = "program"
	// KindSession is a recorded session, home to clinic.
	KindSession Kind = "session"
	// KindReview is what a therapist noted on a session, clinic to clinic.
	KindReview Kind = "review"
	// KindRecord is what a clinic keeps of a client, such as a whole version of
	// the program, clinic to clinic.
	KindRecord Kind = "record"
)

var kinds = []Kind{KindInvitation, KindGreeting, KindProgram, KindSession, KindReview, KindRecord}

// Header says what a sealed file is. It is a CBOR map.
type Header struct {
	// Format is always "volar sealed file".
	Format  string `cbor:"format"`
	Version int    `cbor:"version"`
	Kind    Kind   `cbor:"kind"`
	// ID is the file's own: 32 hexadecimal digits, in order of time.
	ID string `cbor:"id"`
	// Mailbox is the client's address, 32 hexadecimal digits; Client the code
	// that the clinic uses.
	Mailbox string `cbor:"mailbox"`
	Client  string `cbor:"client"`
	// Number counts the versions of a program from 1; 0 in other kinds.
	Number uint64 `cbor:"number"`
	// CreatedMS is when it was sealed, milliseconds of Unix time.
	CreatedMS int64 `cbor:"created_ms"`
	// From and To are the fingerprints of the sender's signing key and the
	// reader's; To is empty in an invitation.
	From string `cbor:"from"`
	To   string `cbor:"to"`
}

const formatName = "volar sealed file"

// Created is when the file was sealed, by the sender's clock.
func (h Header) Created() time.Time { return time.UnixMilli(h.CreatedMS).UTC() }

// Name is where the file lies on a carrier.
func (h Header) Name() Name { return Name{h.Mailbox, h.Kind, h.ID} }

// check refuses a header that no one may have written.
func (h Header) check() error {
	known := false
	for _, k := range kinds {
		known = known || h.Kind == k
	}
	switch {
	case !known:
		return fmt.Errorf("%w: its kind is %.20q", ErrWrongKind, h.Kind)
	case !isID(h.ID) || !isID(h.Mailbox):
		return fmt.Errorf("%w: its name is not one", ErrDamaged)
	case h.Client == "" || len(h.Client) > 64:
		return fmt.Errorf("%w: the client's code has %d bytes", ErrDamaged, len(h.Client))
	case (h.Kind == KindProgram || h.Kind == KindInvitation) != (h.Number > 0):
		return fmt.Errorf("%w: a %s numbered %d", ErrDamaged, h.Kind, h.Number)
	}
	return nil
}

// NewID draws an ID: 48 bits of Unix time in milliseconds and 80 random bits,
// so that names sort by time.
func NewID(now time.Time) (string, error) {
	var b [16]byte
	if _, err := rand.Read(b[:]); err != nil {
		return "", fmt.Errorf("drawing an id: %w", err)
	}
	ms := uint64(max(now.UnixMilli(), 0))
	for i := range 6 {
		b[i] = byte(ms >> (40 - 8*i))
	}
	return hex.EncodeToString(b[:]), nil
}

// ContentID is the ID of a file that is to be written once however often it is
// sealed and by whichever machine: 48 bits of Unix time in milliseconds and 80
// bits of the SHA-256 of what the parts say.
func ContentID(at time.Time, parts ...string) string {
	h := sha256.New()
	for _, p := range parts {
		fmt.Fprintf(h, "%d:%s", len(p), p)
	}
	var b [16]byte
	ms := uint64(max(at.UnixMilli(), 0))
	for i := range 6 {
		b[i] = byte(ms >> (40 - 8*i))
	}
	copy(b[6:], h.Sum(nil))
	return hex.EncodeToString(b[:])
}

// NewMailbox draws an address that says nothing about whose it is.
func NewMailbox() (string, error) {
	var b [16]byte
	if _, err := rand.Read(b[:]); err != nil {
		return "", fmt.Errorf("drawing a mailbox: %w", err)
	}
	return hex.EncodeToString(b[:]), nil
}

func isID(s string) bool {
	if len(s) != 32 {
		return false
	}
	for i := range len(s) {
		if c := s[i]; (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return false
		}
	}
	return true
}

const (
	chunk    = 1 << 20
	maxItems = MaxFile/chunk + 3
	// maxWindow is the greatest Zstandard window that is opened; what is
	// sealed here needs no more.
	maxWindow = 8 << 20
)

// encoding writes CBOR deterministically (RFC 8949, 4.2.1), decoding takes
// nothing that this package would not write, and lenient reads a header of any
// version. Their options are constants, so that no error can come of them.
var (
	encoding, _ = cbor.CoreDetEncOptions().EncMode()
	decoding, _ = cbor.DecOptions{
		DupMapKey: cbor.DupMapKeyEnforcedAPF, MaxNestedLevels: 8, MaxArrayElements: 1024, MaxMapPairs: 64,
		IndefLength: cbor.IndefLengthForbidden, ExtraReturnErrors: cbor.ExtraDecErrorUnknownField,
	}.DecMode()
	lenient, _ = cbor.DecOptions{
		MaxNestedLevels: 8, MaxArrayElements: 1024, MaxMapPairs: 64, IndefLength: cbor.IndefLengthForbidden,
	}.DecMode()
)

// tally is the signed payload.
type tally struct {
	Items  uint64 `cbor:"items"`
	SHA256 []byte `cbor:"sha256"`
}

// Seal signs a body and seals it for the readers. It fills in Format, Version,
// From, and ID and CreatedMS where they are empty, and returns the header as
// written. To names the first reader; the others, such as the sender itself,
// read along.
func Seal(w io.Writer, h Header, body []byte, from *Identity, readers ...Public) (Header, error) {
	if len(readers) == 0 {
		return h, fmt.Errorf("sealing a %s: no reader is named", h.Kind)
	}
	to := make([]age.Recipient, len(readers))
	for i, p := range readers {
		if err := p.Check(); err != nil {
			return h, fmt.Errorf("sealing a %s: %w", h.Kind, err)
		}
		r, err := age.ParseX25519Recipient(p.Recipient)
		if err != nil {
			return h, fmt.Errorf("sealing a %s: %w", h.Kind, err)
		}
		to[i] = r
	}
	h.To = readers[0].Fingerprint()
	return seal(w, h, body, from, to...)
}

// sealWithCode seals a file that is opened with a spoken code.
func sealWithCode(w io.Writer, h Header, body []byte, from *Identity, c Code) (Header, error) {
	to, err := c.recipient()
	if err != nil {
		return h, fmt.Errorf("sealing an %s: %w", h.Kind, err)
	}
	h.To = ""
	return seal(w, h, body, from, to)
}

func seal(w io.Writer, h Header, body []byte, from *Identity, to ...age.Recipient) (Header, error) {
	h.Format, h.Version, h.From = formatName, Version, from.Public().Fingerprint()
	if h.CreatedMS == 0 {
		h.CreatedMS = time.Now().UnixMilli()
	}
	if h.ID == "" {
		var err error
		if h.ID, err = NewID(h.Created()); err != nil {
			return h, err
		}
	}
	if err := h.check(); err != nil {
		return h, fmt.Errorf("sealing a %s: %w", h.Kind, err)
	}
	// Header, signature and framing take well under one chunk.
	if len(body) > MaxFile-chunk {
		return h, fmt.Errorf("sealing a %s of %d bytes: %w", h.Kind, len(body), ErrTooLarge)
	}
	seq, err := sequence(h, body, from)
	if err != nil {
		return h, fmt.Errorf("sealing a %s: %w", h.Kind, err)
	}
	if err := encrypt(w, seq, to...); err != nil {
		return h, fmt.Errorf("sealing a %s: %w", h.Kind, err)
	}
	return h, nil
}

// sequence lays out header, chunks and signature.
func sequence(h Header, body []byte, from *Identity) ([]byte, error) {
	var seq bytes.Buffer
	items := uint64(0)
	add := func(v any) error {
		b, err := encoding.Marshal(v)
		seq.Write(b)
		items++
		return err
	}
	if err := add(h); err != nil {
		return nil, err
	}
	for rest := body; len(rest) > 0; {
		n := min(len(rest), chunk)
		if err := add(rest[:n]); err != nil {
			return nil, err
		}
		rest = rest[n:]
	}
	sum := sha256.Sum256(seq.Bytes())
	payload, err := encoding.Marshal(tally{items, sum[:]})
	if err != nil {
		return nil, err
	}
	signer, err := cose.NewSigner(cose.AlgorithmEdDSA, from.sign)
	if err != nil {
		return nil, err
	}
	msg := cose.NewSign1Message()
	msg.Payload = payload
	msg.Headers.Protected.SetAlgorithm(cose.AlgorithmEdDSA)
	if err := msg.Sign(rand.Reader, nil, signer); err != nil {
		return nil, err
	}
	signature, err := msg.MarshalCBOR()
	if err != nil {
		return nil, err
	}
	seq.Write(signature)
	return seq.Bytes(), nil
}

// encrypt compresses and encrypts a sequence.
func encrypt(w io.Writer, seq []byte, to ...age.Recipient) error {
	outer, err := age.Encrypt(w, to...)
	if err != nil {
		return err
	}
	z, err := zstd.NewWriter(outer, zstd.WithWindowSize(maxWindow), zstd.WithEncoderConcurrency(1))
	if err != nil {
		return err
	}
	if _, err := z.Write(seq); err != nil {
		return err
	}
	if err := z.Close(); err != nil {
		return err
	}
	return outer.Close()
}
