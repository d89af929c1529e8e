package post

import (
	"bytes"
	"context"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"sync"
	"time"

	"volar/internal/exchange"
	"volar/internal/homestore"
	"volar/internal/program"
	"volar/internal/session"
	"volar/internal/vault"
)

const (
	settingHome = "post.home"
	settingAuto = "post.auto"
)

// Home is the client's half. Its methods may be called from any goroutine.
type Home struct {
	s *homestore.Store
	v *vault.Vault
	o Options
	// mu is held by what sends or takes in.
	mu sync.Mutex
}

// NewHome is the post of a home's store.
func NewHome(s *homestore.Store, o Options) *Home {
	return &Home{s: s, v: s.Vault(), o: o.withDefaults()}
}

// connection is whom a home takes programs from and sends sessions to.
type connection struct {
	Recipient string    `json:"recipient"`
	Signer    []byte    `json:"signer"`
	Mailbox   string    `json:"mailbox"`
	Client    string    `json:"client"`
	Since     time.Time `json:"since"`
}

func (c *connection) clinic() exchange.Public {
	return exchange.Public{Recipient: c.Recipient, Signer: c.Signer}
}

// connection returns the connection; ErrNotConnected where there is none.
func (h *Home) connection(ctx context.Context) (connection, error) {
	var c connection
	if err := setting(ctx, h.v, settingHome, &c); err != nil {
		return c, err
	}
	if c.Mailbox == "" {
		return c, ErrNotConnected
	}
	return c, nil
}

// Accepted says what an invitation, or a later program, brought.
type Accepted struct {
	Client string
	// Version is the newest version of the program, New how many versions were
	// not here before.
	Version, New int
	// Carried is true where the invitation says how files are carried.
	Carried bool
}

// Opened is an invitation that its code opened.
type Opened struct {
	header     exchange.Header
	invitation exchange.Invitation
}

// OpenInvitation tries a code on an invitation, which takes about a second by
// design, and changes nothing.
func OpenInvitation(file []byte, code exchange.Code) (Opened, error) {
	hd, inv, err := exchange.Accept(bytes.NewReader(file), code)
	return Opened{hd, inv}, err
}

// Accept opens an invitation and takes it.
func (h *Home) Accept(ctx context.Context, file []byte, code exchange.Code) (Accepted, error) {
	o, err := OpenInvitation(file, code)
	if err != nil {
		return Accepted{}, err
	}
	return h.AcceptOpened(ctx, o)
}

// AcceptOpened takes an invitation: it keeps the clinic's keys, the program and
// how files are carried, and lays the greeting into the outbox. The same
// invitation again changes nothing; one of another clinic is ErrOtherClinic.
func (h *Home) AcceptOpened(ctx context.Context, o Opened) (Accepted, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.accept(ctx, o.header, o.invitation)
}

// accept takes an invitation that was opened.
func (h *Home) accept(ctx context.Context, hd exchange.Header, inv exchange.Invitation) (Accepted, error) {
	switch had, err := h.connection(ctx); {
	case errors.Is(err, ErrNotConnected):
	case err != nil:
		return Accepted{}, err
	case !had.clinic().Equal(inv.Clinic):
		return Accepted{}, ErrOtherClinic
	case had.Client != hd.Client:
		return Accepted{}, fmt.Errorf("%w: %q", exchange.ErrWrongClient, hd.Client)
	}
	where := Place{Where: inv.Carrier, Key: inv.Key, Secret: inv.KeySecret}
	if !where.IsZero() && (!where.Bucket() || where.Check() != nil) {
		// A file from elsewhere must not choose a folder on this computer.
		return Accepted{}, fmt.Errorf("%w: it names no bucket to carry files by", exchange.ErrDamaged)
	}
	p, err := readLetter(hd, inv.Program)
	if err != nil {
		return Accepted{}, err
	}
	fresh, err := h.keep(ctx, hd, p)
	if err != nil {
		return Accepted{}, err
	}
	if err := h.greet(ctx, hd, inv); err != nil {
		return Accepted{}, err
	}
	if !where.IsZero() {
		if err := h.o.step("keep the place"); err != nil {
			return Accepted{}, err
		}
		if err := putPlace(ctx, h.v, where); err != nil {
			return Accepted{}, err
		}
	}
	// What pins the keys comes last: until then the invitation can be taken
	// once more.
	if err := h.o.step("connect"); err != nil {
		return Accepted{}, err
	}
	err = putSetting(ctx, h.v, settingHome, connection{
		Recipient: inv.Clinic.Recipient, Signer: inv.Clinic.Signer, Mailbox: hd.Mailbox, Client: hd.Client, Since: h.o.Clock().UTC(),
	})
	return Accepted{hd.Client, int(hd.Number), fresh, !where.IsZero()}, err
}

