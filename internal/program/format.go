package program

import (
	"bytes"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Format writes the program as a file for people, with comments that explain
// the fields. Parse reads the same program from it; the movement files in Files
// are written beside it by the caller.
func (p *Program) Format() []byte {
	w := writer{}
	w.comment("", "Home program of %s, %s hand. Written and read by volar; a person may change it.", p.Client, p.Side)
	w.comment("", "Angles are degrees of flexion: 0 is straight, past straight has a minus sign.")
	w.comment("", "Dates are days where the client lives. volar program check says what is wrong.")
	w.field("", "volar_program", p.FileFormat)
	w.text("", "client", p.Client)
	w.field("", "side", p.Side)
	if p.Dominant != 0 {
		w.field("", "dominant", p.Dominant)
	}
	w.b.WriteString("\n")
	w.comment("", "A change makes a new version. It holds from valid_from, and not before it was issued.")
	w.field("", "version", p.Version)
	w.field("", "valid_from", p.ValidFrom)
	if !p.Issued.IsZero() {
		t, _ := p.Issued.MarshalText() // cannot fail
		w.field("", "issued", string(t))
	}
	if !p.NextReview.IsZero() {
		w.field("", "next_review", p.NextReview)
	}
	if p.Zone != "" {
		w.text("", "zone", p.Zone)
	}
	w.b.WriteString("\n")
	for _, f := range []struct{ name, text, what string }{
		{"history", p.History, "What happened, in the therapist's words; stays in the clinic."},
		{"notes", p.Notes, "The clinic's own notes."},
		{"message", p.Message, "Shown to the client."},
	} {
		if f.text != "" {
			w.comment("", "%s", f.what)
			w.text("", f.name, f.text)
		}
	}
	w.precautions(p)
	w.b.WriteString("\n")
	if len(p.Limits) > 0 {
		w.comment("", "Limits in every exercise. A step changes the ends that it names, from its date on;")
		w.comment("", "the word free lifts an end. Where two entries name a joint, the later one counts.")
		w.limits("", p.Limits)
	} else {
		w.comment("", "Limits set by the therapist, such as: middle knuckles not straighter than 30° short")
		w.comment("", "of straight, from 8 December 2026 not straighter than 20°, never bent beyond 90°.")
		w.comment("", "limits:")
		w.comment("", "  - joints: \"*.pip\"")
		w.comment("", "    schedule:")
		w.comment("", "      - {not_straighter_than: 30, not_bent_beyond: 90}")
		w.comment("", "      - {from: 2026-12-08, not_straighter_than: 20}")
	}
	w.b.WriteString("\n")
	w.comment("", "In the order in which they are done. volar catalogue lists all movements.")
	w.line("", "exercises:")
	for i := range p.Exercises {
		w.exercise(&p.Exercises[i])
	}
	return w.b.Bytes()
}

type writer struct{ b bytes.Buffer }

func (w *writer) line(indent, s string) { w.b.WriteString(indent + s + "\n") }

func (w *writer) comment(indent, format string, a ...any) {
	w.line(indent, "# "+oneLine(fmt.Sprintf(format, a...)))
}

// oneLine keeps text from leaving its comment.
func oneLine(s string) string {
	return strings.Join(strings.FieldsFunc(s, func(r rune) bool {
		return r == '\n' || r == '\r' || r == '\u0085' || r == '\u2028' || r == '\u2029' || !unicode.IsPrint(r) && r != ' '
	}), " ")
}

func (w *writer) field(indent, name string, v any) { w.line(indent, fmt.Sprintf("%s: %v", name, v)) }

// text writes words in the form that is easiest to read and still reads back
// the same.
func (w *writer) text(indent, name, s string) {
	switch {
	case plain(s):
		w.line(indent, name+": "+s)
	case foldable(s):
		w.line(indent, name+": >-")
		w.fold(indent+"  ", s)
	case literal(s):
		w.line(indent, name+": |-")
		for l := range strings.SplitSeq(s, "\n") {
			if l != "" {
				l = indent + "  " + l
			}
			w.line("", l)
		}
	default:
		w.line(indent, name+": "+quoted(s))
	}
}

// width is where folded text is broken.
const width = 88

func (w *writer) fold(indent, s string) {
	line := indent
	for word := range strings.SplitSeq(s, " ") {
		if line != indent && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > width {
			w.line("", line)
			line = indent
		}
		if line != indent {
			line += " "
		}
		line += word
	}
	w.line("", line)
}

// plain reports whether the text is the same written without quotes: words
// that YAML takes for text and nothing else.
func plain(s string) bool {
	if s == "" || len(s) > width-20 || strings.HasPrefix(s, "---") {
		return false
	}
	first, letter := true, false
	for _, r := range s {
		switch {
		case r < utf8.RuneSelf && (unicode.IsLetter(r) || unicode.IsDigit(r)) || r > 0xbf && unicode.IsLetter(r):
			letter = letter || unicode.IsLetter(r)
		case !first && strings.ContainsRune(" -_.,/()'°", r):
		default:
			return false
		}
		first = false
	}
	if !letter || !unicode.IsLetter([]rune(s)[0]) || strings.HasSuffix(s, " ") {
		return false
	}
	switch strings.ToLower(s) {
	case "true", "false", "null", "yes", "no", "on", "off", "y", "n", "nan", "inf", freeWord:
		return false
	}
	return true
}

// foldable reports whether long text on one line can be broken at its spaces.
func foldable(s string) bool {
	return utf8.RuneCountInString(s) > 60 && !strings.ContainsRune(s, '\n') && printable(s) &&
		!strings.Contains(s, "  ") && strings.TrimSpace(s) == s
}

// literal reports whether text of several lines can be written as it is.
func literal(s string) bool {
	if !strings.ContainsRune(s, '\n') || strings.HasSuffix(s, "\n") || strings.HasPrefix(s, "\n") || !printable(strings.ReplaceAll(s, "\n", "")) {
		return false
	}
	first := true
	for l := range strings.SplitSeq(s, "\n") {
		if strings.TrimRight(l, " ") != l || first && strings.HasPrefix(l, " ") {
			return false
		}
		first = false
	}
	return true
}

// printable leaves out what YAML may take for a break or refuse.
func printable(s string) bool {
	for _, r := range s {
		if r == utf8.RuneError || r == '\ufeff' || r != ' ' && !unicode.IsPrint(r) {
			return false
		}
	}
	return utf8.ValidString(s)
}

// quoted is text in double quotes, with everything escaped that cannot be
// seen.
func quoted(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case unicode.IsPrint(r) && r != '\ufeff':
			b.WriteRune(r)
		case r <= 0xffff:
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			fmt.Fprintf(&b, `\U%08x`, r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

func (w *writer) precautions(p *Program) {
	if len(p.Precautions) > 0 {
		w.comment("", "Usual with these; it holds only where it is written below:")
		for _, q := range p.Precautions {
			if why := q.Kind.Defaults().Why; why != "" {
				w.comment("", "  %s: %s", q.Kind, why)
			}
		}
		w.line("", "precautions:")
		for _, q := range p.Precautions {
			w.line("  ", "- kind: "+scalar(string(q.Kind)))
			if q.Words != "" {
				w.text("    ", "words", q.Words)
			}
		}
	}
	if len(p.Avoid) > 0 {
		words := make([]string, len(p.Avoid))
		for i, a := range p.Avoid {
			words[i] = scalar(string(a))
		}
		w.comment("", "No exercise may ask for these.")
		w.line("", "avoid: ["+strings.Join(words, ", ")+"]")
	}
	if p.Cue != "" {
		w.comment("", "usual, or early: the client is told sooner of a joint at its limit, and sometimes without need.")
		w.line("", "cue: "+scalar(string(p.Cue)))
	}
	if p.SideViewCheck {
		w.comment("", "The client shows the hand from the side before the first exercise.")
		w.line("", "side_view_check: true")
	}
}

func (w *writer) limits(indent string, limits []Limit) {
	w.line(indent, "limits:")
	for i := range limits {
		l := &limits[i]
		w.comment(indent+"  ", "%s", l.Words())
		w.line(indent+"  ", "- joints: "+quoted(string(l.Joints)))
		if l.Side != 0 {
			w.line(indent+"    ", "side: "+l.Side.String())
		}
		if l.Reason != "" {
			w.text(indent+"    ", "reason", l.Reason)
		}
		if len(l.Schedule) == 0 {
			w.line(indent+"    ", "schedule: []")
			continue
		}
		w.line(indent+"    ", "schedule:")
		for _, s := range l.Schedule {
			var parts []string
			if !s.From.IsZero() {
				parts = append(parts, "from: "+s.From.String())
			}
			if !s.Lower.IsZero() {
				parts = append(parts, "not_straighter_than: "+s.Lower.String())
			}
			if !s.Upper.IsZero() {
				parts = append(parts, "not_bent_beyond: "+s.Upper.String())
			}
			w.line(indent+"      ", "- {"+strings.Join(parts, ", ")+"}")
		}
	}
}

func (w *writer) exercise(e *Exercise) {
	const in = "    "
	if e.movement != nil {
		w.comment("  ", "%s", e.movement.Name)
	}
	w.line("  ", "- movement: "+scalar(e.Movement))
	if e.ID != "" {
		w.text(in, "id", e.ID)
	}
	if e.Side != 0 {
		w.field(in, "side", e.Side)
	}
	if e.Object != "" {
		line := "object: " + scalar(e.Object)
		if e.movement != nil {
			if o, err := e.movement.Object(e.Object); err == nil {
				line += " # " + oneLine(string(o.Grade)+": "+o.Name)
			}
		}
		w.line(in, line)
	}
	for _, f := range [][2]string{{"grade", string(e.Grade)}, {"view", string(e.View)}} {
		if f[1] != "" {
			w.line(in, f[0]+": "+scalar(f[1]))
		}
	}
	w.dose(in, e)
	if e.Tempo.LeastSeconds != 0 {
		w.line(in, "tempo: {least_s: "+trim(e.Tempo.LeastSeconds)+"}")
	}
	if len(e.Targets) > 0 {
		w.line(in, "targets:")
		for _, t := range e.Targets {
			s := "- {joints: " + quoted(string(t.Joints))
			if t.Share != nil {
				s += ", share_of_own: " + trim(*t.Share)
			}
			if t.Deg != nil {
				s += ", deg: " + trim(*t.Deg)
			}
			w.line(in+"  ", s+"}")
		}
	}
	if len(e.Limits) > 0 {
		w.limits(in, e.Limits)
	}
	if e.Note != "" {
		w.text(in, "note", e.Note)
	}
}

func (w *writer) dose(indent string, e *Exercise) {
	d := e.Dose
	var parts []string
	whole := func(name string, v *int) {
		if v != nil {
			parts = append(parts, fmt.Sprintf("%s: %d", name, *v))
		}
	}
	number := func(name string, v *float64) {
		if v != nil {
			parts = append(parts, name+": "+trim(*v))
		}
	}
	whole("sets", d.Sets)
	whole("repetitions", d.Repetitions)
	number("hold_s", d.HoldSeconds)
	number("rest_s", d.RestSeconds)
	whole("times_a_day", d.TimesADay)
	whole("days_a_week", d.DaysAWeek)
	if len(parts) == 0 {
		return
	}
	w.line(indent, "dose: {"+strings.Join(parts, ", ")+"}")
	if e.movement != nil {
		if usual := e.movement.Dose; d.Over(usual) != usual {
			w.comment(indent, "usual: %s", DoseWords(usual))
		}
	}
}

// scalar is a word, quoted where it has to be.
func scalar(s string) string {
	if plain(s) {
		return s
	}
	return quoted(s)
}
