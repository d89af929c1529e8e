package exercise_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/exercise"
)

func TestCatalogueReads(t *testing.T) {
	all, err := exercise.Catalogue()
	require.NoError(t, err)
	require.NotEmpty(t, all)
}
