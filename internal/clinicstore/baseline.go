package clinicstore

import (
	"context"
	"fmt"

	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/vault"
)

// PutBaseline keeps one more recorded hand of a client; older ones stay.
func (s *Store) PutBaseline(ctx context.Context, code string, b *goniometry.Baseline) error {
	if err := b.Check(); err != nil {
		return fmt.Errorf("recorded hand of %s: %w", code, err)
	}
	body, err := b.Encode()
	if err != nil {
		return err
	}
	return s.v.PutBaseline(ctx, vault.Baseline{Client: code, Side: b.Side, Captured: b.CapturedAt, Body: body})
}

// Baselines returns a client's recorded hands, newest first.
func (s *Store) Baselines(ctx context.Context, code string) ([]*goniometry.Baseline, error) {
	rows, err := s.v.Baselines(ctx, code)
	if err != nil {
		return nil, err
	}
	all := make([]*goniometry.Baseline, 0, len(rows))
	for _, r := range rows {
		b, err := goniometry.DecodeBaseline(r.Body)
		if err != nil {
			return nil, fmt.Errorf("recorded hand of %s: %w", code, err)
		}
		all = append(all, b)
	}
	return all, nil
}

// Baseline returns the newest recorded hand of a side; nil where there is none.
func (s *Store) Baseline(ctx context.Context, code string, side hand.Side) (*goniometry.Baseline, error) {
	all, err := s.Baselines(ctx, code)
	if err != nil {
		return nil, err
	}
	for _, b := range all {
		if b.Side == side.String() {
			return b, nil
		}
	}
	return nil, nil
}
