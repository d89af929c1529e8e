package clinic

import (
	"fmt"
	"slices"

	"fyne.io/fyne/v2"

	"volar/internal/program"
	"volar/internal/program/draft"
	"volar/ui/parts"
)

// precautions is the section of precautions and of what they bring.
type precautions struct{ section }

func newPrecautions(e *editor) *precautions { return &precautions{section{base: base{c: e.c}, e: e}} }

// Content is part of parts.Screen.
func (s *precautions) Content() fyne.CanvasObject {
	d, p := s.e.d, s.e.d.Program()
	left := parts.Column(4, strong("Precautions"), quiet("Turning one on writes its usual limits and restrictions into this program. Each can be changed. The surgeon's protocol and local rules come first."))
	for i, k := range program.PrecautionKinds {
		at := slices.IndexFunc(p.Precautions, func(q program.Precaution) bool { return q.Kind == k })
		t := parts.NewTick(precautionNames[k], at >= 0, func(on bool) {
			d.SetPrecaution(k, on)
			s.c.show(newPrecautions(s.e))
		})
		if i == 0 {
			s.first = t
		}
		left.Add(t)
		if at >= 0 {
			_, words := s.field(fmt.Sprintf("precautions[%d]", at+1), "brings: "+k.Defaults().Why, p.Precautions[at].Words, false, func(t string) { d.SetPrecautionWords(k, t) })
			left.Add(words)
			if to := (draft.Where{Of: draft.All, Other: true}); len(k.Defaults().Limits) > 0 && d.Lacking(to) >= 0 {
				// What a precaution brings is for the program's hand alone.
				left.Add(lacking(d, to))
				left.Add(parts.Flow(4, s.Action(parts.Plain, sameWords(d.Hand(to)), fyne.KeyM, func() {
					d.Same(draft.Where{Of: draft.All})
					s.c.show(newPrecautions(s.e))
				})))
			}
		}
	}
	right := parts.Column(4, strong("In every exercise"))
	avoid := parts.Column(0)
	for _, a := range program.Avoids {
		avoid.Add(parts.NewTick("avoid "+avoidNames[a], slices.Contains(p.Avoid, a), func(on bool) {
			d.SetAvoid(a, on)
			s.tell()
		}))
	}
	right.Add(s.labelled("avoid", "What no exercise may ask for", avoid))
	right.Add(parts.NewTick("tell the client early of a joint at its limit", p.Cue == program.EarlyCue, func(on bool) {
		d.SetEarlyCue(on)
		s.tell()
	}).Wrapped())
	right.Add(parts.NewTick("show the hand from the side before the first exercise", p.SideViewCheck, func(on bool) {
		d.SetSideView(on)
		s.tell()
	}).Wrapped())
	right.Add(strong("Limits set, on " + s.c.day().Words()))
	r := p.On(s.c.day())
	limits := program.BothLimitWords(r.Limits, r.OtherLimits, p.Side.Other().Hand())
	if len(limits) == 0 {
		right.Add(text("none"))
	}
	for _, l := range limits {
		right.Add(text(l))
	}
	return s.lay(2, s.Scroll(parts.Row(3*gap, []float32{1, 1}, left, right)))
}
