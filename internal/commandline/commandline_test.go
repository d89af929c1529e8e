package commandline

import (
	"bytes"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the golden files anew")

// line is a command line with one of everything.
type line struct {
	Look struct {
		Picture []string `arg:"" help:"Pictures to look at."`
		Side    string   `enum:"left,right," default:"" help:"Which hand."`
		Out     string   `short:"o" help:"It's a file." placeholder:"FILE"`
		Secret  string   `hidden:""`
	} `cmd:"" help:"Look at pictures."`
	Plan struct {
		New  struct{} `cmd:"" help:"Make one."`
		Show struct {
			JSON bool `name:"json" help:"As JSON."`
		} `cmd:"" help:"Show one."`
	} `cmd:"" help:"Plans."`
	Back struct{} `cmd:"" hidden:"" help:"Not shown."`
}

func model(t *testing.T) *kong.Application {
	t.Helper()
	k, err := kong.New(&line{}, kong.Name("grip"), kong.Description("A program.\n\n.It has \\ a second paragraph."))
	require.NoError(t, err)
	return k.Model
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, got, 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, string(want), string(got))
}

func TestManPage(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, WriteMan(&b, model(t), Page{Title: "look at things", Version: "1.0", Sections: []Section{
		{Heading: "Exit status", Paragraphs: []string{"One of these.", "'Quoted'."}, Items: [][2]string{{"0", "done"}}},
	}}))
	golden(t, "grip.1", b.Bytes())
	require.NotContains(t, b.String(), "Not shown", "a hidden command")
	require.NotContains(t, b.String(), "secret", "a hidden flag")

	c := exec.Command("groff", "-man", "-Tascii", "-ww")
	c.Stdin = &b
	var complaints bytes.Buffer
	c.Stderr = &complaints
	require.NoError(t, c.Run(), "groff is installed by ./scripts/setup --tests")
	require.Empty(t, complaints.String())
}

func TestCompletionOfAnUnknownShell(t *testing.T) {
	require.ErrorContains(t, WriteCompletion(&bytes.Buffer{}, model(t), "ash"), "bash, zsh, fish")
}

func TestFishCompletion(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, WriteCompletion(&b, model(t), "fish"))
	golden(t, "grip.fish", b.Bytes())
}

// Bash itself is asked what it would offer.
func TestBashCompletion(t *testing.T) {
	bash, err := exec.LookPath("bash")
	require.NoError(t, err, "the project's own scripts need it too")
	var b bytes.Buffer
	require.NoError(t, WriteCompletion(&b, model(t), "bash"))
	for _, c := range []struct {
		words []string
		want  string
	}{
		{[]string{""}, "look plan --help"},
		{[]string{"lo"}, "look"},
		{[]string{"plan", ""}, "new show --help"},
		{[]string{"plan", "show", "--"}, "--json --help"},
		{[]string{"look", "--"}, "--side --out --help"},
		{[]string{"look", "--side", ""}, "left right"},
		{[]string{"look", "--side", "left", "--o"}, "--out"},
	} {
		script := b.String() + "COMP_WORDS=(grip"
		for _, w := range c.words {
			script += " '" + w + "'"
		}
		script += ")\nCOMP_CWORD=" + string(rune('0'+len(c.words))) + "\n_grip\necho \"${COMPREPLY[*]}\"\n"
		got, err := exec.Command(bash, "-c", script).Output()
		require.NoError(t, err)
		require.Equal(t, c.want, strings.TrimSpace(string(got)), "after %q", c.words)
	}
}
