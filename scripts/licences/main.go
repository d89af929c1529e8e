// Command licences collects the licence notices of all that volar is shipped
// with into internal/licences/notices.txt.gz: of every module that a package of
// the program comes from, of what such a package has within it under a licence
// of its own (fonts, C sources), of the models and of ONNX Runtime.
//
//	go run ./scripts/licences
//
// It fails where a module has no licence that it can find.
package main

import (
	"bytes"
	"cmp"
	"compress/gzip"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

func main() {
	if err := run("internal/licences/notices.txt.gz"); err != nil {
		fmt.Fprintln(os.Stderr, "licences:", err)
		os.Exit(1)
	}
}

// notice is a licence text with those whose it is.
type notice struct {
	owners []string
	text   string
}

func run(out string) error {
	packages, err := dependencies()
	if err != nil {
		return err
	}
	notices := map[string]*notice{}
	library := ""
	for _, m := range packages {
		found, err := m.notices()
		if err != nil {
			return err
		}
		if text, ok := found["LICENSE"]; ok && m.path == goLibrary {
			library = text
		}
		if len(found) == 0 && m.path == "github.com/chewxy/math32" {
			// Its README puts it under the licence of the Go library, which most of
			// it comes from.
			found = map[string]string{"README.md: as Go": library}
		}
		if len(found) == 0 {
			return fmt.Errorf("module %s has no licence file; see what its terms are before it is shipped", m.path)
		}
		for name, text := range found {
			add(notices, m.path+" "+m.version+" ("+name+")", text)
		}
	}
	own := []struct{ owner, file string }{
		{"volar", "LICENSE"},
		{"hand landmark and palm detection models, converted", "models/LICENSE"},
		{"the same models: notice", "models/NOTICE"},
		{"ONNX Runtime", "packaging/onnxruntime-licence.txt"},
	}
	for _, o := range own {
		text, err := os.ReadFile(o.file)
		if err != nil {
			return err
		}
		add(notices, o.owner, string(text))
	}
	return write(out, notices)
}

func add(all map[string]*notice, owner, text string) {
	text = strings.TrimSpace(strings.ReplaceAll(text, "\r\n", "\n"))
	key := strings.Join(strings.Fields(text), " ")
	n := all[key]
	if n == nil {
		n = &notice{text: text}
		all[key] = n
	}
	n.owners = append(n.owners, owner)
}

func write(out string, all map[string]*notice) error {
	var b bytes.Buffer
	list := slices.Collect(maps.Values(all))
	for _, n := range list {
		slices.Sort(n.owners)
	}
	slices.SortFunc(list, func(a, b *notice) int { return cmp.Compare(a.owners[0], b.owners[0]) })
	for i, n := range list {
		if i > 0 {
			b.WriteString("\n\n")
		}
		for _, o := range n.owners {
			b.WriteString("== " + o + "\n")
		}
		b.WriteString("\n" + n.text + "\n")
	}
	var packed bytes.Buffer
	w, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		return err
	}
	if _, err := w.Write(b.Bytes()); err != nil {
		return err
	}
	if err := w.Close(); err != nil {
		return err
	}
	fmt.Fprintf(os.Stderr, "%d notices, %d bytes\n", len(list), b.Len())
	return os.WriteFile(out, packed.Bytes(), 0o644)
}

// module is one that packages of the program come from.
type module struct {
	path, version, dir string
	packages           []string // folders
}

// goLibrary comes first among the modules.
const goLibrary = "the Go standard library"

// dependencies lists the modules behind cmd/volar, and the standard library.
func dependencies() ([]module, error) {
	list := exec.Command("go", "list", "-deps", "-json=Dir,Standard,Module,ImportPath", "./cmd/volar")
	list.Stderr = os.Stderr
	b, err := list.Output()
	if err != nil {
		return nil, fmt.Errorf("list what the program is made of: %w", err)
	}
	byPath := map[string]*module{}
	for d := json.NewDecoder(bytes.NewReader(b)); ; {
		var p struct {
			Dir, ImportPath string
			Standard        bool
			Module          *struct {
				Path, Version, Dir string
				Main               bool
			}
		}
		err := d.Decode(&p)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		if p.Module == nil || p.Module.Main {
			continue
		}
		m := byPath[p.Module.Path]
		if m == nil {
			m = &module{path: p.Module.Path, version: p.Module.Version, dir: p.Module.Dir}
			byPath[m.path] = m
		}
		m.packages = append(m.packages, p.Dir)
	}
	root, err := exec.Command("go", "env", "GOROOT", "GOVERSION").Output()
	if err != nil {
		return nil, err
	}
	env := strings.Fields(string(root))
	out := []module{{path: goLibrary, version: env[1], dir: env[0]}}
	for _, path := range slices.Sorted(maps.Keys(byPath)) {
		out = append(out, *byPath[path])
	}
	return out, nil
}

var licenceName = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice|unlicense|ofl)([.-].*)?$|(?i)(licen[cs]e|ofl)\.(txt|md)$`)

// notices are the licence files in the module's root and in the folders of the
// packages that are used, down to what they embed, by name.
func (m *module) notices() (map[string]string, error) {
	found := map[string]string{}
	look := func(dir string) error {
		entries, err := os.ReadDir(dir)
		if err != nil {
			return err
		}
		for _, e := range entries {
			if e.IsDir() || !licenceName.MatchString(e.Name()) || strings.HasSuffix(e.Name(), ".go") {
				continue
			}
			path := filepath.Join(dir, e.Name())
			text, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			name, err := filepath.Rel(m.dir, path)
			if err != nil {
				return err
			}
			found[name] = string(text)
		}
		return nil
	}
	if err := look(m.dir); err != nil {
		return nil, err
	}
	// Some name their licences in LICENSE and keep the texts beside it.
	texts, err := filepath.Glob(filepath.Join(m.dir, "[lL][iI][cC][eE][nN][sS][eE][sS]", "*"))
	if err != nil {
		return nil, err
	}
	for _, path := range texts {
		text, err := os.ReadFile(path)
		if err != nil {
			return nil, err
		}
		found["licenses/"+filepath.Base(path)] = string(text)
	}
	for _, p := range m.packages {
		err := filepath.WalkDir(p, func(path string, e fs.DirEntry, err error) error {
			switch {
			case err != nil:
				return err
			case !e.IsDir():
				return nil
			case e.Name() == "testdata" || path != p && hasGo(path):
				return fs.SkipDir // a package of its own, looked at if it is used
			}
			return look(path)
		})
		if err != nil {
			return nil, err
		}
	}
	return found, nil
}

func hasGo(dir string) bool {
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	return err == nil && len(files) > 0
}
