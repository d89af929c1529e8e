package program_test

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"
	"pgregory.net/rapid"

	"volar/internal/exercise"
	"volar/internal/program"
)

var schemaFile = filepath.Join("..", "..", "docs", "program.schema.json")

func schema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	c.AssertFormat()
	s, err := c.Compile(schemaFile)
	require.NoError(t, err)
	return s
}

// value reads YAML as a schema sees it: dates are texts.
func value(n *yaml.Node) any {
	switch n.Kind {
	case yaml.DocumentNode:
		return value(n.Content[0])
	case yaml.MappingNode:
		m := map[string]any{}
		for i := 0; i < len(n.Content); i += 2 {
			m[n.Content[i].Value] = value(n.Content[i+1])
		}
		return m
	case yaml.SequenceNode:
		l := []any{}
		for _, c := range n.Content {
			l = append(l, value(c))
		}
		return l
	}
	if n.Tag == "!!int" || n.Tag == "!!float" || n.Tag == "!!bool" {
		var v any
		if n.Decode(&v) == nil {
			return v
		}
	}
	return n.Value
}

func fromYAML(t require.TestingT, text []byte) any {
	var n yaml.Node
	require.NoError(t, yaml.Unmarshal(text, &n))
	return value(&n)
}

// TestSchemaHasTheFields: names, and which are required, are those of the Go
// types, and no others.
func TestSchemaHasTheFields(t *testing.T) {
	type object struct {
		Properties           map[string]json.RawMessage
		Required             []string
		AdditionalProperties *bool
		Defs                 map[string]json.RawMessage `json:"$defs"`
	}
	data, err := os.ReadFile(schemaFile)
	require.NoError(t, err)
	var root object
	require.NoError(t, json.Unmarshal(data, &root))
	def := func(name string) (o object) {
		require.NoError(t, json.Unmarshal(root.Defs[name], &o), name)
		return o
	}
	var tempo object
	require.NoError(t, json.Unmarshal(def("exercise").Properties["tempo"], &tempo))
	for _, c := range []struct {
		of reflect.Type
		o  object
	}{
		{reflect.TypeFor[program.Program](), root},
		{reflect.TypeFor[program.Precaution](), def("precaution")},
		{reflect.TypeFor[program.Limit](), def("limit")},
		{reflect.TypeFor[program.Step](), def("step")},
		{reflect.TypeFor[program.Exercise](), def("exercise")},
		{reflect.TypeFor[program.Dose](), def("dose")},
		{reflect.TypeFor[program.Target](), def("target")},
		{reflect.TypeFor[program.Tempo](), tempo},
	} {
		var names, required []string
		for i := range c.of.NumField() {
			f := c.of.Field(i)
			name, opt, _ := strings.Cut(f.Tag.Get("yaml"), ",")
			if name == "" || name == "-" {
				continue
			}
			names = append(names, name)
			if opt == "required" {
				required = append(required, name)
			}
			inJSON, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			require.Equal(t, name, inJSON, "%s: the same name in JSON", c.of)
		}
		var have []string
		for name := range c.o.Properties {
			have = append(have, name)
		}
		require.ElementsMatch(t, names, have, "%s", c.of)
		require.ElementsMatch(t, required, c.o.Required, "%s", c.of)
		require.NotNil(t, c.o.AdditionalProperties, "%s", c.of)
		require.False(t, *c.o.AdditionalProperties, "%s", c.of)
	}
	enum := func(o object, name string) (words []string) {
		var p struct {
			Enum  []string
			Items struct{ Enum []string }
		}
		require.NoError(t, json.Unmarshal(o.Properties[name], &p))
		return append(p.Enum, p.Items.Enum...)
	}
	require.Equal(t, texts(program.PrecautionKinds[:]), enum(def("precaution"), "kind"))
	require.Equal(t, texts(program.Avoids[:]), enum(root, "avoid"))
	require.Equal(t, texts([]program.Cue{program.UsualCue, program.EarlyCue}), enum(root, "cue"))
	require.Equal(t, texts([]program.ViewChoice{program.BestView, program.SecondView}), enum(def("exercise"), "view"))
	require.Equal(t, texts([]exercise.Grade{exercise.Easier, exercise.Usual, exercise.Harder}), enum(def("exercise"), "grade"))
}

