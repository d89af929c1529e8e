// Command cross-check type-checks for Windows and macOS every package that needs
// no cgo, with its tests, so that nothing that only Linux has creeps into them.
// What needs OpenCV, a window or a native engine is left out; what must be among
// the rest is named here.
//
//	go run ./scripts/cross-check
//
// Everything is read from source, and of packages outside this module only the
// declarations, so that nothing has to be compiled for the other systems: with an
// empty cache that would take minutes.
package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"golang.org/x/tools/go/packages"
)

const module = "volar"

var (
	systems = []string{"windows", "darwin"}
	// must be free of what only Linux or cgo has.
	must = []string{"coach", "exchange", "exercise", "goniometry", "hand", "handrender", "infer", "landmark", "program", "report", "review", "score", "session", "vault"}
	// native are the modules that need cgo or a window.
	native = []string{"gocv.io/", "fyne.io/", "github.com/go-gl/"}
)

func main() {
	for _, system := range systems {
		n, err := check(system)
		if err != nil {
			fmt.Fprintf(os.Stderr, "cross-check: %s: %v\n", system, err)
			os.Exit(1)
		}
		fmt.Printf("%s: %d packages\n", system, n)
	}
}

// check type-checks for one system and says how many packages that were.
func check(system string) (n int, err error) {
	root, err := filepath.Abs(".")
	if err != nil {
		return 0, err
	}
	const mode = packages.NeedName | packages.NeedFiles | packages.NeedCompiledGoFiles | packages.NeedImports | packages.NeedDeps |
		packages.NeedTypes | packages.NeedSyntax | packages.NeedTypesInfo | packages.NeedTypesSizes
	all, err := packages.Load(&packages.Config{
		Mode: mode, Tests: true, Env: append(os.Environ(), "GOOS="+system, "CGO_ENABLED=0"),
		ParseFile: func(fset *token.FileSet, name string, src []byte) (*ast.File, error) {
			f, err := parser.ParseFile(fset, name, src, parser.AllErrors|parser.SkipObjectResolution)
			if f != nil && !strings.HasPrefix(name, root+string(filepath.Separator)) {
				declarations(f)
			}
			return f, err
		},
	}, "./internal/...", "./models")
	if err != nil {
		return 0, err
	}
	portable := portability{}
	checked := map[string]bool{}
	for _, p := range all {
		if strings.HasSuffix(p.PkgPath, ".test") || !portable.of(p) {
			continue
		}
		checked[p.PkgPath] = true
		for _, e := range p.Errors {
			err = e
			fmt.Fprintln(os.Stderr, e)
		}
	}
	if err != nil {
		return 0, fmt.Errorf("what is above is not there on this system: %w", err)
	}
	for _, name := range must {
		if !checked[module+"/internal/"+name] {
			return 0, fmt.Errorf("internal/%s can no longer be built without cgo: see what it imports", name)
		}
	}
	return len(checked), nil
}

// declarations takes the bodies of functions out of a file. That leaves imports
// without use, which is an error there and of no interest.
func declarations(f *ast.File) {
	for _, d := range f.Decls {
		if d, ok := d.(*ast.FuncDecl); ok {
			d.Body = nil
		}
	}
}

// portability remembers of which packages, with all that they import, the source
// is there without cgo.
type portability map[*packages.Package]bool

func (m portability) of(p *packages.Package) bool {
	if ok, known := m[p]; known {
		return ok
	}
	ok := !slices.ContainsFunc(native, func(prefix string) bool { return strings.HasPrefix(p.PkgPath, prefix) }) &&
		!slices.ContainsFunc(p.Errors, func(e packages.Error) bool { return e.Kind == packages.ListError })
	for _, i := range p.Imports {
		ok = ok && m.of(i)
	}
	m[p] = ok
	return ok
}
