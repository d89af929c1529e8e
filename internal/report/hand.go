package report

import (
	"io"
	"strings"
	"time"

	"volar/internal/arom"
	"volar/internal/hand"
	"volar/internal/review"
)

// HandTable writes a recorded hand joint by joint, beside norms and the other
// hand where the table has them.
func HandTable(w io.Writer, client string, t *arom.Table, zone *time.Location, made time.Time) error {
	side := review.Capital(t.Side.String())
	p := handPage(client, "baseline of the "+t.Side.String()+" hand", made.In(zone))
	p.title("Baseline of "+client, side+" hand, recorded "+t.Taken.In(zone).Format("2 January 2006, 15:04")+".")
	for _, v := range t.Views {
		p.small(review.Capital(v) + ".")
	}
	for _, d := range t.Doubts() {
		p.text("Mind: " + arom.Sentence(d))
	}
	p.heading("Joints", 60)
	cols := []column{{head: "Joint"}, {head: "Straight hand"}, {head: "Full fist"}}
	if t.Norms != nil {
		cols = append(cols, column{head: "Norm, " + t.Norms.Name})
	}
	if !t.OtherTaken.IsZero() {
		cols = append(cols, column{head: "Other hand, straight"}, column{head: "Other hand, fist"})
	}
	shareWidth(cols)
	var rows [][]string
	for _, l := range t.Lines {
		row := []string{arom.Name(l.Joint), l.Straight.Words(), l.Fist.Words()}
		if t.Norms != nil {
			row = append(row, l.NormWords())
		}
		if !t.OtherTaken.IsZero() {
			row = append(row, l.OtherStraight.Words(), l.OtherFist.Words())
		}
		rows = append(rows, row)
	}
	p.table(cols, rows)
	p.heading("Total active motion (TAM)", 30)
	rows = nil
	for _, d := range t.Digits {
		rows = append(rows, []string{d.Finger.String(), d.Words()})
	}
	p.table([]column{{head: "Digit", width: 30}, {head: "Total and grade", width: textWidth - 30}}, rows)
	how := method
	for _, l := range t.Lines {
		if l.Straight.Known || l.Fist.Known || l.OtherStraight.Known || l.OtherFist.Known {
			how = strings.Replace(method, "no goniometer was used", "an angle that was measured with a goniometer says so", 1)
		}
	}
	return handNotes(p, append(t.Notes(zone), how), w)
}

// HandMeasurement writes what one moment showed of a hand.
func HandMeasurement(w io.Writer, client string, m *arom.Measurement, zone *time.Location, made time.Time) error {
	p := handPage(client, "measurement of the "+m.Side+" hand", made.In(zone))
	p.title("Measurement of "+client, review.Capital(m.Side)+" hand, "+m.TakenAt.In(zone).Format("2 January 2006, 15:04")+". "+review.Capital(m.ViewWords())+".")
	cols := []column{{head: "Joint"}, {head: "Flexion"}}
	shareWidth(cols)
	var rows [][]string
	for j := range hand.Joint(hand.NumJoints) {
		rows = append(rows, []string{arom.Name(j), m.Reading(j).Words()})
	}
	p.table(cols, rows)
	return handNotes(p, append(m.Notes(zone), method), w)
}

func handPage(client, what string, made time.Time) *page {
	return newPage(client+", "+what, client+", "+what+". Printed "+made.Format("2 January 2006")+". "+arom.Estimate, made)
}

// shareWidth divides the page's width evenly among columns.
func shareWidth(cols []column) {
	for i := range cols {
		cols[i].width = textWidth / float64(len(cols))
	}
}

func handNotes(p *page, notes []string, w io.Writer) error {
	p.Ln(1)
	for _, n := range notes {
		p.small(n)
	}
	p.Ln(1)
	p.small(caution)
	return p.write(w)
}
