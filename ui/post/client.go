package post

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/dialog"
	"fyne.io/fyne/v2/storage"

	"volar/internal/exchange"
	domain "volar/internal/post"
	"volar/ui/parts"
)

// client is the home's screen of what comes from the therapist and goes back.
type client struct {
	*flow
	home *domain.Home
	said []string
}

// NewClient is the screen on which a client takes a file from the therapist and
// sends what was practised.
func NewClient(h *domain.Home, o Options) Screen {
	s := &client{flow: newFlow(o), home: h}
	s.start = s.overview
	return s
}

// overview says how things stand, in plain words.
func (s *client) overview() *page {
	st, err := s.home.State(s.ctx)
	if err != nil {
		p := newPage("From and to your therapist")
		p.On(fyne.KeyEscape, s.o.Back)
		return p.lay(signed(parts.CautionSign, sentence(domain.Words(err))), p.action(parts.Lead, "Back", fyne.KeySpace, s.o.Back))
	}
	return s.standing(st)
}

// standing is the overview of a state.
func (s *client) standing(st domain.HomeState) *page {
	p := newPage("From and to your therapist")
	p.On(fyne.KeyEscape, s.o.Back)
	body := parts.Column(gap)
	for _, line := range s.said {
		body.Add(strong(line))
	}
	var actions []fyne.CanvasObject
	files := func() { s.show(s.files()) }
	if !st.Connected {
		body.Add(text("Your therapist gives you a file for this computer, and tells you sixteen digits with it."))
		body.Add(text("Take the file here. Your exercises come with it, and what you practise can go back."))
		p.On(fyne.KeyF, files)
		actions = append(actions, p.action(parts.Lead, "Take a file", fyne.KeySpace, files))
	} else {
		body.Add(signed(parts.DoneSign, "Connected with your therapist since "+s.day(st.Since)+"."))
		body.Add(s.waiting(st))
		for _, t := range st.Trouble {
			body.Add(signed(parts.CautionSign, "A file was not taken: "+t.Words))
		}
		if !st.Place.IsZero() {
			actions = append(actions, p.action(parts.Lead, "Send and look for news", fyne.KeySpace, func() { s.round(st.Place) }))
		}
		body.Add(quiet("What goes is sealed so that only your therapist's program can open it. Your therapist does not see it at once: for pain that worries you, call."))
		if !st.Place.IsZero() {
			onOff := map[bool]string{true: "on", false: "off"}
			body.Add(p.action(parts.Plain, "Send by itself after each practice: "+onOff[st.Auto], fyne.KeyA, func() { s.auto(!st.Auto) }))
		}
		body.Add(p.action(parts.Plain, "Where it goes", fyne.KeyW, func() {
			s.show(s.newPlace(false, st.Place, s.home.SetPlace, func() { s.show(s.overview()) }))
		}))
		body.Add(p.action(parts.Plain, "Take a file", fyne.KeyF, files))
	}
	actions = append(actions, p.action(parts.Plain, "Back", fyne.KeyB, s.o.Back))
	return p.lay(parts.Measure(body), actions...)
}

// waiting says what has gone and what has not.
func (s *client) waiting(st domain.HomeState) fyne.CanvasObject {
	sessions := 0
	problem := ""
	for _, w := range st.Waiting {
		if w.Kind == exchange.KindSession {
			sessions++
		}
		if w.Problem != "" {
			problem = w.Problem
		}
	}
	switch {
	case st.Place.IsZero():
		return signed(parts.ToDo, "It is not chosen yet how your practices go to your therapist: ask, and choose a folder or a stick under “Where it goes”.")
	case len(st.Waiting) == 0 && st.LastSent.IsZero():
		return signed(parts.DoneSign, "Nothing waits to be sent.")
	case len(st.Waiting) == 0:
		return signed(parts.DoneSign, "All is sent; the last time "+s.day(st.LastSent)+".")
	case problem != "":
		return signed(parts.CautionSign, waitingText(sessions)+" The last try did not work: "+sentence(problem)+" Nothing is lost.")
	}
	return signed(parts.ToDo, waitingText(sessions))
}

func waitingText(sessions int) string {
	switch sessions {
	case 0:
		return "The answer to your therapist waits to be sent."
	case 1:
		return "1 practice waits to be sent."
	}
	return fmt.Sprintf("%d practices wait to be sent.", sessions)
}

func (s *client) auto(yes bool) {
	s.background(func(ctx context.Context) error { return s.home.SetAuto(ctx, yes) }, func(err error) {
		s.said = nil
		if err != nil {
			s.said = []string{sentence(domain.Words(err))}
		}
		s.show(s.overview())
	})
}

// round sends and looks for a newer program.
func (s *client) round(p domain.Place) {
	if s.busy {
		return
	}
	s.show(s.wait("One moment", "It is being sent …"))
	var got domain.Fetched
	sent := 0
	s.background(func(ctx context.Context) error {
		return through(p, func(c domain.Carrier) (err error) {
			if sent, err = s.home.Send(ctx, c); err != nil {
				return err
			}
			got, err = s.home.Fetch(ctx, c)
			return err
		})
	}, func(err error) {
		s.said = nil
		switch {
		case err != nil:
			s.said = append(s.said, "It did not work. "+sentence(domain.Words(err)))
		case sent == 0 && got.Programs == 0:
			s.said = append(s.said, "There is nothing new.")
		case sent > 0:
			s.said = append(s.said, "It is sent.")
		}
		if got.Programs > 0 {
			s.said = append(s.said, "Your therapist changed your exercises; the new ones hold from now on.")
		}
		s.show(s.overview())
	})
}

