// Package strictyaml reads the text files that people write by hand: a
// movement, a program. A reader who mistypes a word must hear of it, with the
// line and the field, so everything that is not expected is refused.
//
// The subset of YAML is small on purpose: one document of mappings, lists,
// texts, numbers and true or false. Anchors, aliases, merge keys, tags,
// duplicate keys and unknown fields are refused, and so are files of more than
// MaxBytes. No input makes Decode panic, and memory stays proportional to the
// input.
//
// Struct fields carry a tag `yaml:"name"` or `yaml:"name,required"`; those of an
// embedded struct count as the outer struct's own. Fields may be
// string, bool, int, float64, pointers to these, slices, maps with text
// keys, structs, and types with UnmarshalText. A field that the file leaves
// out keeps its zero value.
package strictyaml

import (
	"encoding"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// MaxBytes is the largest file that Decode reads: far beyond what anybody
// writes by hand.
const MaxBytes = 256 << 10

const maxDepth = 24

// Problem is one thing wrong with a file.
type Problem struct {
	// Line counts from 1; 0 where no line can be named.
	Line int
	// Field is the path to the field, list items counted from 1, such as
	// "phases[2].seconds"; empty for the file as a whole.
	Field string
	Text  string
}

func (p Problem) String() string {
	var b strings.Builder
	if p.Line > 0 {
		fmt.Fprintf(&b, "line %d: ", p.Line)
	}
	if p.Field != "" {
		b.WriteString(p.Field + ": ")
	}
	return b.String() + p.Text
}

// Error is everything found wrong with a file, in the order of its lines.
type Error struct{ Problems []Problem }

func (e *Error) Error() string {
	s := make([]string, len(e.Problems))
	for i, p := range e.Problems {
		s[i] = p.String()
	}
	return strings.Join(s, "\n")
}

// Lines says on which line of the file each field stands, by its path.
type Lines map[string]int

// Of returns the line of the field, or of the nearest field around it that
// the file has, or 0.
func (l Lines) Of(field string) int {
	for field != "" {
		if n := l[field]; n > 0 {
			return n
		}
		i := strings.LastIndexAny(field, ".[")
		if i < 0 {
			break
		}
		field = field[:i]
	}
	return l[""]
}

// Decode reads the document into v, a pointer to a struct. The error is an
// *Error; Lines is returned beside it so that the caller can name lines in its
// own checks.
func Decode(data []byte, v any) (Lines, error) {
	d := decoder{lines: Lines{}}
	if len(data) > MaxBytes {
		d.fault(0, "", "the file has %d bytes; at most %d are read", len(data), MaxBytes)
		return d.lines, d.err()
	}
	root, err := parse(data)
	if err != nil {
		d.problems = append(d.problems, *err)
		return d.lines, d.err()
	}
	d.value(root, reflect.ValueOf(v).Elem(), "", 0)
	return d.lines, d.err()
}

// parse reads the syntax and makes sure that there is one document.
func parse(data []byte) (*yaml.Node, *Problem) {
	dec := yaml.NewDecoder(strings.NewReader(string(data)))
	var doc, more yaml.Node
	if err := dec.Decode(&doc); err != nil {
		if errors.Is(err, io.EOF) {
			return nil, &Problem{Text: "the file is empty"}
		}
		return nil, syntaxProblem(err, data)
	}
	switch err := dec.Decode(&more); {
	case err == nil:
		return nil, &Problem{Line: more.Line, Text: "a second document begins here; one file holds one"}
	case !errors.Is(err, io.EOF):
		return nil, syntaxProblem(err, data)
	}
	if doc.Kind != yaml.DocumentNode || len(doc.Content) != 1 {
		return nil, &Problem{Text: "the file is empty"}
	}
	return doc.Content[0], nil
}

type decoder struct {
	lines    Lines
	problems []Problem
}

func (d *decoder) fault(line int, field, format string, a ...any) {
	d.problems = append(d.problems, Problem{line, field, fmt.Sprintf(format, a...)})
}

func (d *decoder) err() error {
	if len(d.problems) == 0 {
		return nil
	}
	slices.SortStableFunc(d.problems, func(a, b Problem) int { return a.Line - b.Line })
	return &Error{d.problems}
}

var textType = reflect.TypeFor[encoding.TextUnmarshaler]()

func (d *decoder) value(n *yaml.Node, v reflect.Value, field string, depth int) {
	if depth > maxDepth {
		d.fault(n.Line, field, "nested too deeply")
		return
	}
	d.lines[field] = n.Line
	switch {
	case n.Kind == yaml.AliasNode || n.Anchor != "":
		d.fault(n.Line, field, "anchors and aliases (& and *) are not read; write the value out, or put a text that begins with a star in quotes")
		return
	case n.Style&yaml.TaggedStyle != 0:
		d.fault(n.Line, field, "tags (!) are not read")
		return
	}
	if v.CanAddr() && v.Addr().Type().Implements(textType) {
		if n.Kind != yaml.ScalarNode {
			d.fault(n.Line, field, "wants one value, not a %s", kindName(n))
			return
		}
		if err := v.Addr().Interface().(encoding.TextUnmarshaler).UnmarshalText([]byte(n.Value)); err != nil {
			d.fault(n.Line, field, "%v", err)
		}
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		p := reflect.New(v.Type().Elem())
		before := len(d.problems)
		d.value(n, p.Elem(), field, depth)
		if len(d.problems) == before {
			v.Set(p)
		}
	case reflect.Struct:
		d.structure(n, v, field, depth)
	case reflect.Map:
		d.mapping(n, v, field, depth)
	case reflect.Slice:
		if n.Kind != yaml.SequenceNode {
			d.fault(n.Line, field, "wants a list, each entry with a hyphen before it, not a %s", kindName(n))
			return
		}
		s := reflect.MakeSlice(v.Type(), len(n.Content), len(n.Content))
		for i, c := range n.Content {
			d.value(c, s.Index(i), fmt.Sprintf("%s[%d]", field, i+1), depth+1)
		}
		v.Set(s)
	default:
		d.scalar(n, v, field)
	}
}

// pairs walks a mapping's keys and refuses what is no plain key, or twice
// there.
func (d *decoder) pairs(n *yaml.Node, field string, each func(key string, k, v *yaml.Node)) {
	if n.Kind != yaml.MappingNode {
		d.fault(n.Line, field, "wants fields with names, not a %s", kindName(n))
		return
	}
	seen := map[string]int{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		k := n.Content[i]
		if k.Kind != yaml.ScalarNode || k.Tag == "!!merge" || k.Style&yaml.TaggedStyle != 0 || k.Anchor != "" {
			d.fault(k.Line, field, "a name wants plain text")
			continue
		}
		if first, ok := seen[k.Value]; ok {
			d.fault(k.Line, join(field, k.Value), "is there twice, first on line %d", first)
			continue
		}
		seen[k.Value] = k.Line
		each(k.Value, k, n.Content[i+1])
	}
}

func (d *decoder) structure(n *yaml.Node, v reflect.Value, field string, depth int) {
	index := map[string][]int{}
	var names, required []string
	for _, f := range reflect.VisibleFields(v.Type()) {
		name, opt, _ := strings.Cut(f.Tag.Get("yaml"), ",")
		if name == "" || name == "-" {
			continue
		}
		index[name] = f.Index
		names = append(names, name)
		if opt == "required" {
			required = append(required, name)
		}
	}
	given := map[string]bool{}
	d.pairs(n, field, func(key string, k, val *yaml.Node) {
		i, ok := index[key]
		if !ok {
			d.fault(k.Line, join(field, key), "is not a field here; known are %s", strings.Join(names, ", "))
			return
		}
		given[key] = true
		d.value(val, v.FieldByIndex(i), join(field, key), depth+1)
		d.lines[join(field, key)] = k.Line
	})
	if n.Kind != yaml.MappingNode {
		return
	}
	for _, name := range required {
		if !given[name] {
			d.fault(n.Line, join(field, name), "is missing")
		}
	}
}

func (d *decoder) mapping(n *yaml.Node, v reflect.Value, field string, depth int) {
	m := reflect.MakeMap(v.Type())
	d.pairs(n, field, func(key string, k, val *yaml.Node) {
		e := reflect.New(v.Type().Elem()).Elem()
		d.value(val, e, join(field, key), depth+1)
		d.lines[join(field, key)] = k.Line
		m.SetMapIndex(reflect.ValueOf(key).Convert(v.Type().Key()), e)
	})
	v.Set(m)
}

func (d *decoder) scalar(n *yaml.Node, v reflect.Value, field string) {
	if n.Kind != yaml.ScalarNode {
		d.fault(n.Line, field, "wants one value, not a %s", kindName(n))
		return
	}
	switch v.Kind() {
	case reflect.String:
		if n.Tag != "!!str" {
			d.fault(n.Line, field, "wants text; put %q in quotes", n.Value)
			return
		}
		v.SetString(n.Value)
	case reflect.Bool:
		if n.Tag != "!!bool" {
			d.fault(n.Line, field, "wants true or false, not %q", n.Value)
			return
		}
		v.SetBool(n.Value[0] == 't' || n.Value[0] == 'T')
	case reflect.Int:
		i, err := strconv.Atoi(n.Value)
		if err != nil || n.Tag != "!!int" {
			d.fault(n.Line, field, "wants a whole number, not %q", n.Value)
			return
		}
		v.SetInt(int64(i))
	case reflect.Float64:
		f, err := strconv.ParseFloat(n.Value, 64)
		if err != nil || (n.Tag != "!!int" && n.Tag != "!!float") || math.IsInf(f, 0) || math.IsNaN(f) {
			d.fault(n.Line, field, "wants a number, not %q", n.Value)
			return
		}
		v.SetFloat(f)
	default:
		d.fault(n.Line, field, "cannot be read into %s", v.Type())
	}
}

func join(field, key string) string {
	if field == "" {
		return key
	}
	return field + "." + key
}

func kindName(n *yaml.Node) string {
	switch n.Kind {
	case yaml.MappingNode:
		return "group of fields"
	case yaml.SequenceNode:
		return "list"
	}
	return fmt.Sprintf("single value (%q)", n.Value)
}
