package commandline

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"github.com/alecthomas/kong"
)

// Shells that WriteCompletion knows.
var Shells = []string{"bash", "zsh", "fish"}

// WriteCompletion writes what a shell reads to complete the program's commands
// and flags, and the values of flags that have few. Everything else completes
// to files. The text stands alone: the program, which takes a moment to load its
// libraries, is not started at each Tab.
func WriteCompletion(w io.Writer, app *kong.Application, shell string) error {
	var b bytes.Buffer
	switch shell {
	case "bash":
		writeBash(&b, app)
	case "zsh":
		// Zsh reads completions of bash, and then only one has to be right.
		fmt.Fprintf(&b, "#compdef %s\nautoload -U +X bashcompinit && bashcompinit\n", app.Name)
		writeBash(&b, app)
	case "fish":
		writeFish(&b, app)
	default:
		return fmt.Errorf("completion for %s is not known; want one of %s", shell, strings.Join(Shells, ", "))
	}
	_, err := w.Write(b.Bytes())
	return err
}

// writeBash writes a table from the words typed so far to what may come next.
func writeBash(b *bytes.Buffer, app *kong.Application) {
	function := "_" + strings.ReplaceAll(app.Name, "-", "_")
	fmt.Fprintf(b, `%s() {
  local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]} command= next= i
  for ((i = 1; i < COMP_CWORD; i++)); do
    case "$command ${COMP_WORDS[i]}" in
`, function)
	for _, n := range commands(app.Node) {
		fmt.Fprintf(b, "      %q) command=%q ;;\n", " "+path(n), " "+path(n))
	}
	b.WriteString("    esac\n  done\n  case \"$command $before\" in\n")
	for _, n := range commands(app.Node) {
		for _, f := range flags(n) {
			if values := choices(f); values != "" {
				fmt.Fprintf(b, "    %q) next=%q ;;\n", " "+path(n)+" --"+f.Name, values)
			}
		}
	}
	b.WriteString("  esac\n  if [ -z \"$next\" ]; then\n    case \"$command\" in\n")
	for _, n := range append([]*kong.Node{app.Node}, commands(app.Node)...) {
		var words []string
		for _, c := range visible(n) {
			words = append(words, c.Name)
		}
		if n.Leaf() {
			for _, f := range flags(n) {
				words = append(words, "--"+f.Name)
			}
		}
		key := ""
		if p := path(n); p != "" {
			key = " " + p
		}
		fmt.Fprintf(b, "      %q) next=%q ;;\n", key, strings.Join(append(words, "--help"), " "))
	}
	fmt.Fprintf(b, `    esac
  fi
  COMPREPLY=($(compgen -W "$next" -- "$word"))
}
complete -o default -F %s %s
`, function, app.Name)
}

func writeFish(b *bytes.Buffer, app *kong.Application) {
	for _, n := range commands(app.Node) {
		when := "__fish_use_subcommand"
		if n.Parent.Type == kong.CommandNode {
			when = "__fish_seen_subcommand_from " + n.Parent.Name
		}
		fmt.Fprintf(b, "complete -c %s -n '%s' -f -a %s -d '%s'\n", app.Name, when, n.Name, fishQuote(n.Help))
		if !n.Leaf() {
			continue
		}
		when = "__fish_seen_subcommand_from " + n.Name
		if n.Parent.Type == kong.CommandNode {
			when = "__fish_seen_subcommand_from " + n.Parent.Name + "; and " + when
		}
		for _, f := range flags(n) {
			fmt.Fprintf(b, "complete -c %s -n '%s' -l %s", app.Name, when, f.Name)
			if f.Short != 0 {
				fmt.Fprintf(b, " -s %c", f.Short)
			}
			if values := choices(f); values != "" {
				fmt.Fprintf(b, " -x -a '%s'", values)
			} else if !f.IsBool() {
				b.WriteString(" -r")
			}
			fmt.Fprintf(b, " -d '%s'\n", fishQuote(f.Help))
		}
	}
}

func fishQuote(s string) string {
	return strings.NewReplacer(`\`, `\\`, `'`, `\'`).Replace(s)
}

// choices are the values of a flag that has few, with spaces between.
func choices(f *kong.Flag) string {
	var out []string
	for _, v := range f.EnumSlice() {
		if v != "" {
			out = append(out, v)
		}
	}
	return strings.Join(out, " ")
}

// commands are all commands below a node that are not hidden, parents first.
func commands(n *kong.Node) []*kong.Node {
	var out []*kong.Node
	for _, c := range visible(n) {
		out = append(append(out, c), commands(c)...)
	}
	return out
}

func visible(n *kong.Node) []*kong.Node {
	var out []*kong.Node
	for _, c := range n.Children {
		if c.Type == kong.CommandNode && !c.Hidden {
			out = append(out, c)
		}
	}
	return out
}
