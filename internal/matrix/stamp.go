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

// Stamps stand for the code and data that clips and observations come from.
type Stamps struct{ Film, Observe string }

// Stamp reads the sources below the repository's root. What a movement or a
// performance makes of a clip is not in it: each clip is known by what its
// pictures show.
func Stamp(root string) (s Stamps, err error) {
	s.Film, err = sum(root, "internal/handrender/*.go", "internal/handrender/assets/*", "internal/matrix/film.go")
	if err != nil {
		return s, err
	}
	s.Observe, err = sum(root, "internal/landmark/*.go", "internal/infer/*.go", "internal/hand/hand.go", "internal/matrix/observe.go", "models/*.onnx")
	return s, err
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

// key names the case's clip by what its pictures show and the hand in them, so that
// a change of a threshold or a sentence in a movement renders nothing again.
func (c *Case) key(stamp string) (string, error) {
	shots, err := c.shots()
	if err != nil {
		return "", err
	}
	h := sha256.New()
	fmt.Fprintln(h, stamp+c.HandName, len(shots))
	to := json.NewEncoder(h)
	for i, s := range shots {
		if i > 0 && s == shots[i-1] {
			fmt.Fprintln(h, "same")
			continue
		}
		if err := to.Encode(s); err != nil {
			return "", fmt.Errorf("%s: %w", c.ID(), err)
		}
	}
	return c.Movement.ID + "-" + hex.EncodeToString(h.Sum(nil))[:12], nil
}

func hash32(s string) uint32 {
	h := fnv.New32a()
	h.Write([]byte(s))
	return h.Sum32()
}
