package program

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"volar/internal/exercise"
	"volar/internal/strictyaml"
)

// Source is where a program's movements come from. The zero Source has the
// built-in catalogue and no files.
type Source struct {
	// Catalogue to look in; nil is the built-in one.
	Catalogue []*exercise.Movement
	// File returns the text of a movement file beside the program. Its error
	// is told to the reader of the program.
	File func(name string) ([]byte, error)
}

// Folder is a Source with the movement files of a folder.
func Folder(dir string) Source {
	return Source{File: func(name string) ([]byte, error) { return readFile(filepath.Join(dir, name)) }}
}

// Carried is a Source with the movement files that are given by name, as
// Program.Files has them.
func Carried(files map[string][]byte) Source {
	return Source{File: func(name string) ([]byte, error) {
		if text, ok := files[name]; ok {
			return text, nil
		}
		return nil, fs.ErrNotExist
	}}
}

// Parse reads a program and checks it. Warnings come with or without an error;
// the error is a *strictyaml.Error with every problem found.
func Parse(data []byte, src Source) (p *Program, warnings []strictyaml.Problem, err error) {
	p = &Program{}
	lines, err := strictyaml.Decode(data, p)
	if err != nil {
		return nil, nil, err
	}
	faults, warnings := p.check(src, lines)
	if len(faults) > 0 {
		return nil, warnings, &strictyaml.Error{Problems: faults}
	}
	return p, warnings, nil
}

// Load reads and checks a program's file, and the movement files beside it.
// The error is a *strictyaml.Error where the file could be read, and else one
// that does not name the file.
func Load(path string) (p *Program, warnings []strictyaml.Problem, err error) {
	data, err := readFile(path)
	if err != nil {
		var at *fs.PathError
		if errors.As(err, &at) {
			err = at.Err
		}
		return nil, nil, fmt.Errorf("cannot be read: %w", err)
	}
	return Parse(data, Folder(filepath.Dir(path)))
}

// readFile reads no more than is parsed.
func readFile(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, strictyaml.MaxBytes+1))
}

// Check finds what is wrong with a program that was made by hand or by an
// editor, without lines. It also finds each exercise's movement, which On and
// At need, and fills in Files; a program from Parse or Load has been checked.
func (p *Program) Check(src Source) (faults, warnings []strictyaml.Problem) {
	return p.check(src, strictyaml.Lines{})
}

const fileSuffix = ".yaml"

// fileForm is a plain name: a program leads to no other folder.
var fileForm = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9_-]*(\.[A-Za-z0-9_-]+)*\.yaml$`)

// link finds the movements of all exercises.
func (c *checker) link(src Source) {
	catalogue := src.Catalogue
	if catalogue == nil {
		var err error
		if catalogue, err = exercise.Catalogue(); err != nil {
			c.fault("exercises", "%v", err)
			return
		}
	}
	c.p.Files = nil
	for i := range c.p.Exercises {
		e := &c.p.Exercises[i]
		e.movement = nil
		field := fmt.Sprintf("exercises[%d].movement", i+1)
		if strings.HasSuffix(e.Movement, fileSuffix) {
			e.movement = c.file(src, field, e.Movement)
			continue
		}
		n := slices.IndexFunc(catalogue, func(m *exercise.Movement) bool { return m.ID == e.Movement })
		if n < 0 {
			c.unknown(field, e.Movement, catalogue)
			continue
		}
		e.movement = catalogue[n]
	}
}

// unknown says that a movement is not in the catalogue, and which may be meant.
func (c *checker) unknown(field, id string, catalogue []*exercise.Movement) {
	var ids []string
	for _, m := range catalogue {
		ids = append(ids, m.ID)
	}
	if near := exercise.Alike(id, ids); near != "" {
		c.fault(field, "%q is not in the catalogue; did you mean %s?", id, near)
		return
	}
	c.fault(field, "%q is not in the catalogue; volar catalogue lists what is, and a movement file beside the program is named with its %s", id, fileSuffix)
}

// file reads a movement file beside the program.
func (c *checker) file(src Source, field, name string) *exercise.Movement {
	if !fileForm.MatchString(name) {
		c.fault(field, "%q is no plain file name; the movement file lies beside the program and has letters, digits, - and _ in its name", name)
		return nil
	}
	if src.File == nil {
		c.fault(field, "the movement file %s cannot be looked for here", name)
		return nil
	}
	text, err := src.File(name)
	if errors.Is(err, fs.ErrNotExist) {
		c.fault(field, "there is no file %s beside the program", name)
		return nil
	}
	if err != nil {
		c.fault(field, "reading %s: %v", name, err)
		return nil
	}
	m, err := exercise.Parse(name, text)
	var e *strictyaml.Error
	if errors.As(err, &e) {
		for _, q := range e.Problems {
			c.fault(field, "%s: %s", name, q)
		}
		return nil
	}
	if err != nil {
		c.fault(field, "%v", err)
		return nil
	}
	if c.p.Files == nil {
		c.p.Files = map[string][]byte{}
	}
	c.p.Files[name] = text
	return m
}
