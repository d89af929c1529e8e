package strictyaml_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/strictyaml"
)

type Named struct {
	Name string `yaml:"name,required"`
}

type part struct {
	Named
	Seconds float64 `yaml:"seconds"`
}

type file struct {
	ID     string             `yaml:"id,required"`
	Count  int                `yaml:"count"`
	On     bool               `yaml:"on"`
	Limit  *float64           `yaml:"limit"`
	Parts  []part             `yaml:"parts"`
	Weight map[string]float64 `yaml:"weight"`
	Deep   *file              `yaml:"deep"`
}

func TestDecode(t *testing.T) {
	var f file
	lines, err := strictyaml.Decode([]byte(`id: grip # a comment
count: 3
on: true
limit: -5
parts:
  - {name: "approach", seconds: 1.5}
  - name: hold
weight: {"*.pip": 1}
`), &f)
	require.NoError(t, err)
	lower := -5.0
	require.Equal(t, file{
		ID: "grip", Count: 3, On: true, Limit: &lower,
		Parts:  []part{{Named{"approach"}, 1.5}, {Named{"hold"}, 0}},
		Weight: map[string]float64{"*.pip": 1},
	}, f)
	require.Equal(t, 2, lines.Of("count"))
	require.Equal(t, 6, lines.Of("parts[1].seconds"))
	require.Equal(t, 7, lines.Of("parts[2].seconds"), "a field left out has the line of what it belongs to")
	require.Equal(t, 1, lines.Of("nothing.of.the.kind"))
}

func TestDecodeRefuses(t *testing.T) {
	for name, c := range map[string]struct{ in, want string }{
		"nothing":          {"", "the file is empty"},
		"only a comment":   {"# hello\n", "the file is empty"},
		"unknown field":    {"id: a\ncuont: 3\n", "line 2: cuont: is not a field here; known are id, count, on, limit, parts, weight, deep"},
		"unknown below":    {"id: a\nparts:\n  - name: x\n    second: 3\n", "line 4: parts[1].second: is not a field here"},
		"missing":          {"count: 3\n", "line 1: id: is missing"},
		"missing below":    {"id: a\nparts:\n  - seconds: 3\n", "line 3: parts[1].name: is missing"},
		"twice":            {"id: a\nid: b\n", "line 2: id: is there twice, first on line 1"},
		"text for number":  {"id: a\ncount: three\n", `line 2: count: wants a whole number, not "three"`},
		"part of a number": {"id: a\ncount: 3.5\n", `line 2: count: wants a whole number, not "3.5"`},
		"number for text":  {"id: 12\n", `line 1: id: wants text; put "12" in quotes`},
		"not a number":     {"id: a\nlimit: .nan\n", `line 2: limit: wants a number, not ".nan"`},
		"without end":      {"id: a\nlimit: .inf\n", `wants a number`},
		"yes":              {"id: a\non: yes\n", `line 2: on: wants true or false, not "yes"`},
		"list for fields":  {"id: a\nweight: [1]\n", "line 2: weight: wants fields with names, not a list"},
		"fields for list":  {"id: a\nparts: {name: x}\n", "line 2: parts: wants a list, each entry with a hyphen before it, not a group of fields"},
		"value for list":   {"id: a\nparts: x\n", `line 2: parts: wants a list, each entry with a hyphen before it, not a single value ("x")`},
		"alias":            {"id: &a x\nparts: *a\n", "line 2: parts: anchors and aliases"},
		"unquoted star":    {"id: *.pip\n", "line 1"},
		"merge":            {"id: a\nweight: {<<: {a: 1}}\n", "line 2: weight: a name wants plain text"},
		"tag":              {"id: !!str 12\n", "line 1: id: tags (!) are not read"},
		"two documents":    {"id: a\n---\nid: b\n", "line 2: a second document begins here"},
		"broken":           {"id: [a\n", "line 1"},
		"tab":              {"id: a\nweight:\n\ta: 1\n", "line 3"},
		"too deep":         {"id: a\ndeep: " + strings.Repeat("{id: a, deep: ", 30) + "{id: a}" + strings.Repeat("}", 30), "nested too deeply"},
		"too large":        {"id: " + strings.Repeat("a", strictyaml.MaxBytes), "at most 262144 are read"},
		"not text at all":  {"\x00\x01\xff", ""},
	} {
		t.Run(name, func(t *testing.T) {
			var f file
			_, err := strictyaml.Decode([]byte(c.in), &f)
			var e *strictyaml.Error
			require.True(t, errors.As(err, &e), "%v", err)
			require.Contains(t, err.Error(), c.want)
		})
	}
}

func TestDecodeNamesEveryProblem(t *testing.T) {
	var f file
	_, err := strictyaml.Decode([]byte("count: x\non: 3\nextra: 1\n"), &f)
	require.Equal(t, `line 1: count: wants a whole number, not "x"
line 1: id: is missing
line 2: on: wants true or false, not "3"
line 3: extra: is not a field here; known are id, count, on, limit, parts, weight, deep`, err.Error())
}

func FuzzDecode(f *testing.F) {
	for _, s := range []string{"", "id: a\nparts: [{name: x, seconds: 1e3}]\n", "a: &a [*a]", "? [a]\n: b", "id: |\n  x\n", "{<<: *x}", "--- !!map\n", "id: \"\\x00\"\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var v file
		lines, err := strictyaml.Decode(data, &v)
		if err == nil && v.ID == "" && lines["id"] == 0 {
			t.Fatal("a required field was not missed")
		}
	})
}
