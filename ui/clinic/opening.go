package clinic

import (
	"errors"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"fyne.io/fyne/v2"

	"volar/internal/clinicstore"
	"volar/internal/vault"
	"volar/ui/parts"
)

// first is the first opening: a passphrase is made.
type first struct {
	base
	one, two *parts.Field
	row      *parts.FormRow
	busy     bool
}

func newFirst(c *Clinic) *first { return &first{base: base{c: c}} }

// Content is part of parts.Screen.
func (s *first) Content() fyne.CanvasObject {
	s.one, s.two = parts.NewSecretField(), parts.NewSecretField()
	one := parts.NewFormRow(fmt.Sprintf("Passphrase, at least %d characters", clinicstore.MinPassphrase), s.one)
	s.row = parts.NewFormRow("The same once more", s.two)
	s.one.OnEnter = func() { s.c.opt.Window.Canvas().Focus(s.two) }
	s.two.OnEnter = s.make
	s.first = s.one
	body := parts.Column(gap,
		text("All that is kept of your clients lies encrypted on this computer. The passphrase that you make now is the only key to it. You type it each time you open this window, and after it has locked itself."),
		caution("If the passphrase is lost, everything is lost: nobody can open the store or a backup of it without the passphrase, and there is no way to make a new one. Write it down and keep the paper where the clinic keeps its keys."),
		text("Five words that do not belong together are good, and easy to type."),
		one.Content(), s.row.Content(),
	)
	return s.page("Make a passphrase", parts.Heading("Make a passphrase"), s.Scroll(parts.Measure(body)),
		parts.NewButton(parts.Lead, "Make the store", "Enter", s.make), parts.NewButton(parts.Plain, "Leave", "Ctrl Q", s.c.Quit))
}

func (s *first) make() {
	if s.busy {
		return
	}
	if err := clinicstore.CheckPassphrase(s.one.Text, s.two.Text); err != nil {
		s.row.Problem(sentence(err.Error()))
		return
	}
	s.busy = true
	s.row.Problem("")
	phrase, o := s.one.Text, clinicstore.Options{Clock: s.c.opt.Clock, KDF: s.c.opt.KDF}
	s.c.opening(func() (*clinicstore.Store, error) { return clinicstore.Create(s.c.ctx, s.c.opt.Dir, phrase, o) }, func(err error) {
		s.busy = false
		s.row.Problem(clinicstore.Words(err))
	})
}

// opening opens the store in the background, then shows the clients, or tells
// failed why not.
func (c *Clinic) opening(open func() (*clinicstore.Store, error), failed func(error)) {
	here := c.router.Screen()
	c.background(func() {
		st, err := open()
		var set clinicstore.Settings
		if err == nil {
			set, err = st.Settings(c.ctx)
			if err != nil {
				err = errors.Join(err, st.Close())
			}
		}
		if err == nil {
			// Close closes it where the window is gone before it is shown.
			c.ready.Store(st)
		}
		c.opt.Do(func() {
			if err != nil {
				if c.router.Screen() == here {
					failed(err)
				}
				return
			}
			c.store, c.set = c.ready.Swap(nil), set
			c.stir()
			c.opened()
		})
	})
}

// opened shows what opening has to say, then the clients.
func (c *Clinic) opened() {
	switch gone := c.store.Purged(); {
	case c.store.ReadOnly():
		c.show(newNotice(c, "To read only", "Another volar has this store open and writes to it. Here everything can be read and nothing changed. What the other one writes shows when a screen is opened again.", c.clients))
	case len(gone) > 0:
		c.show(newNotice(c, "Removed", "The last day of keeping is over for "+strings.Join(gone, ", ")+". All that was kept of them has been removed. Backups that were made before still hold it.", c.clients))
	default:
		c.clients()
	}
}

// opening is the passphrase at each opening.
type opening struct {
	base
	field *parts.Field
	row   *parts.FormRow
	extra *fyne.Container
	// phrase is what was typed last; busy and again are as in locked.
	phrase      string
	busy, again bool
}

func newOpening(c *Clinic) *opening { return &opening{base: base{c: c}} }

// Content is part of parts.Screen.
func (s *opening) Content() fyne.CanvasObject {
	s.field = parts.NewSecretField()
	s.field.OnEnter = s.enter
	s.row = parts.NewFormRow("Passphrase", s.field)
	s.first = s.field
	s.extra = parts.Column(gap)
	body := parts.Column(gap, s.row.Content(), s.extra)
	return s.page("Open the clinic's store", parts.Heading("Open the clinic's store"), s.Scroll(parts.Measure(body)),
		parts.NewButton(parts.Lead, "Open", "Enter", s.enter), parts.NewButton(parts.Plain, "Leave", "Ctrl Q", s.c.Quit))
}

// enter takes what was typed.
func (s *opening) enter() {
	if s.busy {
		s.again = true
		return
	}
	s.phrase = s.field.Text
	s.field.SetText("")
	s.open(false)
}

func (s *opening) open(readOnly bool) {
	if s.busy {
		return
	}
	s.busy, s.again = true, false
	s.row.Problem("")
	phrase, o := s.phrase, clinicstore.Options{Clock: s.c.opt.Clock, ReadOnly: readOnly}
	s.c.opening(func() (*clinicstore.Store, error) { return clinicstore.Open(s.c.ctx, s.c.opt.Dir, phrase, o) }, s.failed)
}

// failed says why the store is not open, and offers what there is to do.
func (s *opening) failed(err error) {
	s.busy = false
	s.row.Problem(clinicstore.Words(err))
	s.extra.RemoveAll()
	offer := func(label string, do func()) {
		b := parts.NewButton(parts.Plain, label, "", do)
		s.extra.Add(parts.Flow(gap, b))
		parts.Settle(s.extra)
		s.c.opt.Window.Canvas().Focus(b)
	}
	var damaged *vault.DamagedError
	switch {
	case s.again:
		s.enter()
	case errors.Is(err, vault.ErrLocked):
		offer("Open to read only", func() { s.open(true) })
	case errors.As(err, &damaged) && len(damaged.Backups) > 0:
		b := damaged.Backups[0]
		s.extra.Add(text("What is put back is the state of that time; what came later is lost. The damaged files are kept beside it, under names that begin with damaged."))
		offer("Restore the backup of "+b.Made.Local().Format("2 January 2006, 15:04"), func() { s.restore(b) })
	}
	parts.Settle(s.extra)
}

// restore puts a backup in the place of the damaged store and opens that.
func (s *opening) restore(b vault.BackupInfo) {
	if s.busy {
		return
	}
	s.busy = true
	phrase, o := s.phrase, clinicstore.Options{Clock: s.c.opt.Clock}
	s.c.opening(func() (*clinicstore.Store, error) {
		if err := vault.Restore(s.c.ctx, s.c.opt.Dir, b.Dir, vault.Options{Secret: vault.Passphrase(phrase)}); err != nil {
			return nil, err
		}
		return clinicstore.Open(s.c.ctx, s.c.opt.Dir, phrase, o)
	}, s.failed)
}

// sentence puts an error's words into a sentence.
func sentence(s string) string {
	if s == "" {
		return ""
	}
	first, n := utf8.DecodeRuneInString(s)
	s = string(unicode.ToUpper(first)) + s[n:]
	if strings.HasSuffix(s, ".") {
		return s
	}
	return s + "."
}
