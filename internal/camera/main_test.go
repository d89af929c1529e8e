package camera

import (
	"os"
	"testing"

	"go.uber.org/goleak"
)

func TestMain(m *testing.M) {
	if name := os.Getenv(childEnv); name != "" {
		os.Exit(child(name))
	}
	goleak.VerifyTestMain(m)
}
