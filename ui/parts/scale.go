package parts

import (
	"fmt"
	"slices"

	"fyne.io/fyne/v2"

	"volar/ui/look"
)

// TenKey stands for ten, since no keyboard has a key for it.
const TenKey = fyne.KeyT

// Scale asks for a number from 0 to 10 with one touch or one key: the digits,
// T for ten, or the arrows and Enter.
type Scale struct {
	buttons []*Button
	box     *fyne.Container
	choose  func(int)
}

// NewScale makes a scale that calls choose once a number is chosen.
func NewScale(choose func(n int)) *Scale {
	s := &Scale{choose: choose}
	var objects []fyne.CanvasObject
	for n := 0; n <= 10; n++ {
		key := ""
		if n == 10 {
			key = string(TenKey)
		}
		b := NewButton(Plain, fmt.Sprint(n), key, func() { choose(n) }).AtLeast(look.Target + 6)
		s.buttons = append(s.buttons, b)
		objects = append(objects, b)
	}
	weights := make([]float32, len(objects))
	for i := range weights {
		weights[i] = 1
	}
	s.box = Row(2, weights, objects...)
	return s
}

// Content is what to show.
func (s *Scale) Content() fyne.CanvasObject { return s.box }

// First is the button for 0.
func (s *Scale) First() fyne.Focusable { return s.buttons[0] }

// Key takes a key; false where it means nothing here.
func (s *Scale) Key(k fyne.KeyName) bool {
	switch {
	case len(k) == 1 && k[0] >= '0' && k[0] <= '9':
		s.choose(int(k[0] - '0'))
	case k == TenKey:
		s.choose(10)
	default:
		return Arrows(k, s.buttons)
	}
	return true
}

// Arrows moves the focus along a line of buttons with the arrow keys; false
// where the key is no arrow.
func Arrows[T Focused](k fyne.KeyName, line []T) bool {
	step := 0
	switch k {
	case fyne.KeyLeft, fyne.KeyUp:
		step = -1
	case fyne.KeyRight, fyne.KeyDown:
		step = 1
	default:
		return false
	}
	line = slices.DeleteFunc(slices.Clone(line), func(o T) bool { return !o.Visible() })
	if len(line) == 0 {
		return true
	}
	var c fyne.Canvas
	at := -1
	for i, o := range line {
		if x := canvasOf(o); x != nil {
			c = x
			if c.Focused() == fyne.Focusable(o) {
				at = i
			}
		}
	}
	if c == nil {
		return true
	}
	switch at += step; {
	case at < 0:
		at = 0
	case at >= len(line):
		at = len(line) - 1
	}
	c.Focus(line[at])
	return true
}
