package clinicstore

import "volar/internal/vault"

// Vault is the store below, for package post, which keeps there what is on its
// way.
func (s *Store) Vault() *vault.Vault { return s.v }

// On is the clinic's store over a vault that is open already. Closing it closes
// the vault.
func On(v *vault.Vault, o Options) *Store { return &Store{v: v, opt: o.withDefaults()} }
