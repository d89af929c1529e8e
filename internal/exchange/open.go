package exchange

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"

	"filippo.io/age"
	"github.com/fxamacker/cbor/v2"
	"github.com/klauspost/compress/zstd"
	"github.com/veraison/go-cose"
)

// Expect says which file is taken. The zero Expect takes any kind from any
// known sender.
type Expect struct {
	// Kinds that are taken; empty takes all.
	Kinds []Kind
	// Mailbox and Client that the file must be for; empty takes any.
	Mailbox, Client string
	// NewerThan refuses a program whose Number is not greater.
	NewerThan uint64
	// Name is where the file lay on the carrier, and must be its own; the
	// zero Name takes any.
	Name Name
	// Sender returns the keys of the one with the given fingerprint and says
	// whether they are known. Nil knows nobody.
	Sender func(fingerprint string) (Public, bool)
}

// File is a sealed file after it was opened and found in order.
type File struct {
	Header
	Body []byte
}

// Open opens a file sealed for the identity, checks who signed it and that it
// is what was expected, and only then hands the body out.
func Open(r io.Reader, with *Identity, e Expect) (*File, error) {
	f, sig, err := unseal(r, with.open)
	if err != nil {
		return nil, err
	}
	if f.To != with.Public().Fingerprint() && f.From != with.Public().Fingerprint() {
		// Sealed for us, but by the signed header written to someone else.
		return nil, fmt.Errorf("%w: it was written to another reader", ErrNotForUs)
	}
	if err := e.check(f); err != nil {
		return nil, err
	}
	if e.Sender == nil {
		return nil, fmt.Errorf("%w: key %s", ErrForeign, f.From)
	}
	from, ok := e.Sender(f.From)
	if !ok || from.Fingerprint() != f.From {
		return nil, fmt.Errorf("%w: key %s", ErrForeign, f.From)
	}
	if err := sig.verify(from.Signer); err != nil {
		return nil, err
	}
	return f, nil
}

// check compares a header with what is wanted.
func (e Expect) check(f *File) error {
	if len(e.Kinds) > 0 {
		ok := false
		for _, k := range e.Kinds {
			ok = ok || k == f.Kind
		}
		if !ok {
			return fmt.Errorf("%w: it is a %s", ErrWrongKind, f.Kind)
		}
	}
	switch {
	case e.Mailbox != "" && f.Mailbox != e.Mailbox:
		return ErrWrongClient
	case e.Client != "" && f.Client != e.Client:
		return fmt.Errorf("%w: %q", ErrWrongClient, f.Client)
	case e.Name != Name{} && e.Name != f.Name():
		return fmt.Errorf("%w: it lay under another file's name", ErrDamaged)
	case f.Number > 0 && f.Number <= e.NewerThan:
		return fmt.Errorf("%w: version %d, here is %d", ErrStale, f.Number, e.NewerThan)
	}
	return nil
}

// signed is the last item of a file, and what it speaks of.
type signed struct {
	msg  *cose.Sign1Message
	want []byte
}

func (s signed) verify(key ed25519.PublicKey) error {
	v, err := cose.NewVerifier(cose.AlgorithmEdDSA, key)
	if err != nil {
		return fmt.Errorf("%w: %v", ErrForeign, err)
	}
	if !bytes.Equal(s.msg.Payload, s.want) || s.msg.Verify(nil, v) != nil {
		return ErrForged
	}
	return nil
}

// unseal decrypts a file and takes it apart; nothing is known yet of who
// signed it.
func unseal(r io.Reader, ids ...age.Identity) (*File, signed, error) {
	sealed := &limited{r: r, left: MaxFile}
	dec, err := age.Decrypt(sealed, ids...)
	if err != nil {
		return nil, signed{}, sealed.or(ageError(err))
	}
	z, err := zstd.NewReader(dec, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxWindow(maxWindow), zstd.WithDecoderLowmem(true))
	if err != nil {
		return nil, signed{}, fmt.Errorf("opening: %w", err)
	}
	defer z.Close()
	opened := &limited{r: z, left: MaxFile}
	seq, err := io.ReadAll(opened)
	if err != nil {
		return nil, signed{}, opened.or(sealed.or(fmt.Errorf("%w: %v", ErrDamaged, err)))
	}
	// Zstandard ends at its own last frame; age must end there too.
	if n, err := io.Copy(io.Discard, dec); n > 0 || err != nil {
		return nil, signed{}, sealed.or(fmt.Errorf("%w: it goes on after its end", ErrDamaged))
	}
	return parse(seq)
}

