package strictyaml

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/require"
)

// What people get wrong as they write such a file, in words that help them.
func TestSyntaxIsToldForAPerson(t *testing.T) {
	for text, want := range map[string]Problem{
		"a: [1, 2\nb: 3\n":    {2, "", "a comma or the closing ] is missing"},
		"a: {b: 1\nc: 2\n":    {2, "", "the closing } is missing"},
		"a: 1\nb: [1\nc: 2\n": {2, "", "a comma or the closing ] is missing"},
		"a: 1\n\nb: [\n":      {3, "", "something is missing after a ["},
		"\n a: 1\nb: 2\n":     {3, "", "belongs to nothing above it"},
		"a: [":                {1, "", "something is missing after a ["},
		"a: b: c\n":           {1, "", "wants quotes"},
		"a: 1\n  b: 2\n":      {2, "", "indented further than the one above"},
		"a:\n\tb: 1\n":        {2, "", "indent with spaces"},
		"a: 1\n\tb: 2\n":      {2, "", "indent with spaces"},
		"a: @x\n":             {1, "", "put such a text in quotes"},
		"a: 'open\nb: 1\n":    {2, "", "not closed"},
		"a:\n  b: 1\n c: 2\n": {3, "", "not indented as the ones above"},
		"a: \"x\" y\n":        {1, "", "follows a text in quotes"},
		"a:\n - 1\n b: 2\n":   {2, "", "without its hyphen"},
		"a: 1\nb\n":           {2, "", "a colon is missing"},
		"a: \"\\q\"\n":        {1, "", "use single quotes"},
		"a: *.pip\n":          {1, "", "such as \"*.pip\", wants quotes"},
		"a: *pip\n":           {1, "", "a star wants quotes"},
		"PK\x03\x04":          {1, "", "not text"},
		"a: \xff\n":           {1, "", "not text (UTF-8)"},
		"%PDF-1.4\n":          {1, "", "not YAML"},
	} {
		var v struct {
			A string `yaml:"a"`
		}
		_, err := Decode([]byte(text), &v)
		var e *Error
		require.True(t, errors.As(err, &e), "%q: %v", text, err)
		require.Len(t, e.Problems, 1, "%q", text)
		require.Equal(t, want.Line, e.Problems[0].Line, "%q: %s", text, e.Problems[0].Text)
		require.Contains(t, e.Problems[0].Text, want.Text, "%q", text)
	}
}
