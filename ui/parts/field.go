package parts

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"volar/ui/look"
)

// Field is a line, or some lines, to type into. Keys that mean nothing in a
// text go on to the screen: Escape and the function keys, in a single line
// also Up, Down, Page Up and Page Down and, without OnEnter, Enter; and so do
// shortcuts with Control.
type Field struct {
	widget.Entry
	// OnEnter, where not nil, is what Enter does in a single line.
	OnEnter func()
	ring    *canvas.Rectangle
	// pressed is true once a key went down while the field had the focus: the
	// letter that opened a screen comes to its first field too, as a rune.
	pressed bool
}

// NewField makes a single line that holds a text; changed, which may be nil, is
// told of every change by the person.
func NewField(text string, changed func(string)) *Field {
	f := &Field{ring: frame()}
	f.ExtendBaseWidget(f)
	f.Text, f.OnChanged = text, changed
	focus(f.ring, false)
	return f
}

// NewSecretField is a line whose text is not shown.
func NewSecretField() *Field {
	f := NewField("", nil)
	f.Password = true
	return f
}

// NewNotes makes some lines for text that wraps. Tab goes on from it.
func NewNotes(text string, rows int, changed func(string)) *Field {
	f := NewField(text, changed)
	f.MultiLine, f.Wrapping = true, fyne.TextWrapWord
	f.SetMinRowsVisible(rows)
	return f
}

// Hint shows a text while the field is empty.
func (f *Field) Hint(s string) *Field {
	f.PlaceHolder = s
	return f
}

// MinSize is at least a target's.
func (f *Field) MinSize() fyne.Size { return f.Entry.MinSize().Max(fyne.NewSize(120, target())) }

// AcceptsTab leaves Tab to the window.
func (f *Field) AcceptsTab() bool { return false }

// FocusGained is part of fyne.Focusable.
func (f *Field) FocusGained() {
	f.Entry.FocusGained()
	focus(f.ring, true)
	canvas.Refresh(f.ring)
	Reveal(f)
}

// FocusLost is part of fyne.Focusable.
func (f *Field) FocusLost() {
	f.Entry.FocusLost()
	f.pressed = false
	focus(f.ring, false)
	canvas.Refresh(f.ring)
}

// KeyDown is part of desktop.Keyable.
func (f *Field) KeyDown(ev *fyne.KeyEvent) {
	f.pressed = true
	stir(f, ev)
	f.Entry.KeyDown(ev)
}

// TypedRune is part of fyne.Focusable.
func (f *Field) TypedRune(r rune) {
	if f.pressed {
		f.Entry.TypedRune(r)
	}
}

// TypedKey is part of fyne.Focusable.
func (f *Field) TypedKey(ev *fyne.KeyEvent) {
	switch ev.Name {
	case fyne.KeyUp, fyne.KeyDown, fyne.KeyPageUp, fyne.KeyPageDown:
		if !f.MultiLine {
			Pass(f, ev)
			return
		}
	case fyne.KeyReturn, fyne.KeyEnter:
		if !f.MultiLine {
			if f.OnEnter != nil {
				f.OnEnter()
			} else {
				Pass(f, ev)
			}
			return
		}
	case fyne.KeyEscape, fyne.KeyF1, fyne.KeyF2, fyne.KeyF3, fyne.KeyF4, fyne.KeyF5, fyne.KeyF6, fyne.KeyF7, fyne.KeyF8, fyne.KeyF9, fyne.KeyF10, fyne.KeyF11, fyne.KeyF12:
		Pass(f, ev)
		return
	}
	f.Entry.TypedKey(ev)
}

// TypedShortcut is part of fyne.Shortcutable.
func (f *Field) TypedShortcut(s fyne.Shortcut) {
	if k, ok := s.(*desktop.CustomShortcut); ok && len(k.KeyName) == 1 {
		if c, ok := canvasOf(f).(fyne.Shortcutable); ok {
			c.TypedShortcut(s)
		}
		return
	}
	f.Entry.TypedShortcut(s)
}

// FormRow is a field under its label, with room below for what is wrong with
// it.
type FormRow struct {
	box     *fyne.Container
	problem *Words
	sign    *fyne.Container
	note    *Words
}

// NewFormRow labels a field or another object.
func NewFormRow(label string, o fyne.CanvasObject) *FormRow {
	r := &FormRow{problem: NewWords("", Style{Size: theme.SizeNameCaptionText, Colour: look.Caution, Bold: true})}
	if f, ok := o.(*Field); ok {
		o = Flush(container.NewStack(f.ring, Pad(ringRoom, f)))
	}
	r.sign = Row(6, []float32{0, 1}, NewBadge(CautionSign, 1.3*theme.CaptionTextSize()), r.problem)
	r.sign.Hide()
	r.note = NewWords("", Style{Size: theme.SizeNameCaptionText})
	r.note.Hide()
	r.box = Column(2, NewWords(label, Style{Size: theme.SizeNameCaptionText, Colour: look.Quiet, Bold: true}), o, r.sign, r.note)
	return r
}

// Content is what to show.
func (r *FormRow) Content() fyne.CanvasObject { return r.box }

// Problem says what is wrong, with a sign; empty is nothing.
func (r *FormRow) Problem(text string) {
	if text == r.problem.Text() {
		return
	}
	r.problem.Set(text)
	if text == "" {
		r.sign.Hide()
	} else {
		r.sign.Show()
	}
	Settle(r.box)
}

// Say says below what is typed what it means; it gives way to a problem.
func (r *FormRow) Say(text string) {
	if text == r.note.Text() {
		return
	}
	r.note.Set(text)
	if text == "" {
		r.note.Hide()
	} else {
		r.note.Show()
	}
	Settle(r.box)
}

// Told is what the row says is wrong.
func (r *FormRow) Told() string { return r.problem.Text() }

// Settle lays out anew all that an object is in, once its height has changed.
func Settle(o fyne.CanvasObject) {
	c := fyne.CurrentApp().Driver().CanvasForObject(o)
	if c == nil {
		return
	}
	settle(c.Content(), o)
}

// settle lays out what holds the object, from the outside in.
func settle(in, o fyne.CanvasObject) bool {
	switch in := in.(type) {
	case *fyne.Container:
		if in == o || holds(in, o) {
			in.Refresh()
			in.Layout.Layout(in.Objects, in.Size())
			for _, child := range in.Objects {
				settle(child, o)
			}
			return true
		}
	case *Scroller:
		if holds(in.content, o) {
			in.Resize(in.Size())
			settle(in.content, o)
			return true
		}
	case *Card:
		in.Refresh()
	}
	return false
}
