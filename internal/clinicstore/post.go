package clinicstore

import "volar/internal/vault"

// Vault is the store below, for package post, which keeps there what is on its
// way.
func (s *Store) Vault() *vault.Vault { return s.v }
