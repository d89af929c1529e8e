package post

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"sync"

	"volar/internal/exchange"
	"volar/internal/goniometry"
	"volar/internal/homestore"
	"volar/internal/program"
	"volar/internal/vault"
)

// Clinic is the clinic's half. Its methods may be called from any goroutine.
type Clinic struct {
	v *vault.Vault
	o Options
	// mu is held while the ledger is changed.
	mu sync.Mutex
}

// NewClinic is the post of a clinic's store.
func NewClinic(v *vault.Vault, o Options) *Clinic {
	return &Clinic{v: v, o: o.withDefaults()}
}

// Keys returns the public half of the clinic's keys, and makes them at the
// first use.
func (c *Clinic) Keys(ctx context.Context) (exchange.Public, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	i, err := identity(ctx, c.v)
	if err != nil {
		return exchange.Public{}, err
	}
	return i.Public(), nil
}

// ExportKeys writes the clinic's keys, sealed with a passphrase, to bring a
// further machine in. Whoever has the file and the passphrase reads what every
// client sends.
func (c *Clinic) ExportKeys(ctx context.Context, w io.Writer, passphrase string) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	i, err := identity(ctx, c.v)
	if err != nil {
		return err
	}
	return i.Export(w, passphrase)
}

// ImportKeys takes the keys of the clinic's first machine. Keys that homes
// already rely on are not replaced: ErrKeysInUse.
func (c *Clinic) ImportKeys(ctx context.Context, r io.Reader, passphrase string) error {
	i, err := exchange.ImportIdentity(r, passphrase)
	if err != nil {
		return err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	had, err := c.v.Setting(ctx, settingKeys)
	if err != nil {
		return err
	}
	if had != nil {
		mine, err := identity(ctx, c.v)
		if err != nil {
			return err
		}
		l, err := c.ledger(ctx)
		if err != nil {
			return err
		}
		if mine.Public().Equal(i.Public()) {
			return nil
		}
		if len(l.Boxes) > 0 {
			return ErrKeysInUse
		}
		sealed, err := c.v.Outbox(ctx, false)
		if err != nil {
			return err
		}
		if len(sealed) > 0 {
			return ErrKeysInUse
		}
	}
	return putIdentity(ctx, c.v, i)
}

// Place is where the clinic's files are carried.
func (c *Clinic) Place(ctx context.Context) (Place, error) { return place(ctx, c.v) }

// SetPlace chooses where the clinic's files are carried.
func (c *Clinic) SetPlace(ctx context.Context, p Place) error { return putPlace(ctx, c.v, p) }

// Invitation is a new invitation: a file for the client, and the code that is
// read out to them. The code is kept nowhere.
type Invitation struct {
	Client  string
	Version int
	File    []byte
	Code    exchange.Code
}

// Invite makes an invitation for a client who has a program. It opens a mailbox
// of its own, so that a client with a new computer is invited again.
func (c *Clinic) Invite(ctx context.Context, client string) (Invitation, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	keys, err := identity(ctx, c.v)
	if err != nil {
		return Invitation{}, err
	}
	p, err := c.prescription(ctx, client, 0)
	if err != nil {
		return Invitation{}, err
	}
	body, err := p.encode()
	if err != nil {
		return Invitation{}, err
	}
	where, err := c.Place(ctx)
	if err != nil {
		return Invitation{}, err
	}
	inv := exchange.Invitation{Program: body}
	if where.Bucket() {
		inv.Carrier, inv.Key, inv.KeySecret = where.Where, where.HomeKey, where.HomeSecret
	}
	mailbox, err := exchange.NewMailbox()
	if err != nil {
		return Invitation{}, err
	}
	code, err := exchange.NewCode()
	if err != nil {
		return Invitation{}, err
	}
	number := p.programs[len(p.programs)-1].Version
	now := c.o.Clock().UTC()
	var file bytes.Buffer
	_, inv, err = exchange.Invite(&file, exchange.Header{Mailbox: mailbox, Client: client, Number: uint64(number), CreatedMS: now.UnixMilli()}, inv, keys, code)
	if err != nil {
		return Invitation{}, err
	}
	l, err := c.ledger(ctx)
	if err != nil {
		return Invitation{}, err
	}
	l.Boxes = append(l.Boxes, box{Mailbox: mailbox, Client: client, Secret: inv.Secret, Invited: now, Number: number})
	// Only an invitation whose answer will be known is given out.
	if err := c.keepLedger(ctx, l); err != nil {
		return Invitation{}, err
	}
	return Invitation{client, number, file.Bytes(), code}, nil
}

// prescription is what a client's home needs up to a version, 0 is the newest:
// that one, those before it that are in force now or will be first, and the
// hand as it was recorded last.
func (c *Clinic) prescription(ctx context.Context, client string, number int) (*prescription, error) {
	row, err := c.v.Client(ctx, client)
	if err != nil {
		return nil, err
	}
	list, err := c.v.Programs(ctx, client)
	if err != nil {
		return nil, err
	}
	var all []*program.Program
	for _, r := range list {
		if number > 0 && r.Number > number {
			continue
		}
		r, err := c.v.Program(ctx, client, r.Number)
		if err != nil {
			return nil, err
		}
		p, err := homestore.Unpack(r.Body)
		if err != nil {
			return nil, fmt.Errorf("program %d of %s: %w", r.Number, client, err)
		}
		all = append(all, p)
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("%s: %w", client, ErrNoProgram)
	}
	h, err := program.NewHistory(all...)
	if err != nil {
		return nil, err
	}
	out := &prescription{pictures: row.PicturesTherapist}
	since := 0
	if now, ok := h.At(c.o.Clock(), nil); ok {
		since = now.Version
	}
	for _, p := range h.Versions() {
		if p.Version >= since {
			out.programs = append(out.programs, p)
		}
	}
	bases, err := c.v.Baselines(ctx, client)
	if err != nil {
		return nil, err
	}
	sides := map[string]bool{}
	for _, b := range bases {
		if sides[b.Side] {
			continue
		}
		own, err := goniometry.DecodeBaseline(b.Body)
		if err != nil {
			return nil, fmt.Errorf("recorded hand of %s: %w", client, err)
		}
		sides[b.Side] = true
		out.baselines = append(out.baselines, own)
	}
	return out, nil
}

// SealProgram seals the newest version for the client's home, to be carried by
// hand. A home that has not answered its invitation has no keys: ErrNotAnswered.
func (c *Clinic) SealProgram(ctx context.Context, client string) (file []byte, version int, err error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	keys, err := identity(ctx, c.v)
	if err != nil {
		return nil, 0, err
	}
	l, err := c.ledger(ctx)
	if err != nil {
		return nil, 0, err
	}
	b := l.open(client)
	if b == nil {
		if _, err := c.v.Client(ctx, client); errors.Is(err, fs.ErrNotExist) {
			return nil, 0, err
		}
		return nil, 0, fmt.Errorf("%s: %w", client, ErrNotAnswered)
	}
	row, err := c.v.Program(ctx, client, 0)
	if err != nil {
		return nil, 0, err
	}
	_, file, err = c.sealProgram(ctx, keys, b, row)
	return file, row.Number, err
}

// sealProgram seals the client's versions up to one of them.
func (c *Clinic) sealProgram(ctx context.Context, keys *exchange.Identity, b *box, row vault.Program) (exchange.Name, []byte, error) {
	p, err := c.prescription(ctx, b.Client, row.Number)
	if err != nil {
		return exchange.Name{}, nil, err
	}
	body, err := p.encode()
	if err != nil {
		return exchange.Name{}, nil, err
	}
	var file bytes.Buffer
	n := programName(b.Mailbox, row)
	_, err = exchange.Seal(&file, exchange.Header{
		Kind: n.Kind, ID: n.ID, Mailbox: n.Mailbox, Client: b.Client, Number: uint64(row.Number), CreatedMS: c.o.Clock().UnixMilli(),
	}, body, keys, b.home(), keys.Public())
	return n, file.Bytes(), err
}
