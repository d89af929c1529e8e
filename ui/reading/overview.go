package reading

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/review"
	"volar/internal/session"
	"volar/ui/look"
	"volar/ui/parts"
)

// overview is one session on a page: why it needs eyes, what the client said,
// what was done, and its flagged moments.
type overview struct {
	base
	f     *file
	back  func()
	cards []*parts.Choice
}

func newOverview(r *Reader, f *file, back func()) *overview {
	return &overview{base: base{r: r, title: "Session of " + f.s.Client}, f: f, back: back}
}

// Content is part of parts.Screen.
func (o *overview) Content() fyne.CanvasObject {
	o.Clear()
	o.cards, o.first = nil, nil
	o.r.reads(o.f)
	f, s := o.f, o.f.s
	head := parts.Column(2, parts.Heading(s.Client+", "+day(s.Started, s.Zone)), quiet(o.facts()))
	body := parts.Column(gap)
	for _, w := range f.entry.Why {
		body.Add(signed(parts.CautionSign, w.Words))
	}
	if len(f.entry.Why) == 0 {
		body.Add(signed(parts.Point, "All went as prescribed."))
	}
	for _, w := range o.steady() {
		body.Add(text(w))
	}
	for _, a := range s.Answers {
		if a.Kind == session.Note && strings.TrimSpace(a.Text) != "" {
			body.Add(text("The client wrote: “" + strings.TrimSpace(a.Text) + "”"))
		}
	}
	if n := len(f.moments); n > 0 {
		body.Add(strong(plural(n, "flagged moment", "flagged moments")))
		body.Add(small(hits(f.rate())))
		for _, i := range byJoint(f.moments) {
			body.Add(o.card(o.momentCard(&f.moments[i]), func() { o.replay(f.moments[i].Worst) }))
		}
	}
	body.Add(strong("Exercises"))
	for i := range s.Exercises {
		e := &s.Exercises[i]
		body.Add(o.card(o.exerciseCard(e), func() { o.replay(e.Start) }))
	}
	if list := o.said(); len(list) > 0 {
		body.Add(strong("What was said of it"))
		for _, x := range list {
			body.Add(x)
		}
	}
	var actions []fyne.CanvasObject
	if len(f.moments) > 0 {
		actions = append(actions, o.Action(parts.Lead, "First flagged moment", fyne.KeyN, func() { o.replay(f.moments[0].Worst) }))
	}
	actions = append(actions, o.Action(kindIf(len(f.moments) == 0), "Replay", fyne.KeyP, func() { o.replay(0) }))
	if f.writable() {
		actions = append(actions, o.Action(parts.Plain, "Note", fyne.KeyT, func() { o.r.show(newNote(o.r, f, o)) }))
		if f.entry.Read.IsZero() {
			actions = append(actions, o.Action(parts.Plain, "Mark as read", fyne.KeyR, o.read))
		}
	}
	if o.r.opt.Edit != nil {
		actions = append(actions, o.Action(parts.Plain, "Change limit or dose", fyne.KeyE, func() { o.edit("", hand.UnknownSide) }))
	}
	actions = append(actions,
		o.Action(parts.Plain, "Compare", fyne.KeyC, func() { o.r.show(newCompare(o.r, f, o)) }),
		o.Action(parts.Plain, "Weeks", fyne.KeyW, func() { o.r.show(newWeeks(o.r, s.Client, func() { o.r.show(o) })) }),
		o.Action(parts.Plain, "Back", fyne.KeyEscape, func() {
			o.r.reads(nil)
			o.back()
		}))
	if o.first == nil {
		o.first = o.Line[0]
	}
	return o.page(head, o.Scroll(body), actions...)
}

// steady tells of joints that read past straight all the time, and were not
// flagged, where that is no reason to look because it was told of before.
func (o *overview) steady() []string {
	if slices.ContainsFunc(o.f.entry.Why, func(w review.Why) bool { return w.Reason == review.PastStraight }) {
		return nil
	}
	var all []string
	for _, x := range review.Summarize(o.f.s).Standing {
		all = append(all, x.Words())
	}
	return all
}

func kindIf(lead bool) parts.Kind {
	if lead {
		return parts.Lead
	}
	return parts.Plain
}

func (o *overview) card(content fyne.CanvasObject, do func()) *parts.Choice {
	c := parts.NewChoice(content, false, do)
	o.cards = append(o.cards, c)
	if o.first == nil {
		o.first = c
	}
	return c
}

// facts is the line under the heading.
func (o *overview) facts() string {
	s, e := o.f.s, &o.f.entry
	parts := []string{minutes(s.Ended.Minutes())}
	if s.Version > 0 {
		parts = append(parts, fmt.Sprintf("program version %d", s.Version))
	} else {
		parts = append(parts, "without a program")
	}
	if e.Samples > 0 {
		parts = append(parts, fmt.Sprintf("hand seen in %.0f %% of the pictures", 100*float64(e.Found)/float64(e.Samples)))
	}
	parts = append(parts, "pain "+pain(e.PainBefore, e.PainAfter))
	if s.State != session.Closed {
		parts = append(parts, string(s.State))
	}
	if e.Read.IsZero() {
		parts = append(parts, "not read yet")
	} else {
		parts = append(parts, "read")
	}
	return review.Capital(strings.Join(parts, "; ")) + "."
}

