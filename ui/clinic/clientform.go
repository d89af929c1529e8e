package clinic

import (
	"slices"
	"strings"

	"fyne.io/fyne/v2"

	"volar/internal/clinicstore"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/ui/parts"
)

// clientForm makes a client, or changes one.
type clientForm struct {
	base
	client, was clinicstore.Client
	fresh       bool
	// nextReview and keepUntil are the days as they are typed.
	nextReview, keepUntil  string
	code, review, keep     *parts.FormRow
	hands                  *parts.FormRow
	words                  map[program.PrecautionKind]*parts.Field
	codeField              *parts.Field
	reviewField, keepField *parts.Field
}

func newClientForm(c *Clinic, client clinicstore.Client, fresh bool) *clientForm {
	if fresh {
		client.Hands = hand.Right.String()
		if n := c.set.KeepYears; n > 0 {
			client.KeepUntil = c.day().AddDays(n * 365)
		}
	}
	s := &clientForm{base: base{c: c}, client: client, was: client, fresh: fresh}
	s.nextReview, s.keepUntil = client.NextReview.String(), client.KeepUntil.String()
	return s
}

// whatHands are the choices of Client.Hands.
var whatHands = []string{hand.Right.String(), hand.Left.String(), clinicstore.Both}

// Content is part of parts.Screen.
func (s *clientForm) Content() fyne.CanvasObject {
	c := &s.client
	s.first, s.Line = nil, nil
	title := "Change " + c.Code
	if s.fresh {
		title = "New client"
	}
	left := parts.Column(gap)
	if s.fresh {
		s.codeField = parts.NewField(c.Code, func(t string) {
			c.Code = strings.TrimSpace(t)
			s.validate()
		}).Hint("such as K-104")
		s.code = parts.NewFormRow("Code of the clinic's own, never a name", s.codeField)
		s.first = s.codeField
		left.Add(s.code.Content())
	}
	picks := parts.NewPicks([]string{"right hand", "left hand", "both hands"}, slices.Index(whatHands, c.Hands), func(i int) {
		c.Hands = whatHands[i]
		s.validate()
	})
	s.hands = parts.NewFormRow("What is treated", picks.Content())
	if s.first == nil {
		s.first = picks.First()
	}
	s.reviewField = parts.NewField(s.nextReview, func(t string) {
		s.nextReview = t
		s.validate()
	}).Hint("year-month-day, or none")
	s.review = parts.NewFormRow("Next review", s.reviewField)
	s.keepField = parts.NewField(s.keepUntil, func(t string) {
		s.keepUntil = t
		s.validate()
	}).Hint("year-month-day, or none")
	s.keep = parts.NewFormRow("Last day on which anything is kept; then all of it is removed", s.keepField)
	left.Add(s.hands.Content())
	left.Add(s.review.Content())
	left.Add(s.keep.Content())
	left.Add(parts.NewFormRow("Pictures of flagged moments are kept only where both agree", parts.Flow(4,
		parts.NewTick("the client agrees", c.PicturesClient, func(on bool) { c.PicturesClient = on }),
		parts.NewTick("the clinic agrees", c.PicturesTherapist, func(on bool) { c.PicturesTherapist = on }),
	)).Content())

	right := parts.Column(4, strong("Precautions"), quiet("They bring their usual limits and dose into a new program, where each can be changed (common practice)."))
	s.words = map[program.PrecautionKind]*parts.Field{}
	for _, k := range program.PrecautionKinds {
		field := parts.NewField("", func(t string) { s.precaution(k, nil, &t) }).Hint("which finger or joint, in your words")
		on := false
		if i := s.find(k); i >= 0 {
			on, field.Text = true, c.Precautions[i].Words
		}
		row := parts.NewFormRow(k.Defaults().Why, field)
		words := row.Content()
		if !on {
			words.Hide()
		}
		right.Add(parts.NewTick(precautionNames[k], on, func(on bool) {
			s.precaution(k, &on, nil)
			if on {
				words.Show()
			} else {
				words.Hide()
			}
			parts.Settle(words)
		}))
		right.Add(words)
		s.words[k] = field
	}
	body := parts.Row(3*gap, []float32{1, 1}, left, right)
	actions := []fyne.CanvasObject{s.ControlAction(parts.Lead, "Save", fyne.KeyS, s.save), s.goBack("Back without saving", s.leaving)}
	if !s.fresh {
		actions = append(actions, s.Action(parts.Plain, "Remove this client …", "", func() { s.c.show(newRemoval(s.c, c.Code)) }))
	}
	out := s.page(title, parts.Heading(title), s.Scroll(body), actions...)
	return out
}

