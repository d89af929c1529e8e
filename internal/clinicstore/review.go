package clinicstore

import (
	"context"

	"volar/internal/review"
	"volar/internal/session"
)

// PutReview keeps a review beside the others of its session: reviewers never
// overwrite each other, and the same again changes nothing.
func (s *Store) PutReview(ctx context.Context, r review.Review) error { return s.v.PutReview(ctx, r) }

// Reviews returns all reviews of a session, oldest first.
func (s *Store) Reviews(ctx context.Context, id session.ID) ([]review.Review, error) {
	return s.v.Reviews(ctx, id)
}

// ReviewsOf returns the reviews of all of a client's sessions, oldest first.
func (s *Store) ReviewsOf(ctx context.Context, code string) (map[session.ID][]review.Review, error) {
	return s.v.ReviewsOf(ctx, code)
}
