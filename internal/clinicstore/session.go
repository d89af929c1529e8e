package clinicstore

import (
	"context"

	"volar/internal/session"
	"volar/internal/vault"
)

// Sessions lists recorded sessions as a list shows them.
func (s *Store) Sessions(ctx context.Context, f vault.Filter) ([]vault.Entry, error) {
	return s.v.Sessions(ctx, f)
}

// CountSessions says how many sessions a filter picks, whatever its Limit.
func (s *Store) CountSessions(ctx context.Context, f vault.Filter) (int, error) {
	return s.v.Count(ctx, f)
}

// Session returns a whole session with its pictures.
func (s *Store) Session(ctx context.Context, id session.ID) (*session.Session, error) {
	return s.v.Load(ctx, id)
}

// PutSession keeps a session that came from elsewhere; its client has to be in
// the store. The same again changes nothing, a longer one takes its place.
func (s *Store) PutSession(ctx context.Context, in *session.Session) error {
	return s.v.Import(ctx, in)
}