// leaving leads back, and asks before what was filled in is dropped.
func (s *clientForm) leaving() {
	if s.Unsaved() {
		s.Ask(s.leaveForm)
		return
	}
	s.leaveForm()
}

// Unsaved is part of Drafting: whether anything differs from what the form
// began with.
func (s *clientForm) Unsaved() bool {
	is, was := s.client, s.was
	return is.Code != was.Code || is.Hands != was.Hands || s.nextReview != was.NextReview.String() || s.keepUntil != was.KeepUntil.String() ||
		is.PicturesClient != was.PicturesClient || is.PicturesTherapist != was.PicturesTherapist || !slices.Equal(is.Precautions, was.Precautions)
}

// Ask is part of Drafting.
func (s *clientForm) Ask(then func()) {
	again := func() {
		s.c.show(s)
		s.validate()
	}
	s.c.show(&discard{
		base: base{c: s.c}, words: "What was filled in about this client is not saved yet.", label: "Save the client", keep: again,
		save: func() {
			again()
			s.save()
		},
		then: then,
	})
}

func (s *clientForm) leaveForm() {
	if s.fresh {
		s.c.clients()
		return
	}
	s.c.client(s.client.Code)
}

func (s *clientForm) find(k program.PrecautionKind) int {
	return slices.IndexFunc(s.client.Precautions, func(p program.Precaution) bool { return p.Kind == k })
}

// precaution turns one on or off, or changes its words.
func (s *clientForm) precaution(k program.PrecautionKind, on *bool, words *string) {
	all, i := s.client.Precautions, s.find(k)
	switch {
	case on != nil && *on && i < 0:
		s.client.Precautions = append(slices.Clone(all), program.Precaution{Kind: k, Words: s.words[k].Text})
	case on != nil && !*on && i >= 0:
		s.client.Precautions = slices.Delete(slices.Clone(all), i, i+1)
	case words != nil && i >= 0:
		s.client.Precautions = slices.Clone(all)
		s.client.Precautions[i].Words = *words
	}
}

// validate shows what is wrong beside each field, and says whether all is well.
// An empty code is no fault before the form is saved.
func (s *clientForm) validate() bool {
	ok := true
	date := func(f *parts.Field, to *program.Date) string {
		d, err := clinicstore.ParseDay(f.Text)
		if err != nil {
			ok = false
			return sentence(err.Error())
		}
		*to = d
		return ""
	}
	review := date(s.reviewField, &s.client.NextReview)
	keep := date(s.keepField, &s.client.KeepUntil)
	problems := clinicstore.FieldErrors(s.client.Check(s.c.day()))
	if s.code != nil {
		text := sentence(problems["Code"])
		if text == "" && s.client.Code != "" {
			if has, err := s.c.store.HasClient(s.c.ctx, s.client.Code); err == nil && has {
				text, ok = "There is a client of this code already.", false
			}
		}
		if s.client.Code != "" || text == "" {
			s.code.Problem(text)
		}
	}
	s.hands.Problem(sentence(problems["Hands"]))
	s.review.Problem(review)
	if keep == "" {
		keep = sentence(problems["KeepUntil"])
	}
	s.keep.Problem(keep)
	return ok && len(problems) == 0
}

func (s *clientForm) save() {
	if !s.validate() {
		if s.code != nil && s.client.Code == "" {
			s.code.Problem("A client needs a code.")
			s.c.opt.Window.Canvas().Focus(s.codeField)
		}
		return
	}
	if err := s.c.store.PutClient(s.c.ctx, s.client); err != nil {
		s.c.trouble("The client could not be saved", err, s.save)
		return
	}
	s.c.chosen = s.client.Code
	s.c.client(s.client.Code)
}

// removal asks before a client is removed for good.
type removal struct {
	base
	code string
}

func newRemoval(c *Clinic, code string) *removal { return &removal{base: base{c: c}, code: code} }

// Content is part of parts.Screen.
func (s *removal) Content() fyne.CanvasObject {
	title := "Remove " + s.code + "?"
	keep := s.goBack("Keep "+s.code, func() { s.c.client(s.code) })
	s.first = keep
	return s.page(title, parts.Heading(title), s.Scroll(parts.Measure(parts.Column(gap,
		text("The programs, recorded hands, sessions and reviews of this client are removed and overwritten. It cannot be taken back."),
		text("Backups that were made before still hold them.")))),
		keep, s.Action(parts.Plain, "Remove for good", fyne.KeyR, func() {
			if err := s.c.store.DeleteClient(s.c.ctx, s.code); err != nil {
				s.c.trouble("The client could not be removed", err, func() { s.c.client(s.code) })
				return
			}
			s.c.chosen = ""
			s.c.clients()
		}))
}
