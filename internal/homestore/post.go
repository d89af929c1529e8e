package homestore

import (
	"context"
	"slices"
	"time"

	"volar/internal/session"
	"volar/internal/vault"
)

// Vault is the store below, for package post, which keeps there what is on its
// way.
func (s *Store) Vault() *vault.Vault { return s.v }

// Finished lists the sessions of a client that will not change any more, oldest
// first: those that were ended, and those that were cut short too long ago to be
// gone on with.
func (s *Store) Finished(ctx context.Context, client string) ([]vault.Entry, error) {
	all, err := s.v.Sessions(ctx, vault.Filter{Client: client, Order: vault.Oldest})
	if err != nil {
		return nil, err
	}
	now := s.opt.Clock()
	return slices.DeleteFunc(all, func(e vault.Entry) bool {
		goesOn := e.State == session.Interrupted && now.Sub(e.Started) <= resumable && !now.Before(e.Started)
		return e.State == session.Open || goesOn
	}), nil
}

// TherapistAgrees keeps whether the therapist agreed that pictures of flagged
// moments are kept; the client has to agree too.
func (s *Store) TherapistAgrees(ctx context.Context, client string, yes bool) error {
	c, err := s.v.Client(ctx, client)
	if err != nil || c.PicturesTherapist == yes {
		return err
	}
	c.PicturesTherapist = yes
	return s.v.PutClient(ctx, c)
}

// On is the home side's store over a vault that is open already. Closing it
// closes the vault.
func On(v *vault.Vault, o Options) *Store {
	if o.Clock == nil {
		o.Clock = time.Now
	}
	return &Store{v: v, opt: o}
}

// IsHome says whether a store has been used as a home's.
func IsHome(ctx context.Context, v *vault.Vault) (bool, error) {
	for _, name := range []string{settingClient, settingConsent} {
		b, err := v.Setting(ctx, name)
		if err != nil || b != nil {
			return b != nil, err
		}
	}
	return false, nil
}
