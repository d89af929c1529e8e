package post

import (
	"context"
	"errors"
	"slices"
	"time"

	"volar/internal/exchange"
	"volar/internal/vault"
)

const settingRefused = "post.refused"

// Trouble is a file that lies on the carrier and was not taken.
type Trouble struct {
	// Name is where the file lies; Client whose it is, empty where that is not
	// known.
	Name   string `json:"name"`
	Client string `json:"client,omitempty"`
	Size   int64  `json:"size"`
	// Problem is what was wrong, for a log; Words say it to a person.
	Problem string `json:"problem"`
	Words   string `json:"words"`
	// Since is when it was refused first, Tried when last.
	Since time.Time `json:"since"`
	Tried time.Time `json:"tried"`
	// Soon is true where the next try may go otherwise.
	Soon bool `json:"soon,omitempty"`
}

// tryAgain is how long a file that was refused is left alone: a later version of
// this program may read it, and a bad disk may have a better day.
const tryAgain = 24 * time.Hour

// troubles are the files that were refused, by name. They are kept when they
// changed.
type troubles struct {
	v       *vault.Vault
	now     time.Time
	all     map[string]Trouble
	changed bool
}

func openTroubles(ctx context.Context, v *vault.Vault, now time.Time) (*troubles, error) {
	list, err := listTroubles(ctx, v)
	if err != nil {
		return nil, err
	}
	t := &troubles{v: v, now: now, all: map[string]Trouble{}}
	for _, one := range list {
		t.all[one.Name] = one
	}
	return t, nil
}

func listTroubles(ctx context.Context, v *vault.Vault) (list []Trouble, err error) {
	err = setting(ctx, v, settingRefused, &list)
	return list, err
}

// rest reports whether a file of that size is left alone for now.
func (t *troubles) rest(name string, size int64) bool {
	one, ok := t.all[name]
	return ok && one.Size == size && !one.Soon && t.now.Sub(one.Tried) < tryAgain && !t.now.Before(one.Tried)
}

func (t *troubles) add(n exchange.Name, client string, size int64, err error) Trouble {
	one, ok := t.all[n.String()]
	if !ok {
		one = Trouble{Name: n.String(), Since: t.now}
	}
	one.Client, one.Size, one.Tried, one.Problem, one.Words = client, size, t.now, err.Error(), Words(err)
	one.Soon = errors.Is(err, exchange.ErrForeign) || errors.Is(err, exchange.ErrNewer) || errors.Is(err, ErrConflict)
	t.all[one.Name], t.changed = one, true
	return one
}

func (t *troubles) remove(name string) {
	if _, ok := t.all[name]; ok {
		delete(t.all, name)
		t.changed = true
	}
}

// only forgets the files that lie on the carrier no more.
func (t *troubles) only(there map[exchange.Name]int64) {
	for name := range t.all {
		n, err := exchange.ParseName(name)
		if _, ok := there[n]; err != nil || !ok {
			t.remove(name)
		}
	}
}

// list is in the order in which they were refused.
func (t *troubles) list() []Trouble {
	var out []Trouble
	for _, one := range t.all {
		out = append(out, one)
	}
	slices.SortFunc(out, func(a, b Trouble) int {
		if c := a.Since.Compare(b.Since); c != 0 {
			return c
		}
		if a.Name < b.Name {
			return -1
		}
		return 1
	})
	return out
}

func (t *troubles) keep(ctx context.Context) error {
	if !t.changed {
		return nil
	}
	t.changed = false
	return putSetting(ctx, t.v, settingRefused, t.list())
}
