package post

import (
	"cmp"
	"context"
	"crypto/sha256"
	"errors"
	"slices"
	"time"

	"volar/internal/exchange"
	"volar/internal/vault"
)

// The states of a file in the inbox.
const (
	stateTaken  = "taken"
	stateNotFor = "not for us"
	stateStale  = "stale"
)

// inbox picks up what came and notes what became of it. Each file is given to
// take, which puts it into the store; only then is it noted as taken.
type inbox struct {
	v        *vault.Vault
	o        Options
	now      time.Time
	trouble  *troubles
	from     *inOrder
	known    map[string]bool
	done     int
	openings map[exchange.Kind]int
}

func openInbox(ctx context.Context, v *vault.Vault, o Options, from exchange.Carrier) (*inbox, error) {
	now := o.Clock()
	t, err := openTroubles(ctx, v, now)
	if err != nil {
		return nil, err
	}
	rows, err := v.Inbox(ctx)
	if err != nil {
		return nil, err
	}
	in := &inbox{v: v, o: o, now: now, trouble: t, from: &inOrder{Carrier: from}, known: map[string]bool{}, openings: map[exchange.Kind]int{}}
	for _, r := range rows {
		in.known[r.Name] = true
	}
	return in, nil
}

// fetch picks up the files of a mailbox, or of all where it is empty. Wanted
// says which, by name alone, and whose they are; it is asked again for each file,
// after those before it were taken.
func (in *inbox) fetch(ctx context.Context, mailbox string, wanted func(exchange.Name) (client string, ok bool),
	take func(ctx context.Context, n exchange.Name, client string, data []byte) error) error {
	skip := func(n exchange.Name) bool {
		in.done++
		in.o.Progress(in.done, len(in.from.sizes))
		_, ok := wanted(n)
		return !ok || in.known[n.String()] || in.trouble.rest(n.String(), in.from.sizes[n])
	}
	one := func(n exchange.Name, data []byte) error {
		client, _ := wanted(n)
		if err := take(ctx, n, client, data); err != nil {
			return err
		}
		if err := in.note(ctx, n, client, stateTaken, data); err != nil {
			return err
		}
		in.openings[n.Kind]++
		in.trouble.remove(n.String())
		return nil
	}
	_, refused, err := exchange.Fetch(ctx, in.from, mailbox, skip, one, in.o.Retry)
	for _, f := range refused {
		switch {
		case ctx.Err() != nil:
			// It was not the file's fault.
		case errors.Is(f.Err, errNotOurs):
			err = errors.Join(err, in.note(ctx, f.Name, "", stateNotFor, nil))
		case errors.Is(f.Err, exchange.ErrStale):
			// Nobody has to do anything about a program that was overtaken.
			err = errors.Join(err, in.note(ctx, f.Name, "", stateStale, nil))
			in.trouble.remove(f.Name.String())
		case outOfOrder(f.Err):
			// The store's fault, not the file's: it comes again.
			err = errors.Join(err, f.Err)
		default:
			client, _ := wanted(f.Name)
			in.trouble.add(f.Name, client, in.from.sizes[f.Name], f.Err)
		}
	}
	if err == nil {
		in.trouble.only(in.from.sizes)
	}
	return errors.Join(err, in.trouble.keep(context.WithoutCancel(ctx)))
}

// note keeps what became of a file.
func (in *inbox) note(ctx context.Context, n exchange.Name, client, state string, data []byte) error {
	if err := in.o.step("note in the inbox"); err != nil {
		return storeError{err}
	}
	err := in.v.PutIncoming(ctx, vault.Incoming{Name: n.String(), Kind: string(n.Kind), Client: client, State: state, Digest: sha256.Sum256(data)})
	if err != nil {
		return storeError{err}
	}
	in.known[n.String()] = true
	return nil
}

// errNotOurs is a file of somebody who shares the carrier.
var errNotOurs = errors.New("the file belongs to somebody else who uses this folder or bucket")

// storeError is something that the store could not do, such as on a full disk.
// The file is not to blame and is tried again.
type storeError struct{ error }

func (e storeError) Unwrap() error { return e.error }

func outOfOrder(err error) bool {
	var s storeError
	return errors.As(err, &s)
}

// stored marks an error of the store.
func stored(err error) error {
	if err == nil {
		return nil
	}
	return storeError{err}
}

// inOrder lists a carrier's files in the order in which they are to be taken:
// what says who somebody is before what they sent.
type inOrder struct {
	exchange.Carrier
	sizes map[exchange.Name]int64
}

var rank = map[exchange.Kind]int{exchange.KindRecord: 0, exchange.KindGreeting: 1, exchange.KindProgram: 2, exchange.KindSession: 3, exchange.KindReview: 4, exchange.KindInvitation: 5}

func (c *inOrder) List(ctx context.Context, mailbox string) ([]exchange.Entry, error) {
	list, err := c.Carrier.List(ctx, mailbox)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(list, func(a, b exchange.Entry) int { return cmp.Compare(rank[a.Name.Kind], rank[b.Name.Kind]) })
	c.sizes = make(map[exchange.Name]int64, len(list))
	for _, e := range list {
		c.sizes[e.Name] = e.Size
	}
	return list, nil
}
