package post

import (
	"bytes"
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"time"

	"volar/internal/exchange"
	"volar/internal/vault"
)

// Collect seals what the clinic's machines share and what its homes do not have
// yet, and returns how many files that made. What was sealed before, or came
// from another machine, is passed over.
func (c *Clinic) Collect(ctx context.Context) (int, error) {
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
	clients, err := c.v.Clients(ctx)
	if err != nil {
		return 0, err
	}
	if l.settle(clients, c.o.Clock()) {
		if err := c.keepLedger(ctx, l); err != nil {
			return 0, err
		}
	}
	s := &sealing{c: c, keys: keys}
	if s.had, err = names(ctx, c.v); err != nil {
		return 0, err
	}
	came, err := c.v.Inbox(ctx)
	if err != nil {
		return 0, err
	}
	for _, in := range came {
		s.had[in.Name] = true
	}
	for _, row := range clients {
		if err = s.client(ctx, l, row); err != nil {
			err = fmt.Errorf("client %s: %w", row.Code, err)
			break
		}
	}
	// Once for all clients: what was sealed and is not noted is sealed again, as
	// a later state of the same client, which does no harm.
	if s.changed {
		err = errors.Join(err, c.keepLedger(ctx, l))
	}
	if err != nil {
		return s.made, err
	}
	return s.made, s.reviews(ctx)
}

// sealing is one run of Collect.
type sealing struct {
	c    *Clinic
	keys *exchange.Identity
	had  map[string]bool
	made int
	// changed is true once the ledger was.
	changed bool
}

func (s *sealing) client(ctx context.Context, l *ledger, row vault.Client) error {
	rec := recordOf(row)
	digest, err := rec.digest()
	if err != nil {
		return err
	}
	if last, ok := l.Clients[row.Code]; !ok || last.Digest != digest {
		at := s.c.o.Clock().UTC()
		if !at.After(last.At) {
			// A clock that was set back must not make the change an old one.
			at = last.At.Add(time.Millisecond)
		}
		id := exchange.ContentID(at, "client", row.Code, digest)
		if err := s.record(ctx, row.Code, id, record{At: at, Client: &rec}); err != nil {
			return err
		}
		l.Clients[row.Code] = shared{digest, at}
		s.changed = true
	}
	for i := range l.Boxes {
		b := l.Boxes[i]
		if b.Client != row.Code {
			continue
		}
		// The home's keys come to every machine with its greeting.
		b.Recipient, b.Signer, b.Greeted = "", nil, time.Time{}
		if err := s.record(ctx, row.Code, exchange.ContentID(b.Invited, "box", b.Mailbox), record{At: b.Invited, Box: &b}); err != nil {
			return err
		}
	}
	if err := s.programs(ctx, l, row.Code); err != nil {
		return err
	}
	bases, err := s.c.v.Baselines(ctx, row.Code)
	if err != nil {
		return err
	}
	for _, b := range bases {
		id := exchange.ContentID(b.Captured, "baseline", row.Code, b.Side, string(b.Body))
		if err := s.record(ctx, row.Code, id, record{At: b.Captured.UTC(), Baseline: &handRecord{b.Side, b.Captured.UTC(), b.Body}}); err != nil {
			return err
		}
	}
	measured, err := s.c.v.Measurements(ctx, row.Code)
	if err != nil {
		return err
	}
	for _, m := range measured {
		id := exchange.ContentID(m.Taken, "measured", row.Code, m.Side, string(m.Body))
		if err := s.record(ctx, row.Code, id, record{At: m.Taken.UTC(), Measured: &handRecord{m.Side, m.Taken.UTC(), m.Body}}); err != nil {
			return err
		}
	}
	return nil
}

