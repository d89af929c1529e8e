// Package strictjson reads the JSON that this program writes: one value, no
// field that is not known, and nothing behind it. What it refuses was written by
// something else, or cut and joined on its way.
package strictjson

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
)

// Decode reads the one value of b.
func Decode(b []byte, to any) error {
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(to); err != nil {
		return err
	}
	// More is no test of the end: it takes a closing bracket for one.
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return errors.New("there is more after its end")
	}
	return nil
}
