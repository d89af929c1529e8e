package post

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"volar/internal/exchange"
	"volar/internal/vault"
)

const settingPlace = "post.place"

// Place is where files are carried: a folder, such as a stick or one that
// another program keeps in step, or a bucket.
type Place struct {
	// Where is the folder's path from the root, or an address as
	// exchange.ParseAddress reads it; empty where files are carried by hand.
	Where string `json:"where"`
	// Key and Secret let this side into the bucket; empty takes the environment
	// (see exchange.Address). HomeKey and HomeSecret are those that a clinic
	// gives to its homes with the invitation; empty gives none.
	Key        string `json:"key,omitempty"`
	Secret     string `json:"secret,omitempty"`
	HomeKey    string `json:"home_key,omitempty"`
	HomeSecret string `json:"home_secret,omitempty"`
}

// IsZero is true where nothing is chosen.
func (p Place) IsZero() bool { return p.Where == "" }

// Bucket is true for a bucket.
func (p Place) Bucket() bool { return strings.HasPrefix(p.Where, "s3://") }

// Check says what is wrong with a place that somebody typed.
func (p Place) Check() error {
	switch {
	case p.Where == "":
		return nil
	case p.Bucket():
		_, err := exchange.ParseAddress(p.Where)
		return err
	case strings.Contains(p.Where, "://"):
		return fmt.Errorf("%q is neither a folder nor a bucket; write a folder's path or s3://host/bucket", p.Where)
	case !filepath.IsAbs(p.Where):
		return fmt.Errorf("the folder %q has to be named from the root", p.Where)
	}
	return nil
}

// Carrier is an open place.
type Carrier interface {
	exchange.Carrier
	io.Closer
}

// Open opens the place. A bucket is not asked anything yet.
func (p Place) Open() (Carrier, error) {
	if p.IsZero() {
		return nil, ErrNoPlace
	}
	if err := p.Check(); err != nil {
		return nil, err
	}
	if !p.Bucket() {
		return exchange.OpenFolder(p.Where)
	}
	a, err := exchange.ParseAddress(p.Where)
	if err != nil {
		return nil, err
	}
	a.Key, a.Secret = cmp.Or(p.Key, a.Key), cmp.Or(p.Secret, a.Secret)
	return exchange.OpenBucket(a)
}

func place(ctx context.Context, v *vault.Vault) (p Place, err error) {
	err = setting(ctx, v, settingPlace, &p)
	return p, err
}

func putPlace(ctx context.Context, v *vault.Vault, p Place) error {
	if err := p.Check(); err != nil {
		return err
	}
	return putSetting(ctx, v, settingPlace, p)
}

// setting reads a setting that is kept as JSON; one that is not there leaves to
// as it is.
func setting(ctx context.Context, v *vault.Vault, name string, to any) error {
	b, err := v.Setting(ctx, name)
	if err != nil || b == nil {
		return err
	}
	if err := json.Unmarshal(b, to); err != nil {
		return fmt.Errorf("setting %s: %w", name, err)
	}
	return nil
}

func putSetting(ctx context.Context, v *vault.Vault, name string, from any) error {
	b, err := json.Marshal(from)
	if err != nil {
		return fmt.Errorf("setting %s: %w", name, err)
	}
	return v.PutSetting(ctx, name, b)
}
