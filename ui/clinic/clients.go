package clinic

import (
	"strings"

	"fyne.io/fyne/v2"

	"volar/internal/clinicstore"
	"volar/internal/program"
	"volar/ui/parts"
)

// clients shows the list of clients.
func (c *Clinic) clients() {
	all, err := c.store.Clients(c.ctx)
	if err != nil {
		c.trouble("The clients cannot be read", err, c.clients)
		return
	}
	c.show(&clients{base: base{c: c}, all: all})
}

// clients is the list: typing filters it.
type clients struct {
	base
	all, shown []clinicstore.Client
	filter     *parts.Field
	table      *parts.Table
}

// Content is part of parts.Screen.
func (s *clients) Content() fyne.CanvasObject {
	c := s.c
	s.table = parts.NewTable([]parts.TableColumn{{Title: "Client", Weight: 3}, {Title: "Hand", Weight: 2}, {Title: "Precautions", Weight: 6}, {Title: "Next review", Weight: 4}},
		s.none(), func(i int) { c.chosen = s.shown[i].Code }, s.open)
	s.filter = parts.NewField(c.filter, func(t string) {
		c.filter = t
		s.refresh()
	}).Hint("code, hand or precaution")
	s.filter.OnEnter = func() { s.open(s.table.At()) }
	row := parts.NewFormRow("Find a client", s.filter)
	s.refresh()
	for i, one := range s.shown {
		if one.Code == c.chosen {
			s.table.Choose(i)
		}
	}
	s.first = s.filter
	var actions []fyne.CanvasObject
	actions = append(actions, parts.NewButton(parts.Lead, "Open", "Enter", s.filter.OnEnter))
	if !c.store.ReadOnly() {
		actions = append(actions, s.ControlAction(parts.Plain, "New client", fyne.KeyN, func() { c.show(newClientForm(c, clinicstore.Client{}, true)) }))
	}
	if c.opt.Queue != nil {
		actions = append(actions, s.ControlAction(parts.Plain, parts.Wide("Sessions to read", "Sessions"), fyne.Key1, func() { c.show(c.opt.Queue(c.visit(clinicstore.Client{}, c.clients))) }))
	}
	if c.opt.Post != nil {
		actions = append(actions, s.ControlAction(parts.Plain, parts.Wide("Send and fetch", "Send"), fyne.Key2, func() { c.show(c.opt.Post(c.visit(clinicstore.Client{}, c.clients))) }))
	}
	actions = append(actions,
		s.ControlAction(parts.Plain, "Settings", fyne.Key5, func() { c.show(newSettings(c)) }),
		parts.NewButton(parts.Plain, "Lock", "Ctrl L", c.lock),
		parts.NewButton(parts.Plain, "Leave", "Ctrl Q", c.Quit))
	return s.page("Clients", parts.Row(gap, []float32{1, 1}, parts.Heading("Clients"), row.Content()), s.fill(s.table), actions...)
}

// none is what is said where no client is listed.
func (s *clients) none() string {
	switch {
	case len(s.all) > 0:
		return "No client fits what is looked for. Esc shows all of them."
	case s.c.store.ReadOnly():
		return "No client yet."
	}
	return "No client yet: Ctrl N makes the first."
}

// Key moves in the list while the filter is typed.
func (s *clients) Key(k fyne.KeyName) {
	switch k {
	case fyne.KeyEscape:
		s.filter.SetText("")
		s.c.opt.Window.Canvas().Focus(s.filter)
	default:
		s.table.Key(k)
	}
}

// refresh shows the clients that fit the filter: every word of it occurs.
func (s *clients) refresh() {
	s.shown = s.shown[:0]
	var rows []parts.TableRow
	today := s.c.day()
	for _, one := range s.all {
		r := parts.TableRow{Cells: []string{one.Code, handsWords(one.Hands), precautionWords(one.Precautions), reviewWords(one.NextReview, today)}}
		if !one.NextReview.IsZero() && !today.Before(one.NextReview) {
			r.Sign, r.Strong = parts.Point, true
		}
		if fits(strings.Join(r.Cells, " "), s.c.filter) {
			s.shown, rows = append(s.shown, one), append(rows, r)
		}
	}
	s.table.SetRows(rows)
}

func (s *clients) open(i int) {
	if i >= 0 && i < len(s.shown) {
		s.c.client(s.shown[i].Code)
	}
}

// fits says whether every word of a filter occurs in a text.
func fits(in, filter string) bool {
	in = strings.ToLower(in)
	for _, w := range strings.Fields(strings.ToLower(filter)) {
		if !strings.Contains(in, w) {
			return false
		}
	}
	return true
}

// handsWords says which hands are treated.
func handsWords(hands string) string {
	if hands == "" {
		return "not said"
	}
	return hands
}

// precautionNames are the precautions for a person.
var precautionNames = map[program.PrecautionKind]string{
	program.LaxJoints: "lax joints", program.Arthritis: "arthritis", program.HealingTendon: "healing tendon",
	program.HealingFracture: "healing fracture", program.SensationLoss: "loss of sensation",
}

// precautionWords says the precautions in a line.
func precautionWords(all []program.Precaution) string {
	var words []string
	for _, p := range all {
		w := precautionNames[p.Kind]
		if p.Words != "" {
			w += " (" + p.Words + ")"
		}
		words = append(words, w)
	}
	return strings.Join(words, ", ")
}

// reviewWords says when a client is to be looked at next.
func reviewWords(d, today program.Date) string {
	switch n := today.DaysUntil(d); {
	case d.IsZero():
		return "not set"
	case n == 0:
		return "today"
	case n == -1:
		return "yesterday"
	case n < 0:
		return d.Words() + ", overdue"
	case n == 1:
		return "tomorrow"
	}
	return d.Words()
}