// wait says what is going on.
func (s *client) wait(title, words string) *page {
	p := newPage(title)
	p.On(fyne.KeyEscape, s.o.Back)
	return p.lay(text(words), p.action(parts.Plain, "Back", fyne.KeyB, s.o.Back))
}

// digitKeys are the keys of the digits.
var digitKeys = []fyne.KeyName{fyne.Key0, fyne.Key1, fyne.Key2, fyne.Key3, fyne.Key4, fyne.Key5, fyne.Key6, fyne.Key7, fyne.Key8, fyne.Key9}

// files offers the sealed files that lie about, each by a digit, and a dialog
// for any other.
func (s *client) files() *page {
	p := newPage("Which file did your therapist give you?")
	over := func() { s.show(s.overview()) }
	all := find(s.o.Folders)
	body := parts.Column(gap)
	if len(all) == 0 {
		body.Add(text("No file of volar lies among your downloads, on the desktop, among your documents or on a stick. Save it there, or show where it is."))
	}
	for i, one := range all {
		open := func() { s.open(one.path) }
		b := p.action(parts.Plain, filepath.Base(one.path)+", of "+s.day(one.at), digitKeys[i+1], open)
		body.Add(parts.Column(6, b, quiet("in "+filepath.Base(filepath.Dir(one.path)))))
	}
	other := p.action(parts.Plain, "Another file", fyne.KeyF, s.browse)
	back := p.action(parts.Plain, "Back", fyne.KeyB, over)
	p.On(fyne.KeyEscape, over)
	return p.lay(parts.Measure(body), other, back)
}

// browse lets the client show any file.
func (s *client) browse() {
	d := dialog.NewFileOpen(func(r fyne.URIReadCloser, err error) {
		if err != nil || r == nil {
			return // nothing was chosen
		}
		path := r.URI().Path()
		r.Close()
		s.open(path)
	}, s.o.Window)
	d.SetFilter(storage.NewExtensionFileFilter([]string{fileSuffix}))
	if len(s.o.Folders) > 0 {
		if at, err := storage.ListerForURI(storage.NewFileURI(s.o.Folders[0])); err == nil {
			d.SetLocation(at)
		}
	}
	d.SetView(dialog.ListView) // whole names
	d.SetTitleText("Which file did your therapist give you?")
	d.Resize(s.o.Window.Canvas().Size())
	d.Show()
}

// open reads a file, and asks for the code where it needs one.
func (s *client) open(path string) {
	var file []byte
	s.background(func(context.Context) (err error) {
		i, err := os.Stat(path)
		if err == nil && i.Size() > exchange.MaxFile {
			return exchange.ErrTooLarge
		}
		if err == nil {
			file, err = os.ReadFile(path)
		}
		return err
	}, func(err error) {
		switch {
		case err != nil:
			s.show(s.trouble(err))
		case exchange.NeedsCode(file):
			s.show(s.code(file, ""))
		default:
			s.show(s.wait("One moment", "The file is being opened …"))
			s.take(func(ctx context.Context) (domain.Accepted, error) { return s.home.Take(ctx, file) }, false, nil)
		}
	})
}

// take takes a file in and says what it brought; again is asked where the code
// was another's.
func (s *client) take(do func(context.Context) (domain.Accepted, error), invitation bool, again func(error)) {
	var got domain.Accepted
	s.background(func(ctx context.Context) (err error) { got, err = do(ctx); return err }, func(err error) {
		switch {
		case err != nil && again != nil && errors.Is(err, exchange.ErrNotForUs):
			again(err)
		case err != nil:
			s.show(s.trouble(err))
		case invitation:
			s.show(s.welcome(got))
		default:
			s.said = []string{"Your exercises are changed; the new ones hold from now on."}
			s.show(s.overview())
		}
	})
}

// welcome is shown once an invitation was taken, and asks whether practices go
// by themselves.
func (s *client) welcome(got domain.Accepted) *page {
	p := newPage("Your exercises are here")
	body := parts.Column(gap, text("The program of your therapist is taken in, under the code "+got.Client+"."))
	over := func() { s.show(s.overview()) }
	p.On(fyne.KeyEscape, over)
	if !got.Carried {
		body.Add(text("What you practise goes back by a folder or a stick: choose it next, under “Where it goes”."))
		return p.lay(parts.Measure(body), p.action(parts.Lead, "Go on", fyne.KeySpace, over))
	}
	body.Add(strong("Shall each practice go to your therapist by itself?"))
	body.Add(text("Counts, angles and your answers go, sealed for your therapist alone; pictures only where you both agreed. You can change this at any time."))
	choose := func(yes bool) func() {
		return func() {
			s.background(func(ctx context.Context) error { return s.home.SetAuto(ctx, yes) }, func(err error) {
				if err != nil {
					s.show(s.trouble(err))
					return
				}
				over()
			})
		}
	}
	return p.lay(parts.Measure(body), p.action(parts.Lead, "Yes, by itself", fyne.KeyY, choose(true)),
		p.action(parts.Plain, "No, I press Send", fyne.KeyN, choose(false)))
}

// trouble says what is wrong with a file.
func (s *client) trouble(err error) *page {
	p := newPage("The file was not taken")
	over := func() { s.show(s.overview()) }
	p.On(fyne.KeyEscape, over)
	return p.lay(parts.Measure(parts.Column(gap, signed(parts.CautionSign, sentence(domain.Words(err))), text("Nothing on this computer was changed."))),
		p.action(parts.Lead, "Go on", fyne.KeySpace, over), p.action(parts.Plain, "Another file", fyne.KeyF, func() { s.show(s.files()) }))
}
