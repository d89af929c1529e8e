package report

import (
	"fmt"
	"io"
	"strings"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/review"
)

// Handout writes the home program for the client: each exercise with drawn
// pictures, the object, the dose in words, and what to mind. It is what the
// program asks for on one day.
func Handout(w io.Writer, q program.Resolved, made time.Time) error {
	d, err := newDrawer()
	if err != nil {
		return err
	}
	client := q.Program.Client
	p := newPage("Home program "+client, "Home program of "+client+", version "+fmt.Sprint(q.Program.Version)+", for "+q.Date.Words()+". "+
		"It hurts? Stop, and call your therapist if it stays.", made)
	p.title("Your home program", "For "+client+", from "+q.Date.Words()+". About "+minutes(q.Takes())+" each time.")
	p.brush(band)
	p.font("", 10, ink)
	p.MultiCell(textWidth, 5, caution, "", "L", true)
	p.Ln(2)
	if m := strings.TrimSpace(q.Program.Message); m != "" {
		p.heading("From your therapist", 12)
		p.font("", 11, ink)
		p.MultiCell(textWidth, 5.4, m, "", "L", false)
	}
	for i := range q.Exercises {
		if err := exercisePart(p, d, i+1, &q.Exercises[i]); err != nil {
			return err
		}
	}
	return p.write(w)
}

func minutes(d time.Duration) string {
	m := int((d + time.Minute - 1) / time.Minute)
	return plural(max(m, 1), "minute")
}

// exercisePart is one exercise; it is kept on one page.
func exercisePart(p *page, d *drawer, number int, e *program.Prescribed) error {
	const w, h = 42.0, 35.0
	pictures, said, err := d.steps(e.Movement, e.Object.ID, e.Side, 4)
	if err != nil {
		return fmt.Errorf("drawing %s: %w", e.ID, err)
	}
	p.room(95)
	p.heading(fmt.Sprintf("%d. %s", number, e.Movement.Name), 0)
	p.font("", 10, ink)
	p.MultiCell(textWidth, 4.9, e.Movement.Purpose, "", "L", false)
	p.Ln(1.5)
	y := p.GetY()
	deepest := y
	for i, b := range pictures {
		x := margin + float64(i)*(w+3)
		p.picture("PNG", b, x, y, w, h)
		p.SetXY(x, y+h+0.5)
		p.font("", 8.5, ink)
		p.MultiCell(w, 3.8, fmt.Sprintf("%d. %s", i+1, said[i]), "", "L", false)
		deepest = max(deepest, p.GetY())
	}
	p.SetXY(margin, deepest+2)
	line := func(what, words string) {
		if words == "" {
			return
		}
		p.font("B", 10, ink)
		p.CellFormat(34, 4.9, what, "", 0, "L", false, 0, "")
		p.font("", 10, ink)
		p.SetX(margin + 34)
		p.MultiCell(textWidth-34, 4.9, words, "", "L", false)
	}
	side := ""
	if e.Side != hand.UnknownSide {
		side = review.Capital(e.Side.String()) + " hand. "
	}
	line("With", review.Capital(e.Object.Name))
	line("How often", side+doseForClient(e.Dose))
	line("Show the camera", review.Capital(e.View.Shows))
	line("Limits", bothLimits(e))
	line("A good one", e.Movement.Good)
	line("Mind", strings.Join(e.Movement.Cautions, " "))
	line("Note", e.Note)
	p.Ln(2)
	return nil
}

// doseForClient writes a dose in plain words.
func doseForClient(d exercise.Dose) string {
	s := plural(d.Repetitions, "time")
	if d.HoldSeconds > 0 {
		s += fmt.Sprintf(", holding %g seconds each", d.HoldSeconds)
	}
	if d.Sets > 1 {
		s += fmt.Sprintf("; do this %d times over, with a rest of %g seconds between", d.Sets, d.RestSeconds)
	}
	s += fmt.Sprintf("; %s a day", plural(d.TimesADay, "time"))
	if d.DaysAWeek < 7 {
		s += fmt.Sprintf(", on %d days a week", d.DaysAWeek)
	}
	return review.Capital(s) + "."
}
