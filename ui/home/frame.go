package home

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/theme"

	"volar/ui/look"
	"volar/ui/parts"
)

const (
	edge = 16 // room at the window's edges
	gap  = 12 // between the parts of a screen
)

// screen lays a screen out: a title, what it is about, and its actions below;
// "It hurts" always stands in the lower right corner.
func (b *base) screen(title string, middle fyne.CanvasObject, actions ...fyne.CanvasObject) fyne.CanvasObject {
	return b.page(title, parts.Heading(title), middle, actions...)
}

// page is a screen with a head of its own; the title is the window's.
func (b *base) page(title string, head, middle fyne.CanvasObject, actions ...fyne.CanvasObject) fyne.CanvasObject {
	b.title = title
	n := len(actions)
	if n > 0 && actions[n-1] == b.stop {
		n--
	}
	rest := actions[n:]
	actions = actions[:n:n]
	var more *parts.Button
	if b.More != nil {
		more = b.moreButton()
		actions = append(actions, more)
	}
	foot := parts.Flow(gap, actions...)
	if len(rest) > 0 {
		foot = parts.Row(gap, []float32{1, 0}, foot, b.stop)
	}
	page := parts.Page(gap, head, middle, foot)
	if more != nil {
		b.More.OnChanged(func() { b.moreChanged(more, page) })
	}
	return container.NewStack(parts.Pad(edge, page))
}

// moreButton moves the middle of the screen down, and from its end to the
// beginning. It is there only while not all of the middle is in view.
func (b *base) moreButton() *parts.Button {
	on := func() {
		if b.More.AtEnd() {
			b.More.Top()
		} else {
			b.More.By(0.8)
		}
	}
	m := parts.NewButton(parts.Plain, moreBelow, "M", on).Holding(toTheTop)
	m.Hide()
	b.On(fyne.KeyM, func() {
		if m.Visible() {
			on()
		}
	})
	return b.Add(m)
}

const (
	moreBelow = "More"
	toTheTop  = "Top"
)

// moreChanged shows or hides the button, for which the page is laid out anew; that
// changes the middle again, and is heeded no more, so that it comes to an end
// in a window of any size.
func (b *base) moreChanged(m *parts.Button, page *fyne.Container) {
	if b.laying {
		return
	}
	label := moreBelow
	if b.More.AtEnd() {
		label = toTheTop
	}
	m.SetLabel(label)
	if over := b.More.Over(); over != m.Visible() {
		m.Hidden = !over
		b.laying = true
		page.Refresh()
		b.laying = false
	}
}

// text is body text.
func text(s string) *parts.Words { return parts.NewWords(s, parts.Style{}) }

// quiet is lesser text.
func quiet(s string) *parts.Words { return parts.NewWords(s, parts.Style{Colour: look.Quiet}) }

// quietRight is lesser text at the right end of its room.
func quietRight(s string) *parts.Words {
	return parts.NewWords(s, parts.Style{Colour: look.Quiet, Right: true})
}

// strong is text that stands out.
func strong(s string) *parts.Words {
	return parts.NewWords(s, parts.Style{Size: theme.SizeNameSubHeadingText, Bold: true})
}

// labelled is a small title over what it is the title of.
func labelled(title string, words ...string) fyne.CanvasObject {
	c := parts.Column(2, parts.NewWords(title, parts.Style{Size: theme.SizeNameCaptionText, Colour: look.Quiet, Bold: true}))
	for _, w := range words {
		c.Add(text(w))
	}
	return c
}

// hurtButton is "It hurts", the same on every screen.
func hurtButton(do func()) *parts.Button {
	return parts.NewButton(parts.Stop, "It hurts", "Esc", do)
}

// base is what most screens have in common.
type base struct {
	parts.Controls
	h     *Home
	title string
	first fyne.Focusable
	// laying is true while the page is laid out anew for the button below.
	laying bool
	// stop is "It hurts" where the screen has it; it is always the last action.
	stop fyne.CanvasObject
	left func()
}

// Title is what the window is called.
func (b *base) Title() string { return b.title }

// First is part of parts.Screen.
func (b *base) First() fyne.Focusable { return b.first }

// Key is part of parts.Screen: what is taller than its room is moved by Up and
// Down too.
func (b *base) Key(k fyne.KeyName) {
	by := map[fyne.KeyName]float32{fyne.KeyUp: -0.25, fyne.KeyDown: 0.25}[k]
	if by != 0 && b.Does(k) == nil && b.More != nil && b.More.Over() {
		b.More.By(by)
		return
	}
	b.Controls.Key(k)
}

// Leave is part of parts.Screen.
func (b *base) Leave() {
	if b.left != nil {
		b.left()
	}
}

// action makes a button that a key works too, from wherever the focus is.
func (b *base) action(kind parts.Kind, label string, k fyne.KeyName, do func()) *parts.Button {
	btn := b.Action(kind, label, k, do)
	if b.first == nil {
		b.first = btn
	}
	return btn
}

// hurt adds "It hurts".
func (b *base) hurt(do func()) *parts.Button {
	b.On(fyne.KeyEscape, do)
	btn := b.Add(hurtButton(do))
	b.stop = btn
	return btn
}
