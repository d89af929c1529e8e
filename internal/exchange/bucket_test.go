package exchange_test

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"volar/internal/exchange"
	"volar/internal/exchange/buckettest"
)

const box = "00112233445566778899aabbccddeeff"

func open(t *testing.T, a exchange.Address) *exchange.Bucket {
	t.Helper()
	b, err := exchange.OpenBucket(a)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, b.Close()) })
	return b
}

// A real object storage server, stopped and started again.
func TestBucket(t *testing.T) {
	s := buckettest.Start(t)
	for _, prefix := range []string{"", "some/where"} {
		a := s.Address
		a.Prefix = prefix
		exchange.CarrierWorks(t, open(t, a))
	}
	b := open(t, s.Address)
	wrong := s.Address
	wrong.Secret = "no"
	_, err := open(t, wrong).List(t.Context(), box)
	var refused *exchange.RefusedError
	assert.ErrorAs(t, err, &refused)
	assert.NotContains(t, err.Error(), wrong.Key+":")
	none := s.Address
	none.Bucket = "nowhere"
	assert.ErrorAs(t, open(t, none).Put(t.Context(), exchange.Name{Mailbox: box, Kind: exchange.KindSession, ID: box}, nil), &refused)

	// Larger than one part of an upload.
	big := make([]byte, 20<<20)
	_, err = rand.Read(big)
	require.NoError(t, err)
	n := exchange.Name{Mailbox: box, Kind: exchange.KindSession, ID: strings.Repeat("d", 32)}
	require.NoError(t, b.Put(t.Context(), n, big))
	got, err := b.Get(t.Context(), n)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(big, got))

	// The network goes away in the middle and comes back.
	out, err := exchange.OpenFolder(t.TempDir())
	require.NoError(t, err)
	defer out.Close()
	n.ID = strings.Repeat("e", 32)
	require.NoError(t, out.Put(t.Context(), n, []byte("later")))
	s.Down()
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	defer cancel()
	_, err = exchange.Send(ctx, out, b, exchange.Retry{Times: 2, Pause: time.Millisecond})
	require.Error(t, err)
	assert.False(t, errors.As(err, &refused), "a server that is gone refuses nothing: %v", err)
	s.Up()
	sent, err := exchange.Send(ctx, out, b, exchange.Retry{Times: 10, Pause: 10 * time.Millisecond})
	require.NoError(t, err)
	assert.Equal(t, 1, sent)
}
