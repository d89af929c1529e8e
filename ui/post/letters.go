package post

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"fyne.io/fyne/v2"

	"volar/internal/exchange"
	domain "volar/internal/post"
	"volar/internal/vault"
	"volar/ui/parts"
)

// letters is the clinic's screen of what goes and what comes.
type letters struct {
	*flow
	v        *vault.Vault
	clinic   *domain.Clinic
	readOnly bool
	progress *parts.Words
	// said is what the last round came to.
	said []string
}

// NewLetters is the screen on which the clinic sends and fetches.
func NewLetters(v *vault.Vault, readOnly bool, o Options) Screen {
	s := &letters{flow: newFlow(o), v: v, readOnly: readOnly}
	s.clinic = domain.NewClinic(v, domain.Options{Clock: s.o.Now, Progress: func(done, total int) {
		s.o.Do(func() {
			if s.ctx.Err() == nil && s.progress != nil {
				s.progress.Set(fmt.Sprintf("%d of %d …", done, total))
			}
		})
	}})
	s.start = s.overview
	return s
}

// overview says how things stand.
func (s *letters) overview() *page {
	st, err := s.clinic.State(s.ctx)
	if err != nil {
		p := newPage("Letters")
		return p.lay(signed(parts.CautionSign, sentence(domain.Words(err))), p.action(parts.Plain, "Back", fyne.KeyEscape, s.o.Back))
	}
	var removed []string
	if !s.readOnly {
		if removed, err = s.clinic.Removed(s.ctx); err != nil {
			s.said = append(s.said, sentence(domain.Words(err)))
		}
	}
	return s.standing(st, removed)
}

// standing is the overview of a state; removed are clients whose files may still
// lie on the carrier.
func (s *letters) standing(st domain.State, removed []string) *page {
	p := newPage("Letters")
	where := "Letters are the sealed files that go to the homes and come back. Choose first what carries them: a folder, a stick or a bucket."
	if !st.Place.IsZero() {
		where = "Carried by " + placeWords(st.Place) + "."
	}
	s.progress = text("")
	head := parts.Column(gap, text(where))
	for _, line := range s.said {
		head.Add(text(line))
	}
	head.Add(s.progress)
	left := parts.Column(gap, strong("Waiting to go"))
	for _, line := range waitingWords(st.Waiting) {
		left.Add(text(line))
	}
	if len(st.Waiting) == 0 {
		left.Add(quiet("Nothing that is sealed waits. What is new is sealed as it is sent."))
	}
	if len(st.Waiting) > 0 && st.Waiting[0].Problem != "" {
		left.Add(signed(parts.CautionSign, "The last try: "+sentence(st.Waiting[0].Problem)))
	}
	if len(st.Trouble) > 0 {
		left.Add(strong("Not taken"))
		for _, t := range st.Trouble {
			left.Add(signed(parts.CautionSign, s.troubleWords(t)))
		}
	}
	if len(removed) > 0 && !st.Place.IsZero() {
		left.Add(strong("Removed clients"))
		left.Add(text("Sealed files of " + strings.Join(removed, ", ") + " may still lie there."))
		left.Add(p.action(parts.Plain, "Take their files away", fyne.KeyR, func() { s.show(s.sweep(st.Place, removed)) }))
	}
	right := parts.Column(gap, strong("Came in"))
	for _, line := range s.cameWords(st.Came) {
		right.Add(text(line))
	}
	if len(st.Came) == 0 {
		right.Add(quiet("Nothing yet."))
	}
	var actions []*parts.Button
	if !s.readOnly {
		if !st.Place.IsZero() {
			actions = append(actions, p.action(parts.Lead, "Fetch and send now", fyne.KeyReturn, func() { s.round(st.Place) }))
		}
		actions = append(actions,
			p.action(parts.Plain, "Where letters are carried", fyne.KeyW, func() {
				s.show(s.newPlace(true, st.Place, s.clinic.SetPlace, func() { s.show(s.overview()) }))
			}),
			p.action(parts.Plain, "Another machine of the clinic", fyne.KeyK, func() { s.show(s.machines()) }))
	}
	actions = append(actions, p.action(parts.Plain, "Back", fyne.KeyEscape, s.o.Back))
	// What comes next has the focus, not what removes something.
	p.first = actions[0]
	var foot []fyne.CanvasObject
	for _, b := range actions {
		foot = append(foot, b)
	}
	return p.lay(parts.Column(2*gap, head, parts.Row(3*gap, []float32{1, 1}, left, right)), foot...)
}

// placeWords say where letters go.
func placeWords(p domain.Place) string {
	if p.Bucket() {
		return "the bucket " + p.Where
	}
	return "the folder " + p.Where
}

// waitingWords sum up what waits, by client and kind.
func waitingWords(all []domain.Waiting) []string {
	type key struct {
		client string
		kind   exchange.Kind
	}
	n := map[key]int{}
	var order []key
	for _, w := range all {
		k := key{w.Client, w.Kind}
		if n[k] == 0 {
			order = append(order, k)
		}
		n[k]++
	}
	slices.SortStableFunc(order, func(a, b key) int {
		switch {
		case a.client < b.client:
			return -1
		case a.client > b.client:
			return 1
		}
		return 0
	})
	var out []string
	for _, k := range order {
		out = append(out, k.client+": "+kinds(n[k], k.kind))
	}
	return out
}

// cameLines is how many lines of what came are shown.
const cameLines = 12

// cameWords sum up what came, by day, client and kind.
func (s *letters) cameWords(all []domain.Came) []string {
	var out []string
	for i := 0; i < len(all) && len(out) < cameLines; {
		a := all[i]
		n := 0
		for ; i < len(all) && all[i].Client == a.Client && all[i].Kind == a.Kind && sameDay(all[i].At, a.At); i++ {
			n++
		}
		out = append(out, s.day(a.At)+": "+a.Client+", "+kinds(n, a.Kind))
	}
	return out
}

