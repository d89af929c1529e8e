package exchange

import (
	"bytes"
	"crypto/rand"
	"crypto/subtle"
	"fmt"
	"io"

	"filippo.io/age"
)

// Invitation is what a clinic tells a home in its first file.
type Invitation struct {
	// Clinic are the keys that the home pins.
	Clinic Public `cbor:"clinic"`
	// Secret comes back in the Greeting; 32 random bytes.
	Secret []byte `cbor:"secret"`
	// Program is the first program file, as the clinic wrote it.
	Program []byte `cbor:"program"`
	// Carrier is how the home reaches its mailbox, as Address writes it; empty
	// where files are carried by hand.
	Carrier string `cbor:"carrier"`
	// Key and KeySecret let the home into the bucket; empty where there is none,
	// or where somebody sets the computer up who has them.
	Key       string `cbor:"key,omitempty"`
	KeySecret string `cbor:"key_secret,omitempty"`
}

// Greeting is a home's first answer.
type Greeting struct {
	Home   Public `cbor:"home"`
	Secret []byte `cbor:"secret"`
}

// Invite seals an invitation with a code that is then read out to the client.
// It fills in the clinic's keys and a fresh secret, which the clinic keeps
// until the greeting comes.
func Invite(w io.Writer, h Header, inv Invitation, from *Identity, c Code) (Header, Invitation, error) {
	inv.Clinic = from.Public()
	inv.Secret = make([]byte, 32)
	if _, err := rand.Read(inv.Secret); err != nil {
		return h, inv, fmt.Errorf("drawing a secret: %w", err)
	}
	h.Kind = KindInvitation
	body, err := encoding.Marshal(inv)
	if err != nil {
		return h, inv, fmt.Errorf("sealing an invitation: %w", err)
	}
	h, err = sealWithCode(w, h, body, from, c)
	return h, inv, err
}

// NeedsCode reports whether a sealed file is opened with a code, as an
// invitation is: its first recipient is a passphrase
// (age-encryption.org/v1, "scrypt recipient stanza").
func NeedsCode(file []byte) bool {
	return bytes.HasPrefix(file, []byte("age-encryption.org/v1\n-> scrypt "))
}

// Accept opens an invitation with the code. Whoever knows the code is the
// clinic: the keys are those that the file itself brings.
func Accept(r io.Reader, c Code) (Header, Invitation, error) {
	var inv Invitation
	with, err := age.NewScryptIdentity(string(c))
	if err != nil {
		return Header{}, inv, fmt.Errorf("opening an invitation: %w", err)
	}
	// A hostile file must not keep the computer busy for hours.
	with.SetMaxWorkFactor(codeWork + 2)
	f, sig, err := unseal(r, with)
	if err != nil {
		return Header{}, inv, err
	}
	if f.Kind != KindInvitation {
		return f.Header, inv, fmt.Errorf("%w: it is a %s", ErrWrongKind, f.Kind)
	}
	if err := decoding.Unmarshal(f.Body, &inv); err != nil {
		return f.Header, inv, fmt.Errorf("%w: invitation: %v", ErrDamaged, err)
	}
	if err := inv.Clinic.Check(); err != nil {
		return f.Header, inv, fmt.Errorf("%w: %v", ErrDamaged, err)
	}
	if inv.Clinic.Fingerprint() != f.From || len(inv.Secret) != 32 {
		return f.Header, inv, ErrForged
	}
	if err := sig.verify(inv.Clinic.Signer); err != nil {
		return f.Header, inv, err
	}
	return f.Header, inv, nil
}

// Greet seals a home's answer to an invitation.
func Greet(w io.Writer, h Header, inv Invitation, from *Identity) (Header, error) {
	body, err := encoding.Marshal(Greeting{from.Public(), inv.Secret})
	if err != nil {
		return h, fmt.Errorf("sealing a greeting: %w", err)
	}
	h.Kind, h.Number = KindGreeting, 0
	return Seal(w, h, body, from, inv.Clinic)
}

// Meet opens a greeting and returns the home's keys, which are those that the
// file itself brings, if it gives back the secret of this mailbox's invitation.
func Meet(r io.Reader, with *Identity, secret func(mailbox string) ([]byte, bool)) (Header, Public, error) {
	f, sig, err := unseal(r, with.open)
	if err != nil {
		return Header{}, Public{}, err
	}
	if f.Kind != KindGreeting {
		return f.Header, Public{}, fmt.Errorf("%w: it is a %s", ErrWrongKind, f.Kind)
	}
	var g Greeting
	if err := decoding.Unmarshal(f.Body, &g); err != nil {
		return f.Header, Public{}, fmt.Errorf("%w: greeting: %v", ErrDamaged, err)
	}
	if err := g.Home.Check(); err != nil {
		return f.Header, Public{}, fmt.Errorf("%w: %v", ErrDamaged, err)
	}
	want, ok := secret(f.Mailbox)
	if !ok || subtle.ConstantTimeCompare(want, g.Secret) != 1 {
		return f.Header, Public{}, fmt.Errorf("%w: it does not answer an invitation from here", ErrForeign)
	}
	if g.Home.Fingerprint() != f.From || f.To != with.Public().Fingerprint() {
		return f.Header, Public{}, ErrForged
	}
	if err := sig.verify(g.Home.Signer); err != nil {
		return f.Header, Public{}, err
	}
	return f.Header, g.Home, nil
}