// byJoint orders moments by joint, the farthest past the limit first.
func byJoint(m []review.Moment) []int {
	order := make([]int, len(m))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		if c := cmp.Compare(m[a].Subject, m[b].Subject); c != 0 {
			return c
		}
		return cmp.Compare(review.PastLimit(&m[b].Flag), review.PastLimit(&m[a].Flag))
	})
	return order
}

func (o *overview) momentCard(m *review.Moment) fyne.CanvasObject {
	sign := parts.CautionSign
	switch m.Judgement {
	case review.Right:
		sign = parts.DoneSign
	case review.Wrong:
		sign = parts.LeftOut
	}
	where := clock(m.Start) + o.f.whose(m)
	if m.Repetition > 0 {
		where += fmt.Sprintf(", repetition %d", m.Repetition)
	}
	if n := len(m.Pictures); n > 0 {
		where += ", " + plural(n, "picture", "pictures") + " kept"
	}
	return parts.Row(12, []float32{0, 3, 1}, parts.NewBadge(sign, 28),
		parts.Column(2, bold(review.Capital(review.FlagWords(&m.Flag))), small(where)), parts.NewWords(judged(m.Judgement), parts.Style{}))
}

func (o *overview) exerciseCard(e *session.Exercise) fyne.CanvasObject {
	title := fmt.Sprintf("%d  %s, %s hand", e.Number, review.MovementName(e.Movement), e.Side)
	if e.Object != "" {
		title += ", with " + e.Object
	}
	line := done(e.Counted, e.Prescribed()) + " repetitions"
	if e.Partial > 0 {
		line += fmt.Sprintf(", %d fell short", e.Partial)
	}
	if e.Unjudged > 0 {
		line += fmt.Sprintf(", %d not judged", e.Unjudged)
	}
	held, holds := 0, 0
	for _, x := range o.f.spans {
		if x.Exercise != e.Number {
			continue
		}
		switch x.Kind {
		case review.HoldMet:
			held++
			holds++
		case review.HoldShort, review.HoldUnsure:
			holds++
		}
	}
	did := review.ByHand(e, o.f.spans)
	// What each hand held stands with what else it did.
	if holds > 0 && did == nil {
		line += fmt.Sprintf("; %d of %d holds kept", held, holds)
	}
	line += fmt.Sprintf("; pain %s", pain(e.PainBefore, e.PainAfter))
	if e.Effort != nil {
		line += fmt.Sprintf("; effort %d of 10", *e.Effort)
	}
	c := parts.Column(2, bold(title), text(line+"."))
	for _, d := range did {
		c.Add(small(review.Capital(d.Side.String()) + " hand: " + d.Words() + "."))
	}
	if e.Outcome != session.Done {
		why := string(e.Outcome)
		if e.StopReason != "" {
			why += ": " + e.StopReason
		}
		c.Add(parts.NewWords(review.Capital(why)+".", parts.Style{Colour: look.Caution, Bold: true}))
	}
	if w := unjudged(e.NotJudged); w != "" {
		c.Add(small(w))
	}
	return c
}

// unjudged says what could not be judged for a tenth of the time or more.
func unjudged(list []session.NotJudged) string {
	var w []string
	for _, n := range list {
		if n.Share < 0.1 {
			continue
		}
		what := program.JointWords(n.Joint)
		if n.Extension {
			what += " past straight"
		}
		if n.Side != hand.UnknownSide {
			what = n.Side.String() + " " + what
		}
		w = append(w, fmt.Sprintf("%s %.0f %% (%s)", what, 100*n.Share, n.Why))
	}
	if len(w) == 0 {
		return ""
	}
	return "Not judged: " + strings.Join(w, ", ") + "."
}

// said lists the reviews in which something was written.
func (o *overview) said() []fyne.CanvasObject {
	var list []fyne.CanvasObject
	for _, v := range o.f.reviews {
		if v.Note.Empty() {
			continue
		}
		by := v.At.UTC().Format("2 Jan 2006, 15:04") + " UTC"
		if v.By != "" {
			by += ", " + v.By
		}
		list = append(list, parts.NewWords(by, parts.Style{Size: theme.SizeNameCaptionText, Colour: look.Quiet, Bold: true}))
		for _, p := range v.Note.Parts() {
			list = append(list, text(review.Capital(p.Name)+": "+p.Text))
		}
	}
	return list
}

func (o *overview) replay(at time.Duration) { o.r.show(newViewer(o.r, o.f, o, at)) }

func (o *overview) read() {
	if err := o.f.say(review.Review{Read: true}); err != nil {
		o.r.show(trouble(o.r, "It could not be marked as read", err, func() { o.r.show(o); o.read() }, func() { o.r.show(o) }))
		return
	}
	o.r.show(o)
}

// edit leaves for the editor of the program, to change an exercise or a hand's
// limits.
func (o *overview) edit(item string, side hand.Side) {
	o.r.reads(nil)
	o.r.opt.Edit(o.f.s.Client, item, side)
}

// Key is part of parts.Screen: the arrows go through the cards.
func (o *overview) Key(k fyne.KeyName) {
	o.f.act()
	if (k == fyne.KeyUp || k == fyne.KeyDown) && len(o.cards) > 0 {
		parts.Arrows(k, o.cards)
		return
	}
	o.base.Key(k)
}
