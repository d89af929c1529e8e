package reading

import (
	"context"
	"fmt"
	"strings"
	"time"

	"fyne.io/fyne/v2"

	"volar/internal/program"
	"volar/internal/session"
	"volar/internal/vault"
	"volar/ui/parts"
)

// page is how many sessions the list holds at first, and how many more each
// time its end is reached.
const pageOf = 200

// queue is the list of sessions, what needs eyes first.
type queue struct {
	base
	table  *parts.Table
	field  *parts.Field
	which  *parts.Picks
	count  *parts.Words
	detail *fyne.Container
	// typed, read and limit are what is asked of the store.
	typed   string
	read    int
	limit   int
	entries []vault.Entry
	total   int
	at      int
}

// The choices of which sessions are listed.
const (
	unreadOnly = iota
	everything
	readOnly
)

func newQueue(r *Reader) *queue {
	title := "Sessions of all clients"
	if r.opt.Client != "" {
		title = "Sessions of " + r.opt.Client
	}
	return &queue{base: base{r: r, title: title}, limit: pageOf}
}

// Content is part of parts.Screen.
func (q *queue) Content() fyne.CanvasObject {
	q.Clear()
	columns := []parts.TableColumn{
		{Title: "client", Weight: 1.2}, {Title: "begun", Weight: 2.5}, {Title: "done", Weight: 1}, {Title: "pain", Weight: 1},
		{Title: "flags", Weight: 0.7, Right: true}, {Title: "what to look at", Weight: 6},
	}
	if parts.Large() {
		columns = []parts.TableColumn{{Title: "client", Weight: 1.7}, {Title: "begun", Weight: 2.6}, {Title: "done", Weight: 1.3}, {Title: "what to look at", Weight: 5}}
	}
	q.table = parts.NewTable(columns, "No session here.", q.chosen, q.open).AtLeast(2)
	q.count = small("")
	q.detail = parts.Column(4)
	q.which = parts.NewPicks([]string{"Not read", "All", "Read"}, q.read, func(i int) {
		q.read, q.at, q.limit = i, 0, pageOf
		q.list()
	})
	var filter fyne.CanvasObject = q.which.Content()
	if q.r.opt.Client == "" {
		q.field = parts.NewField(q.typed, func(s string) {
			q.typed, q.at, q.limit = strings.TrimSpace(s), 0, pageOf
			q.list()
		}).Hint("Client code, as K-104")
		q.field.OnEnter = func() { q.focus() }
		filter = parts.Row(gap, []float32{1, 1}, parts.NewFormRow("Client", q.field).Content(), q.which.Content())
		q.On(fyne.KeyF, func() { q.r.opt.Window.Canvas().Focus(q.field) })
	}
	q.first = q.table
	q.On(fyne.KeyU, func() {
		q.read, q.at, q.limit = (q.read+1)%3, 0, pageOf
		q.which.Set(q.read)
		q.list()
	})
	actions := []fyne.CanvasObject{
		q.Action(parts.Lead, "Open", fyne.KeyReturn, func() { q.open(q.table.At()) }),
		q.Action(parts.Plain, "Weeks of this client", fyne.KeyW, q.weeks),
		parts.NewButton(parts.Plain, "Not read, all, read", "U", q.Does(fyne.KeyU)),
	}
	if q.field != nil {
		actions = append(actions, parts.NewButton(parts.Plain, "Find a client", "F", q.Does(fyne.KeyF)))
	}
	actions = append(actions, q.Action(parts.Plain, "Back", fyne.KeyEscape, q.r.opt.Back))
	head := parts.Column(6, parts.Row(gap, []float32{3, 1}, parts.Heading(q.title), q.count), filter)
	q.list()
	return q.page(head, over(parts.Flush(q.table), parts.NewScroller(q.detail), 0.6), actions...)
}

func (q *queue) focus() { q.r.opt.Window.Canvas().Focus(q.table) }

// Key is part of parts.Screen: a key that goes through a list does so wherever
// the focus is.
func (q *queue) Key(k fyne.KeyName) {
	switch k {
	case fyne.KeyUp, fyne.KeyDown, fyne.KeyPageUp, fyne.KeyPageDown:
		q.table.Key(k)
		q.focus()
	default:
		q.base.Key(k)
	}
}

