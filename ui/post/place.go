package post

import (
	"context"
	"fmt"
	"os"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/dialog"

	domain "volar/internal/post"
	"volar/ui/parts"
)

// placeForm chooses where files are carried.
type placeForm struct {
	f    *flow
	p    *page
	clin bool
	set  domain.Place
	// kind is 0 for a folder and 1 for a bucket.
	kind                                 int
	folder, address                      *parts.FormRow
	folderIn, addressIn, keyIn, secretIn *parts.Field
	homeKeyIn, homeSecretIn              *parts.Field
	said                                 *parts.Words
	keep                                 func(context.Context, domain.Place) error
	after                                func()
}

// newPlace asks where files are carried; keep keeps it, and after follows.
func (f *flow) newPlace(clinic bool, now domain.Place, keep func(context.Context, domain.Place) error, after func()) *page {
	s := &placeForm{f: f, clin: clinic, set: now, keep: keep, after: after}
	if now.Bucket() {
		s.kind = 1
	}
	return s.make()
}

func (s *placeForm) make() *page {
	title, by := "Where your practices go", "They go by"
	if s.clin {
		title, by = "Where letters are carried", "Letters go by"
	}
	s.p = newPage(title)
	folder, address := s.set.Where, ""
	if s.set.Bucket() {
		folder, address = "", s.set.Where
	}
	s.folderIn = parts.NewField(folder, func(string) { s.check() }).Hint("a stick, or a folder that another program keeps in step")
	s.folder = parts.NewFormRow("Folder, with all folders above it", s.folderIn)
	s.addressIn = parts.NewField(address, func(string) { s.check() }).Hint("s3://host/bucket")
	s.address = parts.NewFormRow("Address of the bucket", s.addressIn)
	s.keyIn, s.secretIn = parts.NewField(s.set.Key, nil), parts.NewSecretField()
	s.homeKeyIn, s.homeSecretIn = parts.NewField(s.set.HomeKey, nil), parts.NewSecretField()
	s.secretIn.Text, s.homeSecretIn.Text = s.set.Secret, s.set.HomeSecret
	s.said = text("")
	kinds := parts.NewPicks([]string{"a folder or a stick", "a bucket"}, s.kind, func(i int) {
		s.read()
		s.kind = i
		s.f.show(s.make())
	})
	s.p.first = kinds.First()
	body := parts.Column(gap, parts.NewFormRow(by, kinds.Content()).Content())
	if s.kind == 0 {
		body.Add(s.folder.Content())
		body.Add(quiet("Everything in it is sealed: whoever keeps the folder sees how many files there are, how large, and when, and nothing of what is in them."))
	} else {
		body.Add(s.address.Content())
		body.Add(parts.Row(gap, []float32{1, 1}, parts.NewFormRow("Key", s.keyIn).Content(), parts.NewFormRow("Secret", s.secretIn).Content()))
		if s.clin {
			body.Add(parts.Row(gap, []float32{1, 1}, parts.NewFormRow("Key for the clients' computers", s.homeKeyIn).Content(),
				parts.NewFormRow("Secret for the clients' computers", s.homeSecretIn).Content()))
			body.Add(quiet("The clients' key goes along in each invitation, sealed. Let it read and write this bucket and nothing else."))
		}
		body.Add(quiet("Everything in the bucket is sealed: whoever keeps it sees how many files there are, how large, and when, and nothing of what is in them."))
	}
	body.Add(s.said)
	return s.p.lay(parts.Measure(body), s.p.action(parts.Lead, "Save", fyne.KeyReturn, s.save), s.p.action(parts.Plain, "Try it", fyne.KeyF5, s.try),
		s.browse(),
		s.p.action(parts.Plain, "Back without saving", fyne.KeyEscape, s.after))
}

// browse lets the person show a folder instead of typing it.
func (s *placeForm) browse() *parts.Button {
	b := s.p.action(parts.Plain, "Choose the folder", fyne.KeyF4, func() {
		if s.kind == 1 {
			return
		}
		d := dialog.NewFolderOpen(func(u fyne.ListableURI, err error) {
			if err == nil && u != nil {
				s.folderIn.SetText(u.Path())
			}
		}, s.f.o.Window)
		d.SetView(dialog.ListView) // whole names
		d.SetTitleText("Choose the folder")
		d.Resize(s.f.o.Window.Canvas().Size())
		d.Show()
	})
	if s.kind == 1 {
		b.Hide()
	}
	return b
}

// read takes what was typed.
func (s *placeForm) read() domain.Place {
	s.set.Where = strings.TrimSpace(s.folderIn.Text)
	if s.kind == 1 {
		s.set.Where = strings.TrimSpace(s.addressIn.Text)
	}
	s.set.Key, s.set.Secret = strings.TrimSpace(s.keyIn.Text), strings.TrimSpace(s.secretIn.Text)
	s.set.HomeKey, s.set.HomeSecret = strings.TrimSpace(s.homeKeyIn.Text), strings.TrimSpace(s.homeSecretIn.Text)
	return s.set
}

// check shows what is wrong beside the field, and says whether all is well.
func (s *placeForm) check() bool {
	p := s.read()
	row := s.folder
	if s.kind == 1 {
		row = s.address
	}
	problem := ""
	switch err := p.Check(); {
	case err != nil:
		problem = sentence(err.Error())
	case s.kind == 1 && p.Where != "" && !p.Bucket():
		problem = "An address of a bucket begins with s3://."
	case s.kind == 0 && p.Bucket():
		problem = "That is the address of a bucket."
	case s.kind == 0 && p.Where != "" && !isFolder(p.Where):
		problem = "There is no such folder now. If it is a stick, plug it in."
	}
	row.Problem(problem)
	return problem == ""
}

func isFolder(path string) bool {
	i, err := os.Stat(path)
	return err == nil && i.IsDir()
}

func (s *placeForm) save() {
	if !s.check() {
		return
	}
	p := s.read()
	s.f.background(func(ctx context.Context) error { return s.keep(ctx, p) }, func(err error) {
		if err != nil {
			s.tell(sentence(domain.Words(err)))
			return
		}
		s.after()
	})
}

// through opens what carries files, does something with it and closes it.
func through(p domain.Place, do func(c domain.Carrier) error) error {
	if !p.Bucket() && !isFolder(p.Where) {
		return fmt.Errorf("there is no folder %s now; if it is a stick, plug it in", p.Where)
	}
	c, err := p.Open()
	if err != nil {
		return err
	}
	defer c.Close()
	return do(c)
}

// try looks into the place without changing anything.
func (s *placeForm) try() {
	p := s.read()
	if !s.check() {
		return
	}
	if p.IsZero() {
		s.tell("Nothing is chosen yet.")
		return
	}
	s.tell("Looking …")
	n := 0
	s.f.background(func(ctx context.Context) error {
		return through(p, func(c domain.Carrier) error {
			list, err := c.List(ctx, "")
			n = len(list)
			return err
		})
	}, func(err error) {
		if err != nil {
			s.tell(sentence(domain.Words(err)))
			return
		}
		s.tell("It can be reached. " + count(n, "sealed file lies there.", "sealed files lie there."))
	})
}

// tell says what came of something.
func (s *placeForm) tell(words string) {
	s.said.Set(words)
	parts.Settle(s.said)
}
