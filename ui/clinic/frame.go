package clinic

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/theme"

	"volar/ui/look"
	"volar/ui/parts"
)

const (
	edge = 14 // room at the window's edges
	gap  = 10 // between the parts of a screen
)

// base is what the screens have in common.
type base struct {
	parts.Controls
	c     *Clinic
	title string
	first fyne.Focusable
}

// Title is what the window is called.
func (b *base) Title() string { return b.title }

// First is part of parts.Screen.
func (b *base) First() fyne.Focusable { return b.first }

// Leave is part of parts.Screen.
func (b *base) Leave() {}

// goBack makes the button that leads back, as Escape does.
func (b *base) goBack(label string, do func()) *parts.Button {
	return b.Action(parts.Plain, label, fyne.KeyEscape, do)
}

// page lays a screen out: a head, what it is about, and its actions below.
func (b *base) page(title string, head, middle fyne.CanvasObject, actions ...fyne.CanvasObject) fyne.CanvasObject {
	b.title = title
	body := parts.Pad(edge, parts.Page(gap, head, middle, parts.Flow(gap, actions...)))
	return container.NewStack(newWatch(b.c.stir), body)
}

// fill lets a middle that grows with the window scroll where there is too
// little room for it.
func (b *base) fill(o fyne.CanvasObject) fyne.CanvasObject {
	b.More = parts.NewFiller(o)
	return b.More
}

// text is body text.
func text(s string) *parts.Words { return parts.NewWords(s, parts.Style{}) }

// quiet is lesser text.
func quiet(s string) *parts.Words { return parts.NewWords(s, parts.Style{Colour: look.Quiet}) }

// strong is a title within a screen.
func strong(s string) *parts.Words {
	return parts.NewWords(s, parts.Style{Size: theme.SizeNameSubHeadingText, Bold: true})
}

// caution is text with the caution sign.
func caution(s string) fyne.CanvasObject {
	return parts.Signed(parts.CautionSign, parts.NewWords(s, parts.Style{Colour: look.Caution, Bold: true}))
}

// note is a screen that says one thing.
type note struct {
	base
	words string
	do    func()
	label string
}

// newWait says what is going on; there is nothing to do meanwhile.
func newWait(c *Clinic, title, words string) *note {
	return &note{base: base{c: c, title: title}, words: words}
}

// newTrouble says what is wrong and offers to try again or to go on.
func newTrouble(c *Clinic, title, words string, again func()) *note {
	return &note{base: base{c: c, title: title}, words: words, label: "Try again", do: again}
}

// newNotice says something and goes on.
func newNotice(c *Clinic, title, words string, on func()) *note {
	return &note{base: base{c: c, title: title}, words: words, label: "Go on", do: on}
}

// Content is part of parts.Screen.
func (s *note) Content() fyne.CanvasObject {
	var actions []fyne.CanvasObject
	if s.do != nil {
		b := s.Action(parts.Lead, s.label, fyne.KeyReturn, s.do)
		s.first = b
		actions = append(actions, b)
	}
	if s.label == "Try again" {
		if s.c.store != nil {
			actions = append(actions, s.goBack("To the clients", s.c.clients))
		}
		actions = append(actions, parts.NewButton(parts.Plain, "Leave", "Ctrl Q", s.c.Quit))
	}
	return s.page(s.title, parts.Heading(s.title), s.Scroll(parts.Measure(text(s.words))), actions...)
}
