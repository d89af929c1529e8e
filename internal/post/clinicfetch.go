package post

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"volar/internal/exchange"
	"volar/internal/goniometry"
	"volar/internal/homestore"
	"volar/internal/program"
	"volar/internal/review"
	"volar/internal/session"
	"volar/internal/strictjson"
	"volar/internal/vault"
)

// Fetch picks up what the homes and the clinic's other machines left.
func (c *Clinic) Fetch(ctx context.Context, from exchange.Carrier) (Fetched, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	keys, err := identity(ctx, c.v)
	if err != nil {
		return Fetched{}, err
	}
	l, err := c.ledger(ctx)
	if err != nil {
		return Fetched{}, err
	}
	clients, err := c.v.Clients(ctx)
	if err != nil {
		return Fetched{}, err
	}
	if l.settle(clients, c.o.Clock()) {
		if err := c.keepLedger(ctx, l); err != nil {
			return Fetched{}, err
		}
	}
	in, err := openInbox(ctx, c.v, c.o, from)
	if err != nil {
		return Fetched{}, err
	}
	r := &receiving{c: c, keys: keys, l: l, own: map[string]string{}, sent: map[string]bool{}}
	for _, row := range clients {
		r.own[keys.Mailbox(row.Code)] = row.Code
	}
	// What this machine sent itself need not come back.
	if r.sent, err = names(ctx, c.v); err != nil {
		return Fetched{}, err
	}
	err = in.fetch(ctx, "", r.wanted, r.take)
	n := in.openings
	return Fetched{
		Programs: r.programs, Sessions: n[exchange.KindSession], Greetings: n[exchange.KindGreeting], Reviews: n[exchange.KindReview],
		Records: n[exchange.KindRecord], Trouble: in.trouble.list(),
	}, err
}

// receiving is one run of Fetch.
type receiving struct {
	c    *Clinic
	keys *exchange.Identity
	l    *ledger
	// own are the clients by the mailbox that the clinic's machines share.
	own map[string]string
	// sent are the names that went out from here.
	sent     map[string]bool
	programs int
}

// wanted says which files are for the clinic, and whose.
func (r *receiving) wanted(n exchange.Name) (client string, ok bool) {
	if r.sent[n.String()] {
		return "", false
	}
	switch n.Kind {
	case exchange.KindRecord:
		// One of a mailbox that is not known may be of a client whom another
		// machine made.
		return r.own[n.Mailbox], true
	case exchange.KindReview:
		client, ok = r.own[n.Mailbox]
		return client, ok
	case exchange.KindGreeting, exchange.KindSession:
		if b := r.l.box(n.Mailbox); b != nil {
			return b.Client, true
		}
	}
	return "", false
}

func (r *receiving) take(ctx context.Context, n exchange.Name, client string, data []byte) error {
	switch n.Kind {
	case exchange.KindGreeting:
		return r.greeting(ctx, n, data)
	case exchange.KindSession:
		return r.session(ctx, n, data)
	case exchange.KindRecord:
		return r.record(ctx, n, client, data)
	default:
		return r.review(ctx, n, data)
	}
}

// greeting keeps a home's keys. The first answer to an invitation counts.
func (r *receiving) greeting(ctx context.Context, n exchange.Name, data []byte) error {
	b := r.l.box(n.Mailbox)
	h, home, err := exchange.Meet(bytes.NewReader(data), r.keys, func(m string) ([]byte, bool) { return b.Secret, m == b.Mailbox })
	switch {
	case err != nil:
		return err
	case h.Name() != n:
		return fmt.Errorf("%w: it lay under another file's name", exchange.ErrDamaged)
	case h.Client != b.Client:
		return fmt.Errorf("%w: %q", exchange.ErrWrongClient, h.Client)
	case b.answered() && !b.home().Equal(home):
		return fmt.Errorf("%w: another home has answered this invitation before", exchange.ErrForeign)
	case b.answered():
		return nil
	}
	b.Recipient, b.Signer, b.Greeted = home.Recipient, home.Signer, r.c.o.Clock().UTC()
	return r.c.keepLedger(ctx, r.l)
}

