package clinic

import (
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"time"

	"fyne.io/fyne/v2"

	"volar/internal/program"
	"volar/internal/report"
	"volar/ui/parts"
)

// handout shows where the paper for the client is written to.
func (c *Clinic) handout(p *program.Program, back func()) {
	c.show(&handout{base: base{c: c}, p: p, back: back})
}

// handout writes the home program for the client on paper.
type handout struct {
	base
	p     *program.Program
	back  func()
	field *parts.Field
	row   *parts.FormRow
	said  *parts.Words
	open  *parts.Button
	busy  bool
}

// Content is part of parts.Screen.
func (s *handout) Content() fyne.CanvasObject {
	dir, err := os.UserHomeDir()
	if err != nil {
		dir = os.TempDir()
	}
	if docs := filepath.Join(dir, "Documents"); isDir(docs) {
		dir = docs
	}
	s.field = parts.NewField(filepath.Join(dir, fmt.Sprintf("%s-version-%d.pdf", s.p.Client, s.p.Version)), nil)
	s.field.OnEnter = s.write
	s.row = parts.NewFormRow("File", s.field)
	s.first = s.field
	s.said = text("")
	s.open = s.ControlAction(parts.Plain, "Look at it", fyne.KeyP, func() {
		s.c.opt.App.OpenURL(&url.URL{Scheme: "file", Path: s.field.Text})
	})
	s.open.Hide()
	title := "Handout for " + s.p.Client
	return s.page(title, parts.Heading(title), s.Scroll(parts.Measure(parts.Column(gap,
		text("The home program on paper: each exercise with drawn pictures, the object, the dose in words, what to mind, and the caution."),
		s.row.Content(),
		caution("The file is not encrypted. Remove it once it is printed."),
		s.said))),
		s.ControlAction(parts.Lead, "Write the file", fyne.KeyS, s.write), s.open, s.goBack("Back", s.back))
}

func isDir(path string) bool {
	i, err := os.Stat(path)
	return err == nil && i.IsDir()
}

// write draws the pictures in the background, since that takes a second.
func (s *handout) write() {
	if s.busy {
		return
	}
	s.busy = true
	s.row.Problem("")
	s.said.Set("The pictures are being drawn …")
	path, day, now := s.field.Text, s.c.day(), s.c.opt.Clock()
	if day.Before(s.p.ValidFrom) {
		day = s.p.ValidFrom
	}
	s.c.background(func() {
		err := writeHandout(path, s.p.On(day), now)
		s.c.opt.Do(func() {
			s.busy = false
			if err != nil {
				s.said.Set("")
				s.row.Problem(sentence(err.Error()))
				return
			}
			s.said.Set("Written to " + path + ".")
			s.open.Show()
			parts.Settle(s.open)
		})
	})
}

// writeHandout leaves no half of a file behind.
func writeHandout(path string, r program.Resolved, now time.Time) (err error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	defer func() {
		if err = errors.Join(err, f.Close()); err != nil {
			os.Remove(path)
		}
	}()
	return report.Handout(f, r, now)
}
