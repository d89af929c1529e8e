package strictjson

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// RFC 8259, section 2: a JSON text is one value, with white space around it.
func TestOneValueAndNothingElse(t *testing.T) {
	type pair struct {
		A int `json:"a"`
		B []int
	}
	for text, ok := range map[string]bool{
		`{"a": 1}`:               true,
		" {\"a\":1,\"B\":[2]}\n": true,
		``:                       false,
		`{"a": 1`:                false,
		`{"a": 1, "c": 2}`:       false,
		`{"a": "1"}`:             false,
		`{"a": 1}{"a": 2}`:       false,
		`{"a": 1} x`:             false,
		`{"a": 1}]`:              false,
		`{"a": 1}}`:              false,
		`{"a": 1},`:              false,
		"{\"a\": 1}\x00":         false,
	} {
		var p pair
		err := Decode([]byte(text), &p)
		if !ok {
			require.Error(t, err, "%q", text)
			continue
		}
		require.NoError(t, err, "%q", text)
		require.Equal(t, 1, p.A)
	}
}

func TestVersion(t *testing.T) {
	for text, want := range map[string]int{`{"version": 3, "new": [1, {}]}`: 3, `{"a": 1}`: 0, `{"version": 0}`: 0} {
		n, err := Version([]byte(text), "version")
		require.NoError(t, err)
		require.Equal(t, want, n)
	}
	for _, text := range []string{``, `[]`, `{"version": "3"}`, `{"version": 1.5}`, `{"version": 1} x`} {
		_, err := Version([]byte(text), "version")
		require.Error(t, err, text)
	}
}
