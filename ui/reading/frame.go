package reading

import (
	"fyne.io/fyne/v2"
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
	r     *Reader
	title string
	first fyne.Focusable
}

// Title is what the window is called.
func (b *base) Title() string { return b.title }

// First is part of parts.Screen.
func (b *base) First() fyne.Focusable { return b.first }

// Leave is part of parts.Screen.
func (b *base) Leave() {}

// page lays a screen out: a head, what it is about, and its actions below.
func (b *base) page(head, middle fyne.CanvasObject, actions ...fyne.CanvasObject) fyne.CanvasObject {
	return parts.Pad(edge, parts.Page(gap, head, middle, parts.Flow(gap, actions...)))
}

// text is body text.
func text(s string) *parts.Words { return parts.NewWords(s, parts.Style{}) }

// quiet is lesser text.
func quiet(s string) *parts.Words { return parts.NewWords(s, parts.Style{Colour: look.Quiet}) }

// small is lesser text in the small size.
func small(s string) *parts.Words {
	return parts.NewWords(s, parts.Style{Size: theme.SizeNameCaptionText, Colour: look.Quiet})
}

// strong is a title within a screen.
func strong(s string) *parts.Words {
	return parts.NewWords(s, parts.Style{Size: theme.SizeNameSubHeadingText, Bold: true})
}

// bold is body text that stands out.
func bold(s string) *parts.Words { return parts.NewWords(s, parts.Style{Bold: true}) }

// signed is text with a sign before it.
func signed(sign parts.Sign, s string) fyne.CanvasObject {
	return parts.Signed(sign, text(s))
}

// says is a screen that says one thing: that it is being read, or what is wrong.
type says struct {
	base
	words string
	again func()
	back  func()
}

// wait says what is going on.
func wait(r *Reader, title, words string, back func()) *says {
	return &says{base: base{r: r, title: title}, words: words, back: back}
}

// trouble says what is wrong and offers to try again.
func trouble(r *Reader, title string, err error, again, back func()) *says {
	return &says{base: base{r: r, title: title}, words: r.opt.Words(err), again: again, back: back}
}

// Content is part of parts.Screen.
func (s *says) Content() fyne.CanvasObject {
	var actions []fyne.CanvasObject
	if s.again != nil {
		actions = append(actions, s.Action(parts.Lead, "Try again", fyne.KeyReturn, s.again))
	}
	actions = append(actions, s.Action(parts.Plain, "Back", fyne.KeyEscape, s.back))
	s.first = s.Line[0]
	return s.page(parts.Heading(s.title), s.Scroll(parts.Column(gap, text(s.words))), actions...)
}