func (q *queue) filter() vault.Filter {
	f := vault.Filter{Client: q.r.opt.Client, ClientPrefix: q.typed, Order: vault.NeedsEyes, Unread: q.read == unreadOnly, Read: q.read == readOnly, Limit: q.limit}
	if f.Client != "" {
		f.ClientPrefix = ""
	}
	return f
}

// list asks the store. It takes a few milliseconds with ten thousand sessions,
// so that what is typed is answered at once.
func (q *queue) list() {
	f := q.filter()
	entries, err := q.r.opt.Store.Sessions(q.r.ctx, f)
	if err == nil {
		q.total, err = q.r.opt.Store.CountSessions(q.r.ctx, f)
	}
	if err != nil {
		q.entries, q.total = nil, 0
		q.table.SetRows(nil)
		q.tell(signed(parts.CautionSign, q.r.opt.Words(err)))
		return
	}
	q.entries = entries
	rows := make([]parts.TableRow, len(entries))
	for i := range entries {
		rows[i] = row(&entries[i])
	}
	q.table.SetRows(rows)
	q.table.Choose(q.at)
	q.count.Set(plural(q.total, "session", "sessions"))
	if len(entries) == 0 {
		q.tell()
	}
}

// row is a session in the list.
func row(e *vault.Entry) parts.TableRow {
	var why []string
	for _, w := range e.Why {
		why = append(why, string(w.Reason))
	}
	sign := parts.ToDo
	switch {
	case !e.Read.IsZero():
		sign = parts.DoneSign
	case len(why) > 0:
		sign = parts.CautionSign
	}
	if e.State == session.Open {
		why = append(why, "being recorded")
	}
	if parts.Large() {
		loc, err := program.ParseZone(e.Zone)
		if err != nil {
			loc = time.UTC
		}
		return parts.TableRow{Sign: sign, Cells: []string{e.Client, e.Started.In(loc).Format("2 Jan, 15:04"), done(e.Counted, e.Prescribed), strings.Join(why, "; ")}}
	}
	return parts.TableRow{
		Sign:  sign,
		Cells: []string{e.Client, day(e.Started, e.Zone), done(e.Counted, e.Prescribed), pain(e.PainBefore, e.PainAfter), fmt.Sprint(e.Flags), strings.Join(why, "; ")},
	}
}

// chosen says of the chosen session why it needs eyes, and reads on at the end.
func (q *queue) chosen(i int) {
	q.at = i
	if i == len(q.entries)-1 && len(q.entries) < q.total {
		q.limit += pageOf
		q.list()
		return
	}
	e := &q.entries[i]
	var lines []fyne.CanvasObject
	for _, w := range e.Why {
		lines = append(lines, signed(parts.CautionSign, w.Words))
	}
	switch {
	case len(lines) == 0 && e.State == session.Open:
		lines = append(lines, text("It is being recorded now."))
	case len(lines) == 0:
		lines = append(lines, signed(parts.Point, "All went as prescribed."))
	}
	if !e.Read.IsZero() {
		lines = append(lines, small("Marked as read on "+day(e.Read, "")+" UTC."))
	}
	q.tell(lines...)
}

func (q *queue) tell(lines ...fyne.CanvasObject) {
	q.detail.Objects = lines
	q.detail.Refresh()
	parts.Settle(q.detail)
}

func (q *queue) open(i int) {
	if i < 0 || i >= len(q.entries) {
		return
	}
	q.r.show(newLoading(q.r, q.entries[i].ID, q.again))
}

func (q *queue) weeks() {
	if i := q.table.At(); i >= 0 {
		q.r.show(newWeeks(q.r, q.entries[i].Client, q.again))
	}
}

// again shows the list as it was left, read anew.
func (q *queue) again() { q.r.show(q) }

// loading reads a session.
type loading struct {
	says
	id session.ID
	// then shows another screen than the session's own.
	then func(*file) screen
}

func newLoading(r *Reader, id session.ID, back func()) *loading {
	l := &loading{says: *wait(r, "Session", "The session is being read.", back), id: id}
	l.then = func(f *file) screen { return newOverview(r, f, back) }
	return l
}

// Content is part of parts.Screen.
func (l *loading) Content() fyne.CanvasObject {
	load(l.r, func(ctx context.Context) (*file, error) { return open(ctx, l.r, l.id) }, func(f *file, err error) {
		if err != nil {
			l.r.show(trouble(l.r, "The session cannot be read", err, func() { l.r.show(l) }, l.back))
			return
		}
		l.r.show(l.then(f))
	})
	l.Clear()
	return l.says.Content()
}
