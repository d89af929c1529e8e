package post

import (
	"fmt"
	"io/fs"
	"net"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"

	"volar/internal/exchange"
	"volar/internal/vault"
)

// Every error that a person can meet has a sentence of its own with what to do,
// however deep it lies.
func TestWords(t *testing.T) {
	seen := map[string]error{}
	for _, err := range []error{
		exchange.ErrCode, exchange.ErrNewer, exchange.ErrTooLarge, exchange.ErrForged, exchange.ErrForeign, exchange.ErrNotForUs, exchange.ErrWrongClient,
		exchange.ErrWrongKind, exchange.ErrStale, exchange.ErrDamaged, ErrConflict, ErrOtherClinic, ErrNoPlace, vault.ErrLocked, syscall.ENOSPC,
	} {
		words := Words(fmt.Errorf("sending: %w", err))
		assert.NotContains(t, words, "sending:", "%v", err)
		assert.Nil(t, seen[words], "%v and %v say the same", err, seen[words])
		seen[words] = err
	}
	assert.Contains(t, Words(fmt.Errorf("sending: %w", &net.OpError{Op: "dial", Err: syscall.ECONNREFUSED})), "connected to the network")
	assert.Contains(t, Words(fs.ErrPermission), "may not be written")
	assert.Contains(t, Words(&exchange.RefusedError{Where: "b", Err: fmt.Errorf("access denied")}), "access denied")
	assert.Equal(t, "something else", Words(fmt.Errorf("something else")))
}
