package program

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"volar/internal/exercise"
)

// Change is one difference between two versions, in words for a person.
type Change struct {
	// Field is the part of the program that changed, such as "limits" or
	// "exercises.hook-fist.dose".
	Field string `json:"field"`
	Text  string `json:"text"`
}

// Diff says what a therapist would want to know has changed from a to b, in
// the order of the file. Both have been checked.
func Diff(a, b *Program) []Change {
	d := differ{}
	d.value("client", "client", a.Client, b.Client)
	d.value("side", "side", a.Side.String(), b.Side.String())
	d.value("dominant", "dominant hand", known(a.Dominant), known(b.Dominant))
	d.value("valid_from", "valid from", a.ValidFrom.Words(), b.ValidFrom.Words())
	d.value("next_review", "next review", a.NextReview.Words(), b.NextReview.Words())
	d.value("zone", "time zone", orNone(a.Zone), orNone(b.Zone))
	d.words("history", "history", a.History, b.History)
	d.words("notes", "notes", a.Notes, b.Notes)
	d.words("message", "message to the client", a.Message, b.Message)
	d.list("precautions", "precaution", precautionWords(a), precautionWords(b))
	d.list("avoid", "to avoid", toStrings(a.Avoid), toStrings(b.Avoid))
	d.value("cue", "cue at a limit", orUsual(a.Cue), orUsual(b.Cue))
	d.value("side_view_check", "side view before the first exercise", yes(a.SideViewCheck), yes(b.SideViewCheck))
	d.limits("limits", "limit", a.Limits, b.Limits)
	d.exercises(a, b)
	return d.changes
}

type differ struct{ changes []Change }

func (d *differ) add(field, format string, a ...any) {
	d.changes = append(d.changes, Change{field, fmt.Sprintf(format, a...)})
}

func (d *differ) value(field, what, a, b string) {
	if a != b {
		d.add(field, "%s: %s, was %s", what, b, a)
	}
}

// words are too long to repeat.
func (d *differ) words(field, what, a, b string) {
	switch {
	case a == b:
	case a == "":
		d.add(field, "%s written", what)
	case b == "":
		d.add(field, "%s removed", what)
	default:
		d.add(field, "%s rewritten", what)
	}
}

// list tells what came and went; the order does not count.
func (d *differ) list(field, what string, a, b []string) {
	for _, s := range b {
		if !slices.Contains(a, s) {
			d.add(field, "%s, new: %s", what, s)
		}
	}
	for _, s := range a {
		if !slices.Contains(b, s) {
			d.add(field, "%s, no longer: %s", what, s)
		}
	}
}

// limits are told by their joints. Entries for the same joints are compared in
// turn.
func (d *differ) limits(field, what string, a, b []Limit) {
	if same := slices.EqualFunc(a, b, func(x, y Limit) bool {
		return x.Joints == y.Joints && x.Side == y.Side && x.Reason == y.Reason && slices.Equal(x.Schedule, y.Schedule)
	}); same {
		return
	}
	left := slices.Clone(a)
	found := false
	for i := range b {
		n := slices.IndexFunc(left, func(l Limit) bool { return l.Joints == b[i].Joints && l.Side == b[i].Side })
		switch {
		case n < 0:
			d.add(field, "%s, new: %s", what, b[i].Words())
			found = true
			continue
		case !slices.Equal(left[n].Schedule, b[i].Schedule):
			d.add(field, "%s: %s; was %s", what, b[i].Words(), strings.TrimPrefix(left[n].Words(), b[i].Subject()+": "))
			found = true
		case left[n].Reason != b[i].Reason:
			d.words(field, "the reason of the limit of "+b[i].Subject(), left[n].Reason, b[i].Reason)
			found = true
		}
		left = slices.Delete(left, n, n+1)
	}
	for i := range left {
		d.add(field, "%s, no longer: %s", what, left[i].Words())
		found = true
	}
	if !found {
		// The order decides where two entries name the same joint.
		d.add(field, "%ss are in another order", what)
	}
}

