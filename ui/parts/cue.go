package parts

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"volar/ui/look"
)

// CueLine is the one thing that is said now. A fault has the caution sign, a
// dark ground and the bold type, so that it is told by shape too. Room for two
// lines is always kept, so that nothing moves when a cue comes.
type CueLine struct {
	widget.BaseWidget
	words *Words
	fault bool
}

const cuePad = 12

// NewCueLine makes an empty line.
func NewCueLine() *CueLine {
	c := &CueLine{words: NewWords("", Style{Size: look.SizeCue, Bold: true})}
	c.ExtendBaseWidget(c)
	return c
}

// Say shows a text; fault marks it as a warning.
func (c *CueLine) Say(text string, fault bool) {
	if text != c.words.text || fault != c.fault {
		c.words.text, c.fault = text, fault
		c.Refresh()
	}
}

// Text is what is said.
func (c *CueLine) Text() string { return c.words.text }

func (c *CueLine) signRoom() float32 { return theme.Size(look.SizeCue)*1.4 + cuePad }

// HeightFor is the height at a width: that of two lines, or of more small ones.
func (c *CueLine) HeightFor(width float32) float32 {
	w := width - 2*cuePad - c.signRoom()
	c.words.style.Size = look.SizeCue
	two := 2 * c.words.lineHeight()
	c.fit(w)
	return max(two, c.words.HeightFor(w)) + 2*cuePad
}

// fit takes smaller letters for a sentence that would need a third line.
func (c *CueLine) fit(width float32) {
	c.words.style.Size = look.SizeCue
	if len(c.words.lines(width)) > 2 {
		c.words.style.Size = look.SizeFigure
	}
}

// MinSize is part of fyne.CanvasObject.
func (c *CueLine) MinSize() fyne.Size {
	w := c.words.MinSize().Width + c.signRoom() + 2*cuePad
	return fyne.NewSize(w, c.HeightFor(laid(w, c.Size().Width)))
}

// CreateRenderer is part of fyne.Widget.
func (c *CueLine) CreateRenderer() fyne.WidgetRenderer {
	r := &cueRenderer{c: c, fill: frame(), sign: NewBadge(NoSign, 0)}
	r.Refresh()
	return r
}

type cueRenderer struct {
	c    *CueLine
	fill *canvas.Rectangle
	sign *Badge
}

func (r *cueRenderer) Layout(size fyne.Size) {
	r.fill.Resize(size)
	n := theme.Size(look.SizeCue) * 1.4
	r.sign.size = n
	r.sign.Move(fyne.NewPos(cuePad, (size.Height-n)/2))
	r.sign.Resize(fyne.NewSquareSize(n))
	in := r.c.signRoom() + cuePad
	w := size.Width - in - cuePad
	r.c.fit(w)
	line := r.c.words.lineHeight()
	used := line * float32(len(r.c.words.lines(w)))
	r.c.words.Move(fyne.NewPos(in, max(cuePad, (size.Height-used)/2)))
	r.c.words.Resize(fyne.NewSize(w, size.Height-2*cuePad))
}

func (r *cueRenderer) MinSize() fyne.Size { return r.c.MinSize() }

func (r *cueRenderer) Refresh() {
	edge, width, sign := look.Edge, float32(1.5), NoSign
	if r.c.fault {
		edge, width, sign = look.Caution, 6, CautionSign
	}
	r.fill.FillColor, r.fill.StrokeColor, r.fill.StrokeWidth = theme.Color(look.Card), theme.Color(edge), width
	r.sign.Set(sign)
	r.Layout(r.c.Size())
	r.c.words.Refresh()
	canvas.Refresh(r.fill)
}

func (r *cueRenderer) Objects() []fyne.CanvasObject {
	return []fyne.CanvasObject{r.fill, r.sign, r.c.words}
}

func (r *cueRenderer) Destroy() {}
