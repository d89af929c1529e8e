package program_test

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/program"
)

// TestDocumentation: the example that therapists copy is a program without an
// error, and the page names every word that the file knows.
func TestDocumentation(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "docs", "program.md"))
	require.NoError(t, err)
	blocks := regexp.MustCompile("(?s)```yaml\n(.*?)```").FindAllSubmatch(text, -1)
	require.Len(t, blocks, 1)
	p, _, err := program.Parse(blocks[0][1], program.Source{})
	require.NoError(t, err)
	require.NoError(t, schema(t).Validate(fromYAML(t, blocks[0][1])))
	require.Equal(t, 20.0, lowerAt(t, p.On(date(t, "2026-12-08"))), "as the page says")
	for _, words := range [][]string{texts(program.PrecautionKinds[:]), texts(program.Avoids[:])} {
		for _, w := range words {
			require.Contains(t, string(text), w)
		}
	}
}
