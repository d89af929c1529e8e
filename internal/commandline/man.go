package commandline

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"github.com/alecthomas/kong"
)

// Page is what a man page says beyond the model.
type Page struct {
	// Title in one line, after the program's name.
	Title string
	// Version of the program, for the page's foot.
	Version string
	// Sections come after the commands, in order.
	Sections []Section
}

// Section of a man page: its heading, and paragraphs or pairs.
type Section struct {
	Heading    string
	Paragraphs []string
	// Items are a tag and what it means, after the paragraphs.
	Items [][2]string
}

// WriteMan writes a page of section 1 in the man macros of troff.
func WriteMan(w io.Writer, app *kong.Application, p Page) error {
	var b bytes.Buffer
	fmt.Fprintf(&b, ".TH %s 1 \"\" \"%s %s\" \"User Commands\"\n", strings.ToUpper(app.Name), app.Name, roff(p.Version))
	fmt.Fprintf(&b, ".SH NAME\n%s \\- %s\n", app.Name, roff(p.Title))
	fmt.Fprintf(&b, ".SH SYNOPSIS\n.B %s\n[\\fICOMMAND\\fR] [\\fIFLAG\\fR ...]\n", app.Name)
	b.WriteString(".SH DESCRIPTION\n")
	for i, paragraph := range strings.Split(app.Help, "\n\n") {
		if i > 0 {
			b.WriteString(".PP\n")
		}
		b.WriteString(roff(paragraph) + "\n")
	}
	b.WriteString(".SH COMMANDS\n")
	for _, n := range app.Leaves(true) {
		writeCommand(&b, app.Name, n)
	}
	for _, s := range p.Sections {
		fmt.Fprintf(&b, ".SH %s\n", roff(strings.ToUpper(s.Heading)))
		for i, paragraph := range s.Paragraphs {
			if i > 0 {
				b.WriteString(".PP\n")
			}
			b.WriteString(roff(paragraph) + "\n")
		}
		for _, item := range s.Items {
			fmt.Fprintf(&b, ".TP\n.B %s\n%s\n", roff(item[0]), roff(item[1]))
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}

func writeCommand(b *bytes.Buffer, name string, n *kong.Node) {
	words := []string{`\fB` + roff(name+" "+path(n)) + `\fR`}
	for _, p := range n.Positional {
		words = append(words, `\fI`+roff(strings.ToUpper(p.Summary()))+`\fR`)
	}
	fmt.Fprintf(b, ".SS \"%s\"\n%s\n", strings.Join(words, " "), roff(n.Help))
	for _, p := range n.Positional {
		fmt.Fprintf(b, ".TP\n.I %s\n%s\n", roff(strings.ToUpper(p.Name)), roff(p.Help))
	}
	for _, f := range flags(n) {
		fmt.Fprintf(b, ".TP\n.B %s\n%s\n", roff(f.String()), roff(f.Help))
	}
}

// path is a command with the commands above it, as it is typed.
func path(n *kong.Node) string {
	var words []string
	for ; n != nil && n.Type == kong.CommandNode; n = n.Parent {
		words = append([]string{n.Name}, words...)
	}
	return strings.Join(words, " ")
}

// flags of a command and of those above it, but for help and what is hidden.
func flags(n *kong.Node) []*kong.Flag {
	var out []*kong.Flag
	for _, group := range n.AllFlags(true) {
		for _, f := range group {
			if f.Name != "help" {
				out = append(out, f)
			}
		}
	}
	return out
}

// roff guards what troff would read as its own: a backslash, a hyphen that is
// to be copied as one, and a point or an apostrophe that begins a line.
func roff(s string) string {
	s = strings.NewReplacer(`\`, `\e`, `-`, `\-`, "\n", " ").Replace(s)
	if strings.HasPrefix(s, ".") || strings.HasPrefix(s, "'") {
		s = `\&` + s
	}
	return s
}