func (r *receiving) session(ctx context.Context, n exchange.Name, data []byte) error {
	b := r.l.box(n.Mailbox)
	f, err := exchange.Open(bytes.NewReader(data), r.keys, exchange.Expect{
		Kinds: []exchange.Kind{exchange.KindSession}, Mailbox: b.Mailbox, Client: b.Client, Name: n,
		Sender: func(f string) (exchange.Public, bool) {
			return b.home(), b.answered() && f == b.home().Fingerprint()
		},
	})
	if err != nil {
		return err
	}
	s, err := session.Decode(bytes.NewReader(f.Body))
	if err != nil {
		return fmt.Errorf("the session inside: %w", err)
	}
	if s.Client != b.Client {
		return fmt.Errorf("%w: the session inside is of %q", exchange.ErrWrongClient, s.Client)
	}
	if hex.EncodeToString(s.ID[:]) != n.ID {
		return fmt.Errorf("%w: the session inside is another one", exchange.ErrDamaged)
	}
	// One session ID of two clients would be a lie of one of them.
	if had, err := r.c.v.Sessions(ctx, vault.Filter{IDPrefix: s.ID.String(), Limit: 1}); err != nil {
		return storeError{err}
	} else if len(had) == 1 && had[0].Client != s.Client {
		return fmt.Errorf("%w: a session of %s has its number", exchange.ErrWrongClient, had[0].Client)
	}
	if err := r.c.o.step("keep a session"); err != nil {
		return storeError{err}
	}
	return stored(r.c.v.Import(ctx, s))
}

// openOwn opens a file that one of the clinic's machines wrote.
func (r *receiving) openOwn(n exchange.Name, kind exchange.Kind, data []byte) (*exchange.File, error) {
	me := r.keys.Public()
	f, err := exchange.Open(bytes.NewReader(data), r.keys, exchange.Expect{
		Kinds: []exchange.Kind{kind}, Name: n,
		Sender: func(f string) (exchange.Public, bool) { return me, f == me.Fingerprint() },
	})
	if err != nil {
		return nil, err
	}
	if f.Mailbox != r.keys.Mailbox(f.Client) {
		return nil, fmt.Errorf("%w: it lies in another client's mailbox", exchange.ErrWrongClient)
	}
	return f, nil
}

// record takes what another machine keeps of a client.
func (r *receiving) record(ctx context.Context, n exchange.Name, client string, data []byte) error {
	f, err := r.openOwn(n, exchange.KindRecord, data)
	if errors.Is(err, exchange.ErrNotForUs) && client == "" {
		return errNotOurs
	}
	if err != nil {
		return err
	}
	var rec record
	if err := decodeJSON(f.Body, recordVersion, &rec); err != nil {
		return err
	}
	if _, ok := r.l.Gone[f.Client]; ok {
		return nil // removed here, and only somebody here brings a client back
	}
	if err := r.makeRoom(ctx, f.Client); err != nil {
		return err
	}
	switch {
	case rec.Client != nil:
		return r.client(ctx, f.Client, rec)
	case rec.Box != nil:
		return r.box(ctx, f.Client, *rec.Box)
	case rec.Program != nil:
		return r.program(ctx, f.Client, *rec.Program)
	case rec.Baseline != nil:
		return r.baseline(ctx, f.Client, *rec.Baseline)
	case rec.Measured != nil:
		return r.measured(ctx, f.Client, *rec.Measured)
	}
	return fmt.Errorf("%w: it holds nothing", exchange.ErrDamaged)
}

// makeRoom sees to it that a client is in the store, as one of whom nothing is
// known yet but the code.
func (r *receiving) makeRoom(ctx context.Context, client string) error {
	_, err := r.c.v.Client(ctx, client)
	if err == nil {
		return nil
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return storeError{err}
	}
	row := vault.Client{Code: client}
	digest, err := recordOf(row).digest()
	if err != nil {
		return err
	}
	// In this order: a client whose digest is known is not taken for a change.
	r.l.Clients[client] = shared{Digest: digest}
	if err := stored(r.c.v.PutClient(ctx, row)); err != nil {
		return err
	}
	r.own[r.keys.Mailbox(client)] = client
	return r.c.keepLedger(ctx, r.l)
}

// client takes the newest state of a client.
func (r *receiving) client(ctx context.Context, code string, rec record) error {
	digest, err := rec.Client.digest()
	if err != nil {
		return err
	}
	if last := r.l.Clients[code]; !rec.At.After(last.At) {
		return nil
	}
	if err := r.c.o.step("keep a client"); err != nil {
		return storeError{err}
	}
	if err := stored(r.c.v.PutClient(ctx, rec.Client.client(code))); err != nil {
		return err
	}
	r.l.Clients[code] = shared{digest, rec.At}
	return r.c.keepLedger(ctx, r.l)
}

func (r *receiving) box(ctx context.Context, client string, b box) error {
	if b.Client != client || len(b.Secret) != 32 {
		return fmt.Errorf("%w: the mailbox inside is not one", exchange.ErrDamaged)
	}
	if r.l.box(b.Mailbox) != nil {
		return nil
	}
	r.l.Boxes = append(r.l.Boxes, b)
	return r.c.keepLedger(ctx, r.l)
}