// programs seals versions, whole for the clinic's machines and as prescribed
// for the home.
func (s *sealing) programs(ctx context.Context, l *ledger, client string) error {
	list, err := s.c.v.Programs(ctx, client)
	if err != nil {
		return err
	}
	b := l.open(client)
	for i := len(list) - 1; i >= 0; i-- { // oldest first
		row := list[i]
		id := exchange.ContentID(firstDay(row), "program", client, strconv.Itoa(row.Number), hex.EncodeToString(row.Hash[:]))
		if name := (exchange.Name{Mailbox: s.keys.Mailbox(client), Kind: exchange.KindRecord, ID: id}); !s.had[name.String()] {
			whole, err := s.c.v.Program(ctx, client, row.Number)
			if err != nil {
				return err
			}
			rec := record{At: whole.Created.UTC(), Program: &programRecord{whole.Number, whole.ValidFrom, whole.Body}}
			if err := s.record(ctx, client, id, rec); err != nil {
				return err
			}
		}
		if b == nil || row.Number <= b.Number || s.had[programName(b.Mailbox, row).String()] {
			continue
		}
		name, file, err := s.c.sealProgram(ctx, s.keys, b, row)
		if err != nil {
			return err
		}
		if err := s.lay(ctx, name, client, file); err != nil {
			return err
		}
	}
	return nil
}

// programName is the name of a version's file for a home. It is the same on
// every machine, so that the home gets it once.
func programName(mailbox string, row vault.Program) exchange.Name {
	return exchange.Name{Mailbox: mailbox, Kind: exchange.KindProgram,
		ID: exchange.ContentID(firstDay(row), "home program", mailbox, strconv.Itoa(row.Number), hex.EncodeToString(row.Hash[:]))}
}

// firstDay dates a version by what is in it, which is the same on every machine.
func firstDay(row vault.Program) time.Time {
	t, err := time.Parse(time.DateOnly, row.ValidFrom)
	if err != nil {
		return time.Time{} // the store lets no other day in; the name needs only be the same
	}
	return t
}

func (s *sealing) reviews(ctx context.Context) error {
	all, err := s.c.v.EveryReview(ctx)
	if err != nil {
		return err
	}
	for _, r := range all {
		body, err := r.Encode()
		if err != nil {
			return err
		}
		n := exchange.Name{Mailbox: s.keys.Mailbox(r.Client), Kind: exchange.KindReview, ID: exchange.ContentID(r.At, "review", r.Client, string(body))}
		if err := s.seal(ctx, n, r.Client, body); err != nil {
			return err
		}
	}
	return nil
}

// record seals a record for the clinic's own machines.
func (s *sealing) record(ctx context.Context, client, id string, r record) error {
	r.Version = recordVersion
	body, err := json.Marshal(r)
	if err != nil {
		return err
	}
	return s.seal(ctx, exchange.Name{Mailbox: s.keys.Mailbox(client), Kind: exchange.KindRecord, ID: id}, client, body)
}

// seal seals a body for the clinic itself, once under its name.
func (s *sealing) seal(ctx context.Context, n exchange.Name, client string, body []byte) error {
	if s.had[n.String()] {
		return nil
	}
	var file bytes.Buffer
	_, err := exchange.Seal(&file, exchange.Header{
		Kind: n.Kind, ID: n.ID, Mailbox: n.Mailbox, Client: client, CreatedMS: s.c.o.Clock().UnixMilli(),
	}, body, s.keys, s.keys.Public())
	if err != nil {
		return err
	}
	return s.lay(ctx, n, client, file.Bytes())
}

// lay puts a sealed file into the outbox.
func (s *sealing) lay(ctx context.Context, n exchange.Name, client string, file []byte) error {
	if err := s.c.o.step("lay a file in the outbox"); err != nil {
		return err
	}
	if err := s.c.v.PutOutgoing(ctx, vault.Outgoing{Name: n.String(), Kind: string(n.Kind), Client: client, Body: file}); err != nil {
		return err
	}
	s.had[n.String()] = true
	s.made++
	return nil
}

// Send seals what is new and carries what waits, of one client or of all where
// client is empty; it returns how many files arrived.
func (c *Clinic) Send(ctx context.Context, to exchange.Carrier, client string) (int, error) {
	if _, err := c.Collect(ctx); err != nil {
		return 0, err
	}
	out := &outbox{v: c.v, client: client, clock: c.o.Clock, progress: c.o.Progress, step: c.o.step}
	return out.send(ctx, to, c.o.Retry)
}