// greet lays the answer to an invitation into the outbox.
func (h *Home) greet(ctx context.Context, hd exchange.Header, inv exchange.Invitation) error {
	if err := h.o.step("make keys"); err != nil {
		return err
	}
	keys, err := identity(ctx, h.v)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	g, err := exchange.Greet(&b, exchange.Header{
		ID: exchange.ContentID(hd.Created(), "greeting", hd.ID, keys.Public().Fingerprint()), Mailbox: hd.Mailbox, Client: hd.Client, CreatedMS: h.o.Clock().UnixMilli(),
	}, inv, keys)
	if err != nil {
		return err
	}
	if err := h.o.step("lay the greeting in the outbox"); err != nil {
		return err
	}
	return h.v.PutOutgoing(ctx, vault.Outgoing{Name: g.Name().String(), Kind: string(g.Kind), Client: hd.Client, Body: b.Bytes()})
}

// keep puts the versions that are not here yet into the store.
func (h *Home) keep(ctx context.Context, hd exchange.Header, p *prescription) (fresh int, err error) {
	var missing []*program.Program
	for _, q := range p.programs {
		held, err := h.holds(ctx, q)
		if err != nil {
			return 0, err
		}
		if !held {
			missing = append(missing, q)
		}
	}
	for _, q := range missing {
		if err := h.o.step("keep a program"); err != nil {
			return 0, storeError{err}
		}
		if err := h.s.TakeProgram(ctx, q); err != nil {
			return 0, storeError{err}
		}
		fresh++
	}
	if fresh == 0 {
		return 0, nil
	}
	if err := h.s.TherapistAgrees(ctx, hd.Client, p.pictures); err != nil {
		return 0, storeError{err}
	}
	have, err := h.v.Baselines(ctx, hd.Client)
	if err != nil {
		return 0, storeError{err}
	}
	for _, b := range p.baselines {
		body, err := b.Encode()
		if err != nil {
			return 0, err
		}
		if holdsBaseline(have, b.Side, b.CapturedAt, body) {
			continue
		}
		if err := h.s.TakeOwn(ctx, b); err != nil {
			return 0, storeError{err}
		}
	}
	return fresh, nil
}

// holds reports whether a version is here already. Another one under its number
// is ErrStale: what was judged by it stays what it was.
func (h *Home) holds(ctx context.Context, q *program.Program) (bool, error) {
	have, err := h.v.Program(ctx, q.Client, q.Version)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return false, storeError{err}
	}
	old, err := homestore.Unpack(have.Body)
	if err != nil {
		return false, err
	}
	a, b := old.ForHome(), q.ForHome()
	if !bytes.Equal(a.Format(), b.Format()) {
		return false, fmt.Errorf("%w: version %d is here with other content; ask for one with a greater number", exchange.ErrStale, q.Version)
	}
	return true, nil
}

func holdsBaseline(have []vault.Baseline, side string, at time.Time, body []byte) bool {
	for _, b := range have {
		if b.Side == side && b.Captured.UnixMilli() == at.UnixMilli() && bytes.Equal(b.Body, body) {
			return true
		}
	}
	return false
}

// Collect seals the sessions that are over and were not sealed before, and
// returns how many.
func (h *Home) Collect(ctx context.Context) (int, error) {
	c, err := h.connection(ctx)
	if err != nil {
		return 0, err
	}
	laid, err := h.v.Outbox(ctx, false)
	if err != nil {
		return 0, err
	}
	// Whatever mailbox it went to: a new invitation sends nothing once more.
	had := map[string]bool{}
	for _, o := range laid {
		if n, err := exchange.ParseName(o.Name); err == nil && n.Kind == exchange.KindSession {
			had[n.ID] = true
		}
	}
	over, err := h.s.Finished(ctx, c.Client)
	if err != nil {
		return 0, err
	}
	keys, err := identity(ctx, h.v)
	if err != nil {
		return 0, err
	}
	n := 0
	for _, e := range over {
		// A session's own ID names its file, so that it is sealed once.
		name := exchange.Name{Mailbox: c.Mailbox, Kind: exchange.KindSession, ID: hex.EncodeToString(e.ID[:])}
		if had[name.ID] {
			continue
		}
		s, err := h.v.Load(ctx, e.ID)
		if err != nil {
			return n, err
		}
		var body, file bytes.Buffer
		if err := session.Encode(&body, s); err != nil {
			return n, err
		}
		hd := exchange.Header{Kind: name.Kind, ID: name.ID, Mailbox: c.Mailbox, Client: c.Client, CreatedMS: h.o.Clock().UnixMilli()}
		if _, err := exchange.Seal(&file, hd, body.Bytes(), keys, c.clinic()); err != nil {
			return n, fmt.Errorf("session %s: %w", e.ID, err)
		}
		if err := h.o.step("lay a session in the outbox"); err != nil {
			return n, err
		}
		if err := h.v.PutOutgoing(ctx, vault.Outgoing{Name: name.String(), Kind: string(name.Kind), Client: c.Client, Body: file.Bytes()}); err != nil {
			return n, err
		}
		n++
	}
	return n, nil
}

