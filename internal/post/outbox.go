package post

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"time"

	"volar/internal/exchange"
	"volar/internal/vault"
)

// outbox is a store's outbox as package exchange sends it. It holds those of
// one client, or all where client is empty, and counts.
type outbox struct {
	v        *vault.Vault
	client   string
	clock    func() time.Time
	progress func(done, total int)
	step     func(string) error

	ids         map[exchange.Name]int64
	done, total int
}

// List names the files in the order in which they were laid there.
func (o *outbox) List(ctx context.Context, mailbox string) ([]exchange.Entry, error) {
	waiting, err := o.v.Outbox(ctx, true)
	if err != nil {
		return nil, err
	}
	o.ids = map[exchange.Name]int64{}
	var list []exchange.Entry
	for _, w := range waiting {
		n, err := exchange.ParseName(w.Name)
		if err != nil {
			return nil, err
		}
		if (o.client != "" && w.Client != o.client) || (mailbox != "" && n.Mailbox != mailbox) {
			continue
		}
		o.ids[n] = w.ID
		list = append(list, exchange.Entry{Name: n})
	}
	o.total = len(list)
	return list, nil
}

func (o *outbox) Get(ctx context.Context, n exchange.Name) ([]byte, error) {
	id, ok := o.ids[n]
	if !ok {
		return nil, fmt.Errorf("%s: %w", n, fs.ErrNotExist)
	}
	return o.v.OutgoingBody(ctx, id)
}

// Remove notes that a file arrived.
func (o *outbox) Remove(ctx context.Context, n exchange.Name) error {
	if err := o.step("mark as sent"); err != nil {
		return err
	}
	if err := o.v.MarkSent(ctx, o.ids[n], o.clock()); err != nil {
		return err
	}
	o.done++
	o.progress(o.done, o.total)
	return nil
}

// send carries what waits, and notes at the first file that did not go why.
func (o *outbox) send(ctx context.Context, to exchange.Carrier, r exchange.Retry) (int, error) {
	sent, err := exchange.Send(ctx, o, to, r)
	if err == nil {
		return sent, nil
	}
	waiting, lerr := o.v.Outbox(context.WithoutCancel(ctx), true)
	if lerr != nil {
		return sent, errors.Join(err, lerr)
	}
	for _, w := range waiting {
		if o.client == "" || w.Client == o.client {
			return sent, errors.Join(err, o.v.MarkTried(context.WithoutCancel(ctx), w.ID, o.clock(), Words(err)))
		}
	}
	return sent, err
}

// names are those that the outbox has or had; what is there is not sealed again.
func names(ctx context.Context, v *vault.Vault) (map[string]bool, error) {
	all, err := v.Outbox(ctx, false)
	if err != nil {
		return nil, err
	}
	m := make(map[string]bool, len(all))
	for _, o := range all {
		m[o.Name] = true
	}
	return m, nil
}
