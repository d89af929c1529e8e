package parts

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/theme"
)

// Halves puts objects one below the other, each as tall as the others.
func Halves(gap float32, objects ...fyne.CanvasObject) *fyne.Container {
	return container.New(&halves{gap}, objects...)
}

type halves struct{ gap float32 }

func (l *halves) MinSize(objects []fyne.CanvasObject) fyne.Size {
	var s fyne.Size
	n := float32(0)
	for _, o := range shown(objects) {
		s = s.Max(o.MinSize())
		n++
	}
	return fyne.NewSize(s.Width, max(0, n*(s.Height+l.gap)-l.gap))
}

func (l *halves) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	objects = shown(objects)
	n := float32(len(objects))
	h := (size.Height - (n-1)*l.gap) / n
	for i, o := range objects {
		o.Move(fyne.NewPos(0, float32(i)*(h+l.gap)))
		o.Resize(fyne.NewSize(size.Width, h))
	}
}

// Sides puts two objects side by side where there is room for so many letters
// of text in a line of both, else one below the other.
func Sides(gap, letters float32, a, b fyne.CanvasObject) *fyne.Container {
	return container.New(&sides{gap: gap, letters: letters}, a, b)
}

type sides struct{ gap, letters, width float32 }

// stacked says whether the width is too little; a letter is about half as wide
// as the text is high.
func (l *sides) stacked(width float32) bool { return width < l.letters*theme.TextSize()/2 }

func (l *sides) half(width float32) float32 { return (width - l.gap) / 2 }

func (l *sides) heightFor(objects []fyne.CanvasObject, width float32) float32 {
	if l.stacked(width) {
		return HeightFor(objects[0], width) + l.gap + HeightFor(objects[1], width)
	}
	return max(HeightFor(objects[0], l.half(width)), HeightFor(objects[1], l.half(width)))
}

func (l *sides) MinSize(objects []fyne.CanvasObject) fyne.Size {
	w := max(objects[0].MinSize().Width, objects[1].MinSize().Width)
	if !l.stacked(laid(w, l.width)) {
		w = 2*w + l.gap
	}
	return fyne.NewSize(w, l.heightFor(objects, laid(w, l.width)))
}

func (l *sides) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	l.width = size.Width
	a, b := objects[0], objects[1]
	a.Move(fyne.NewPos(0, 0))
	if !l.stacked(size.Width) {
		w := l.half(size.Width)
		a.Resize(fyne.NewSize(w, size.Height))
		b.Move(fyne.NewPos(w+l.gap, 0))
		b.Resize(fyne.NewSize(w, size.Height))
		return
	}
	h, k := HeightFor(a, size.Width), HeightFor(b, size.Width)
	over := max(0, size.Height-h-k-l.gap) / 2
	a.Resize(fyne.NewSize(size.Width, h+over))
	b.Move(fyne.NewPos(0, h+over+l.gap))
	b.Resize(fyne.NewSize(size.Width, k+over))
}
