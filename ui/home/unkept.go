package home

import (
	"fmt"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"volar/ui/parts"
)

// cannotKeep says that a session cannot be begun in the store.
type cannotKeep struct{ err error }

func (e *cannotKeep) Error() string { return e.err.Error() }
func (e *cannotKeep) Unwrap() error { return e.err }

// keptLine tells, above the cue and beside it, that what is done is not kept:
// the exercise goes on, and so does what the coach has to say.
type keptLine struct {
	h    *Home
	box  *fyne.Container
	text *parts.Words
	page *fyne.Container
}

// withoutKeeping is said where the client chose that.
const withoutKeeping = "Not kept: you are exercising without keeping it."

func newKeptLine(h *Home) *keptLine {
	k := &keptLine{h: h, text: parts.NewWords("", parts.Style{Size: theme.SizeNameCaptionText, Bold: true})}
	k.box = parts.Row(gap, []float32{0, 1}, parts.NewBadge(parts.CautionSign, 32), k.text)
	k.box.Hidden = true
	if h.sitting.rec == nil {
		k.text.Set(withoutKeeping)
		k.box.Hidden = false
	}
	return k
}

// say shows or hides the line; it changes the layout only then.
func (k *keptLine) say(err error) {
	words := ""
	switch {
	case k.h.sitting.rec == nil:
		words = withoutKeeping
	case err != nil:
		words = "Not kept at the moment: " + brief(k.h.opt.Words(err))
	}
	if words == k.text.Text() {
		return
	}
	k.text.Set(words)
	k.box.Hidden = words == ""
	k.page.Refresh()
}

// brief is the first sentence, and no more of it than two lines at twice the
// text; what to do stands on the screen after the exercise.
func brief(words string) string {
	const most = 70
	first, _, _ := strings.Cut(words, ". ")
	if r := []rune(first); len(r) > most {
		return string(r[:most]) + " …"
	}
	return strings.TrimSuffix(first, ".") + "."
}

// unkept says that not all of the sitting is kept yet, and holds on to it.
type unkept struct {
	base
	err error
}

func newUnkept(h *Home, err error) *unkept { return &unkept{base{h: h}, err} }

func (s *unkept) Content() fyne.CanvasObject {
	body := parts.Column(gap,
		parts.Row(gap, []float32{0, 1}, parts.NewBadge(parts.CautionSign, 56), text(s.h.opt.Words(s.err))),
		text("What you did is held in this computer's memory while this window is open."))
	actions := []fyne.CanvasObject{s.action(parts.Lead, "Try again", fyne.KeySpace, s.h.today)}
	actions = append(actions, s.free(s.h.today)...)
	actions = append(actions, s.action(parts.Plain, "Go on without keeping it", fyne.KeyG, func() {
		// It is given up as the client asked; the error is the one that is shown.
		s.h.sitting.close()
		s.h.sitting = nil
		s.h.today()
	}))
	return s.screen("What you did is not kept yet", s.Scroll(parts.Measure(body)), actions...)
}

// unkeepable says, before an exercise, that it could not be kept.
type unkeepable struct {
	base
	err  error
	plan *plan
	then func()
}

func newUnkeepable(h *Home, err *cannotKeep, p *plan, then func()) *unkeepable {
	return &unkeepable{base{h: h}, err, p, then}
}

func (s *unkeepable) Content() fyne.CanvasObject {
	body := parts.Column(gap,
		parts.Row(gap, []float32{0, 1}, parts.NewBadge(parts.CautionSign, 56), text(s.h.opt.Words(s.err))),
		text("You can exercise all the same. Your therapist would then not see it."))
	again := func() { s.h.sit(s.plan, s.then) }
	actions := []fyne.CanvasObject{s.action(parts.Lead, "Try again", fyne.KeySpace, again)}
	actions = append(actions, s.free(again)...)
	actions = append(actions,
		s.action(parts.Plain, "Exercise without keeping it", fyne.KeyW, func() { s.h.sitKeeping(s.plan, false, s.then) }),
		s.action(parts.Plain, "Back to today", fyne.KeyB, s.h.today))
	return s.screen("What you do cannot be kept now", s.Scroll(parts.Measure(body)), actions...)
}

// free offers to make room with what the store can spare, where there is any.
func (b *base) free(again func()) []fyne.CanvasObject {
	n, err := b.h.store.Spare()
	if err != nil || n == 0 {
		return nil // the client makes room elsewhere, as the words say
	}
	label := fmt.Sprintf("Remove older backups (%s)", megabytes(n))
	return []fyne.CanvasObject{b.action(parts.Plain, label, fyne.KeyF, func() {
		if err := b.h.store.Free(); err != nil {
			b.h.trouble("No room could be made", err, again)
			return
		}
		again()
	})}
}

func megabytes(n int64) string {
	if n < 1_000_000 {
		return "less than 1 MB"
	}
	return fmt.Sprintf("%d MB", n/1_000_000)
}