func (d *differ) exercises(a, b *Program) {
	before, after := names(a), names(b)
	for i, name := range after {
		e := &b.Exercises[i]
		n := slices.Index(before, name)
		if n < 0 {
			d.add("exercises", "new exercise %d, %s, %s", i+1, e.title(), e.doseWords())
			continue
		}
		d.exercise("exercises."+name, &a.Exercises[n], e, a.Files, b.Files)
	}
	var stayed []string
	for i, name := range before {
		if slices.Contains(after, name) {
			stayed = append(stayed, name)
			continue
		}
		d.add("exercises", "exercise removed, %s", a.Exercises[i].title())
	}
	if order := slices.DeleteFunc(slices.Clone(after), func(s string) bool { return !slices.Contains(stayed, s) }); !slices.Equal(order, stayed) {
		d.add("exercises", "order: %s, was %s", strings.Join(order, ", "), strings.Join(stayed, ", "))
	}
}

func (d *differ) exercise(field string, a, b *Exercise, before, after map[string][]byte) {
	name := b.Name() + ": "
	d.value(field+".movement", name+"movement", a.Movement, b.Movement)
	if a.Movement == b.Movement && string(before[a.Movement]) != string(after[b.Movement]) {
		d.add(field+".movement", "%sthe movement file %s has changed", name, b.Movement)
	}
	d.value(field+".side", name+"side", sameSide(a.Side), sameSide(b.Side))
	d.value(field+".object", name+"object", a.objectWords(), b.objectWords())
	d.value(field+".view", name+"view", viewWords(a.View), viewWords(b.View))
	d.value(field+".dose", name+"dose", a.doseWords(), b.doseWords())
	d.value(field+".tempo", name+"least time each way", tempoWords(a.Tempo), tempoWords(b.Tempo))
	d.list(field+".targets", name+"target", targetWords(a.Targets), targetWords(b.Targets))
	d.limits(field+".limits", name+"limit", a.Limits, b.Limits)
	d.words(field+".note", name+"note", a.Note, b.Note)
}

func names(p *Program) []string {
	s := make([]string, len(p.Exercises))
	for i := range p.Exercises {
		s[i] = p.Exercises[i].Name()
	}
	return s
}

func (e *Exercise) title() string {
	if e.movement == nil {
		return e.Name()
	}
	return e.Name() + ": " + e.movement.Name
}

func (e *Exercise) doseWords() string {
	var usual exercise.Dose
	if e.movement != nil {
		usual = e.movement.Dose
	}
	return DoseWords(e.Dose.Over(usual))
}

func (e *Exercise) objectWords() string {
	if e.movement == nil {
		return orNone(e.Object + string(e.Grade))
	}
	o, err := e.pick(e.movement)
	if err != nil || o.ID == "" {
		return "none"
	}
	return o.ID + ", " + string(o.Grade)
}

func precautionWords(p *Program) []string {
	s := make([]string, len(p.Precautions))
	for i, q := range p.Precautions {
		s[i] = string(q.Kind)
		if q.Words != "" {
			s[i] += " (" + q.Words + ")"
		}
	}
	return s
}

func targetWords(targets []Target) []string {
	all := map[string]bool{}
	for _, t := range targets {
		s := t.Joints.Words() + " to "
		switch {
		case t.Share != nil:
			s += fmt.Sprintf("%.0f %% of the own range", 100**t.Share)
		case t.Deg != nil:
			s += AngleWords(*t.Deg)
		}
		all[s] = true
	}
	return slices.Sorted(maps.Keys(all))
}

func tempoWords(t Tempo) string {
	if t.LeastSeconds == 0 {
		return "the movement's own"
	}
	return trim(t.LeastSeconds) + " s"
}

func viewWords(v ViewChoice) string {
	if v == "" {
		v = BestView
	}
	return string(v)
}

func known(s Side) string {
	if s == 0 {
		return "not known"
	}
	return s.String()
}

func sameSide(s Side) string {
	if s == 0 {
		return "the program's"
	}
	return s.String()
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}

func orUsual(c Cue) string {
	if c == "" {
		c = UsualCue
	}
	return string(c)
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

func toStrings[T ~string](l []T) []string {
	s := make([]string, len(l))
	for i, x := range l {
		s[i] = string(x)
	}
	return s
}
