package clinic

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"fyne.io/fyne/v2"

	"volar/internal/clinicstore"
	"volar/internal/score"
	"volar/ui/look"
	"volar/ui/parts"
)

// settings is the screen of the clinic's choices.
type settings struct {
	base
	set          clinicstore.Settings
	minutes      *parts.FormRow
	minutesField *parts.Field
	years        *parts.FormRow
	yearsField   *parts.Field
	folder       *parts.FormRow
	folderField  *parts.Field
	last         *parts.Words
	busy         bool
}

func newSettings(c *Clinic) *settings { return &settings{base: base{c: c}, set: c.set} }

var (
	scales  = []int{100, 125, 150, 200}
	looks   = []string{look.System: "as the desktop", look.Light: "light", look.Dark: "dark"}
	backups = []clinicstore.BackupEvery{clinicstore.BackupDaily, clinicstore.BackupWeekly, clinicstore.BackupNever}
	styles  = []score.Style{score.NeutralZero, score.PlusMinus}
)

// Content is part of parts.Screen.
func (s *settings) Content() fyne.CanvasObject {
	c := s.c
	s.minutesField = parts.NewField(strconv.Itoa(s.set.LockMinutes), func(string) { s.validate() })
	s.minutes = parts.NewFormRow("Lock after so many minutes without a key or a touch", s.minutesField)
	years := ""
	if s.set.KeepYears > 0 {
		years = strconv.Itoa(s.set.KeepYears)
	}
	s.yearsField = parts.NewField(years, func(string) { s.validate() }).Hint("empty is without an end")
	s.years = parts.NewFormRow("Years for which a new client's data are kept; each client can have another day", s.yearsField)
	s.folderField = parts.NewField(s.set.BackupFolder, func(string) { s.validate() }).Hint("empty is the store's own folder")
	s.folder = parts.NewFormRow("Folder for backups, such as on another disk", s.folderField)
	every := parts.NewPicks([]string{"daily", "weekly", "never"}, slices.Index(backups, s.set.Backup), func(i int) { s.set.Backup = backups[i] })
	angle := parts.NewPicks([]string{"neutral zero", "plus and minus"}, slices.Index(styles, s.set.Angles), func(i int) { s.set.Angles = styles[i] })
	s.last = quiet("")
	s.tellLast()
	var sizes []string
	for _, n := range scales {
		sizes = append(sizes, fmt.Sprintf("%d %%", n))
	}
	again := func(key string) func(int) {
		return func(i int) {
			if key == keyScale {
				i = scales[i]
			}
			c.opt.App.Preferences().SetInt(key, i)
			c.dress()
			c.clients()
			c.show(newSettings(c))
		}
	}
	// Look and size of text hold for this computer; the rest is in the store.
	left := parts.Column(gap,
		parts.NewFormRow("Size of text", parts.NewPicks(sizes, slices.Index(scales, c.scale()), again(keyScale)).Content()).Content(),
		parts.NewFormRow("Colours", parts.NewPicks(looks, int(c.variant()), again(keyVariant)).Content()).Content())
	right := parts.Column(gap)
	actions := []fyne.CanvasObject{}
	if !c.store.ReadOnly() {
		left.Add(parts.NewFormRow("How a range is written on paper", angle.Content()).Content())
		left.Add(quiet(score.NeutralZero.Legend()))
		left.Add(quiet(score.PlusMinus.Legend()))
		right.Add(s.minutes.Content())
		right.Add(s.years.Content())
		right.Add(parts.NewFormRow("Backup as the window is closed", every.Content()).Content())
		right.Add(s.folder.Content())
		right.Add(quiet("A backup is encrypted with the passphrase that holds as it is made. It still holds clients who were removed later."))
		right.Add(s.last)
		actions = append(actions, s.ControlAction(parts.Lead, "Save", fyne.KeyS, s.save), s.Action(parts.Plain, "Backup now", fyne.KeyB, s.backup),
			s.Action(parts.Plain, "Another passphrase", fyne.KeyP, func() { c.show(newRephrase(c)) }))
		s.first = s.minutesField
	}
	actions = append(actions, s.goBack("Back without saving", c.clients))
	if s.first == nil {
		s.first = s.Line[len(s.Line)-1]
	}
	return s.page("Settings", parts.Heading("Settings"), s.Scroll(parts.Row(3*gap, []float32{1, 1}, left, right)), actions...)
}

func (s *settings) tellLast() {
	at, err := s.c.store.LastBackup(s.c.ctx)
	switch {
	case err != nil:
		s.last.Set(sentence(err.Error()))
	case at.IsZero():
		s.last.Set("No backup has been made yet.")
	default:
		s.last.Set("The last backup was made on " + at.In(s.c.opt.Clock().Location()).Format("2 January 2006, 15:04") + ".")
	}
}

