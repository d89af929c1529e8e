package vault

import (
	"context"

	"volar/internal/review"
)

// EveryReview returns all reviews of all sessions, oldest first.
func (v *Vault) EveryReview(ctx context.Context) ([]review.Review, error) {
	return v.reviews(ctx, `?`, 1)
}
