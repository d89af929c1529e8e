// Package unseen reads the rigged hands that the hand model was not trained on,
// so that it is judged on no other.
package unseen

import (
	_ "embed"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"volar/internal/handrender"
)

// trained names the meshes that the angle head has seen, one file a line;
// scripts/angle-head keeps others of the same make for testing. A hand that is
// not named here counts as unseen.
//
//go:embed trained.txt
var trained string

// Hand is a rigged hand and the name of its file, without the ending.
type Hand struct {
	Name string
	*handrender.Hand
}

// Hands reads the hands (.glb) of a folder that no training has seen, in the
// order of their names. A folder without one is an error.
func Hands(folder string) ([]Hand, error) {
	files, err := filepath.Glob(filepath.Join(folder, "*.glb"))
	if err != nil {
		return nil, err
	}
	slices.Sort(files)
	seen := strings.Fields(trained)
	var out []Hand
	for _, f := range files {
		name := strings.TrimSuffix(filepath.Base(f), ".glb")
		if slices.Contains(seen, name) {
			continue
		}
		b, err := os.ReadFile(f)
		if err != nil {
			return nil, err
		}
		h, err := handrender.Load(b)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", f, err)
		}
		out = append(out, Hand{name, h})
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("no .glb file in %s that training has not seen", folder)
	}
	return out, nil
}
