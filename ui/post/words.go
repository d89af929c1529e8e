package post

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"volar/internal/exchange"
)

// sentence makes an error's text a sentence.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	s = string(unicode.ToUpper(r)) + s[n:]
	if !strings.ContainsRune(".!?)", rune(s[len(s)-1])) {
		s += "."
	}
	return s
}

// count says how many there are; many follows the number too.
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// kindWords name a kind of file for a therapist.
var kindWords = map[exchange.Kind][2]string{
	exchange.KindGreeting: {"answer to the invitation", "answers to invitations"},
	exchange.KindProgram:  {"program for the home", "programs for the home"},
	exchange.KindSession:  {"session", "sessions"},
	exchange.KindReview:   {"review", "reviews"},
	exchange.KindRecord:   {"record for the clinic's machines", "records for the clinic's machines"},
}

func kinds(n int, k exchange.Kind) string { return count(n, kindWords[k][0], kindWords[k][1]) }
