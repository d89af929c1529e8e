package exchange

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func invited(t *testing.T, clinic *Identity, c Code) ([]byte, Invitation) {
	t.Helper()
	var b bytes.Buffer
	_, inv, err := Invite(&b, Header{Mailbox: mailbox, Client: "C-017", Number: 1}, Invitation{Program: []byte("program"), Carrier: "s3://h/b"}, clinic, c)
	require.NoError(t, err)
	return b.Bytes(), inv
}

func TestClinicAndHomeMeet(t *testing.T) {
	clinic, home, stranger := identity(t), identity(t), identity(t)
	code, err := NewCode()
	require.NoError(t, err)
	file, issued := invited(t, clinic, code)

	wrong := code
	for wrong == code {
		wrong, err = NewCode()
		require.NoError(t, err)
	}
	_, _, err = Accept(bytes.NewReader(file), wrong)
	assert.ErrorIs(t, err, ErrNotForUs)

	h, inv, err := Accept(bytes.NewReader(file), code)
	require.NoError(t, err)
	assert.True(t, inv.Clinic.Equal(clinic.Public()))
	assert.Equal(t, "program", string(inv.Program))
	assert.Equal(t, "C-017", h.Client)

	var answer bytes.Buffer
	_, err = Greet(&answer, Header{Mailbox: h.Mailbox, Client: h.Client}, inv, home)
	require.NoError(t, err)
	secret := func(m string) ([]byte, bool) { return issued.Secret, m == mailbox }
	_, got, err := Meet(bytes.NewReader(answer.Bytes()), clinic, secret)
	require.NoError(t, err)
	assert.True(t, got.Equal(home.Public()))

	t.Run("someone who was never invited", func(t *testing.T) {
		var b bytes.Buffer
		_, err := Greet(&b, Header{Mailbox: mailbox, Client: "C-017"}, Invitation{Clinic: clinic.Public(), Secret: make([]byte, 32)}, stranger)
		require.NoError(t, err)
		_, _, err = Meet(&b, clinic, secret)
		assert.ErrorIs(t, err, ErrForeign)
	})
	t.Run("no invitation is open", func(t *testing.T) {
		_, _, err := Meet(bytes.NewReader(answer.Bytes()), clinic, func(string) ([]byte, bool) { return nil, false })
		assert.ErrorIs(t, err, ErrForeign)
	})
	t.Run("greeting to another clinic", func(t *testing.T) {
		_, _, err := Meet(bytes.NewReader(answer.Bytes()), stranger, secret)
		assert.ErrorIs(t, err, ErrNotForUs)
	})
	t.Run("a session is no greeting", func(t *testing.T) {
		_, _, err := Meet(bytes.NewReader(sealed(t, session("C-017"), nil, home, clinic)), clinic, secret)
		assert.ErrorIs(t, err, ErrWrongKind)
	})
	t.Run("damaged", func(t *testing.T) {
		_, _, err := Accept(bytes.NewReader(file[:len(file)-1]), code)
		assert.ErrorIs(t, err, ErrDamaged)
	})
}

func TestCode(t *testing.T) {
	c, err := NewCode()
	require.NoError(t, err)
	assert.Len(t, string(c), 16)
	again, err := ParseCode(" " + strings.ReplaceAll(c.String(), " ", "-"))
	require.NoError(t, err)
	assert.Equal(t, c, again)
	for _, s := range []string{"", "1234", "12345678901234567", "4821 0093 77l5 2046"} {
		_, err := ParseCode(s)
		assert.ErrorIs(t, err, ErrCode, s)
	}
	// Damm's own example, 2004: 572 has the check digit 4.
	assert.EqualValues(t, 4, checkDigit("572"))
}

// Every single wrong digit and every exchange of neighbours is found.
func TestCodeFindsSlips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := []byte(rapid.StringMatching(`[0-9]{15}`).Draw(t, "digits"))
		b = append(b, '0'+checkDigit(string(b)))
		at := rapid.IntRange(0, 15).Draw(t, "at")
		slip := bytes.Clone(b)
		slip[at] = '0' + byte(rapid.IntRange(0, 9).Draw(t, "digit"))
		if slip[at] != b[at] && checkDigit(string(slip)) == 0 {
			t.Fatalf("%s passed for %s", slip, b)
		}
		if at > 0 && b[at] != b[at-1] {
			slip = bytes.Clone(b)
			slip[at], slip[at-1] = b[at-1], b[at]
			if checkDigit(string(slip)) == 0 {
				t.Fatalf("%s passed for %s", slip, b)
			}
		}
	})
}

func TestKeysTravel(t *testing.T) {
	a := identity(t)
	var b bytes.Buffer
	require.NoError(t, a.Export(&b, "four words of it"))
	got, err := ImportIdentity(bytes.NewReader(b.Bytes()), "four words of it")
	require.NoError(t, err)
	assert.True(t, got.Public().Equal(a.Public()))
	_, err = ImportIdentity(bytes.NewReader(b.Bytes()), "other words")
	assert.ErrorIs(t, err, ErrNotForUs)
	_, err = ImportIdentity(bytes.NewReader(b.Bytes()[:b.Len()-3]), "four words of it")
	assert.ErrorIs(t, err, ErrDamaged)
	assert.Error(t, new(Identity).UnmarshalBinary([]byte{0xa0}))
	assert.Error(t, Public{Recipient: "age1nonsense"}.Check())
}

func TestNeedsCode(t *testing.T) {
	clinic, home := identity(t), identity(t)
	code, err := NewCode()
	require.NoError(t, err)
	file, _ := invited(t, clinic, code)
	assert.True(t, NeedsCode(file))
	assert.False(t, NeedsCode(sealed(t, session("C-017"), nil, home, clinic)))
	assert.False(t, NeedsCode(nil))
}

// All machines of a clinic find the same mailbox, which nobody else finds.
func TestMailboxOfAClinic(t *testing.T) {
	a, b := identity(t), identity(t)
	var keys bytes.Buffer
	require.NoError(t, a.Export(&keys, "four words of it"))
	second, err := ImportIdentity(&keys, "four words of it")
	require.NoError(t, err)
	assert.True(t, isID(a.Mailbox("C-017")))
	assert.Equal(t, a.Mailbox("C-017"), second.Mailbox("C-017"))
	assert.NotEqual(t, a.Mailbox("C-017"), a.Mailbox("C-018"))
	assert.NotEqual(t, a.Mailbox("C-017"), b.Mailbox("C-017"))
}

func TestContentID(t *testing.T) {
	at := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	id := ContentID(at, "a", "bc")
	assert.True(t, isID(id))
	assert.Equal(t, id, ContentID(at, "a", "bc"))
	assert.NotEqual(t, id, ContentID(at, "ab", "c"), "parts are told apart")
	assert.Greater(t, ContentID(at.Add(time.Millisecond), "a"), id, "names sort by time")
}
