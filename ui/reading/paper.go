package reading

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"fyne.io/fyne/v2"

	"volar/internal/program"
	"volar/internal/report"
	"volar/internal/review"
	"volar/ui/look"
	"volar/ui/parts"
)

// forms are what a report can be written as.
var forms = []struct {
	label, ext string
	write      func(*report.Report, io.Writer) error
}{
	{"PDF, to read and print", ".pdf", (*report.Report).PDF},
	{"CSV, a table", ".csv", (*report.Report).CSV},
	{"JSON", ".json", (*report.Report).JSON},
	{"FHIR R4, as JSON", ".fhir.json", (*report.Report).FHIR},
}

// paper writes the weeks of a client into a file.
type paper struct {
	base
	client     string
	back       func()
	long, form int // indices of stretches and forms
	field      *parts.Field
	row        *parts.FormRow
	said       *parts.Words
	open       *parts.Button
	busy       bool
}

func newPaper(r *Reader, client string, long int, back func()) *paper {
	return &paper{base: base{r: r, title: "Report on " + client}, client: client, long: long, back: back}
}

// Content is part of parts.Screen.
func (p *paper) Content() fyne.CanvasObject {
	p.Clear()
	var lengths, kinds []string
	for _, n := range stretches {
		lengths = append(lengths, fmt.Sprintf("%d weeks", n))
	}
	for _, f := range forms {
		kinds = append(kinds, f.label)
	}
	p.field = parts.NewField(p.free(), nil)
	p.field.OnEnter = p.write
	p.row = parts.NewFormRow("File", p.field)
	p.said = bold("")
	write := p.ControlAction(parts.Lead, "Write the file", fyne.KeyS, p.write)
	p.open = p.ControlAction(parts.Plain, "Look at it", fyne.KeyP, p.look)
	p.open.Hide()
	p.first = write
	body := parts.Column(gap,
		text("The weeks up to today: dose done, ranges and their trend, flags, pain, changes of the program, and what could not be judged. Estimates, for your review."),
		parts.NewFormRow("How far back", parts.NewPicks(lengths, p.long, func(i int) { p.long = i }).Content()).Content(),
		parts.NewFormRow("Written as", parts.NewPicks(kinds, p.form, p.as).Content()).Content(),
		p.row.Content(),
		parts.Signed(parts.CautionSign, parts.NewWords("The file is not encrypted. Remove it once it is printed or passed on.", parts.Style{Colour: look.Caution, Bold: true})),
		p.said)
	return p.page(parts.Heading(p.title), p.Scroll(parts.Measure(body)), write, p.open, p.Action(parts.Plain, "Back", fyne.KeyEscape, p.back))
}

// as writes in another form, under a name that fits it.
func (p *paper) as(i int) {
	was := forms[p.form].ext
	p.form = i
	if rest, ok := strings.CutSuffix(p.field.Text, was); ok {
		p.field.SetText(rest + forms[i].ext)
	} else {
		p.field.SetText(p.free())
	}
	p.row.Problem("")
}

// most is how many files of one name are proposed beside each other.
const most = 100

// free is the name of a file that is not there yet, among the user's documents.
func (p *paper) free() string {
	dir := p.r.opt.Folder
	if dir == "" {
		dir = documents()
	}
	now := p.r.opt.Now()
	name := filepath.Join(dir, fmt.Sprintf("%s-report-%s", p.client, program.DateOf(now, now.Location())))
	ext := forms[p.form].ext
	for n := 1; n <= most; n++ {
		path := name + ext
		if n > 1 {
			path = fmt.Sprintf("%s-%d%s", name, n, ext)
		}
		if _, err := os.Lstat(path); errors.Is(err, os.ErrNotExist) {
			return path
		}
	}
	return name + ext
}

// documents is the folder of the user's documents, or else their own.
func documents() string {
	home, err := os.UserHomeDir()
	if err != nil {
		return os.TempDir()
	}
	docs := filepath.Join(home, "Documents")
	if i, err := os.Stat(docs); err == nil && i.IsDir() {
		return docs
	}
	return home
}

// write gathers the weeks and writes them, in the background.
func (p *paper) write() {
	if p.busy {
		return
	}
	p.busy = true
	p.row.Problem("")
	p.tell("The sessions are being read …")
	path, form, n := p.field.Text, forms[p.form], stretches[p.long]
	load(p.r, func(ctx context.Context) (struct{}, error) {
		x, err := gather(ctx, p.r, p.client, n)
		if err != nil {
			return struct{}{}, err
		}
		return struct{}{}, writeNew(path, func(w io.Writer) error { return form.write(x, w) })
	}, func(_ struct{}, err error) {
		p.busy = false
		switch {
		case errors.Is(err, os.ErrExist):
			p.refuse("There is a file of this name already; choose another name.")
		case errors.Is(err, report.ErrNothing):
			p.refuse(fmt.Sprintf("There is no session in these %d weeks.", n))
		case err != nil:
			p.refuse(review.Capital(p.r.opt.Words(err)))
		default:
			p.tell("Written to " + path + ".")
			p.open.Show()
			parts.Settle(p.open)
		}
	})
}

// tell says what happened, in view where the page is longer than the window.
func (p *paper) tell(words string) {
	p.said.Set(words)
	parts.Settle(p.said)
	if words != "" {
		parts.Reveal(p.said)
	}
}

// refuse says what is wrong, beside the file's name.
func (p *paper) refuse(words string) {
	p.tell("")
	p.row.Problem(words)
	parts.Reveal(p.field)
}

// look opens the file in the program that the desktop opens such files with.
func (p *paper) look() {
	if !p.open.Visible() {
		return
	}
	if err := fyne.CurrentApp().OpenURL(&url.URL{Scheme: "file", Path: p.field.Text}); err != nil {
		p.tell("The file could not be opened: " + err.Error())
	}
}

// writeNew writes a file that is not there yet, whole or not at all.
func writeNew(path string, write func(io.Writer) error) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	if err := errors.Join(write(f), f.Close()); err != nil {
		return errors.Join(err, os.Remove(path))
	}
	return nil
}
