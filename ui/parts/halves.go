package parts

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
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
