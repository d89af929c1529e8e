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
	c     *Clinic
	title string
	first fyne.Focusable
	keys  map[fyne.KeyName]func()
	ctrl  map[fyne.KeyName]func()
	back  func()
	more  *parts.Scroller
	line  []*parts.Button
}

// Title is what the window is called.
func (b *base) Title() string { return b.title }

// First is part of parts.Screen.
func (b *base) First() fyne.Focusable { return b.first }

// Leave is part of parts.Screen.
func (b *base) Leave() {}

// Key is part of parts.Screen.
func (b *base) Key(k fyne.KeyName) {
	if f := b.keys[k]; f != nil {
		f()
		return
	}
	switch {
	case k == fyne.KeyEscape && b.back != nil:
		b.back()
	case b.more != nil && k == fyne.KeyPageDown:
		b.more.By(0.8)
	case b.more != nil && k == fyne.KeyPageUp:
		b.more.By(-0.8)
	default:
		parts.Arrows(k, b.line)
	}
}

// Control takes a key pressed with Control.
func (b *base) Control(k fyne.KeyName) {
	if f := b.ctrl[k]; f != nil {
		f()
	}
}

// on notes what a key does.
func (b *base) on(k fyne.KeyName, do func()) {
	if b.keys == nil {
		b.keys = map[fyne.KeyName]func(){}
	}
	b.keys[k] = do
}

// action makes a button that a key works too, wherever no text is typed.
func (b *base) action(kind parts.Kind, label string, k fyne.KeyName, do func()) *parts.Button {
	name := string(k)
	if k == fyne.KeyReturn {
		name = "Enter"
	}
	if k != "" {
		b.on(k, do)
	}
	btn := parts.NewButton(kind, label, name, do)
	b.line = append(b.line, btn)
	return btn
}

// control makes a button that Control with a key works too, wherever the focus
// is.
func (b *base) control(kind parts.Kind, label string, k fyne.KeyName, do func()) *parts.Button {
	if b.ctrl == nil {
		b.ctrl = map[fyne.KeyName]func(){}
	}
	b.ctrl[k] = do
	btn := parts.NewButton(kind, label, "Ctrl "+string(k), do)
	b.line = append(b.line, btn)
	return btn
}

// goBack makes the button that leads back, as Escape does.
func (b *base) goBack(label string, do func()) *parts.Button {
	b.back = do
	btn := parts.NewButton(parts.Plain, label, "Esc", do)
	b.line = append(b.line, btn)
	return btn
}

// page lays a screen out: a head, what it is about, and its actions below.
func (b *base) page(title string, head, middle fyne.CanvasObject, actions ...fyne.CanvasObject) fyne.CanvasObject {
	b.title = title
	body := parts.Pad(edge, parts.Page(gap, head, middle, parts.Flow(gap, actions...)))
	return container.NewStack(newWatch(b.c.stir), body)
}

// scroll lets the middle of a screen be taller than the window.
func (b *base) scroll(o fyne.CanvasObject) fyne.CanvasObject {
	b.more = parts.NewScroller(o)
	return b.more
}

// fill lets a middle that grows with the window scroll where there is too
// little room for it.
func (b *base) fill(o fyne.CanvasObject) fyne.CanvasObject {
	b.more = parts.NewFiller(o)
	return b.more
}

// large is true where the text is so large that less of it fits beside each
// other.
func large() bool { return theme.TextSize() > 24 }

// wide is a label, or a shorter one where the text is large.
func wide(label, short string) string {
	if large() {
		return short
	}
	return label
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
		b := s.action(parts.Lead, s.label, fyne.KeyReturn, s.do)
		s.first = b
		actions = append(actions, b)
	}
	if s.label == "Try again" {
		if s.c.store != nil {
			actions = append(actions, s.goBack("To the clients", s.c.clients))
		}
		actions = append(actions, parts.NewButton(parts.Plain, "Leave", "Ctrl Q", s.c.Quit))
	}
	return s.page(s.title, parts.Heading(s.title), s.scroll(parts.Measure(text(s.words))), actions...)
}
