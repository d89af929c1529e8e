package clinic

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"fyne.io/fyne/v2"

	"volar/internal/arom"
	"volar/internal/clinicstore"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/vault"
	"volar/ui/parts"
)

// shownSessions is how many sessions a client's page lists; the others are
// behind Sessions.
const shownSessions = 50

// client shows a client's page.
func (c *Clinic) client(code string) {
	one, err := c.store.Client(c.ctx, code)
	if err != nil {
		c.trouble("The client cannot be read", err, func() { c.client(code) })
		return
	}
	s := &clientPage{base: base{c: c}, client: one}
	if s.history, err = c.store.History(c.ctx, code); err == nil {
		s.baselines, err = c.store.Baselines(c.ctx, code)
	}
	if err == nil {
		s.measurements, err = c.store.Measurements(c.ctx, code)
	}
	if err == nil {
		s.sessions, err = c.store.Sessions(c.ctx, vault.Filter{Client: code, Limit: shownSessions})
	}
	if err != nil {
		c.trouble("What is kept of "+code+" cannot be read", err, func() { c.client(code) })
		return
	}
	c.show(s)
}

// clientPage is all there is of a client, at a glance.
type clientPage struct {
	base
	client       clinicstore.Client
	history      *program.History
	baselines    []*goniometry.Baseline
	measurements []*arom.Measurement
	sessions     []vault.Entry
}

// versions are the program's, newest first.
func (s *clientPage) versions() []*program.Program {
	if s.history == nil {
		return nil
	}
	v := s.history.Versions()
	for i, k := 0, len(v)-1; i < k; i, k = i+1, k-1 {
		v[i], v[k] = v[k], v[i]
	}
	return v
}

// Content is part of parts.Screen.
func (s *clientPage) Content() fyne.CanvasObject {
	c, code := s.c, s.client.Code
	again := func() { c.client(code) }
	var facts []string
	facts = append(facts, handsWords(s.client.Hands)+map[bool]string{true: " hands", false: " hand"}[s.client.Hands == clinicstore.Both])
	if w := precautionWords(s.client.Precautions); w != "" {
		facts = append(facts, "precautions: "+w)
	}
	facts = append(facts, "next review: "+reviewWords(s.client.NextReview, c.day()))
	if !s.client.KeepUntil.IsZero() {
		facts = append(facts, "kept until "+s.client.KeepUntil.Words())
	}

	versions := s.versions()
	programs := parts.NewTable([]parts.TableColumn{{Title: "Version", Weight: 3}, {Title: "In force", Weight: 3}, {Title: "From", Weight: 4}, {Title: "Exercises", Weight: 3, Right: true}},
		"No program yet.", nil, func(i int) { c.show(newVersion(c, s.client, s.history, versions[i])) }).AtLeast(2)
	programs.SetRows(s.versionRows(versions))
	hands := parts.NewTable([]parts.TableColumn{{Title: "Hand", Weight: 2}, {Title: "What", Weight: 3}, {Title: "When", Weight: 4}, {Title: "View", Weight: 3}}, "No hand recorded yet.", nil, nil).AtLeast(2)
	hands.SetRows(handRows(s.baselines, s.measurements, c.opt.Clock().Location()))
	var open func(int)
	if c.opt.Session != nil {
		open = func(i int) { c.show(c.opt.Session(c.visit(s.client, again), s.sessions[i].ID)) }
	}
	sessions := parts.NewTable([]parts.TableColumn{{Title: "Session", Weight: 5}, {Title: "Done", Weight: 3, Right: true}, {Title: "Flags", Weight: 2, Right: true}, {Title: "Hurt", Weight: 2, Right: true}, {Title: "Read", Weight: 2}},
		"No session yet.", nil, open).AtLeast(2)
	sessions.SetRows(sessionRows(s.sessions))

	var actions []fyne.CanvasObject
	if !c.store.ReadOnly() {
		label := parts.Wide("New version", "Version")
		if s.history == nil {
			label = parts.Wide("Write a program", "Write")
		}
		edit := s.Action(parts.Lead, label, fyne.KeyN, func() { c.edit(code, "", hand.UnknownSide, again) })
		s.first = edit
		actions = append(actions, edit)
	}
	if len(versions) > 1 {
		actions = append(actions, s.Action(parts.Plain, parts.Wide("What changed", "Changes"), fyne.KeyD, func() {
			c.show(newComparison(c, s.client, s.history, versions[1], versions[0]))
		}))
	}
	foreign := func(label string, k fyne.KeyName, make Screen, writes bool) {
		if make != nil && !(writes && c.store.ReadOnly()) {
			actions = append(actions, s.Action(parts.Plain, label, k, func() { c.show(make(c.visit(s.client, again))) }))
		}
	}
	foreign(parts.Wide("Record the hand", "Record"), fyne.KeyB, c.opt.Baseline, true)
	foreign(parts.Wide("Measure now", "Measure"), fyne.KeyM, c.opt.Measure, true)
	foreign("Sessions", fyne.KeyS, c.opt.Sessions, false)
	foreign("Progress", fyne.KeyP, c.opt.Progress, false)
	foreign("Report", fyne.KeyR, c.opt.Report, false)
	foreign("Invite", fyne.KeyI, c.opt.Invite, true)
	if !c.store.ReadOnly() {
		actions = append(actions, s.Action(parts.Plain, parts.Wide("Change the client", "Client"), fyne.KeyE, func() { c.show(newClientForm(c, s.client, false)) }))
	}
	actions = append(actions, s.goBack(parts.Wide("Clients", "Back"), c.clients))
	if s.first == nil {
		s.first = programs
	}
	head := parts.Column(4, parts.Heading(code), quiet(strings.ToUpper(facts[0][:1])+facts[0][1:]+"; "+strings.Join(facts[1:], "; ")+"."))
	list := func(title string, t *parts.Table) fyne.CanvasObject {
		return parts.Page(4, strong(title), t, parts.Column(0))
	}
	body := parts.Sides(2*gap, 100,
		parts.Halves(gap, list("Program", programs), list("Recorded hands", hands)),
		list("Sessions", sessions))
	return s.page(code, head, s.fill(body), actions...)
}

