package exchange

import (
	"crypto/rand"
	"fmt"
	"math/big"
	"strings"

	"filippo.io/age"
)

// Code is what is read out to a client to open an invitation: fifteen random
// digits and a check digit. Fifteen digits are 49.8 bits; with scrypt at 2^18,
// about a second a try, guessing half of them takes some ten million years of
// one processor.
type Code string

const (
	codeDigits = 16
	// codeWork is scrypt's log N; age's own default.
	codeWork = 18
)

// NewCode draws a code.
func NewCode() (Code, error) {
	n, err := rand.Int(rand.Reader, new(big.Int).Exp(big.NewInt(10), big.NewInt(codeDigits-1), nil))
	if err != nil {
		return "", fmt.Errorf("drawing a code: %w", err)
	}
	s := fmt.Sprintf("%0*d", codeDigits-1, n)
	return Code(s + string('0'+checkDigit(s))), nil
}

// ParseCode reads a code as a person types it, with or without spaces and
// dashes. One wrong digit, or two neighbours exchanged, is ErrCode.
func ParseCode(s string) (Code, error) {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r >= '0' && r <= '9':
			b.WriteRune(r)
		case r == ' ' || r == '-' || r == '\t':
		default:
			return "", fmt.Errorf("%w: it has digits only, not %q", ErrCode, r)
		}
	}
	d := b.String()
	if len(d) != codeDigits {
		return "", fmt.Errorf("%w: it has %d digits, not %d", ErrCode, codeDigits, len(d))
	}
	if checkDigit(d) != 0 {
		return "", fmt.Errorf("%w: compare each group of four digits with what was read out", ErrCode)
	}
	return Code(d), nil
}

// String writes the code in groups of four.
func (c Code) String() string {
	var g []string
	for i := 0; i+4 <= len(c); i += 4 {
		g = append(g, string(c[i:i+4]))
	}
	return strings.Join(g, " ")
}

func (c Code) recipient() (age.Recipient, error) {
	r, err := age.NewScryptRecipient(string(c))
	if err != nil {
		return nil, err
	}
	r.SetWorkFactor(codeWork)
	return r, nil
}

// dammTable is the quasigroup of order 10 of Damm's thesis (H. M. Damm, Total
// anti-symmetrische Quasigruppen, Marburg 2004): it finds every single wrong
// digit and every exchange of neighbours.
var dammTable = [10][10]byte{
	{0, 3, 1, 7, 5, 9, 8, 6, 4, 2},
	{7, 0, 9, 2, 1, 5, 4, 8, 6, 3},
	{4, 2, 0, 6, 8, 7, 1, 3, 5, 9},
	{1, 7, 5, 0, 9, 8, 3, 4, 2, 6},
	{6, 1, 2, 3, 0, 4, 5, 9, 7, 8},
	{3, 6, 7, 4, 2, 0, 9, 5, 8, 1},
	{5, 8, 6, 9, 7, 2, 0, 1, 3, 4},
	{8, 9, 4, 5, 3, 6, 2, 0, 1, 7},
	{9, 4, 3, 8, 6, 1, 7, 2, 0, 5},
	{2, 5, 8, 1, 4, 3, 6, 7, 9, 0},
}

// checkDigit is 0 for digits that end in their own check digit.
func checkDigit(digits string) byte {
	var x byte
	for i := range len(digits) {
		x = dammTable[x][digits[i]-'0']
	}
	return x
}
