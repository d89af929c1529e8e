package post

import (
	"context"
	"errors"
	"slices"
	"time"

	"volar/internal/exchange"
	"volar/internal/vault"
)

// Waiting is a sealed file that has not been carried yet.
type Waiting struct {
	Client string
	Kind   exchange.Kind
	Since  time.Time
	// Attempts counts the tries, and Problem says what the last one met.
	Attempts int
	Problem  string
}

// Came is a file that was taken.
type Came struct {
	Client string
	Kind   exchange.Kind
	At     time.Time
}

// Box is an invitation that was given out.
type Box struct {
	Client  string
	Invited time.Time
	// Answered is when the home's keys came; zero is not yet.
	Answered time.Time
}

// State is how a side's post stands.
type State struct {
	Place   Place
	Waiting []Waiting
	// Came lists what came last, newest first, without the clinic's own records.
	Came    []Came
	Trouble []Trouble
	// LastSent is when a file last arrived; zero is never.
	LastSent time.Time
}

// cameShown is how many files a list of what came holds.
const cameShown = 100

func state(ctx context.Context, v *vault.Vault) (s State, err error) {
	if s.Place, err = place(ctx, v); err != nil {
		return s, err
	}
	out, err := v.Outbox(ctx, false)
	if err != nil {
		return s, err
	}
	for _, o := range out {
		if o.Sent.IsZero() {
			s.Waiting = append(s.Waiting, Waiting{o.Client, exchange.Kind(o.Kind), o.Created, o.Attempts, o.Problem})
		} else if o.Sent.After(s.LastSent) {
			s.LastSent = o.Sent
		}
	}
	in, err := v.Inbox(ctx)
	if err != nil {
		return s, err
	}
	for _, r := range slices.Backward(in) {
		if r.State == stateTaken && r.Kind != string(exchange.KindRecord) && len(s.Came) < cameShown {
			s.Came = append(s.Came, Came{r.Client, exchange.Kind(r.Kind), r.Received})
		}
	}
	s.Trouble, err = listTroubles(ctx, v)
	return s, err
}

// State says how the clinic's post stands.
func (c *Clinic) State(ctx context.Context) (State, error) { return state(ctx, c.v) }

// Boxes lists the invitations that were given out, newest first, of a client or
// of all where client is empty.
func (c *Clinic) Boxes(ctx context.Context, client string) ([]Box, error) {
	l, err := c.ledger(ctx)
	if err != nil {
		return nil, err
	}
	var all []Box
	for _, b := range l.Boxes {
		if client == "" || b.Client == client {
			all = append(all, Box{b.Client, b.Invited, b.Greeted})
		}
	}
	slices.SortStableFunc(all, func(a, b Box) int { return b.Invited.Compare(a.Invited) })
	return all, nil
}

// HomeState is how a home's post stands.
type HomeState struct {
	State
	// Connected is true once an invitation was taken; Client is its client, and
	// Since when.
	Connected bool
	Client    string
	Since     time.Time
	// Auto is true where the client chose that each practice is sent by itself.
	Auto bool
}

// State says how the home's post stands, with what is over and not sealed yet.
func (h *Home) State(ctx context.Context) (s HomeState, err error) {
	c, err := h.connection(ctx)
	switch {
	case errors.Is(err, ErrNotConnected):
	case err != nil:
		return s, err
	default:
		s.Connected, s.Client, s.Since = true, c.Client, c.Since
		if _, err := h.Collect(ctx); err != nil {
			return s, err
		}
	}
	if s.State, err = state(ctx, h.v); err != nil {
		return s, err
	}
	err = setting(ctx, h.v, settingAuto, &s.Auto)
	return s, err
}

// SetAuto keeps whether each practice is sent by itself.
func (h *Home) SetAuto(ctx context.Context, yes bool) error {
	return putSetting(ctx, h.v, settingAuto, yes)
}

// Place is where the home's files are carried.
func (h *Home) Place(ctx context.Context) (Place, error) { return place(ctx, h.v) }

// SetPlace chooses where the home's files are carried.
func (h *Home) SetPlace(ctx context.Context, p Place) error { return putPlace(ctx, h.v, p) }
