package clinicstore

import (
	"context"
	"fmt"
	"time"

	"volar/internal/homestore"
	"volar/internal/program"
	"volar/internal/vault"
)

// PutProgram keeps a version of a client's program, which has been checked. The
// same again changes nothing; another one under a number that is taken is
// refused. The client's next review becomes the program's.
func (s *Store) PutProgram(ctx context.Context, p *program.Program) error {
	c, err := s.Client(ctx, p.Client)
	if err != nil {
		return err
	}
	body, err := homestore.Pack(p)
	if err != nil {
		return err
	}
	err = s.v.PutProgram(ctx, vault.Program{Client: p.Client, Name: p.Client, Number: p.Version, ValidFrom: p.ValidFrom.String(), Body: body})
	if err != nil {
		return err
	}
	if p.NextReview.IsZero() || p.NextReview == c.NextReview {
		return nil
	}
	c.NextReview = p.NextReview
	return s.PutClient(ctx, c)
}

// Programs returns all versions of a client's program, newest first.
func (s *Store) Programs(ctx context.Context, code string) ([]*program.Program, error) {
	list, err := s.v.Programs(ctx, code)
	if err != nil {
		return nil, err
	}
	all := make([]*program.Program, 0, len(list))
	for _, r := range list {
		p, err := s.Program(ctx, code, r.Number)
		if err != nil {
			return nil, err
		}
		all = append(all, p)
	}
	return all, nil
}

// Program returns one version; number 0 is the newest.
func (s *Store) Program(ctx context.Context, code string, number int) (*program.Program, error) {
	r, err := s.v.Program(ctx, code, number)
	if err != nil {
		return nil, err
	}
	p, err := homestore.Unpack(r.Body)
	if err != nil {
		return nil, fmt.Errorf("program %d of %s: %w", r.Number, code, err)
	}
	return p, nil
}

// History is all versions of a client's program; nil where there is none yet.
func (s *Store) History(ctx context.Context, code string) (*program.History, error) {
	all, err := s.Programs(ctx, code)
	if err != nil || len(all) == 0 {
		return nil, err
	}
	return program.NewHistory(all...)
}

// InForce is what was prescribed to a client at an instant; ok is false where
// no version was in force.
func (s *Store) InForce(ctx context.Context, code string, at time.Time) (r program.Resolved, ok bool, err error) {
	h, err := s.History(ctx, code)
	if err != nil || h == nil {
		return program.Resolved{}, false, err
	}
	r, ok = h.Resolve(at, nil)
	return r, ok, nil
}
