package reading

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
)

// shares gives objects shares of the room, side by side or one below the other,
// whatever they need: what is drawn fits itself in.
type shares struct {
	parts []float32
	down  bool
}

// below shares the height evenly.
func below(o ...fyne.CanvasObject) *fyne.Container {
	return container.New(&shares{down: true}, o...)
}

// side shares the width evenly.
func side(o ...fyne.CanvasObject) *fyne.Container { return container.New(&shares{}, o...) }

// over gives the upper more of the height than the lower.
func over(upper, lower fyne.CanvasObject, share float32) *fyne.Container {
	return container.New(&shares{parts: []float32{share, 1 - share}, down: true}, upper, lower)
}

// beside gives the left a share of the width.
func beside(left, right fyne.CanvasObject, share float32) *fyne.Container {
	return container.New(&shares{parts: []float32{share, 1 - share}}, left, right)
}

func (l *shares) share(i int, visible int) float32 {
	if l.parts != nil {
		return l.parts[i]
	}
	return 1 / float32(max(visible, 1))
}

// MinSize is part of fyne.Layout.
func (l *shares) MinSize(objects []fyne.CanvasObject) fyne.Size {
	var s fyne.Size
	n := 0
	for _, o := range objects {
		if !o.Visible() {
			continue
		}
		m := o.MinSize()
		if l.down {
			s.Width, s.Height = max(s.Width, m.Width), s.Height+m.Height
		} else {
			s.Width, s.Height = s.Width+m.Width, max(s.Height, m.Height)
		}
		n++
	}
	if l.down {
		s.Height += gap * float32(max(n-1, 0))
	} else {
		s.Width += gap * float32(max(n-1, 0))
	}
	return s
}

// Layout is part of fyne.Layout.
func (l *shares) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	n := 0
	for _, o := range objects {
		if o.Visible() {
			n++
		}
	}
	at := float32(0)
	for i, o := range objects {
		if !o.Visible() {
			continue
		}
		room := size.Width
		if l.down {
			room = size.Height
		}
		room = (room - gap*float32(max(n-1, 0))) * l.share(i, n)
		if l.down {
			o.Move(fyne.NewPos(0, at))
			o.Resize(fyne.NewSize(size.Width, room))
		} else {
			o.Move(fyne.NewPos(at, 0))
			o.Resize(fyne.NewSize(room, size.Height))
		}
		at += room + gap
	}
}
