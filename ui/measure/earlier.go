package measure

import (
	"fmt"
	"io"
	"time"

	"fyne.io/fyne/v2"

	"volar/internal/arom"
	"volar/internal/hand"
	"volar/internal/report"
	"volar/ui/parts"
)

// earlier lists what was measured of the client before. The camera rests
// meanwhile.
func (s *Now) earlier() {
	all, err := s.opt.Store.Measurements(s.ctx)
	if err != nil {
		s.note("The measurements cannot be read", s.opt.Words(err), s.again)
		return
	}
	s.rest()
	p := &page{title: "Measurements of " + s.opt.Client}
	var rows []parts.TableRow
	for _, m := range all {
		judged := 0
		for _, j := range m.Joints {
			if j.Judged {
				judged++
			}
		}
		rows = append(rows, parts.TableRow{Cells: []string{
			m.TakenAt.In(time.Local).Format("2 January 2006, 15:04:05"), m.Side + " hand", m.ViewWords(), fmt.Sprintf("%d of %d", judged, hand.NumJoints),
		}})
	}
	t := parts.NewTable([]parts.TableColumn{{Title: "Taken", Weight: 3}, {Title: "Hand", Weight: 1.5}, {Title: "View", Weight: 4}, {Title: "Joints judged", Weight: 1.5}},
		"Nothing is saved yet. Go back, and press S while a hand is seen.", nil, func(i int) { s.one(all[i]) })
	t.SetRows(rows)
	p.first = t
	var actions []fyne.CanvasObject
	if len(all) > 0 {
		actions = append(actions, p.action(parts.Lead, "Open", fyne.KeyReturn, func() { s.one(all[t.At()]) }))
	}
	actions = append(actions, p.action(parts.Plain, "Back", fyne.KeyEscape, s.again))
	s.show(p, p.lay(t, actions...))
}

// one shows one measurement.
func (s *Now) one(m *arom.Measurement) {
	p := &page{title: fmt.Sprintf("%s, %s hand, %s", s.opt.Client, m.Side, m.TakenAt.In(time.Local).Format("2 January 2006"))}
	said := parts.NewWords("", parts.Style{Bold: true})
	say := func(words string) {
		said.Set(words)
		parts.Settle(said)
	}
	cells := [hand.NumJoints]*parts.Words{}
	for j := range cells {
		cells[j] = reading(m.Reading(hand.Joint(j)))
	}
	body := parts.Column(gap, strong(arom.Sentence(m.ViewWords())), angles(&cells), said)
	for _, n := range m.Notes(time.Local) {
		body.Add(small(n))
	}
	side, _ := hand.ParseSide(m.Side) // a sound measurement has one
	s.show(p, p.lay(p.Scroll(body),
		p.action(parts.Plain, "PDF", fyne.KeyP, func() {
			s.print(say, "measurement", side, func(w io.Writer) error {
				return report.HandMeasurement(w, s.opt.Client, m, time.Local, s.opt.Now())
			})
		}),
		p.action(parts.Plain, "Copy", fyne.KeyC, func() { s.copy(say, m.Text(time.Local)) }),
		p.action(parts.Plain, "Back", fyne.KeyEscape, s.earlier)))
}
