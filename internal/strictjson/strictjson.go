// Package strictjson reads the JSON that this program writes: one value, no
// field that is not known, and nothing behind it. What it refuses was written by
// something else, or cut and joined on its way.
package strictjson

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
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

// Version is the number that stands in a field of an object, 0 where there is
// none. It is read before the rest: an object of a newer version may have fields
// that are not known, and that is not what is wrong with it.
func Version(b []byte, field string) (int, error) {
	var all map[string]json.RawMessage
	if err := json.Unmarshal(b, &all); err != nil {
		return 0, err
	}
	n := 0
	if raw, ok := all[field]; ok {
		if err := json.Unmarshal(raw, &n); err != nil {
			return 0, fmt.Errorf("%s: %w", field, err)
		}
	}
	return n, nil
}
