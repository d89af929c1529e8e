package program

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/strictyaml"
)

type checker struct {
	p                *Program
	lines            strictyaml.Lines
	faults, warnings []strictyaml.Problem
}

func (p *Program) check(src Source, lines strictyaml.Lines) (faults, warnings []strictyaml.Problem) {
	c := checker{p: p, lines: lines}
	c.link(src)
	c.head()
	c.text()
	c.precautions()
	c.limits("limits", p.Limits)
	c.room(p.limits(), limitList{}, "")
	c.idle()
	c.oneHanded()
	c.exercises()
	c.healing()
	for _, l := range [][]strictyaml.Problem{c.faults, c.warnings} {
		slices.SortStableFunc(l, func(a, b strictyaml.Problem) int { return a.Line - b.Line })
	}
	return c.faults, c.warnings
}

func (c *checker) problem(field, format string, a ...any) strictyaml.Problem {
	return strictyaml.Problem{Line: c.lines.Of(field), Field: field, Text: fmt.Sprintf(format, a...)}
}

func (c *checker) fault(field, format string, a ...any) {
	c.faults = append(c.faults, c.problem(field, format, a...))
}

func (c *checker) warn(field, format string, a ...any) {
	c.warnings = append(c.warnings, c.problem(field, format, a...))
}

func (c *checker) within(field string, x, least, greatest float64) bool {
	if x >= least && x <= greatest {
		return true
	}
	c.fault(field, "%s is outside %s to %s", trim(x), trim(least), trim(greatest))
	return false
}

func oneOf[T ~string](c *checker, field string, x T, known ...T) bool {
	if slices.Contains(known, x) {
		return true
	}
	s := make([]string, 0, len(known))
	for _, k := range known {
		if k != "" {
			s = append(s, string(k))
		}
	}
	c.fault(field, "%q is not known; known are %s", string(x), strings.Join(s, ", "))
	return false
}

var (
	clientForm = regexp.MustCompile(`^[A-Za-z0-9](?:[A-Za-z0-9._-]{0,38}[A-Za-z0-9])?$`)
	idForm     = regexp.MustCompile(`^[a-z][a-z0-9]*(-[a-z0-9]+)*$`)
)

// maxExercises and maxSteps are far beyond what anybody does in a day or plans
// in one program.
const (
	maxExercises = 100
	maxLimits    = 100
	maxSteps     = 200
	maxVersion   = 1_000_000
)

func (c *checker) head() {
	p := c.p
	if p.FileFormat != FormatVersion {
		if p.FileFormat > FormatVersion {
			c.fault("volar_program", "the file has format %d, made by a newer version of this program; this one reads format %d", p.FileFormat, FormatVersion)
		} else {
			c.fault("volar_program", "there is no format %d; wants %d", p.FileFormat, FormatVersion)
		}
	}
	if !clientForm.MatchString(p.Client) {
		c.fault("client", "%q is no code; wants up to 40 letters, digits, points, hyphens and underlines, such as C-017, and no name", p.Client)
	}
	if p.Side == 0 {
		c.fault("side", "wants left or right")
	}
	c.within("version", float64(p.Version), 1, maxVersion)
	if p.ValidFrom.IsZero() {
		c.fault("valid_from", "wants a date")
	}
	switch {
	case p.NextReview.IsZero():
		c.warn("next_review", "no date is set for the next review")
	case p.NextReview.Before(p.ValidFrom):
		c.fault("next_review", "the next review, %s, lies before the program begins, %s", p.NextReview, p.ValidFrom)
	}
	if p.Zone != "" {
		if _, err := ParseZone(p.Zone); err != nil {
			c.fault("zone", "%v", err)
		}
	}
	oneOf(c, "cue", p.Cue, "", UsualCue, EarlyCue)
}

// text refuses words that no file can hold.
func (c *checker) text() {
	p := c.p
	fields := map[string]string{"history": p.History, "notes": p.Notes, "message": p.Message}
	for i, q := range p.Precautions {
		fields[fmt.Sprintf("precautions[%d].words", i+1)] = q.Words
	}
	reasons := func(field string, limits []Limit) {
		for i, l := range limits {
			fields[fmt.Sprintf("%s[%d].reason", field, i+1)] = l.Reason
		}
	}
	reasons("limits", p.Limits)
	for i, e := range p.Exercises {
		field := fmt.Sprintf("exercises[%d]", i+1)
		fields[field+".note"] = e.Note
		reasons(field+".limits", e.Limits)
	}
	for _, field := range slices.Sorted(maps.Keys(fields)) {
		if !utf8.ValidString(fields[field]) {
			c.fault(field, "is not text (UTF-8)")
		}
	}
}

func (c *checker) precautions() {
	seen := map[PrecautionKind]bool{}
	for i, q := range c.p.Precautions {
		field := fmt.Sprintf("precautions[%d].kind", i+1)
		oneOf(c, field, q.Kind, PrecautionKinds[:]...)
		if seen[q.Kind] {
			c.fault(field, "%s is there twice", q.Kind)
		}
		seen[q.Kind] = true
	}
	for i, a := range c.p.Avoid {
		field := fmt.Sprintf("avoid[%d]", i+1)
		oneOf(c, field, a, Avoids[:]...)
		if slices.Contains(c.p.Avoid[:i], a) {
			c.fault(field, "%s is there twice", a)
		}
	}
}

