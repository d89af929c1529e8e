package measure

import (
	"fmt"
	"io"
	"strings"
	"time"

	"fyne.io/fyne/v2"

	"volar/internal/arom"
	"volar/internal/hand"
	"volar/internal/report"
	"volar/internal/score"
	"volar/ui/look"
	"volar/ui/parts"
)

// table puts the recorded hand beside the chosen norms and the other hand.
func (s *Baseline) table() arom.Table {
	return arom.TableOf(s.recorded, arom.TableOptions{Norms: s.norms, Other: s.other})
}

// tablePage shows the joint table of what was recorded; said is what happened
// last.
func (s *Baseline) tablePage(said string) {
	t := s.table()
	p := &page{title: fmt.Sprintf("Joint table of %s, %s", s.opt.Client, sideWords(s.side))}
	s.told = parts.NewWords("", parts.Style{Bold: true})
	body := parts.Column(gap, s.told)
	s.say(said)
	for _, d := range t.Doubts() {
		body.Add(parts.Signed(parts.CautionSign, text(arom.Sentence(d))))
	}
	body.Add(text(strings.Join(sentences(t.Views), " ")))
	body.Add(joints(&t))
	body.Add(totals(&t))
	for _, n := range t.Notes(time.Local) {
		body.Add(small(n))
	}
	var actions []fyne.CanvasObject
	if !s.opt.ReadOnly {
		actions = append(actions, p.action(parts.Lead, "Save", fyne.KeySpace, s.save))
		actions = append(actions, p.action(parts.Plain, "Goniometer", fyne.KeyG, s.goniometer))
	}
	actions = append(actions,
		p.action(parts.Plain, "Norms", fyne.KeyN, s.nextNorms),
		p.action(parts.Plain, "PDF", fyne.KeyP, func() {
			t := s.table()
			s.print(s.say, "baseline", t.Side, func(w io.Writer) error {
				return report.HandTable(w, s.opt.Client, &t, time.Local, s.opt.Now())
			})
		}),
		p.action(parts.Plain, "Copy", fyne.KeyC, func() {
			t := s.table()
			s.copy(s.say, t.Text(time.Local))
		}),
		p.action(parts.Plain, "Record anew", fyne.KeyA, func() {
			if s.Unsaved() {
				s.Ask(s.restart)
				return
			}
			s.restart()
		}),
		p.action(parts.Plain, "Discard", fyne.KeyEscape, func() { s.Ask(s.opt.Back) }))
	s.show(p, p.lay(p.Scroll(body), actions...))
}

// joints is the table of the joints.
func joints(t *arom.Table) fyne.CanvasObject {
	weights := []float32{1.3, 2.2, 1.6}
	head := []fyne.CanvasObject{headCell("Joint"), headCell("Straight hand"), headCell("Full fist")}
	if t.Norms != nil {
		weights = append(weights, 2.3)
		head = append(head, headCell("Norm: "+t.Norms.Name))
	}
	if !t.OtherTaken.IsZero() {
		weights = append(weights, 2.2, 1.6)
		head = append(head, headCell("Other hand, straight"), headCell("Other hand, fist"))
	}
	rows := [][]fyne.CanvasObject{head}
	rules := map[int]bool{}
	for _, l := range t.Lines {
		var name fyne.CanvasObject = nameCell(arom.Name(l.Joint))
		if l.Doubt != "" {
			name = parts.Row(6, []float32{0, 1}, parts.NewBadge(parts.CautionSign, 18), nameCell(arom.Name(l.Joint)))
		}
		row := []fyne.CanvasObject{name, reading(l.Straight), reading(l.Fist)}
		if t.Norms != nil {
			row = append(row, cell(l.NormWords()))
		}
		if !t.OtherTaken.IsZero() {
			row = append(row, reading(l.OtherStraight), reading(l.OtherFist))
		}
		if l.Joint.Kind() == hand.MCP {
			rules[len(rows)] = true
		}
		rows = append(rows, row)
	}
	return newSheet(weights, rules, rows...)
}

// reading is the cell of an angle; one that was not judged is quieter, and says
// so.
func reading(r arom.Reading) *parts.Words {
	w := cell(r.Words())
	if !r.Judged {
		w.SetColour(look.Quiet)
	}
	return w
}

// totals is the table of the digits.
func totals(t *arom.Table) fyne.CanvasObject {
	rows := [][]fyne.CanvasObject{{headCell("Digit"), headCell("Total active motion (TAM)")}}
	for _, d := range t.Digits {
		rows = append(rows, []fyne.CanvasObject{nameCell(d.Finger.String()), cell(d.Words())})
	}
	return newSheet([]float32{1.3, 7.7}, map[int]bool{1: true}, rows...)
}

func sentences(in []string) []string {
	out := make([]string, len(in))
	for i, s := range in {
		out[i] = arom.Sentence(s)
	}
	return out
}

// nextNorms shows the next set of norms, after the last one the first again.
func (s *Baseline) nextNorms() {
	sets := score.NormSets()
	for i, n := range sets {
		if n.ID == s.norms.ID {
			s.norms = sets[(i+1)%len(sets)]
			break
		}
	}
	s.tablePage("")
}

// say says what happened, above the table.
func (s *Baseline) say(words string) {
	s.told.Set(words)
	if words == "" {
		s.told.Hide()
	} else {
		s.told.Show()
	}
	parts.Settle(s.told)
}

func (s *Baseline) save() {
	if err := s.opt.Store.PutBaseline(s.ctx, s.recorded); err != nil {
		s.say("This could not be saved: " + s.opt.Words(err))
		return
	}
	s.kept = true
	s.saved()
}

// saved says what was kept, and leads back or to the other hand.
func (s *Baseline) saved() {
	p := &page{title: "The baseline is saved"}
	words := fmt.Sprintf("The %s of %s, recorded %s. Later readings of this hand are measured against it.",
		sideWords(s.side), s.opt.Client, s.recorded.CapturedAt.In(time.Local).Format("2 January 2006, 15:04"))
	body := parts.Row(gap, []float32{0, 1}, parts.NewBadge(parts.DoneSign, 40), text(words))
	back := p.action(parts.Lead, "Back", fyne.KeyEscape, s.opt.Back)
	other := p.action(parts.Plain, "Record the other hand", fyne.KeyO, s.otherHand)
	s.show(p, p.lay(p.Scroll(body), back, other))
}

// Unsaved says whether leaving would lose what was recorded.
func (s *Baseline) Unsaved() bool { return s.recorded != nil && !s.kept && !s.opt.ReadOnly }

// Ask asks before what was recorded is thrown away, and then goes on with then.
func (s *Baseline) Ask(then func()) {
	s.ask("Discard the baseline?", "It has not been saved.", "Keep looking", func() {
		s.tablePage("") // where it is said what came of it
		s.save()
	}, func() {
		s.rec, s.recorded = nil, nil
		then()
	})
}
