package strictyaml

import (
	"bytes"
	"strconv"
	"strings"
)

// syntaxWords say for somebody who writes such a file by hand what the library
// says to somebody who writes a library. The first one whose key is in its
// message counts. The line is often that where the list, the text or the group of
// fields began, so the words do not promise more. What its parser finds, in
// contrast to its scanner, it places one line too early.
var syntaxWords = []struct {
	says, words string
	early       int
}{
	{"UTF-8", "this is not text (UTF-8); save the file as text", 0},
	{"control characters", "this is not text; save the file as text", 0},
	{"did not find expected ',' or ']'", "in the list that begins with [ a comma or the closing ] is missing", 1},
	{"did not find expected ',' or '}'", "in the fields that begin with { a comma, a colon or the closing } is missing", 1},
	{"did not find expected node content", "something is missing after a [, a { or a comma, such as the closing ] or }", 1},
	{"mapping values are not allowed", "a colon stands where none can: either this line is indented further than the one above, or a text with a colon in it wants quotes", 0},
	{"tab character", "a tab indents this line; indent with spaces", 0},
	{"cannot start any token", "a tab indents a line here, or a text begins with a sign such as @, % or `: indent with spaces, and put such a text in quotes", 0},
	{"did not find expected <document start>", "this line belongs to nothing above it: it is indented less, or begins with no field's name", 1},
	{"unexpected end of stream", "a text in quotes that began above is not closed", 0},
	{"could not find expected ':'", "a colon is missing after the name of a field, in this line or the one above", 0},
	{"did not find expected key", "from here on a line is not indented as the ones above it, or something follows a text in quotes", 1},
	{"did not find expected '-' indicator", "in the list that begins here a line is not indented as the others, or begins without its hyphen", 1},
	{"unknown escape", "in a text in double quotes a backslash (\\) begins something unknown; use single quotes", 0},
	{"alphabetic or numeric character", "a text that begins with a star, such as \"*.pip\", wants quotes", 0},
	{"unknown anchor", "a text that begins with a star wants quotes", 0},
}

// syntaxProblem takes the line out of the library's own words, which leave
// out the line where it is the first, and says the rest for a person.
func syntaxProblem(err error, data []byte) *Problem {
	told := false
	p := &Problem{Line: 1, Text: strings.TrimPrefix(err.Error(), "yaml: ")}
	if rest, ok := strings.CutPrefix(p.Text, "line "); ok {
		if n, text, ok := strings.Cut(rest, ": "); ok {
			if line, err := strconv.Atoi(n); err == nil {
				p.Line, p.Text, told = line, text, true
			}
		}
	}
	for _, w := range syntaxWords {
		if strings.Contains(p.Text, w.says) {
			p.Text = w.words
			if told {
				p.Line += w.early
			}
			// The end of the file counts as a line of its own.
			p.Line = min(p.Line, 1+bytes.Count(bytes.TrimRight(data, "\n"), []byte("\n")))
			return p
		}
	}
	p.Text = "this is not YAML: " + p.Text
	return p
}
