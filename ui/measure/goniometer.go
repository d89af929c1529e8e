package measure

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"fyne.io/fyne/v2"

	"volar/internal/arom"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/ui/parts"
)

// goniometer asks what a goniometer said of the joints in the straight hand.
func (s *Baseline) goniometer() {
	p := &page{title: "What the goniometer said"}
	problem := parts.NewWords("", parts.Style{Bold: true})
	fields := map[hand.Joint]*parts.Field{}
	rows := [][]fyne.CanvasObject{{headCell(""), headCell("MCP (thumb MP)"), headCell("PIP (thumb IP)"), headCell("DIP")}}
	table := s.table()
	for _, d := range table.Digits {
		row := []fyne.CanvasObject{nameCell(d.Finger.String())}
		for _, k := range []hand.Kind{hand.MCP, hand.PIP, hand.DIP} {
			j := hand.JointOf(d.Finger, k)
			if d.Finger == hand.Thumb && k == hand.DIP {
				row = append(row, cell(""))
				continue
			}
			line := table.Lines[j]
			if !line.Straight.Judged {
				row = append(row, reading(line.Straight))
				continue
			}
			was := ""
			if line.Straight.Known {
				was = degrees(line.Straight.Deg)
			}
			f := parts.NewField(was, nil).Hint(hint(line.Straight))
			if p.first == nil {
				p.first = f
			}
			fields[j] = f
			row = append(row, f)
		}
		rows = append(rows, row)
	}
	take := func() {
		b, err := measured(s.recorded, fields)
		if err != nil {
			problem.Set(arom.Sentence(err.Error()))
			parts.Settle(problem)
			return
		}
		s.recorded = b
		s.tablePage("")
	}
	for _, f := range fields {
		f.OnEnter = take
	}
	body := parts.Column(gap,
		text("Enter the angles that you measured while the hand was held straight: degrees of flexion, or with the word past for degrees past straight, such as 8 past. What is left empty stays as the camera read it."),
		problem, newSheet([]float32{1, 2, 2, 2}, nil, rows...))
	s.show(p, p.lay(p.Scroll(body),
		p.action(parts.Lead, "Take these", fyne.KeyReturn, take),
		p.action(parts.Plain, "Back", fyne.KeyEscape, func() { s.tablePage("") })))
}

// hint is what the camera read, as it would be typed.
func hint(r arom.Reading) string {
	deg := math.Round(r.Deg) + 0 // no negative zero
	if !r.PastJudged {
		deg = math.Max(deg, 0)
	}
	return "read " + degrees(deg)
}

// measured puts what was typed into the baseline.
func measured(b *goniometry.Baseline, fields map[hand.Joint]*parts.Field) (*goniometry.Baseline, error) {
	for j := range hand.Joint(hand.NumJoints) {
		f := fields[j]
		if f == nil {
			continue
		}
		var known *float64
		if strings.TrimSpace(f.Text) != "" {
			deg, err := parseDegrees(f.Text)
			if err != nil {
				return nil, fmt.Errorf("%s: %w", arom.Name(j), err)
			}
			known = &deg
		}
		var err error
		if b, err = arom.WithKnown(b, goniometry.StraightHand, j, known); err != nil {
			return nil, fmt.Errorf("%s: %w", arom.Name(j), err)
		}
	}
	return b, nil
}

// parseDegrees reads degrees of flexion, or with "past" of degrees past
// straight. A bare minus is refused, since the trade has no single rule for it
// (Mulder and Wittmeier 2009, Physiother Can 61:266-267).
func parseDegrees(s string) (float64, error) {
	s = strings.ToLower(strings.TrimSpace(strings.ReplaceAll(s, "°", "")))
	rest, past := strings.CutSuffix(strings.TrimSuffix(s, " straight"), "past")
	deg, err := strconv.ParseFloat(strings.TrimSpace(rest), 64)
	switch {
	case err != nil || math.IsNaN(deg) || math.IsInf(deg, 0):
		return 0, errors.New("write degrees, such as 12 or 8 past")
	case deg < 0:
		return 0, fmt.Errorf("a minus can mean either way; write %g past for degrees past straight", -deg)
	case past:
		return -deg, nil
	}
	return deg, nil
}

// degrees writes what parseDegrees reads.
func degrees(deg float64) string {
	if deg < 0 {
		return fmt.Sprintf("%g past", -deg)
	}
	return fmt.Sprintf("%g", deg)
}
