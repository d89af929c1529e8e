package clinic

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"volar/internal/exercise"
	"volar/internal/program"
	"volar/internal/today"
	"volar/ui/look"
	"volar/ui/parts"
)

// avoidNames are what is avoided, for a person.
var avoidNames = map[program.Avoid]string{
	program.Heat: "heat", program.HardObjects: "hard objects", program.StrongPinch: "strong pinch",
	program.Resistance: "resistance", program.HarderGrade: "the harder grade",
}

// programWords says what a program asks for on a day.
func programWords(p *program.Program, day program.Date) fyne.CanvasObject {
	if day.Before(p.ValidFrom) {
		day = p.ValidFrom
	}
	r := p.On(day)
	left := parts.Column(6, strong(fmt.Sprintf("On %s", day.Words())))
	row := func(to *fyne.Container, title string, words ...string) {
		all := strings.Join(words, "\n")
		if all == "" {
			return
		}
		to.Add(parts.Column(0, parts.NewWords(title, parts.Style{Size: theme.SizeNameCaptionText, Colour: look.Quiet, Bold: true}), text(all)))
	}
	row(left, "Hand", p.Side.String()+dominantWords(p))
	row(left, "Valid from", p.ValidFrom.Words())
	if !p.NextReview.IsZero() {
		row(left, "Next review", p.NextReview.Words())
	}
	limits := program.BothLimitWords(r.Limits, r.OtherLimits, p.Side.Other().Hand())
	if len(limits) == 0 {
		limits = []string{"none"}
	}
	row(left, "Limits set by the therapist, on this day", limits...)
	if !r.NextChange.IsZero() {
		row(left, "Next change of a limit", r.NextChange.Words())
	}
	row(left, "Precautions", precautionWords(p.Precautions))
	var avoid []string
	for _, a := range p.Avoid {
		avoid = append(avoid, avoidNames[a])
	}
	row(left, "To avoid", strings.Join(avoid, ", "))
	if p.Cue == program.EarlyCue {
		row(left, "Cue", "early, when a joint nears its limit")
	}
	if p.SideViewCheck {
		row(left, "Camera", "the hand is shown from the side before the first exercise")
	}
	row(left, "Message to the client", p.Message)
	row(left, "History", p.History)
	row(left, "Notes of the clinic", p.Notes)

	right := parts.Column(6, strong("Exercises, "+today.Minutes(r.Takes())+" in all"))
	for i := range r.Exercises {
		q := &r.Exercises[i]
		box := parts.Column(2, parts.NewWords(fmt.Sprintf("%d. %s", i+1, q.Movement.Name), parts.Style{Bold: true}), text(program.DoseWords(q.Dose)))
		if q.Object.ID != "" {
			box.Add(text(q.Object.Name + " (" + string(q.Object.Grade) + ")"))
		}
		if q.Exercise.Side != 0 {
			box.Add(text(q.Side.String() + " hand"))
		}
		if t := q.Exercise.Tempo.LeastSeconds; t > 0 {
			box.Add(text("at least " + number(t) + " s each way"))
		}
		for _, t := range q.Exercise.TargetWords() {
			box.Add(text("target: " + t))
		}
		if len(q.Exercise.Limits) > 0 {
			box.Add(text("limits here: " + strings.Join(program.BothLimitWords(q.Limits, q.OtherLimits, q.Side.Other()), "; ")))
		}
		if q.Movement.Kind == exercise.Unmeasured {
			box.Add(quiet("not measured by the camera; the client says when a set is done"))
		}
		if joints, why := q.Unseen(); len(joints) > 0 {
			box.Add(quiet("not seen: " + program.JointsWords(joints) + " past straight; " + why))
		}
		if q.Note != "" {
			box.Add(text("note: " + q.Note))
		}
		right.Add(parts.NewCard(box))
	}
	return parts.Row(3*gap, []float32{2, 3}, left, right)
}

func dominantWords(p *program.Program) string {
	if p.Dominant == 0 {
		return ""
	}
	return ", dominant " + p.Dominant.String()
}

func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

var inList, ofLimit = regexp.MustCompile(`^exercises\[(\d+)\]`), regexp.MustCompile(`(^|\.)limits\[(\d+)\]`)

// fieldWords names a part of a program for a person: limits,
// exercises[2].dose.sets, exercises.hook-fist.dose.
func fieldWords(p *program.Program, field string) string {
	if field == "" {
		return "The program"
	}
	name := func(i int) string {
		if i >= 0 && i < len(p.Exercises) {
			return fmt.Sprintf("exercise %d (%s)", i+1, p.Exercises[i].Name())
		}
		return "exercise"
	}
	limits := p.Limits
	m := inList.FindStringSubmatch(field)
	n := 0
	if m != nil {
		n, _ = strconv.Atoi(m[1])
		if limits = nil; n >= 1 && n <= len(p.Exercises) {
			limits = p.Exercises[n-1].Limits
		}
	}
	if l := ofLimit.FindStringSubmatchIndex(field); l != nil {
		k, _ := strconv.Atoi(field[l[4]:l[5]])
		if k >= 1 && k <= len(limits) {
			field = field[:l[3]] + fmt.Sprintf("limit %d (%s)", k, limits[k-1].Subject()) + field[l[1]:]
		}
	}
	if m != nil {
		field = name(n-1) + field[len(m[0]):]
	} else if rest, ok := strings.CutPrefix(field, "exercises."); ok {
		id, tail, _ := strings.Cut(rest, ".")
		if i, err := p.Find(id); err == nil {
			id = name(i)
		}
		field = strings.TrimSuffix(id+"."+tail, ".")
	}
	field = strings.NewReplacer(".", ": ", "_", " ", "[", " ", "]", "").Replace(field)
	return strings.ToUpper(field[:1]) + field[1:]
}

// shortDate is a day in a column.
func shortDate(d program.Date) string {
	return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC).Format("2 Jan 2006")
}
