package unseen

import (
	"go/ast"
	"go/parser"
	"go/token"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// The hands that the training keeps for testing count as unseen, whatever the
// list of trained ones says.
func TestHandsKeptForTestingCountAsUnseen(t *testing.T) {
	file, err := parser.ParseFile(token.NewFileSet(), "../angle-head/generate/main.go", nil, 0)
	require.NoError(t, err)
	var kept []string
	ast.Inspect(file, func(n ast.Node) bool {
		v, ok := n.(*ast.ValueSpec)
		if !ok || len(v.Names) != 1 || v.Names[0].Name != "testHands" {
			return true
		}
		for _, e := range v.Values[0].(*ast.CompositeLit).Elts {
			name, err := strconv.Unquote(e.(*ast.KeyValueExpr).Key.(*ast.BasicLit).Value)
			require.NoError(t, err)
			kept = append(kept, name)
		}
		return false
	})
	require.NotEmpty(t, kept)
	seen := strings.Fields(trained)
	require.True(t, slices.IsSorted(seen))
	for _, name := range kept {
		require.NotContains(t, seen, name)
	}
}
