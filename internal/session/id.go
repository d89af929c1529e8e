package session

import (
	"crypto/rand"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"strings"
	"time"
)

// ID names a session for all time and on every computer: 128 bits, a
// UUID of version 7 (RFC 9562, 5.7), whose first 48 bits are the milliseconds
// of Unix time, so that IDs sort by the time of their making.
type ID [16]byte

// NewID makes an ID for a session that began at t.
func NewID(t time.Time) ID {
	var id ID
	// crypto/rand.Read does not fail: it ends the program where the system has
	// no randomness to give.
	rand.Read(id[6:])
	var ms [8]byte
	binary.BigEndian.PutUint64(ms[:], uint64(max(0, t.UnixMilli())))
	copy(id[:6], ms[2:])
	id[6] = id[6]&0x0f | 0x70
	id[8] = id[8]&0x3f | 0x80
	return id
}

// String writes the ID in the five groups of a UUID.
func (id ID) String() string {
	s := hex.EncodeToString(id[:])
	return s[:8] + "-" + s[8:12] + "-" + s[12:16] + "-" + s[16:20] + "-" + s[20:]
}

// IsZero is true for the ID of no session.
func (id ID) IsZero() bool { return id == ID{} }

// ParseID reads what String writes, with or without the hyphens.
func ParseID(s string) (ID, error) {
	var id ID
	b, err := hex.DecodeString(strings.ReplaceAll(s, "-", ""))
	if err != nil || len(b) != len(id) {
		return ID{}, fmt.Errorf("session id %q is not 32 hexadecimal digits", s)
	}
	copy(id[:], b)
	return id, nil
}
