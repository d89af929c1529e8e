package exchange

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"time"
)

// Name is where a sealed file lies: mailbox/kind/id.volar.
type Name struct {
	Mailbox string
	Kind    Kind
	ID      string
}

const suffix = ".volar"

// String writes the name with slashes, as it stands on every carrier.
func (n Name) String() string { return n.Mailbox + "/" + string(n.Kind) + "/" + n.ID + suffix }

// ParseName reads a name. Anything else, such as one with dots or further
// slashes, is refused, so that a name can never lead out of its folder.
func ParseName(s string) (Name, error) {
	part := strings.Split(s, "/")
	if len(part) == 3 {
		id, ok := strings.CutSuffix(part[2], suffix)
		n := Name{part[0], Kind(part[1]), id}
		for _, k := range kinds {
			if ok && n.Kind == k && isID(n.Mailbox) && isID(n.ID) {
				return n, nil
			}
		}
	}
	return Name{}, fmt.Errorf("%.80q is not the name of a sealed file", s)
}

// Entry is one file on a carrier.
type Entry struct {
	Name Name
	Size int64
}

// Carrier is where sealed files are left and picked up. Implementations are
// safe for concurrent use.
type Carrier interface {
	// Put leaves a file. One that lies there already under that name stays as
	// it is, and that is no error: names are never used twice.
	Put(ctx context.Context, n Name, data []byte) error
	// List names the files of a mailbox, or of all mailboxes where it is
	// empty, in order of mailbox, kind and time.
	List(ctx context.Context, mailbox string) ([]Entry, error)
	// Get picks a file up; fs.ErrNotExist where there is none.
	Get(ctx context.Context, n Name) ([]byte, error)
	// Remove takes a file away; one that is not there is no error.
	Remove(ctx context.Context, n Name) error
	// String says where it is, without credentials.
	String() string
}

// Retry says how often a transfer is tried. The zero value is five times, with
// a first pause of half a second that doubles.
type Retry struct {
	Times int
	Pause time.Duration
}

func (r Retry) withDefaults() Retry {
	if r.Times <= 0 {
		r.Times = 5
	}
	if r.Pause <= 0 {
		r.Pause = 500 * time.Millisecond
	}
	return r
}

// do tries until it works, the times are used up, or trying again is no use.
func (r Retry) do(ctx context.Context, f func() error) error {
	r = r.withDefaults()
	pause := r.Pause
	for try := 1; ; try++ {
		err := f()
		if err == nil || try == r.Times || final(err) {
			return err
		}
		t := time.NewTimer(pause)
		select {
		case <-ctx.Done():
			t.Stop()
			return fmt.Errorf("%w (last: %v)", ctx.Err(), err)
		case <-t.C:
		}
		pause *= 2
	}
}

// final reports whether an error will come again however often one tries.
func final(err error) bool {
	var refused *RefusedError
	return errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) ||
		errors.Is(err, fs.ErrNotExist) || errors.Is(err, fs.ErrPermission) || errors.Is(err, ErrTooLarge) || errors.As(err, &refused)
}

// RefusedError is a carrier's answer that trying again does not change, such as
// wrong credentials or a bucket that does not exist.
type RefusedError struct {
	Where string
	Err   error
}

func (e *RefusedError) Error() string { return fmt.Sprintf("%s refused: %v", e.Where, e.Err) }
func (e *RefusedError) Unwrap() error { return e.Err }

// Outbox is where sealed files wait to be sent.
type Outbox interface {
	// List names the files that wait, in the order in which they are to go.
	List(ctx context.Context, mailbox string) ([]Entry, error)
	Get(ctx context.Context, n Name) ([]byte, error)
	// Remove notes that a file arrived.
	Remove(ctx context.Context, n Name) error
}

// Send moves every file of the outbox to a carrier and returns how many
// arrived. A file leaves the outbox only once it lies on the carrier, so that
// it may be called again after any interruption; the first failure ends it,
// since the next file would most likely fail too.
func Send(ctx context.Context, outbox Outbox, to Carrier, r Retry) (sent int, err error) {
	waiting, err := outbox.List(ctx, "")
	if err != nil {
		return 0, fmt.Errorf("reading the outbox: %w", err)
	}
	for _, e := range waiting {
		data, err := outbox.Get(ctx, e.Name)
		if err != nil {
			return sent, fmt.Errorf("reading the outbox: %w", err)
		}
		if err := r.do(ctx, func() error { return to.Put(ctx, e.Name, data) }); err != nil {
			return sent, fmt.Errorf("sending to %s: %w", to, err)
		}
		if err := outbox.Remove(ctx, e.Name); err != nil {
			return sent, fmt.Errorf("clearing the outbox: %w", err)
		}
		sent++
	}
	return sent, nil
}

// Failure is a file that was fetched but not taken.
type Failure struct {
	Name Name
	Err  error
}

// Fetch picks up the files of a mailbox, or of all where it is empty, that the
// caller does not have yet and hands each to take. A file that take refuses is
// reported and does not hold up the others; an error of the carrier ends it.
func Fetch(ctx context.Context, from Carrier, mailbox string, have func(Name) bool, take func(Name, []byte) error, r Retry) (taken int, refused []Failure, err error) {
	var list []Entry
	if err := r.do(ctx, func() (err error) { list, err = from.List(ctx, mailbox); return err }); err != nil {
		return 0, nil, fmt.Errorf("looking into %s: %w", from, err)
	}
	for _, e := range list {
		if have(e.Name) {
			continue
		}
		if e.Size > MaxFile {
			refused = append(refused, Failure{e.Name, ErrTooLarge})
			continue
		}
		var data []byte
		err := r.do(ctx, func() (err error) { data, err = from.Get(ctx, e.Name); return err })
		switch {
		case errors.Is(err, ErrTooLarge):
			refused = append(refused, Failure{e.Name, err})
			continue
		case err != nil:
			return taken, refused, fmt.Errorf("fetching from %s: %w", from, err)
		}
		if err := take(e.Name, data); err != nil {
			refused = append(refused, Failure{e.Name, err})
			continue
		}
		taken++
	}
	return taken, refused, nil
}