// validate shows what is wrong beside each field, and says whether all is well.
func (s *settings) validate() bool {
	number := func(f *parts.Field, to *int, empty bool) string {
		t := strings.TrimSpace(f.Text)
		if t == "" && empty {
			*to = 0
			return ""
		}
		n, err := strconv.Atoi(t)
		if err != nil {
			return "Type a whole number."
		}
		*to = n
		return ""
	}
	one := func(row *parts.FormRow, problem string, part clinicstore.Settings) bool {
		if err := part.Check(); problem == "" && err != nil {
			problem = sentence(err.Error())
		}
		row.Problem(problem)
		return problem == ""
	}
	m := number(s.minutesField, &s.set.LockMinutes, false)
	if m == "" && s.set.LockMinutes < 1 {
		m = "The window locks after 1 to 120 minutes."
	}
	y := number(s.yearsField, &s.set.KeepYears, true)
	s.set.BackupFolder = strings.TrimSpace(s.folderField.Text)
	ok := one(s.minutes, m, clinicstore.Settings{LockMinutes: s.set.LockMinutes})
	ok = one(s.years, y, clinicstore.Settings{KeepYears: s.set.KeepYears}) && ok
	return one(s.folder, "", clinicstore.Settings{BackupFolder: s.set.BackupFolder}) && ok
}

func (s *settings) save() {
	if !s.validate() {
		return
	}
	if err := s.c.store.PutSettings(s.c.ctx, s.set); err != nil {
		s.c.trouble("The settings could not be saved", err, s.save)
		return
	}
	s.c.set = s.set
	s.c.clients()
}

// backup makes a backup now, in the folder that was saved.
func (s *settings) backup() {
	if s.busy {
		return
	}
	s.busy = true
	s.last.Set("A backup is being made …")
	s.c.background(func() {
		info, err := s.c.store.Backup(s.c.ctx, nil)
		s.c.opt.Do(func() {
			s.busy = false
			if err != nil {
				s.last.Set("The backup could not be made: " + err.Error())
				return
			}
			s.last.Set("A backup was made at " + s.c.opt.Clock().Format(time.TimeOnly) + " in " + info.Dir + ".")
			parts.Settle(s.last)
		})
	})
}

// rephrase changes the passphrase.
type rephrase struct {
	base
	now, one, two *parts.Field
	row, nowRow   *parts.FormRow
	busy          bool
}

func newRephrase(c *Clinic) *rephrase { return &rephrase{base: base{c: c}} }

// Content is part of parts.Screen.
func (s *rephrase) Content() fyne.CanvasObject {
	s.now, s.one, s.two = parts.NewSecretField(), parts.NewSecretField(), parts.NewSecretField()
	focus := func(f *parts.Field) func() { return func() { s.c.opt.Window.Canvas().Focus(f) } }
	s.now.OnEnter, s.one.OnEnter, s.two.OnEnter = focus(s.one), focus(s.two), s.change
	s.nowRow = parts.NewFormRow("The present passphrase", s.now)
	s.row = parts.NewFormRow("The new one once more", s.two)
	s.first = s.now
	return s.page("Another passphrase", parts.Heading("Another passphrase"), s.Scroll(parts.Measure(parts.Column(gap,
		text("The whole store is encrypted anew. Backups keep the passphrase that they were made with."),
		caution("If the new passphrase is lost, everything is lost. Write it down first."),
		s.nowRow.Content(), parts.NewFormRow(fmt.Sprintf("The new one, at least %d characters", clinicstore.MinPassphrase), s.one).Content(), s.row.Content()))),
		parts.NewButton(parts.Lead, "Change it", "Enter", s.change), s.goBack("Back", func() { s.c.show(newSettings(s.c)) }))
}

func (s *rephrase) change() {
	if s.busy {
		return
	}
	if err := clinicstore.CheckPassphrase(s.one.Text, s.two.Text); err != nil {
		s.row.Problem(sentence(err.Error()))
		return
	}
	s.busy = true
	s.row.Problem("")
	s.nowRow.Problem("")
	present, next := s.now.Text, s.one.Text
	s.c.background(func() {
		err := s.c.store.ChangePassphrase(s.c.ctx, present, next)
		s.c.opt.Do(func() {
			s.busy = false
			if err != nil {
				s.nowRow.Problem(clinicstore.Words(err))
				return
			}
			s.c.show(newNotice(s.c, "Changed", "From now on only the new passphrase opens the store.", s.c.clients))
		})
	})
}
