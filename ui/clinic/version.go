package clinic

import (
	"fmt"
	"time"

	"fyne.io/fyne/v2"

	"volar/internal/clinicstore"
	"volar/internal/program"
	"volar/ui/parts"
)

// when writes an instant in a zone; an unknown zone is the local one.
func when(t time.Time, zone string) string {
	loc, err := program.ParseZone(zone)
	if err != nil {
		loc = time.Local
	}
	return t.In(loc).Format("2 Jan 2006, 15:04")
}

// version is one version of a program in words.
type version struct {
	base
	client  clinicstore.Client
	history *program.History
	p       *program.Program
}

func newVersion(c *Clinic, client clinicstore.Client, h *program.History, p *program.Program) *version {
	return &version{base: base{c: c}, client: client, history: h, p: p}
}

// before is the version before this one; nil where it is the first.
func (s *version) before() (before *program.Program) {
	for _, v := range s.history.Versions() {
		if v.Version < s.p.Version {
			before = v
		}
	}
	return before
}

// Content is part of parts.Screen.
func (s *version) Content() fyne.CanvasObject {
	c := s.c
	title := fmt.Sprintf("%s, version %d", s.client.Code, s.p.Version)
	actions := []fyne.CanvasObject{s.goBack("Back", func() { c.client(s.client.Code) })}
	s.first = s.Line[0]
	if b := s.before(); b != nil {
		actions = append(actions, s.Action(parts.Plain, fmt.Sprintf("Changes since version %d", b.Version), fyne.KeyD, func() {
			c.show(newComparison(c, s.client, s.history, b, s.p))
		}))
	}
	actions = append(actions, s.Action(parts.Plain, "Handout", fyne.KeyH, func() { c.handout(s.p, func() { c.show(s) }) }))
	return s.page(title, parts.Heading(title), s.Scroll(programWords(s.p, c.day())), actions...)
}

// comparison shows what changed between two versions, which can be chosen.
type comparison struct {
	base
	client   clinicstore.Client
	history  *program.History
	from, to *program.Program
	table    *parts.Table
	head     *parts.Words
}

func newComparison(c *Clinic, client clinicstore.Client, h *program.History, from, to *program.Program) *comparison {
	return &comparison{base: base{c: c}, client: client, history: h, from: from, to: to}
}

// Content is part of parts.Screen.
func (s *comparison) Content() fyne.CanvasObject {
	title := "What changed for " + s.client.Code
	s.head = quiet("")
	s.table = parts.NewTable([]parts.TableColumn{{Title: "Part", Weight: 1}, {Title: "Change", Weight: 3}}, "These two ask for the same.", nil, nil)
	s.refresh()
	s.first = s.table
	return s.page(title, parts.Column(4, parts.Heading(title), s.head), s.fill(s.table),
		s.goBack("Back", func() { s.c.client(s.client.Code) }),
		s.Action(parts.Plain, "Earlier", fyne.KeyO, func() { s.step(&s.from, -1) }),
		s.Action(parts.Plain, "… or later", fyne.KeyL, func() { s.step(&s.from, 1) }),
		s.Action(parts.Plain, "To an earlier", fyne.KeyT, func() { s.step(&s.to, -1) }),
		s.Action(parts.Plain, "… or later one", fyne.KeyU, func() { s.step(&s.to, 1) }))
}

// step takes the next version before or after for one side.
func (s *comparison) step(side **program.Program, by int) {
	all := s.history.Versions()
	for i, v := range all {
		if v == *side && i+by >= 0 && i+by < len(all) {
			*side = all[i+by]
			break
		}
	}
	s.refresh()
}

func (s *comparison) refresh() {
	s.head.Set(fmt.Sprintf("From version %d (%s) to version %d (%s).", s.from.Version, s.from.ValidFrom.Words(), s.to.Version, s.to.ValidFrom.Words()))
	var rows []parts.TableRow
	for _, d := range program.Diff(s.from, s.to) {
		rows = append(rows, parts.TableRow{Cells: []string{fieldWords(s.to, d.Field), d.Text}})
	}
	s.table.SetRows(rows)
}
