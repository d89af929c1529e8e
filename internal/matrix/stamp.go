package matrix

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash/fnv"
	"os"
	"path/filepath"
	"sort"
	"strings"
)

// Stamps stand for the code and data that clips and results come from.
type Stamps struct{ Film, Judge string }

// Stamp reads the sources below the repository's root. A movement's own file
// is not in it: each clip has its movement in its key.
func Stamp(root string) (Stamps, error) {
	film, err := sum(root, "internal/handrender/*.go", "internal/handrender/assets/*", "internal/exercise/*.go", "internal/demonstration/*.go", "internal/matrix/film.go")
	if err != nil {
		return Stamps{}, err
	}
	judge, err := sum(root, "internal/coach/*.go", "internal/goniometry/*.go", "internal/landmark/*.go", "internal/live/*.go", "internal/camera/*.go",
		"internal/hand/*.go", "internal/matrix/*.go", "models/*.onnx")
	return Stamps{film, judge}, err
}

// sum hashes files, tests left out.
func sum(root string, patterns ...string) (string, error) {
	h := sha256.New()
	for _, p := range patterns {
		files, err := filepath.Glob(filepath.Join(root, p))
		if err != nil {
			return "", err
		}
		if len(files) == 0 {
			return "", fmt.Errorf("no files match %s below %s", p, root)
		}
		sort.Strings(files)
		for _, f := range files {
			if strings.HasSuffix(f, "_test.go") {
				continue
			}
			b, err := os.ReadFile(f)
			if err != nil {
				return "", err
			}
			fmt.Fprintln(h, filepath.Base(f), len(b))
			h.Write(b)
		}
	}
	return hex.EncodeToString(h.Sum(nil))[:12], nil
}

// key names the case's clip by what it shows.
func (c *Case) key(stamp string) string {
	m, err := json.Marshal(c.Movement)
	if err != nil {
		m = []byte(err.Error()) // a movement that no file could hold is its own key
	}
	h := sha256.Sum256(fmt.Append(nil, stamp, string(m), c.Name, c.Side, c.View, c.Faults, c.hold()))
	return strings.ReplaceAll(c.Movement.ID, "/", "-") + "-" + hex.EncodeToString(h[:])[:12]
}

func hash32(s string) uint32 {
	h := fnv.New32a()
	h.Write([]byte(s))
	return h.Sum32()
}
