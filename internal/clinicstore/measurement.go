package clinicstore

import (
	"context"
	"fmt"

	"volar/internal/arom"
	"volar/internal/vault"
)

// PutMeasurement keeps one more measurement of a client's hand; older ones stay.
func (s *Store) PutMeasurement(ctx context.Context, code string, m *arom.Measurement) error {
	body, err := m.Encode()
	if err != nil {
		return fmt.Errorf("measurement of %s: %w", code, err)
	}
	return s.v.PutMeasurement(ctx, vault.Measurement{Client: code, Side: m.Side, Taken: m.TakenAt, Body: body})
}

// Measurements returns what was measured of a client's hands, newest first.
func (s *Store) Measurements(ctx context.Context, code string) ([]*arom.Measurement, error) {
	rows, err := s.v.Measurements(ctx, code)
	if err != nil {
		return nil, err
	}
	all := make([]*arom.Measurement, 0, len(rows))
	for _, r := range rows {
		m, err := arom.DecodeMeasurement(r.Body)
		if err != nil {
			return nil, fmt.Errorf("measurement of %s: %w", code, err)
		}
		all = append(all, m)
	}
	return all, nil
}
