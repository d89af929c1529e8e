package parts

import "fyne.io/fyne/v2"

// Controls are what a screen is worked by: its buttons, each with the key that
// does the same, and what is taller than its room. It is part of a screen, which
// has its keys from it; the zero Controls has none.
type Controls struct {
	// Line is moved along by the arrow keys.
	Line []*Button
	// More is what Page Up and Page Down move; nil is nothing.
	More       *Scroller
	keys, ctrl map[fyne.KeyName]func()
}

// Clear forgets all of it, for a screen that is laid out anew.
func (c *Controls) Clear() { *c = Controls{} }

// On notes what a key does wherever no text is typed.
func (c *Controls) On(k fyne.KeyName, do func()) {
	if c.keys == nil {
		c.keys = map[fyne.KeyName]func(){}
	}
	c.keys[k] = do
}

// OnControl notes what Control with a key does, wherever the focus is.
func (c *Controls) OnControl(k fyne.KeyName, do func()) {
	if c.ctrl == nil {
		c.ctrl = map[fyne.KeyName]func(){}
	}
	c.ctrl[k] = do
}

// Does is what a key does; nil is nothing.
func (c *Controls) Does(k fyne.KeyName) func() { return c.keys[k] }

// Add puts a button at the end of the line.
func (c *Controls) Add(b *Button) *Button {
	c.Line = append(c.Line, b)
	return b
}

// keyNames are keys whose name is not what stands on them.
var keyNames = map[fyne.KeyName]string{
	fyne.KeyReturn: "Enter", fyne.KeyEscape: "Esc", fyne.KeySpace: "Space", fyne.KeyBackspace: "Back",
	fyne.KeyLeft: "←", fyne.KeyRight: "→", fyne.KeyUp: "↑", fyne.KeyDown: "↓",
}

// Action makes a button that a key works too, wherever no text is typed; without
// a key the button alone.
func (c *Controls) Action(kind Kind, label string, k fyne.KeyName, do func()) *Button {
	name, ok := keyNames[k]
	if !ok {
		name = string(k)
	}
	if k != "" {
		c.On(k, do)
	}
	return c.Add(NewButton(kind, label, name, do))
}

// ControlAction makes a button that Control with a key works too, wherever the
// focus is.
func (c *Controls) ControlAction(kind Kind, label string, k fyne.KeyName, do func()) *Button {
	c.OnControl(k, do)
	return c.Add(NewButton(kind, label, "Ctrl "+string(k), do))
}

// Scroll lets a part of the screen be taller than the room for it.
func (c *Controls) Scroll(o fyne.CanvasObject) *Scroller {
	c.More = NewScroller(o)
	return c.More
}

// Key is part of Screen.
func (c *Controls) Key(k fyne.KeyName) {
	if do := c.keys[k]; do != nil {
		do()
		return
	}
	switch {
	case c.More != nil && k == fyne.KeyPageDown:
		c.More.By(0.8)
	case c.More != nil && k == fyne.KeyPageUp:
		c.More.By(-0.8)
	default:
		Arrows(k, c.Line)
	}
}

// Control takes a key pressed with Control.
func (c *Controls) Control(k fyne.KeyName) {
	if do := c.ctrl[k]; do != nil {
		do()
	}
}
