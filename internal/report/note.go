package report

import (
	"fmt"
	"math"
	"strings"

	"volar/internal/hand"
	"volar/internal/review"
	"volar/internal/session"
)

// notePart is the note in the trade's order. What is known fills the first two
// parts; the assessment is the therapist's alone.
func (r *Report) notePart(p *page) {
	p.heading("Note", 40)
	part := func(name, known, written string) {
		p.room(16)
		p.font("B", 9.5, ink)
		p.CellFormat(textWidth, 5, name, "", 1, "L", false, 0, "")
		if known != "" {
			p.text(known)
		}
		if written != "" {
			p.text(written)
		}
		if known == "" && written == "" {
			p.pen(rule)
			for range 3 {
				p.Ln(7)
				p.Line(margin, p.GetY(), pageWidth-margin, p.GetY())
			}
			p.Ln(2)
		}
		p.Ln(1.5)
	}
	part("Subjective", r.subjective(), r.written(func(n review.Note) string { return n.Subjective }))
	part("Objective", r.objective(), r.written(func(n review.Note) string { return n.Objective }))
	part("Assessment (by the therapist)", "", r.written(func(n review.Note) string { return n.Assessment }))
	part("Plan", r.plan(), r.written(func(n review.Note) string { return n.Plan }))
}

// written is a part of what the therapist wrote: on single sessions, with the
// session's day and the writer's sign, and for this report.
func (r *Report) written(of func(review.Note) string) string {
	var lines []string
	for _, s := range r.Sessions {
		for _, v := range r.Reviews[s.ID] {
			text := strings.TrimSpace(of(v.Note))
			if text == "" {
				continue
			}
			by := ""
			if v.By != "" {
				by = " (" + v.By + ")"
			}
			lines = append(lines, fmt.Sprintf("On %s%s: %s", review.LocalDay(s.Started, s.Zone), by, text))
		}
	}
	if text := strings.TrimSpace(of(r.Note)); text != "" {
		lines = append(lines, text)
	}
	return strings.Join(lines, "\n")
}

// subjective is what the client reported.
func (r *Report) subjective() string {
	var lines []string
	var before, after, n, stops int
	for _, x := range r.Pain {
		if x.Before != nil && x.After != nil {
			before += *x.Before
			after += *x.After
			n++
		}
		if x.Stopped {
			stops++
		}
	}
	if n > 0 {
		lines = append(lines, fmt.Sprintf("Client reports pain of %.1f before and %.1f after on average (%s).", float64(before)/float64(n), float64(after)/float64(n), plural(n, "session")))
	}
	if stops > 0 {
		lines = append(lines, "Client stopped for pain in "+plural(stops, "session")+".")
	}
	for _, s := range r.Sessions {
		for _, a := range s.Answers {
			if a.Kind == session.Note && strings.TrimSpace(a.Text) != "" {
				lines = append(lines, fmt.Sprintf("%s: “%s”", review.LocalDay(s.Started, s.Zone), strings.TrimSpace(a.Text)))
			}
		}
	}
	return strings.Join(lines, "\n")
}

// objective sums the tables above up in sentences that can be copied.
func (r *Report) objective() string {
	lines := []string{fmt.Sprintf("%s, %s to %s, exercises at home before a camera; recorded, looked at afterwards.", plural(len(r.Sessions), "session"), r.From, r.To)}
	if !math.IsNaN(r.Adhered.Share) {
		lines = append(lines, "Dose done: "+share(r.Adhered.Share)+".")
	}
	for _, x := range r.Ranges {
		if x.Joint.Kind() == hand.PIP && x.Last.Sessions > 0 {
			lines = append(lines, fmt.Sprintf("%s: %s (%s, camera estimate).", jointWords(x.Joint)+r.whose(x.Side), r.RangeWords(x.Last.Reach), r.Style))
		}
	}
	for _, x := range r.Steady {
		lines = append(lines, x.Words())
	}
	if n := len(r.Flags); n > 0 {
		lines = append(lines, plural(n, "flag")+", see the table.")
	}
	return strings.Join(lines, "\n")
}

// plan is what the program already says of what comes next.
func (r *Report) plan() string {
	q, ok := r.resolve(r.To)
	if !ok || q.Program.NextReview.IsZero() {
		return ""
	}
	if q.Program.NextReview.Before(r.To) {
		return "The review that was planned for " + q.Program.NextReview.Words() + " is due."
	}
	return "Next review planned for " + q.Program.NextReview.Words() + "."
}