// Send seals what is over and carries what waits; it returns how many files
// arrived.
func (h *Home) Send(ctx context.Context, to exchange.Carrier) (int, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if _, err := h.Collect(ctx); err != nil {
		return 0, err
	}
	box := &outbox{v: h.v, clock: h.o.Clock, progress: h.o.Progress, step: h.o.step}
	return box.send(ctx, to, h.o.Retry)
}

// Fetched says what a fetch brought.
type Fetched struct {
	// Programs, Sessions and the others count files that were taken.
	Programs, Sessions, Greetings, Reviews, Records int
	// Trouble lists the files that lie there and were not taken.
	Trouble []Trouble
}

// Fetch picks up newer programs of this clinic for this client.
func (h *Home) Fetch(ctx context.Context, from exchange.Carrier) (Fetched, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	c, err := h.connection(ctx)
	if err != nil {
		return Fetched{}, err
	}
	in, err := openInbox(ctx, h.v, h.o, from)
	if err != nil {
		return Fetched{}, err
	}
	wanted := func(n exchange.Name) (string, bool) {
		return c.Client, n.Mailbox == c.Mailbox && n.Kind == exchange.KindProgram
	}
	err = in.fetch(ctx, c.Mailbox, wanted, func(ctx context.Context, n exchange.Name, _ string, data []byte) error {
		_, err := h.take(ctx, c, data, n)
		if errors.Is(err, errHeld) {
			return nil
		}
		return err
	})
	return Fetched{Programs: in.openings[exchange.KindProgram], Trouble: in.trouble.list()}, err
}

// Take takes a program from a file that somebody brought. One that is not newer
// than what is here is ErrStale.
func (h *Home) Take(ctx context.Context, file []byte) (Accepted, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	c, err := h.connection(ctx)
	if err != nil {
		return Accepted{}, err
	}
	return h.take(ctx, c, file, exchange.Name{})
}

// errHeld is a stale file of which everything is here as it stands there.
var errHeld = fmt.Errorf("%w: all of it is here", exchange.ErrStale)

func (h *Home) take(ctx context.Context, c connection, file []byte, n exchange.Name) (Accepted, error) {
	keys, err := identity(ctx, h.v)
	if err != nil {
		return Accepted{}, storeError{err}
	}
	clinic := c.clinic()
	f, err := exchange.Open(bytes.NewReader(file), keys, exchange.Expect{
		Kinds: []exchange.Kind{exchange.KindProgram}, Mailbox: c.Mailbox, Client: c.Client, Name: n,
		Sender: func(f string) (exchange.Public, bool) { return clinic, f == clinic.Fingerprint() },
	})
	if err != nil {
		return Accepted{}, err
	}
	list, err := h.v.Programs(ctx, c.Client)
	if err != nil {
		return Accepted{}, storeError{err}
	}
	p, err := readLetter(f.Header, f.Body)
	if err != nil {
		return Accepted{}, err
	}
	if len(list) > 0 && f.Number <= uint64(list[0].Number) {
		for _, q := range p.programs {
			if held, err := h.holds(ctx, q); err != nil || !held {
				return Accepted{}, errors.Join(fmt.Errorf("%w: version %d, here is %d", exchange.ErrStale, f.Number, list[0].Number), err)
			}
		}
		return Accepted{}, errHeld
	}
	fresh, err := h.keep(ctx, f.Header, p)
	return Accepted{Client: c.Client, Version: int(f.Number), New: fresh}, err
}