func (s *clientPage) versionRows(versions []*program.Program) []parts.TableRow {
	var rows []parts.TableRow
	now := s.c.opt.Clock()
	var inForce *program.Program
	if s.history != nil {
		inForce, _ = s.history.At(now, nil)
	}
	for _, p := range versions {
		r := parts.TableRow{Cells: []string{fmt.Sprint(p.Version), "", shortDate(p.ValidFrom), fmt.Sprint(len(p.Exercises))}}
		switch {
		case p == inForce:
			r.Cells[1], r.Sign, r.Strong = "in force", parts.DoneSign, true
		case inForce == nil || p.Version > inForce.Version:
			r.Cells[1] = "later"
		}
		rows = append(rows, r)
	}
	return rows
}

// handRows are the recorded hands and the measurements, newest first.
func handRows(baselines []*goniometry.Baseline, measured []*arom.Measurement, loc *time.Location) []parts.TableRow {
	type dated struct {
		at  time.Time
		row parts.TableRow
	}
	var all []dated
	add := func(at time.Time, cells ...string) {
		cells[2] = at.In(loc).Format("2 Jan 2006, 15:04")
		all = append(all, dated{at, parts.TableRow{Cells: cells}})
	}
	for _, b := range baselines {
		views := "1 view"
		if n := len(b.Views); n != 1 {
			views = fmt.Sprintf("%d views", n)
		}
		add(b.CapturedAt, b.Side, "baseline", "", views)
	}
	for _, m := range measured {
		add(m.TakenAt, m.Side, "measured", "", m.ViewWords())
	}
	slices.SortStableFunc(all, func(a, b dated) int { return b.at.Compare(a.at) })
	var rows []parts.TableRow
	for _, d := range all {
		rows = append(rows, d.row)
	}
	return rows
}

func sessionRows(all []vault.Entry) []parts.TableRow {
	var rows []parts.TableRow
	for _, e := range all {
		r := parts.TableRow{Cells: []string{when(e.Started, e.Zone), fmt.Sprintf("%d of %d", e.Counted, e.Prescribed), fmt.Sprint(e.Flags), fmt.Sprint(e.Hurt), "read"}}
		if e.Read.IsZero() {
			r.Cells[4], r.Strong, r.Sign = "new", true, parts.Point
		}
		if e.Sharp || e.Hurt > 0 {
			r.Sign = parts.CautionSign
		}
		rows = append(rows, r)
	}
	return rows
}
