package post

import (
	"context"
	"fmt"

	"volar/internal/exchange"
	"volar/internal/vault"
)

const settingKeys = "post.keys"

// identity returns a store's keys and makes them at the first use.
func identity(ctx context.Context, v *vault.Vault) (*exchange.Identity, error) {
	b, err := v.Setting(ctx, settingKeys)
	if err != nil {
		return nil, err
	}
	if b != nil {
		i := new(exchange.Identity)
		if err := i.UnmarshalBinary(b); err != nil {
			return nil, fmt.Errorf("keys in the store: %w", err)
		}
		return i, nil
	}
	i, err := exchange.NewIdentity()
	if err != nil {
		return nil, err
	}
	return i, putIdentity(ctx, v, i)
}

func putIdentity(ctx context.Context, v *vault.Vault, i *exchange.Identity) error {
	b, err := i.MarshalBinary()
	if err != nil {
		return err
	}
	return v.PutSetting(ctx, settingKeys, b)
}