// healing warns where healing tissue has no limit at all.
func (c *checker) healing() {
	if len(c.p.Limits) > 0 || slices.ContainsFunc(c.p.Exercises, func(e Exercise) bool { return len(e.Limits) > 0 }) {
		return
	}
	for i, q := range c.p.Precautions {
		if q.Kind == HealingTendon || q.Kind == HealingFracture {
			c.warn(fmt.Sprintf("precautions[%d]", i+1), "%s, but no joint has a limit; the surgeon's protocol may set some", q.Kind)
		}
	}
}

// limits checks a list of limits by itself.
func (c *checker) limits(field string, limits []Limit) {
	if len(limits) > maxLimits {
		c.fault(field, "has %d entries; at most %d are read", len(limits), maxLimits)
		return
	}
	for i := range limits {
		l, at := &limits[i], fmt.Sprintf("%s[%d]", field, i+1)
		joints, err := l.Joints.parse()
		if err != nil {
			c.fault(at+".joints", "%v", err)
			continue
		}
		c.schedule(at+".schedule", joints, l.Schedule)
		// A general entry after a particular one undoes it, which is seldom
		// meant.
		for n, before := range limits[:i] {
			other := before.Joints.List()
			if before.Side == l.Side && len(other) < len(joints) && sameEnds(&before, l) && !slices.ContainsFunc(other, func(j hand.Joint) bool { return !slices.Contains(joints, j) }) {
				c.warn(at, "goes before %s[%d] (%s), which has no effect; put the general entry first", field, n+1, before.Joints)
			}
		}
	}
}

// sameEnds reports whether b sets every end that a sets.
func sameEnds(a, b *Limit) bool {
	has := func(l *Limit) (lower, upper bool) {
		for _, s := range l.Schedule {
			lower = lower || !s.Lower.IsZero()
			upper = upper || !s.Upper.IsZero()
		}
		return lower, upper
	}
	al, au := has(a)
	bl, bu := has(b)
	// A later entry that begins later leaves the earlier one its time.
	return (!al || bl) && (!au || bu) && len(b.Schedule) > 0 && b.Schedule[0].From.IsZero()
}

func (c *checker) schedule(field string, joints []hand.Joint, steps []Step) {
	switch {
	case len(steps) == 0:
		c.fault(field, "wants at least one step")
	case len(steps) > maxSteps:
		c.fault(field, "has %d steps; at most %d are read", len(steps), maxSteps)
		return
	}
	for i, s := range steps {
		at := fmt.Sprintf("%s[%d]", field, i+1)
		if s.Lower.IsZero() && s.Upper.IsZero() {
			c.fault(at, "changes nothing; give not_straighter_than or not_bent_beyond")
		}
		switch {
		case i == 0 && c.p.ValidFrom.Before(s.From):
			c.warn(at+".from", "until %s this entry sets no limit", s.From.Words())
		case i > 0 && s.From.IsZero():
			c.fault(at, "wants the date from which it holds (from)")
		case i > 0 && s.From.Compare(steps[i-1].From) <= 0:
			c.fault(at+".from", "%s does not come after %s, the date of the step before it", s.From, steps[i-1].From)
		}
		c.possible(at+".not_straighter_than", joints, s.Lower)
		if deg, ok := s.Lower.Deg(); ok && deg < 0 && c.p.Has(LaxJoints) && slices.ContainsFunc(joints, func(j hand.Joint) bool { return j.Kind() == hand.PIP }) {
			c.warn(at+".not_straighter_than", "lets a middle knuckle go %s, though the client has lax joints", AngleWords(deg))
		}
		c.possible(at+".not_bent_beyond", joints, s.Upper)
	}
}

func (c *checker) possible(field string, joints []hand.Joint, e End) {
	deg, ok := e.Deg()
	if !ok {
		return
	}
	for _, j := range joints {
		if least, greatest := exercise.Possible(j); !(deg >= least && deg <= greatest) {
			c.fault(field, "%s° is outside what %s can do, %s to %s", trim(deg), j, trim(least), trim(greatest))
			return
		}
	}
}

// narrowDeg is a range that is hard to keep to: about the error of a reading
// to either side.
const narrowDeg = 15

// room refuses limits that together leave a joint no room, on any day from
// the program's first. The second list goes before the first; under says which
// exercise it is for.
func (c *checker) room(first, second limitList, under string) {
	for _, side := range c.sides() {
		c.roomOf(side, first, second, under)
	}
}

func (c *checker) roomOf(side Side, first, second limitList, under string) {
	told := map[string]bool{}
	for _, d := range c.days(first.limits, second.limits) {
		var b bounds
		b.lay(first, side, d)
		b.lay(second, side, d)
		for j := range b.joints {
			lower, upper := b.joints[j].lower, b.joints[j].upper
			low, ok := lower.end.Deg()
			high, also := upper.end.Deg()
			if !ok || !also || high-low >= narrowDeg {
				continue
			}
			last := upper
			if lower.order > upper.order {
				last = lower
			}
			// What the program's own limits leave is told once, there.
			if told[last.field] || under != "" && !strings.HasPrefix(last.field, under) {
				continue
			}
			told[last.field] = true
			if high <= low {
				c.fault(last.field, "%sleaves %s no range: not straighter than %s° and not bent beyond %s°", c.from(d), c.joint(hand.Joint(j), side), trim(low), trim(high))
			} else {
				c.warn(last.field, "%sleaves %s only %s° to move in, about as much as a reading is uncertain", c.from(d), c.joint(hand.Joint(j), side), trim(high-low))
			}
		}
	}
}

// days lists those on which limits may differ from the day before, from the
// program's first on.
func (c *checker) days(lists ...[]Limit) []Date {
	days := []Date{c.p.ValidFrom}
	for _, d := range changes(lists...) {
		if c.p.ValidFrom.Before(d) {
			days = append(days, d)
		}
	}
	return days
}
