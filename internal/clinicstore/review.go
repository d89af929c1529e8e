package clinicstore

import (
	"context"

	"volar/internal/session"
	"volar/internal/vault"
)

// PutReview keeps one reviewer's reading of a session; several reviewers never
// overwrite each other, and an older one changes nothing.
func (s *Store) PutReview(ctx context.Context, r vault.Review) error { return s.v.PutReview(ctx, r) }

// Reviews returns all reviews of a session, by reviewer.
func (s *Store) Reviews(ctx context.Context, id session.ID) ([]vault.Review, error) {
	return s.v.Reviews(ctx, id)
}