// program takes a version. Another one under its number is ErrConflict, until a
// later version has settled which is to hold.
func (r *receiving) program(ctx context.Context, client string, rec programRecord) error {
	p, err := homestore.Unpack(rec.Body)
	if err != nil {
		return fmt.Errorf("%w: %v", exchange.ErrDamaged, err)
	}
	if p.Client != client || p.Version != rec.Number {
		return fmt.Errorf("%w: the program inside is version %d for %q", exchange.ErrWrongClient, p.Version, p.Client)
	}
	had, err := r.c.v.Program(ctx, client, rec.Number)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return storeError{err}
	case had.Hash == sha256.Sum256(rec.Body):
		return nil
	default:
		newest, err := r.c.v.Program(ctx, client, 0)
		if err != nil {
			return storeError{err}
		}
		if newest.Number > rec.Number {
			return nil
		}
		return conflict(had.Body, p)
	}
	if err := r.c.o.step("keep a program"); err != nil {
		return storeError{err}
	}
	err = stored(r.c.v.PutProgram(ctx, vault.Program{Client: client, Name: client, Number: rec.Number, ValidFrom: rec.ValidFrom, Body: rec.Body}))
	if err == nil {
		r.programs++
	}
	return err
}

// conflict says how the other machine's version differs.
func conflict(here []byte, there *program.Program) error {
	mine, err := homestore.Unpack(here)
	if err != nil {
		return err
	}
	var text []string
	for _, d := range program.Diff(mine, there) {
		text = append(text, d.Text)
	}
	return fmt.Errorf("%w: version %d of %s; there: %s", ErrConflict, there.Version, there.Client, strings.Join(text, "; "))
}

func (r *receiving) baseline(ctx context.Context, client string, rec handRecord) error {
	have, err := r.c.v.Baselines(ctx, client)
	if err != nil {
		return storeError{err}
	}
	if holdsBaseline(have, rec.Side, rec.At, rec.Body) {
		return nil
	}
	if _, err := goniometry.DecodeBaseline(rec.Body); err != nil {
		return fmt.Errorf("%w: the recorded hand inside: %v", exchange.ErrDamaged, err)
	}
	if err := r.c.o.step("keep a recorded hand"); err != nil {
		return storeError{err}
	}
	return stored(r.c.v.PutBaseline(ctx, vault.Baseline{Client: client, Side: rec.Side, Captured: rec.At, Body: rec.Body}))
}

func (r *receiving) measured(ctx context.Context, client string, rec handRecord) error {
	have, err := r.c.v.Measurements(ctx, client)
	if err != nil {
		return storeError{err}
	}
	for _, m := range have {
		if m.Side == rec.Side && m.Taken.UnixMilli() == rec.At.UnixMilli() && bytes.Equal(m.Body, rec.Body) {
			return nil
		}
	}
	if !json.Valid(rec.Body) {
		return fmt.Errorf("%w: the measurement inside is not JSON", exchange.ErrDamaged)
	}
	if err := r.c.o.step("keep a measurement"); err != nil {
		return storeError{err}
	}
	return stored(r.c.v.PutMeasurement(ctx, vault.Measurement{Client: client, Side: rec.Side, Taken: rec.At, Body: rec.Body}))
}

// review takes another machine's reading of a session, if the session is here.
func (r *receiving) review(ctx context.Context, n exchange.Name, data []byte) error {
	f, err := r.openOwn(n, exchange.KindReview, data)
	if err != nil {
		return err
	}
	rev, err := review.Decode(f.Body)
	if err != nil {
		return fmt.Errorf("%w: %v", exchange.ErrDamaged, err)
	}
	if rev.Client != f.Client {
		return fmt.Errorf("%w: the review inside is of %q", exchange.ErrWrongClient, rev.Client)
	}
	had, err := r.c.v.Sessions(ctx, vault.Filter{IDPrefix: rev.Session.String(), Limit: 1})
	switch {
	case err != nil:
		return storeError{err}
	case len(had) == 0:
		return fmt.Errorf("%w: its session has not come yet", exchange.ErrForeign)
	case had[0].Client != f.Client:
		return exchange.ErrWrongClient
	}
	if err := r.c.o.step("keep a review"); err != nil {
		return storeError{err}
	}
	return stored(r.c.v.PutReview(ctx, *rev))
}

// decodeJSON reads a body of a version up to one.
func decodeJSON(body []byte, newest int, to any) error {
	v, err := strictjson.Version(body, "version")
	if err != nil {
		return fmt.Errorf("%w: %v", exchange.ErrDamaged, err)
	}
	if v > newest {
		return fmt.Errorf("%w: its content has version %d, this reads up to %d", exchange.ErrNewer, v, newest)
	}
	if err := strictjson.Decode(body, to); err != nil {
		return fmt.Errorf("%w: %v", exchange.ErrDamaged, err)
	}
	return nil
}
