package parts

import (
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"volar/ui/look"
)

// Style says how words look; the zero Style is text in ink, from the left.
type Style struct {
	Size   fyne.ThemeSizeName
	Colour fyne.ThemeColorName
	Bold   bool
	// Centre and Right align each line; neither starts it at the left.
	Centre, Right bool
}

// Words is text that breaks into lines at the width it gets.
type Words struct {
	widget.BaseWidget
	text  string
	style Style
}

// NewWords makes text in a style.
func NewWords(text string, s Style) *Words {
	if s.Size == "" {
		s.Size = theme.SizeNameText
	}
	if s.Colour == "" {
		s.Colour = look.Ink
	}
	w := &Words{text: text, style: s}
	w.ExtendBaseWidget(w)
	return w
}

// Heading is the title of a screen.
func Heading(text string) *Words {
	return NewWords(text, Style{Size: theme.SizeNameHeadingText, Bold: true})
}

// Text is what the words say.
func (w *Words) Text() string { return w.text }

// Set changes the text.
func (w *Words) Set(text string) {
	if text != w.text {
		w.text = text
		w.Refresh()
	}
}

// SetColour changes the colour.
func (w *Words) SetColour(c fyne.ThemeColorName) {
	if c != w.style.Colour {
		w.style.Colour = c
		w.Refresh()
	}
}

func (w *Words) font() (float32, fyne.TextStyle) {
	return theme.Size(w.style.Size), fyne.TextStyle{Bold: w.style.Bold}
}

func (w *Words) lineHeight() float32 {
	size, style := w.font()
	return fyne.MeasureText("Mg", size, style).Height
}

// HeightFor is the height at a width.
func (w *Words) HeightFor(width float32) float32 {
	return w.lineHeight() * float32(max(len(w.lines(width)), 1))
}

// lines breaks the text at spaces; a word that is too long stands alone.
func (w *Words) lines(width float32) []string {
	size, style := w.font()
	var lines []string
	for _, paragraph := range strings.Split(w.text, "\n") {
		line := ""
		for _, word := range strings.Fields(paragraph) {
			longer := word
			if line != "" {
				longer = line + " " + word
			}
			if line != "" && fyne.MeasureText(longer, size, style).Width > width {
				lines = append(lines, line)
				longer = word
			}
			line = longer
		}
		lines = append(lines, line)
	}
	return lines
}

// MinSize is as wide as the longest word and as tall as the text is now.
func (w *Words) MinSize() fyne.Size {
	size, style := w.font()
	wide := float32(0)
	for _, word := range strings.Fields(w.text) {
		wide = max(wide, fyne.MeasureText(word, size, style).Width)
	}
	return fyne.NewSize(wide, w.HeightFor(laid(wide, w.Size().Width)))
}

// CreateRenderer is part of fyne.Widget.
func (w *Words) CreateRenderer() fyne.WidgetRenderer {
	r := &wordsRenderer{w: w}
	r.Refresh()
	return r
}

type wordsRenderer struct {
	w     *Words
	texts []*canvas.Text
}

func (r *wordsRenderer) Layout(size fyne.Size) {
	lines := r.w.lines(size.Width)
	font, style := r.w.font()
	colour := theme.Color(r.w.style.Colour)
	align := fyne.TextAlignLeading
	if r.w.style.Centre {
		align = fyne.TextAlignCenter
	} else if r.w.style.Right {
		align = fyne.TextAlignTrailing
	}
	h := r.w.lineHeight()
	r.texts = r.texts[:min(len(r.texts), len(lines))]
	for i, line := range lines {
		if i == len(r.texts) {
			r.texts = append(r.texts, canvas.NewText("", colour))
		}
		t := r.texts[i]
		changed := t.Text != line || t.TextSize != font || t.Color != colour
		t.Text, t.TextSize, t.TextStyle, t.Color, t.Alignment = line, font, style, colour, align
		t.Move(fyne.NewPos(0, float32(i)*h))
		t.Resize(fyne.NewSize(size.Width, h))
		if changed {
			t.Refresh()
		}
	}
}

func (r *wordsRenderer) MinSize() fyne.Size { return r.w.MinSize() }

func (r *wordsRenderer) Refresh() {
	r.Layout(r.w.Size())
	canvas.Refresh(r.w)
}

func (r *wordsRenderer) Objects() []fyne.CanvasObject {
	out := make([]fyne.CanvasObject, len(r.texts))
	for i, t := range r.texts {
		out[i] = t
	}
	return out
}

func (r *wordsRenderer) Destroy() {}
