package matrix

import (
	"context"
	"errors"
	"fmt"
	"os"
	"sync"

	"volar/internal/infer"
)

// Runner observes and judges cases.
type Runner struct {
	Engine infer.Engine
	// Dir keeps what was observed in the clips.
	Dir    string
	Stamps Stamps
	// Stale takes what was observed of the same clip by an earlier hand model
	// or tracker, where it is kept: enough for work on the judge, not for a table
	// that is published.
	Stale bool
	// Workers is how many cases are done at once; 0 is one.
	Workers int
	// Done is called after each case, one call at a time; nil is not called.
	Done func(done, all int, cell Cell)
}

// Run does all cases and returns a cell for each, in their order. It stops at
// the first error, or when the context ends.
func (r *Runner) Run(ctx context.Context, cases []Case) ([]Cell, error) {
	if err := os.MkdirAll(r.Dir, 0o755); err != nil {
		return nil, fmt.Errorf("matrix: %w", err)
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	cells := make([]Cell, len(cases))
	next := make(chan int)
	var wg sync.WaitGroup
	var mu sync.Mutex
	var errs []error
	done := 0
	for range max(r.Workers, 1) {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := range next {
				cell, err := r.one(ctx, &cases[i])
				mu.Lock()
				if err != nil {
					errs = append(errs, err)
					stop()
				} else {
					cells[i] = cell
					done++
					if r.Done != nil {
						r.Done(done, len(cases), cell)
					}
				}
				mu.Unlock()
			}
		}()
	}
feed:
	for i := range cases {
		select {
		case next <- i:
		case <-ctx.Done():
			break feed
		}
	}
	close(next)
	wg.Wait()
	if len(errs) == 0 && ctx.Err() != nil {
		errs = append(errs, ctx.Err())
	}
	return cells, errors.Join(errs...)
}

// one does a case.
func (r *Runner) one(ctx context.Context, c *Case) (Cell, error) {
	seen, err := r.observations(ctx, c)
	if err != nil {
		return Cell{}, err
	}
	v, err := c.Judge(seen)
	if err != nil {
		return Cell{}, err
	}
	return c.Compare(&v)
}