func texts[T ~string](l []T) []string {
	s := make([]string, len(l))
	for i, x := range l {
		s[i] = string(x)
	}
	return s
}

// TestSchemaTakesPrograms: what the program reads and writes is valid, as YAML
// and as JSON.
func TestSchemaTakesPrograms(t *testing.T) {
	s := schema(t)
	require.NoError(t, s.Validate(fromYAML(t, []byte(block))))
	for _, p := range []*program.Program{parse(t, block), fresh(t)} {
		require.NoError(t, s.Validate(fromYAML(t, p.Format())))
		data, err := json.Marshal(p)
		require.NoError(t, err)
		v, err := jsonschema.UnmarshalJSON(bytes.NewReader(data))
		require.NoError(t, err)
		require.NoError(t, s.Validate(v), "%s", data)
		// The JSON is a program file too.
		again, _, err := program.Parse(data, program.Source{})
		require.NoError(t, err)
		require.Equal(t, p, again)
		var direct program.Program
		require.NoError(t, json.Unmarshal(data, &direct))
		faults, _ := direct.Check(program.Source{})
		require.Empty(t, faults)
		require.Equal(t, *p, direct)
	}
	catalogue, err := exercise.Catalogue()
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		p := programs(t, catalogue)
		if faults, _ := p.Check(program.Source{Catalogue: catalogue}); len(faults) == 0 {
			require.NoError(t, s.Validate(fromYAML(t, p.Format())), "%s", p.Format())
		}
	})
}

// TestSchemaRefuses: what a schema can find out, it does.
func TestSchemaRefuses(t *testing.T) {
	s := schema(t)
	for _, c := range [][2]string{
		{"cue: early", "queue: early"}, {"volar_program: 1", "volar_program: 2"}, {"client: C-017", "client: Jane Q. Public"},
		{"client: C-017\n", ""}, {"side: left", "side: both"}, {"version: 3", "version: 0"}, {"version: 3", "version: three"},
		{"valid_from: 2026-12-01", "valid_from: 2026-02-30"}, {"valid_from: 2026-12-01", "valid_from: 1.12.2026"},
		{"2026-12-01T08:30:00Z", "soon"}, {"healing-fracture", "healing-bone"}, {"[harder-grade]", "[cold]"}, {"[harder-grade]", "[heat, heat]"},
		{"cue: early", "cue: never"}, {"side_view_check: true", "side_view_check: perhaps"},
		{"not_straighter_than: 30,", "not_straighter_than: -300,"}, {"not_straighter_than: 30,", "not_straighter_than: some,"},
		{"{from: 2026-12-08, not_straighter_than: 20}", "{from: 2026-12-08}"}, {"[{not_straighter_than: 0}]", "[]"},
		{"    schedule: [{not_straighter_than: 0}]\n", ""}, {"movement: hook-fist", "exercise: hook-fist"}, {"id: other-hand", "id: Other Hand"},
		{"grade: easier", "grade: hardest"}, {"view: second", "view: third"}, {"repetitions: 5,", "repetitions: 5000,"}, {"repetitions: 5,", "repetitions: 2.5,"},
		{"hold_s: 3", "hold_s: -3"}, {"least_s: 1.5", "least_s: 100"}, {"deg: 60", "deg: 60, share_of_own: 0.5"}, {", deg: 60", ""}, {"share_of_own: 0.8", "share_of_own: 80"},
	} {
		text := strings.Replace(block, c[0], c[1], 1)
		require.NotEqual(t, block, text, "%v changes the file", c)
		require.Error(t, s.Validate(fromYAML(t, []byte(text))), "%v", c)
		_, _, err := program.Parse([]byte(text), program.Source{})
		require.Error(t, err, "%v is refused by the program too", c)
	}
}
