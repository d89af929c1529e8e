package main

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"volar/internal/exercise"
	"volar/internal/program"
	"volar/internal/strictyaml"
)

// printProblems writes problems as editors read them, path:line: field: text.
func printProblems(w io.Writer, path string, problems []strictyaml.Problem, before string) {
	for _, p := range problems {
		where := path
		if p.Line > 0 {
			where = fmt.Sprintf("%s:%d", path, p.Line)
		}
		if p.Field != "" {
			where += ": " + p.Field
		}
		fmt.Fprintf(w, "%s: %s%s\n", where, before, p.Text)
	}
}

// printProgram writes what a program asks for on a day.
func printProgram(b *printer, r *program.Resolved) error {
	p := r.Program
	b.f("Home program of %s, %s hand, version %d\n", p.Client, p.Side, p.Version)
	force := "in force since " + p.ValidFrom.Words()
	if !r.InForce {
		force = "not in force before " + p.ValidFrom.Words()
	}
	b.f("On %s: %s", r.Date.Words(), force)
	if !p.NextReview.IsZero() {
		b.f("; next review %s", p.NextReview.Words())
		if p.NextReview.Before(r.Date) {
			b.f(", which has passed")
		}
	}
	b.f("\n")
	row := func(title, text string) {
		if text != "" {
			b.wrapped("  "+pad(title, 13), "               ", text)
		}
	}
	if p.Dominant != 0 {
		row("dominant", p.Dominant.String())
	}
	row("history", p.History)
	var precautions []string
	for _, q := range p.Precautions {
		s := strings.ReplaceAll(string(q.Kind), "-", " ")
		if q.Words != "" {
			s += " (" + q.Words + ")"
		}
		precautions = append(precautions, s)
	}
	row("precautions", strings.Join(precautions, "; "))
	var avoid []string
	for _, a := range p.Avoid {
		avoid = append(avoid, strings.ReplaceAll(string(a), "-", " "))
	}
	row("to avoid", strings.Join(avoid, ", "))
	if p.Cue == program.EarlyCue {
		row("cue", "early, when a joint reaches its limit")
	}
	if p.SideViewCheck {
		row("camera", "the hand is shown from the side before the first exercise")
	}
	row("notes", p.Notes)
	row("message", p.Message)

	b.f("\nLimits set by the therapist, on this day\n")
	for _, s := range program.LimitWords(r.Limits) {
		b.wrapped("  ", "    ", s)
	}
	for _, s := range program.LimitWords(r.OtherLimits) {
		b.wrapped("  ", "    ", p.Side.Other().String()+" hand, "+s)
	}
	if len(r.Limits)+len(r.OtherLimits) == 0 {
		b.f("  none\n")
	}
	if !r.NextChange.IsZero() {
		b.f("  next change on %s\n", r.NextChange.Words())
	}
	for i := range r.Exercises {
		printPrescribed(b, i+1, &r.Exercises[i])
	}
	b.f("\nIn all about %s, done once.\n", minutes(r.Takes()))
	return b.err
}

func printPrescribed(b *printer, n int, q *program.Prescribed) {
	b.f("\n%d. %s (%s), about %s\n", n, q.Movement.Name, q.ID, minutes(q.Takes()))
	row := func(title, text string) { b.wrapped("   "+pad(title, 12), "               ", text) }
	if q.Exercise.Side != 0 {
		row("hand", q.Side.String())
	}
	if q.Movement.Hands == 2 {
		limits := program.LimitWords(q.OtherLimits)
		if len(limits) == 0 {
			limits = []string{"none"}
		}
		row("hands", "both; limits of the "+q.Side.Other().String()+" hand: "+strings.Join(limits, "; "))
	}
	row("dose", program.DoseWords(q.Dose))
	if q.Object.ID != "" {
		row("object", q.Object.Name+" ("+string(q.Object.Grade)+")")
	}
	if q.Movement.Kind == exercise.Unmeasured {
		row("camera", "not measured, and no limit judged; the client says when a set is done")
	} else {
		row("view", q.View.Name)
	}
	if t := q.Exercise.Tempo.LeastSeconds; t > 0 {
		row("tempo", "at least "+trim(t)+" s each way")
	}
	for _, s := range q.Exercise.TargetWords() {
		row("target", s)
	}
	if len(q.Exercise.Limits) > 0 || q.Exercise.Side != 0 {
		limits := program.LimitWords(q.Limits)
		if len(limits) == 0 {
			limits = []string{"none"}
		}
		row("limits here", strings.Join(limits, "; "))
	}
	if own := program.LimitWords(q.OwnLimits()); len(own) > 0 {
		row("by default", strings.Join(own, "; ")+" (the movement's, where the therapist set none)")
	}
	if joints, why := q.Unseen(); len(joints) > 0 {
		row("not seen", program.JointsWords(joints)+" past straight: "+why)
	}
	if q.Note != "" {
		row("note", q.Note)
	}
}

// minutes says a time roughly, as a client plans a day.
func minutes(d time.Duration) string {
	if d < time.Minute {
		return fmt.Sprintf("%d s", int(math.Round(d.Seconds())))
	}
	return fmt.Sprintf("%.0f min", math.Round(d.Minutes()))
}
