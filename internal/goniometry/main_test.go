package goniometry

import (
	"flag"
	"fmt"
	"os"
	"testing"
)

// TestMain gives the property tests the same draws on every run, so that a
// failure is a change of the code. To search further:
//
//	go test ./internal/goniometry/ -rapid.seed=$RANDOM -rapid.checks=1000
func TestMain(m *testing.M) {
	flag.Parse()
	if f := flag.Lookup("rapid.seed"); f != nil && f.Value.String() == "0" {
		if err := flag.Set("rapid.seed", "20261125"); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
	os.Exit(m.Run())
}
