package vault

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"

	"github.com/zalando/go-keyring"
)

// Secret is what opens a store. The zero value is Device.
type Secret struct{ passphrase string }

// Passphrase is a secret that a person types.
func Passphrase(s string) Secret { return Secret{passphrase: s} }

// Device is a secret that this computer keeps for this user: in the system's
// keyring, or, where there is none, in a file device-….key beside the store.
// That file keeps others who use this computer out by its mode alone, and
// anyone who takes a copy of the whole folder can read it: Vault.Warning says
// so.
func Device() Secret { return Secret{} }

// fileWarning is shown to the person whose data it is.
const fileWarning = "this computer has no keyring for passwords, so the key lies in a file beside the data: who copies the whole folder can read it. Encrypt the disk, or set a passphrase."

// keyrings is the system's store of passwords.
type keyrings interface {
	Get(service, user string) (string, error)
	Set(service, user, secret string) error
}

type systemKeyring struct{}

func (systemKeyring) Get(service, user string) (string, error) { return keyring.Get(service, user) }
func (systemKeyring) Set(service, user, secret string) error {
	return keyring.Set(service, user, secret)
}

const keyringService = "volar"

// fresh chooses the secret for a new key file and notes there where it is
// kept. Nothing that an older key file needs is touched.
func (o *Options) fresh(dir string, k *keyFile, s Secret) (secret []byte, err error) {
	if s.passphrase != "" {
		k.Source, k.Secret = fromPassphrase, ""
		return []byte(s.passphrase), nil
	}
	name := make([]byte, 8)
	rand.Read(name)
	k.Secret = hex.EncodeToString(name)
	secret = make([]byte, keySize)
	rand.Read(secret)
	text := hex.EncodeToString(secret)
	if err := o.keyring.Set(keyringService, k.Secret, text); err == nil {
		// A keyring that takes a secret and does not give it back would lock
		// the data away for ever.
		if back, err := o.keyring.Get(keyringService, k.Secret); err == nil && back == text {
			k.Source = fromKeyring
			return secret, nil
		}
	}
	k.Source = fromFile
	return secret, writeWhole(o.files, filepath.Join(dir, deviceName(k.Secret)), []byte(text+"\n"))
}

// known finds the secret that a key file asks for.
func (o *Options) known(dir string, k *keyFile) ([]byte, error) {
	if k.Source == fromPassphrase {
		if o.Secret.passphrase == "" {
			return nil, fmt.Errorf("%s needs its passphrase: %w", dir, ErrWrongKey)
		}
		return []byte(o.Secret.passphrase), nil
	}
	var text string
	if k.Source == fromKeyring {
		got, err := o.keyring.Get(keyringService, k.Secret)
		if errors.Is(err, keyring.ErrNotFound) {
			return nil, fmt.Errorf("the system's keyring has no key for the store %s: %w", dir, ErrWrongKey)
		}
		if err != nil {
			return nil, fmt.Errorf("the key of %s lies in the system's keyring, which cannot be read now; log in to the desktop and try again: %w", dir, err)
		}
		text = got
	} else {
		data, err := o.files.ReadFile(filepath.Join(dir, deviceName(k.Secret)))
		if errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("%s is missing: %w", filepath.Join(dir, deviceName(k.Secret)), ErrWrongKey)
		}
		if err != nil {
			return nil, err
		}
		text = string(data)
		if n := len(text); n > 0 && text[n-1] == '\n' {
			text = text[:n-1]
		}
	}
	secret, err := hex.DecodeString(text)
	if err != nil || len(secret) != keySize {
		return nil, fmt.Errorf("the key that this device keeps for %s is not whole: %w", dir, ErrWrongKey)
	}
	return secret, nil
}
