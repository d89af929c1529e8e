package parts

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
)

// Flush lets what keeps room around it for the ring of the focus, such as a
// table or a line of buttons, stand flush with the words above it: the ring goes
// into the edge of the screen.
func Flush(o fyne.CanvasObject) *fyne.Container { return container.New(flush{}, o) }

type flush struct{}

func (flush) heightFor(objects []fyne.CanvasObject, width float32) float32 {
	return HeightFor(objects[0], width+2*ringRoom)
}

func (flush) MinSize(objects []fyne.CanvasObject) fyne.Size {
	return objects[0].MinSize().SubtractWidthHeight(2*ringRoom, 0)
}

func (flush) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	objects[0].Move(fyne.NewPos(-ringRoom, 0))
	objects[0].Resize(size.AddWidthHeight(2*ringRoom, 0))
}

// Inset is the room that Flush takes away, for what stands in it and is flush
// already.
func Inset(o fyne.CanvasObject) *fyne.Container { return container.New(inset{}, o) }

type inset struct{}

func (inset) heightFor(objects []fyne.CanvasObject, width float32) float32 {
	return HeightFor(objects[0], width-2*ringRoom)
}

func (inset) MinSize(objects []fyne.CanvasObject) fyne.Size {
	return objects[0].MinSize().AddWidthHeight(2*ringRoom, 0)
}

func (inset) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	objects[0].Move(fyne.NewPos(ringRoom, 0))
	objects[0].Resize(size.SubtractWidthHeight(2*ringRoom, 0))
}