// parse takes a sequence apart.
func parse(seq []byte) (*File, signed, error) {
	bad := func(format string, a ...any) (*File, signed, error) {
		return nil, signed{}, fmt.Errorf("%w: %s", ErrDamaged, fmt.Sprintf(format, a...))
	}
	var version struct {
		Format  string `cbor:"format"`
		Version int    `cbor:"version"`
	}
	// Of the header of a later version only format and version need to be
	// readable.
	first, rest, err := next(seq)
	if err != nil {
		return bad("header: %v", err)
	}
	if err := lenient.Unmarshal(first, &version); err != nil || version.Format != formatName {
		return bad("no header")
	}
	if version.Version > Version {
		return nil, signed{}, fmt.Errorf("%w: it has version %d, this reads up to %d", ErrNewer, version.Version, Version)
	}
	f := new(File)
	if err := decoding.Unmarshal(first, &f.Header); err != nil || f.Version != Version {
		return bad("header: %v", err)
	}
	if err := f.Header.check(); err != nil {
		return nil, signed{}, err
	}
	items := uint64(1)
	for {
		var item cbor.RawMessage
		before := len(seq) - len(rest)
		if item, rest, err = next(rest); err != nil {
			return bad("item %d: %v", items+1, err)
		}
		switch item[0] >> 5 { // the CBOR major type
		case 2:
			var b []byte
			if err := decoding.Unmarshal(item, &b); err != nil || len(b) == 0 || len(b) > chunk {
				return bad("item %d is no chunk", items+1)
			}
			f.Body = append(f.Body, b...)
			if items++; items > maxItems {
				return nil, signed{}, ErrTooLarge
			}
		case 6:
			if len(rest) > 0 {
				return bad("%d bytes after the signature", len(rest))
			}
			msg := cose.NewSign1Message()
			if err := msg.UnmarshalCBOR(item); err != nil {
				return bad("signature: %v", err)
			}
			sum := sha256.Sum256(seq[:before])
			want, err := encoding.Marshal(tally{items, sum[:]})
			if err != nil {
				return bad("signature: %v", err)
			}
			return f, signed{msg, want}, nil
		default:
			return bad("item %d is neither chunk nor signature", items+1)
		}
	}
}

// next splits the first item off a sequence.
func next(seq []byte) (item cbor.RawMessage, rest []byte, err error) {
	if len(seq) == 0 {
		return nil, nil, io.ErrUnexpectedEOF
	}
	rest, err = lenient.UnmarshalFirst(seq, &item)
	return item, rest, err
}

// ageError puts age's errors into this package's words.
func ageError(err error) error {
	var none *age.NoIdentityMatchError
	if errors.As(err, &none) {
		return ErrNotForUs
	}
	return fmt.Errorf("%w: %v", ErrDamaged, err)
}

// limited reads up to a number of bytes and fails beyond, so that a file
// cannot be taken for one that ends there.
type limited struct {
	r    io.Reader
	left int64
	over bool
}

func (l *limited) Read(p []byte) (int, error) {
	if l.left <= 0 {
		// One more byte tells a file of exactly the limit from a longer one.
		var one [1]byte
		n, err := l.r.Read(one[:])
		if n > 0 {
			l.over = true
			return 0, ErrTooLarge
		}
		return 0, err
	}
	if int64(len(p)) > l.left {
		p = p[:l.left]
	}
	n, err := l.r.Read(p)
	l.left -= int64(n)
	return n, err
}

// or returns ErrTooLarge where the limit was what went wrong.
func (l *limited) or(err error) error {
	if l.over {
		return ErrTooLarge
	}
	return err
}