func sameDay(a, b time.Time) bool { return a.Format(time.DateOnly) == b.Format(time.DateOnly) }

func (s *letters) troubleWords(t domain.Trouble) string {
	who := "A file"
	if t.Client != "" {
		who = "A file of " + t.Client
	}
	return who + ", since " + s.day(t.Since) + ": " + t.Words
}

// round fetches and then sends, so that what another machine wrote is known
// before anything new is sealed.
func (s *letters) round(p domain.Place) {
	if s.busy {
		return
	}
	s.progress.Set("Fetching …")
	var got domain.Fetched
	sent := 0
	s.background(func(ctx context.Context) error {
		return through(p, func(c domain.Carrier) (err error) {
			if got, err = s.clinic.Fetch(ctx, c); err != nil {
				return err
			}
			sent, err = s.clinic.Send(ctx, c, "")
			return err
		})
	}, func(err error) {
		s.said = nil
		if err != nil {
			s.said = append(s.said, "It did not work: "+sentence(domain.Words(err))+" Nothing is lost; it is tried again with the next round.")
		} else {
			s.said = append(s.said, fmt.Sprintf("%s came in, %s. (%s)", count(got.Sessions, "session", "sessions"), count(sent, "file went out", "files went out"), s.day(s.o.Now())))
		}
		if got.Greetings > 0 {
			s.said = append(s.said, count(got.Greetings, "home answered its invitation.", "homes answered their invitations."))
		}
		s.show(s.overview())
	})
}

// sweep asks once more before files of removed clients are taken away.
func (s *letters) sweep(p domain.Place, removed []string) *page {
	q := newPage("Take their files away")
	over := func() { s.show(s.overview()) }
	do := func() {
		n := 0
		s.background(func(ctx context.Context) error {
			return through(p, func(c domain.Carrier) (err error) {
				n, err = s.clinic.Sweep(ctx, c)
				return err
			})
		}, func(err error) {
			s.said = []string{count(n, "file was taken away.", "files were taken away.")}
			if err != nil {
				s.said = append(s.said, "Not all could be taken away: "+sentence(domain.Words(err)))
			}
			over()
		})
	}
	return q.lay(parts.Measure(parts.Column(gap,
		text("All sealed files of "+strings.Join(removed, ", ")+" are taken out of "+placeWords(p)+": programs, sessions and reviews, whoever wrote them."),
		signed(parts.CautionSign, "No machine of the clinic can bring them back from there."))),
		q.action(parts.Plain, "Back", fyne.KeyEscape, over), q.action(parts.Stop, "Take them away", fyne.KeyD, do))
}

// machines brings the clinic's keys to another machine, or takes them.
func (s *letters) machines() *page {
	p := newPage("Another machine of the clinic")
	path := parts.NewField(filepath.Join(s.saveFolder(), "clinic-keys.age"), nil)
	pass, again := parts.NewSecretField(), parts.NewSecretField()
	pathRow := parts.NewFormRow("File of keys", path)
	row := parts.NewFormRow("The same once more, to write the file", again)
	said := text("")
	tell := func(words string) { said.Set(words); parts.Settle(said) }
	p.first = path
	write := func() {
		if pass.Text == "" || pass.Text != again.Text {
			row.Problem("Type the same passphrase twice.")
			return
		}
		row.Problem("")
		tell("Writing …")
		s.background(func(ctx context.Context) error {
			var b bytes.Buffer
			if err := s.clinic.ExportKeys(ctx, &b, pass.Text); err != nil {
				return err
			}
			return writeNew(path.Text, b.Bytes())
		}, func(err error) {
			if err != nil {
				tell(sentence(domain.Words(err)))
				return
			}
			tell("The keys are in " + path.Text + ". Bring the file over by hand, take it in there with its passphrase, then destroy it.")
		})
	}
	take := func() {
		tell("Reading …")
		s.background(func(ctx context.Context) error {
			b, err := os.ReadFile(path.Text)
			if err != nil {
				return err
			}
			return s.clinic.ImportKeys(ctx, bytes.NewReader(b), pass.Text)
		}, func(err error) {
			if err != nil {
				tell(sentence(domain.Words(err)))
				return
			}
			tell("The clinic's keys are taken in. Choose where letters are carried, then fetch: the clients come with them.")
		})
	}
	return p.lay(parts.Measure(parts.Column(gap,
		text("All machines of a clinic share one pair of keys. Write them here into a file that a passphrase seals, and take the file in on the new machine."),
		signed(parts.CautionSign, "Whoever has the file and the passphrase reads what every client sends."),
		pathRow.Content(), parts.NewFormRow("Passphrase of the file", pass).Content(), row.Content(), said)),
		p.action(parts.Lead, "Write the file", fyne.KeyF2, write), p.action(parts.Plain, "Take the file in", fyne.KeyF3, take),
		p.action(parts.Plain, "Back", fyne.KeyEscape, func() { s.show(s.overview()) }))
}

// saveFolder is where a file is saved unless the therapist says otherwise.
func (f *flow) saveFolder() string {
	if len(f.o.Folders) > 0 {
		return f.o.Folders[0]
	}
	return os.TempDir()
}

// writeNew writes a file that must not exist.
func writeNew(path string, b []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, os.ErrExist) {
		return fmt.Errorf("%s exists already; name another file", path)
	}
	if err != nil {
		return err
	}
	_, err = f.Write(b)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return errors.Join(err, os.Remove(path))
	}
	return nil
}
