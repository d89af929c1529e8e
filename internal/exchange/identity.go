package exchange

import (
	"bytes"
	"crypto/ed25519"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"

	"filippo.io/age"
)

// Identity is the secret half of one side: the key that opens what is sealed
// for it, and the key that it signs with.
type Identity struct {
	open *age.X25519Identity
	sign ed25519.PrivateKey
}

// NewIdentity makes fresh keys.
func NewIdentity() (*Identity, error) {
	a, err := age.GenerateX25519Identity()
	if err != nil {
		return nil, fmt.Errorf("making a key: %w", err)
	}
	_, s, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("making a signing key: %w", err)
	}
	return &Identity{a, s}, nil
}

// Public is the half that the other side may know.
func (i *Identity) Public() Public {
	return Public{Recipient: i.open.Recipient().String(), Signer: i.sign.Public().(ed25519.PublicKey)}
}

// Mailbox is the address under which a clinic leaves what its own machines share
// of a client. All of them come to the same one, and nobody without the keys can
// tell whose it is.
func (i *Identity) Mailbox(client string) string {
	m := hmac.New(sha256.New, i.sign.Seed())
	m.Write([]byte("volar clinic mailbox " + client))
	return hex.EncodeToString(m.Sum(nil)[:16])
}

// storedIdentity is an Identity at rest: the age identity in its own text form
// and the Ed25519 seed (RFC 8032).
type storedIdentity struct {
	Version int    `cbor:"version"`
	Age     string `cbor:"age"`
	Ed25519 []byte `cbor:"ed25519"`
}

// MarshalBinary encodes the identity as CBOR, in the clear: it belongs in an
// encrypted store.
func (i *Identity) MarshalBinary() ([]byte, error) {
	return encoding.Marshal(storedIdentity{1, i.open.String(), i.sign.Seed()})
}

// UnmarshalBinary reads what MarshalBinary wrote.
func (i *Identity) UnmarshalBinary(b []byte) error {
	var s storedIdentity
	if err := decoding.Unmarshal(b, &s); err != nil {
		return fmt.Errorf("reading keys: %w", err)
	}
	if s.Version != 1 {
		return fmt.Errorf("keys of version %d: %w", s.Version, ErrNewer)
	}
	a, err := age.ParseX25519Identity(s.Age)
	if err != nil {
		return fmt.Errorf("reading keys: %w", err)
	}
	if len(s.Ed25519) != ed25519.SeedSize {
		return fmt.Errorf("reading keys: a signing key of %d bytes, not %d", len(s.Ed25519), ed25519.SeedSize)
	}
	i.open, i.sign = a, ed25519.NewKeyFromSeed(s.Ed25519)
	return nil
}

// maxKeyFile bounds the length of a file of keys.
const maxKeyFile = 64 << 10

// Export writes the identity sealed with a passphrase, to bring a clinic's
// second machine in.
func (i *Identity) Export(w io.Writer, passphrase string) error {
	to, err := age.NewScryptRecipient(passphrase)
	if err != nil {
		return fmt.Errorf("sealing keys: %w", err)
	}
	b, err := i.MarshalBinary()
	if err != nil {
		return fmt.Errorf("sealing keys: %w", err)
	}
	enc, err := age.Encrypt(w, to)
	if err != nil {
		return fmt.Errorf("sealing keys: %w", err)
	}
	if _, err := enc.Write(b); err != nil {
		return fmt.Errorf("sealing keys: %w", err)
	}
	return enc.Close()
}

// ImportIdentity reads what Export wrote. A wrong passphrase is ErrNotForUs.
func ImportIdentity(r io.Reader, passphrase string) (*Identity, error) {
	with, err := age.NewScryptIdentity(passphrase)
	if err != nil {
		return nil, fmt.Errorf("opening keys: %w", err)
	}
	dec, err := age.Decrypt(io.LimitReader(r, maxKeyFile), with)
	if err != nil {
		return nil, fmt.Errorf("opening keys: %w", ageError(err))
	}
	b, err := io.ReadAll(dec)
	if err != nil {
		return nil, fmt.Errorf("opening keys: %w", ErrDamaged)
	}
	i := new(Identity)
	if err := i.UnmarshalBinary(b); err != nil {
		return nil, err
	}
	return i, nil
}

// Public is what the other side knows of an Identity. It is a CBOR map in
// files.
type Public struct {
	// Recipient is the age X25519 recipient, "age1…".
	Recipient string `cbor:"recipient"`
	// Signer is the Ed25519 public key, 32 bytes.
	Signer ed25519.PublicKey `cbor:"signer"`
}

// Check says what is wrong with keys that came from elsewhere.
func (p Public) Check() error {
	if _, err := age.ParseX25519Recipient(p.Recipient); err != nil {
		return fmt.Errorf("public keys: %w", err)
	}
	if len(p.Signer) != ed25519.PublicKeySize {
		return fmt.Errorf("public keys: a signing key of %d bytes, not %d", len(p.Signer), ed25519.PublicKeySize)
	}
	return nil
}

// Equal reports whether both are the same keys.
func (p Public) Equal(q Public) bool {
	return p.Recipient == q.Recipient && bytes.Equal(p.Signer, q.Signer)
}

// Fingerprint names the signing key: the first 16 bytes of its SHA-256 in
// hexadecimal.
func (p Public) Fingerprint() string {
	h := sha256.Sum256(p.Signer)
	return hex.EncodeToString(h[:16])
}
