package post

import (
	"context"
	"fmt"
	"slices"

	"volar/internal/exchange"
)

// Removed lists the clients who were removed here and whose files may still lie
// on the carrier.
func (c *Clinic) Removed(ctx context.Context) ([]string, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	l, err := c.ledger(ctx)
	if err != nil {
		return nil, err
	}
	clients, err := c.v.Clients(ctx)
	if err != nil {
		return nil, err
	}
	if l.settle(clients, c.o.Clock()) {
		if err := c.keepLedger(ctx, l); err != nil {
			return nil, err
		}
	}
	var all []string
	for code, g := range l.Gone {
		if !g.Swept {
			all = append(all, code)
		}
	}
	slices.Sort(all)
	return all, nil
}

// Sweep takes all files of removed clients off the carrier, whoever wrote them,
// and returns how many. It is done when somebody asks for it and never by itself:
// what it takes away, no machine can bring back.
func (c *Clinic) Sweep(ctx context.Context, from exchange.Carrier) (int, error) {
	removed, err := c.Removed(ctx)
	if err != nil {
		return 0, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	keys, err := identity(ctx, c.v)
	if err != nil {
		return 0, err
	}
	l, err := c.ledger(ctx)
	if err != nil {
		return 0, err
	}
	n := 0
	for _, code := range removed {
		g := l.Gone[code]
		for _, mailbox := range append(slices.Clone(g.Mailboxes), keys.Mailbox(code)) {
			list, err := from.List(ctx, mailbox)
			if err != nil {
				return n, fmt.Errorf("looking for files of %s: %w", code, err)
			}
			for _, e := range list {
				if err := from.Remove(ctx, e.Name); err != nil {
					return n, fmt.Errorf("removing files of %s: %w", code, err)
				}
				n++
			}
		}
		g.Swept = true
		l.Gone[code] = g
		if err := c.keepLedger(ctx, l); err != nil {
			return n, err
		}
	}
	return n, nil
}
