package vault

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"regexp"

	"golang.org/x/crypto/argon2"
	"golang.org/x/crypto/chacha20poly1305"
)

// Names of files in a store.
const (
	keyName  = "vault.key"
	copyName = "vault.key.copy"
	lockName = "vault.lock"
	// newName marks a store that is being made.
	newName = "vault.new"
)

// Where the key that unwraps the data key comes from.
const (
	fromPassphrase = "passphrase"
	fromKeyring    = "keyring"
	fromFile       = "file"
)

const (
	keyFormat  = "volar-vault"
	keyVersion = 1
	keySize    = chacha20poly1305.KeySize
)

// KDF are the costs of Argon2id; the zero value is the second recommended
// option of RFC 9106, section 4: 3 passes over 64 MiB with 4 lanes.
type KDF struct {
	Time      uint32 `json:"time"`
	MemoryKiB uint32 `json:"memory_kib"`
	Threads   uint8  `json:"threads"`
}

func (k KDF) withDefaults() KDF {
	if k == (KDF{}) {
		return KDF{Time: 3, MemoryKiB: 64 << 10, Threads: 4}
	}
	return k
}

// sane keeps a damaged or hostile file from asking for all memory there is.
func (k KDF) sane() bool {
	return k.Time >= 1 && k.Time <= 64 && k.MemoryKiB >= 8 && k.MemoryKiB <= 1<<20 && k.Threads >= 1 && k.Threads <= 64
}

// keyFile is vault.key. Byte strings are base64 in JSON.
type keyFile struct {
	Format  string `json:"format"`
	Version int    `json:"version"`
	// Store names the store for all time.
	Store string `json:"store"`
	// Secret names the secret that this device keeps, in the keyring or in a
	// file; empty with a passphrase. Every change of the key makes a new one,
	// and the old one stays for the backups that need it.
	Secret string `json:"secret,omitempty"`
	// Database is the file in use and Generation its number.
	Database   string `json:"database"`
	Generation int    `json:"generation"`
	Source     string `json:"source"`
	KDF        KDF    `json:"argon2id"`
	Salt       []byte `json:"salt"`
	// Wrapped is a nonce and the sealed data key; all fields above are
	// authenticated with it.
	Wrapped []byte `json:"wrapped_key"`
	// Check is the SHA-256 of the file with Check empty.
	Check []byte `json:"check"`
}

// deviceName is the file of a secret where there is no keyring.
func deviceName(secret string) string { return "device-" + secret + ".key" }

// secretName is how a secret may be called.
var secretName = regexp.MustCompile(`^[0-9a-f]{16}$`)

// databaseName is how a database file of a store may be called; anything else
// in a key file could lead out of the folder.
var databaseName = regexp.MustCompile(`^store-[1-9][0-9]{0,8}\.db$`)

func databaseFile(generation int) string { return fmt.Sprintf("store-%d.db", generation) }

// associated is what is authenticated with the data key.
func (k keyFile) associated() ([]byte, error) {
	k.Wrapped, k.Check = nil, nil
	// The database may be replaced without the passphrase at hand.
	k.Database, k.Generation = "", 0
	return json.Marshal(k)
}

// wrap seals the data key under secret, with a fresh nonce.
func (k *keyFile) wrap(dataKey, secret []byte) error {
	a, err := k.associated()
	if err != nil {
		return err
	}
	aead, err := chacha20poly1305.NewX(k.derive(secret))
	if err != nil {
		return err
	}
	nonce := make([]byte, aead.NonceSize())
	rand.Read(nonce)
	k.Wrapped = aead.Seal(nonce, nonce, dataKey, a)
	return nil
}

// unwrap returns the data key, or ErrWrongKey.
func (k *keyFile) unwrap(secret []byte) ([]byte, error) {
	a, err := k.associated()
	if err != nil {
		return nil, err
	}
	aead, err := chacha20poly1305.NewX(k.derive(secret))
	if err != nil {
		return nil, err
	}
	n := aead.NonceSize()
	dataKey, err := aead.Open(nil, k.Wrapped[:n], k.Wrapped[n:], a)
	if err != nil {
		return nil, ErrWrongKey
	}
	return dataKey, nil
}

// derive turns the secret into the key that wraps. A random secret needs no
// slow function.
func (k *keyFile) derive(secret []byte) []byte {
	if k.Source == fromPassphrase {
		return argon2.IDKey(secret, k.Salt, k.KDF.Time, k.KDF.MemoryKiB, k.KDF.Threads, keySize)
	}
	h := sha256.Sum256(append([]byte("volar device key\x00"), secret...))
	return h[:]
}

func (k keyFile) marshal() ([]byte, error) {
	k.Check = nil
	b, err := json.Marshal(k)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(b)
	k.Check = sum[:]
	if b, err = json.MarshalIndent(k, "", "  "); err != nil {
		return nil, err
	}
	return append(b, '\n'), nil
}

var errKeyFile = errors.New("is damaged")

// parseKeyFile reads a key file; an error is errKeyFile or ErrNewer.
func parseKeyFile(data []byte) (keyFile, error) {
	var k keyFile
	if len(data) > 1<<16 {
		return k, errKeyFile
	}
	d := json.NewDecoder(bytes.NewReader(data))
	if err := d.Decode(&k); err != nil || k.Format != keyFormat {
		return k, errKeyFile
	}
	if k.Version > keyVersion {
		return k, ErrNewer
	}
	again, err := k.marshal()
	// Comparing the whole text leaves no byte of the file that may differ.
	if err != nil || !bytes.Equal(again, data) {
		return k, errKeyFile
	}
	if k.Version < 1 || !databaseName.MatchString(k.Database) || len(k.Wrapped) != chacha20poly1305.NonceSizeX+keySize+chacha20poly1305.Overhead ||
		k.Source != fromPassphrase && k.Source != fromKeyring && k.Source != fromFile ||
		k.Source == fromPassphrase && (!k.KDF.sane() || len(k.Salt) < 16) ||
		k.Source != fromPassphrase && !secretName.MatchString(k.Secret) {
		return k, errKeyFile
	}
	return k, nil
}

// readKeyFile reads vault.key, or its copy where that one is damaged.
func readKeyFile(fsys files, dir string) (keyFile, error) {
	var problem error
	for _, name := range []string{keyName, copyName} {
		data, err := fsys.ReadFile(filepath.Join(dir, name))
		if err == nil {
			var k keyFile
			if k, err = parseKeyFile(data); err == nil {
				return k, nil
			}
			if errors.Is(err, ErrNewer) {
				return k, fmt.Errorf("%s: %w", filepath.Join(dir, name), err)
			}
			err = fmt.Errorf("%s %w", name, err)
		} else if !errors.Is(err, fs.ErrNotExist) {
			return keyFile{}, err
		} else {
			err = fmt.Errorf("%s is missing", name)
		}
		if problem == nil {
			problem = err
		}
	}
	return keyFile{}, damaged(dir, "%v", problem)
}

// writeKeyFile writes the copy and then the key file; the second rename is the
// moment at which it counts.
func writeKeyFile(fsys files, dir string, k keyFile) error {
	data, err := k.marshal()
	if err != nil {
		return err
	}
	for _, name := range []string{copyName, keyName} {
		if err := writeWhole(fsys, filepath.Join(dir, name), data); err != nil {
			return err
		}
	}
	return nil
}
