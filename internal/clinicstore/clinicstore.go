// Package clinicstore is the encrypted store as the clinic uses it: many
// clients, each with the versions of a program, recorded hands, sessions that
// came from home, and what was thought of them. It puts package vault into the
// words of the domain packages.
//
// A client is known by a code. Days are the clinic's own calendar days; times
// are instants. A version of a program never changes: a change is a further
// version.
//
// Passphrase: the store's key comes from it by Argon2id. It is kept nowhere
// and cannot be recovered; without it a backup stays closed too.
//
// Errors are those of package vault, and of the package that reads an item;
// they name the client and the item. A *FieldError says which field of a
// client is wrong.
package clinicstore

import (
	"context"
	"errors"
	"fmt"
	"time"
	"unicode/utf8"

	"volar/internal/vault"
)

// MinPassphrase is the least number of characters of a new passphrase: what
// NIST SP 800-63B-4, 3.1.1.2, asks of a secret that stands alone (from memory).
const MinPassphrase = 15

// Options of a Store. The zero value reads and writes.
type Options struct {
	// ReadOnly opens a store beside the volar that writes to it.
	ReadOnly bool
	// KDF are the costs of the passphrase for a store that is made; the zero
	// value is vault's.
	KDF vault.KDF
	// Clock is the wall clock; nil is time.Now.
	Clock func() time.Time
}

func (o Options) withDefaults() Options {
	if o.Clock == nil {
		o.Clock = time.Now
	}
	return o
}

// Store is the clinic's store. Its methods may be called from any goroutine.
type Store struct {
	v      *vault.Vault
	opt    Options
	purged []string
}

// Exists says whether there is a store in the folder, whole or not.
func Exists(dir string) bool { return vault.Exists(dir) }

// CheckPassphrase says what is wrong with a new passphrase, or nil. again is
// what was typed the second time.
func CheckPassphrase(first, again string) error {
	switch n := utf8.RuneCountInString(first); {
	case n < MinPassphrase:
		return fmt.Errorf("the passphrase has %d characters; take at least %d, such as five words that do not belong together", n, MinPassphrase)
	case first != again:
		return errors.New("the two passphrases differ; type the same one twice")
	}
	return nil
}

// Create makes a new store and opens it. An existing one is left alone.
func Create(ctx context.Context, dir, passphrase string, o Options) (*Store, error) {
	if err := CheckPassphrase(passphrase, passphrase); err != nil {
		return nil, err
	}
	o = o.withDefaults()
	v, err := vault.Create(ctx, dir, vault.Options{Secret: vault.Passphrase(passphrase), KDF: o.KDF})
	if err != nil {
		return nil, err
	}
	return &Store{v: v, opt: o}, nil
}

// Open opens the store in a folder and, unless it only reads, removes the
// clients whose last day of keeping is over; Purged names them.
func Open(ctx context.Context, dir, passphrase string, o Options) (*Store, error) {
	o = o.withDefaults()
	v, err := vault.Open(ctx, dir, vault.Options{Secret: vault.Passphrase(passphrase), ReadOnly: o.ReadOnly})
	if err != nil {
		return nil, err
	}
	s := &Store{v: v, opt: o}
	if !o.ReadOnly {
		if s.purged, err = v.Purge(ctx, o.Clock()); err != nil {
			v.Close()
			return nil, fmt.Errorf("remove what is past its last day: %w", err)
		}
	}
	return s, nil
}

// Close closes the store.
func (s *Store) Close() error { return s.v.Close() }

// Dir is the store's folder.
func (s *Store) Dir() string { return s.v.Dir() }

// ReadOnly is true where nothing can be changed.
func (s *Store) ReadOnly() bool { return s.opt.ReadOnly }

// Purged are the codes of the clients that Open removed.
func (s *Store) Purged() []string { return s.purged }

// Unlocks says whether a passphrase opens the store: nil, or
// vault.ErrWrongKey, or what else went wrong. It takes as long as opening.
func (s *Store) Unlocks(ctx context.Context, passphrase string) error {
	v, err := vault.Open(ctx, s.v.Dir(), vault.Options{Secret: vault.Passphrase(passphrase), ReadOnly: true})
	if err != nil {
		return err
	}
	return v.Close()
}

// ChangePassphrase encrypts the store anew under another passphrase, once the
// present one is right. Backups keep the one that they were made with.
func (s *Store) ChangePassphrase(ctx context.Context, present, next string) error {
	if err := CheckPassphrase(next, next); err != nil {
		return err
	}
	if err := s.Unlocks(ctx, present); err != nil {
		return err
	}
	return s.v.ChangeSecret(ctx, vault.Passphrase(next))
}

// Words put an error of the store into a sentence with what to do.
func Words(err error) string {
	var damaged *vault.DamagedError
	switch {
	case errors.Is(err, vault.ErrWrongKey):
		return "This passphrase does not open the store. Check capitals and the keyboard's language, then try again."
	case errors.Is(err, vault.ErrLocked):
		return "Another volar is open and writes to the store. Close that window, or open the store here to read only."
	case errors.As(err, &damaged) && len(damaged.Backups) > 0:
		return fmt.Sprintf("The store is damaged: %s. There is a backup of %s that can be restored.", damaged.Problem, damaged.Backups[0].Made.Local().Format("2 January 2006, 15:04"))
	case errors.As(err, &damaged):
		return fmt.Sprintf("The store is damaged: %s. No backup lies in its folder; copy one there, into the folder backups, and try again.", damaged.Problem)
	}
	return err.Error()
}
