// Package licences holds the licence notices of everything that the program is
// shipped with: the modules it is compiled from, the models, and the native
// library beside it. Most of them have to be handed on with every copy.
//
// The text is collected by scripts/licences from the modules' own files; it is
// compressed, since it is long and the same few licences over and over.
package licences

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"fmt"
	"io"
)

//go:embed notices.txt.gz
var collected []byte

// Notices returns the notices of all components, one after the other, each
// under a line with its name.
func Notices() ([]byte, error) {
	r, err := gzip.NewReader(bytes.NewReader(collected))
	if err != nil {
		return nil, fmt.Errorf("licence notices: %w", err)
	}
	text, err := io.ReadAll(r)
	if err != nil {
		return nil, fmt.Errorf("licence notices: %w", err)
	}
	return text, r.Close()
}
