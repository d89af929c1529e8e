package main

import (
	"bytes"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/licences"
)

func TestEveryModuleOfTheProgramHasItsNotice(t *testing.T) {
	t.Chdir("../..")
	modules, err := dependencies()
	require.NoError(t, err)
	require.Greater(t, len(modules), 20)
	text, err := licences.Notices()
	require.NoError(t, err)
	for _, m := range modules {
		if !bytes.Contains(text, []byte("== "+m.path+" ")) {
			t.Errorf("no notice of %s is shipped: run go run ./scripts/licences", m.path)
		}
	}
	for _, owner := range []string{"volar", "ONNX Runtime", "hand landmark and palm detection models, converted"} {
		require.Contains(t, string(text), "== "+owner+"\n")
	}
}
