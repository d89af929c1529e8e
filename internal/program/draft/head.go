package draft

import (
	"slices"
	"strings"

	"volar/internal/program"
)

// SetValidFrom and SetNextReview read days; the first day is wanted.
func (d *Draft) SetValidFrom(text string) error {
	day, err := parseDate(text)
	if err == nil {
		d.p.ValidFrom = day
	}
	return d.read("valid_from", text, err)
}

// SetNextReview reads when the program is to be looked at again.
func (d *Draft) SetNextReview(text string) error {
	day, err := parseDate(text)
	if err == nil {
		d.p.NextReview = day
	}
	return d.read("next_review", text, err)
}

// SetZone sets where the client lives.
func (d *Draft) SetZone(name string) {
	d.p.Zone = strings.TrimSpace(name)
	d.check()
}

// SetDominant sets the client's dominant hand; the zero Side is not known.
func (d *Draft) SetDominant(s program.Side) {
	d.p.Dominant = s
	d.check()
}

// SetSide sets the hand that the program is for. Where limits were set for both
// hands each stays with its own.
func (d *Draft) SetSide(s program.Side) {
	d.bind(All)
	for i := range d.p.Exercises {
		if d.p.Exercises[i].Side == 0 {
			d.bind(i)
		}
	}
	d.p.Side = s
	d.check()
}

// SetMessage, SetHistory and SetNotes set the texts: the message is for the
// client, the others stay in the clinic.
func (d *Draft) SetMessage(text string) { d.p.Message = text; d.check() }

// SetHistory sets what happened.
func (d *Draft) SetHistory(text string) { d.p.History = text; d.check() }

// SetNotes sets the clinic's own notes.
func (d *Draft) SetNotes(text string) { d.p.Notes = text; d.check() }

// SetPrecaution adds a precaution with its defaults, or takes it away and
// leaves what it brought: what was there for two reasons cannot be told from
// what was there for one.
func (d *Draft) SetPrecaution(k program.PrecautionKind, on bool) {
	i := slices.IndexFunc(d.p.Precautions, func(q program.Precaution) bool { return q.Kind == k })
	switch {
	case on && i < 0:
		d.bring(program.Precaution{Kind: k})
	case !on && i >= 0:
		d.p.Precautions = slices.Delete(d.p.Precautions, i, i+1)
	}
	d.check()
}

// SetPrecautionWords sets the therapist's own words of a precaution.
func (d *Draft) SetPrecautionWords(k program.PrecautionKind, words string) {
	for i := range d.p.Precautions {
		if d.p.Precautions[i].Kind == k {
			d.p.Precautions[i].Words = words
		}
	}
	d.check()
}

// bring adds a precaution and what goes with it.
func (d *Draft) bring(q program.Precaution) {
	d.p.Precautions = append(d.p.Precautions, q)
	b := q.Kind.Defaults()
	for _, l := range b.Limits {
		if w := (Where{Of: All}); d.find(w, l.Joints) < 0 {
			d.insert(w, l)
		}
	}
	for _, a := range b.Avoid {
		if !slices.Contains(d.p.Avoid, a) {
			d.p.Avoid = append(d.p.Avoid, a)
		}
	}
	if b.Cue != "" {
		d.p.Cue = b.Cue
	}
	d.p.SideViewCheck = d.p.SideViewCheck || b.SideViewCheck
}

// SetAvoid says whether something is to be avoided in every exercise.
func (d *Draft) SetAvoid(a program.Avoid, on bool) {
	i := slices.Index(d.p.Avoid, a)
	switch {
	case on && i < 0:
		d.p.Avoid = append(d.p.Avoid, a)
	case !on && i >= 0:
		d.p.Avoid = slices.Delete(d.p.Avoid, i, i+1)
	}
	d.check()
}

// SetEarlyCue says whether the client is told early of a joint at its limit.
func (d *Draft) SetEarlyCue(on bool) {
	d.p.Cue = program.UsualCue
	if on {
		d.p.Cue = program.EarlyCue
	}
	d.check()
}

// SetSideView asks for the hand from the side before the first exercise.
func (d *Draft) SetSideView(on bool) {
	d.p.SideViewCheck = on
	d.check()
}
