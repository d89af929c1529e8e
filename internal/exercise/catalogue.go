package exercise

import (
	"cmp"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"
	"sync"
)

//go:embed movements/*.yaml
var embedded embed.FS

// ErrUnknown is wrapped by the error for a movement that the catalogue does
// not have.
var ErrUnknown = errors.New("not in the catalogue")

// Catalogue returns the built-in movements, by family and then by ID. They are
// the caller's own.
func Catalogue() ([]*Movement, error) {
	entries, err := embedded.ReadDir("movements")
	if err != nil {
		return nil, fmt.Errorf("reading the built-in movements: %w", err)
	}
	var all []*Movement
	for _, e := range entries {
		m, err := read(e.Name())
		if err != nil {
			return nil, err
		}
		all = append(all, m)
	}
	slices.SortFunc(all, func(a, b *Movement) int {
		return cmp.Or(strings.Compare(a.Family, b.Family), strings.Compare(a.ID, b.ID))
	})
	return all, nil
}

// Find returns the built-in movement with the given ID, the caller's own. The
// error for an unknown one wraps ErrUnknown and names those that are alike, or
// all.
func Find(id string) (*Movement, error) {
	if idForm.MatchString(id) {
		if m, err := read(id + ".yaml"); !errors.Is(err, fs.ErrNotExist) {
			return m, err
		}
	}
	entries, err := embedded.ReadDir("movements")
	if err != nil {
		return nil, fmt.Errorf("reading the built-in movements: %w", err)
	}
	ids := make([]string, len(entries))
	for i, e := range entries {
		ids[i] = strings.TrimSuffix(e.Name(), ".yaml")
	}
	if near := Alike(id, ids); near != "" {
		return nil, fmt.Errorf("exercise %q is %w; did you mean %s?", id, ErrUnknown, near)
	}
	return nil, fmt.Errorf("exercise %q is %w; it has %s", id, ErrUnknown, strings.Join(ids, ", "))
}

// Alike lists the IDs that somebody may have meant, with or between: those that
// hold every word that was written. Empty is none.
func Alike(id string, ids []string) string {
	words := strings.FieldsFunc(strings.ToLower(id), func(r rune) bool { return r < 'a' || r > 'z' })
	if len(words) == 0 {
		return ""
	}
	var near []string
	for _, known := range ids {
		if !slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(known, w) }) {
			near = append(near, known)
		}
	}
	return strings.Join(near, " or ")
}

// Source returns the text of a built-in movement's file, to copy and change.
func Source(id string) ([]byte, error) {
	if _, err := Find(id); err != nil {
		return nil, err
	}
	return embedded.ReadFile(path.Join("movements", id+".yaml"))
}

// parsed keeps what was read, by file: every program that is opened asks for all
// of them, which takes 33 ms on a slow computer to read.
var (
	parsed   = map[string]*Movement{}
	parsedMu sync.Mutex
)

func read(name string) (*Movement, error) {
	parsedMu.Lock()
	defer parsedMu.Unlock()
	if m := parsed[name]; m != nil {
		return m.clone(), nil
	}
	data, err := embedded.ReadFile(path.Join("movements", name))
	if err != nil {
		return nil, fmt.Errorf("reading built-in movement %s: %w", name, err)
	}
	m, err := Parse(name, data)
	if err != nil {
		return nil, fmt.Errorf("built-in %w", err)
	}
	if m.ID+".yaml" != name {
		return nil, fmt.Errorf("built-in movement %s has the id %q", name, m.ID)
	}
	parsed[name] = m
	return m.clone(), nil
}

func listed(objects []Object) string {
	if len(objects) == 0 {
		return "none"
	}
	ids := make([]string, len(objects))
	for i, o := range objects {
		ids[i] = o.ID
	}
	return strings.Join(ids, ", ")
}
