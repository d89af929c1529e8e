package parts

import (
	"image"
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"volar/ui/look"
)

// Video shows pictures that come one after the other. They must be packed
// RGBA: anything else is converted on fyne's goroutine, and scaling by the
// graphics card is the only one that keeps up with a camera.
type Video struct {
	widget.BaseWidget
	picture *canvas.Image
	least   fyne.Size
}

// NewVideo makes a view that is at least so large.
func NewVideo(least fyne.Size) *Video {
	v := &Video{picture: canvas.NewImageFromImage(image.NewRGBA(image.Rect(0, 0, 4, 3))), least: least}
	v.picture.ScaleMode = canvas.ImageScaleFastest
	v.picture.FillMode = canvas.ImageFillContain
	v.ExtendBaseWidget(v)
	return v
}

// Picture puts a picture in the place of the last one. The view keeps it until
// the next.
func (v *Video) Picture(img *image.RGBA) {
	v.picture.Image = img
	v.picture.Refresh()
}

// MinSize is part of fyne.CanvasObject.
func (v *Video) MinSize() fyne.Size { return v.least }

// CreateRenderer is part of fyne.Widget.
func (v *Video) CreateRenderer() fyne.WidgetRenderer {
	r := &videoRenderer{v: v, edge: canvas.NewRectangle(color.Transparent)}
	r.Refresh()
	return r
}

type videoRenderer struct {
	v    *Video
	edge *canvas.Rectangle
}

func (r *videoRenderer) Layout(size fyne.Size) {
	r.edge.Resize(size)
	const in = 4
	r.v.picture.Move(fyne.NewPos(in, in))
	r.v.picture.Resize(size.SubtractWidthHeight(2*in, 2*in))
}

func (r *videoRenderer) MinSize() fyne.Size { return r.v.least }

func (r *videoRenderer) Refresh() {
	r.edge.FillColor, r.edge.CornerRadius = theme.Color(look.Track), cornerSize
	canvas.Refresh(r.edge)
}

func (r *videoRenderer) Objects() []fyne.CanvasObject {
	return []fyne.CanvasObject{r.edge, r.v.picture}
}

func (r *videoRenderer) Destroy() {}
