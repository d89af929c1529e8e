package parts

import (
	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/theme"
)

// flexible is an object or a layout whose height depends on the width it gets.
type flexible interface {
	HeightFor(width float32) float32
}

type flexibleLayout interface {
	heightFor(objects []fyne.CanvasObject, width float32) float32
}

// HeightFor is the height that an object needs at a width.
func HeightFor(o fyne.CanvasObject, width float32) float32 {
	if f, ok := o.(flexible); ok {
		return f.HeightFor(width)
	}
	if c, ok := o.(*fyne.Container); ok {
		if l, ok := c.Layout.(flexibleLayout); ok {
			return l.heightFor(c.Objects, width)
		}
	}
	return o.MinSize().Height
}

// assumed is the width at which a least height is reckoned: that within the
// smallest window, 1280 less its edges. A window asks for its least size while it is laid out
// narrower than it will be, and would grow to hold sentences that stand one
// word to a line.
const assumed = 1248

func laid(least, width float32) float32 { return max(least, width, assumed) }

func shown(objects []fyne.CanvasObject) []fyne.CanvasObject {
	var out []fyne.CanvasObject
	for _, o := range objects {
		if o.Visible() {
			out = append(out, o)
		}
	}
	return out
}

// Column puts objects one below the other, each as wide as the column.
func Column(gap float32, objects ...fyne.CanvasObject) *fyne.Container {
	return container.New(&column{gap: gap}, objects...)
}

type column struct{ gap, width float32 }

func (l *column) heightFor(objects []fyne.CanvasObject, width float32) float32 {
	h := float32(0)
	for i, o := range shown(objects) {
		if i > 0 {
			h += l.gap
		}
		h += outHeight(o, width)
	}
	return h
}

func (l *column) MinSize(objects []fyne.CanvasObject) fyne.Size {
	w := float32(0)
	for _, o := range shown(objects) {
		w = max(w, outWidth(o))
	}
	return fyne.NewSize(w, l.heightFor(objects, laid(w, l.width)))
}

func (l *column) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	l.width = size.Width
	y := float32(0)
	for _, o := range shown(objects) {
		h := outHeight(o, size.Width)
		put(o, fyne.NewPos(0, y), fyne.NewSize(size.Width, h))
		y += h + l.gap
	}
}

// Row puts objects side by side. Each gets its least width, and what is left
// goes by weight; an object without a weight gets none of it. The height is
// that of the row.
func Row(gap float32, weights []float32, objects ...fyne.CanvasObject) *fyne.Container {
	return container.New(&row{gap: gap, weights: weights}, objects...)
}

type row struct {
	gap, width float32
	weights    []float32
}

func (l *row) widths(objects []fyne.CanvasObject, width float32) []float32 {
	w := make([]float32, len(objects))
	left, sum := width, float32(0)
	for i, o := range objects {
		if !o.Visible() {
			continue
		}
		left -= l.gap
		if i < len(l.weights) && l.weights[i] > 0 {
			sum += l.weights[i]
			continue
		}
		w[i] = o.MinSize().Width
		left -= w[i]
	}
	left += l.gap
	// An object that needs more than its share gets that, and the others
	// share what remains.
	held := make([]bool, len(objects))
	for again := true; again && sum > 0; {
		again = false
		for i, o := range objects {
			if held[i] || !o.Visible() || i >= len(l.weights) || l.weights[i] <= 0 {
				continue
			}
			w[i] = max(left, 0) * l.weights[i] / sum
			if least := o.MinSize().Width; w[i] < least {
				w[i], held[i], again = least, true, true
				left -= least
				sum -= l.weights[i]
				break
			}
		}
	}
	return w
}

func (l *row) heightFor(objects []fyne.CanvasObject, width float32) float32 {
	h := float32(0)
	for i, w := range l.widths(objects, width) {
		if objects[i].Visible() {
			h = max(h, HeightFor(objects[i], w))
		}
	}
	return h
}

func (l *row) MinSize(objects []fyne.CanvasObject) fyne.Size {
	w := -l.gap
	for _, o := range shown(objects) {
		w += o.MinSize().Width + l.gap
	}
	return fyne.NewSize(max(w, 0), l.heightFor(objects, laid(w, l.width)))
}

func (l *row) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	l.width = size.Width
	x := float32(0)
	for i, w := range l.widths(objects, size.Width) {
		o := objects[i]
		if !o.Visible() {
			continue
		}
		o.Move(fyne.NewPos(x, 0))
		o.Resize(fyne.NewSize(w, size.Height))
		x += w + l.gap
	}
}

// Flow puts objects side by side at their own width and goes to a new line
// where one does not fit any more.
func Flow(gap float32, objects ...fyne.CanvasObject) *fyne.Container {
	return container.New(&flow{gap: gap}, objects...)
}

type flow struct{ gap, width float32 }

// lines is how many objects stand on each line.
func (l *flow) lines(objects []fyne.CanvasObject, width float32) []int {
	var lines []int
	x := float32(0)
	for _, o := range objects {
		w := o.MinSize().Width
		if len(lines) == 0 || x+l.gap+w > width {
			lines, x = append(lines, 0), -l.gap
		}
		lines[len(lines)-1]++
		x += l.gap + w
	}
	return lines
}

func (l *flow) heightFor(objects []fyne.CanvasObject, width float32) float32 {
	h, i := -l.gap, 0
	objects = shown(objects)
	for _, n := range l.lines(objects, width) {
		h += l.gap + tallest(objects[i:i+n])
		i += n
	}
	return max(h, 0)
}

func tallest(objects []fyne.CanvasObject) float32 {
	h := float32(0)
	for _, o := range objects {
		h = max(h, o.MinSize().Height)
	}
	return h
}

func (l *flow) MinSize(objects []fyne.CanvasObject) fyne.Size {
	w := float32(0)
	for _, o := range shown(objects) {
		w = max(w, o.MinSize().Width)
	}
	return fyne.NewSize(w, l.heightFor(objects, laid(w, l.width)))
}

func (l *flow) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	l.width = size.Width
	objects = shown(objects)
	y, i := float32(0), 0
	for _, n := range l.lines(objects, size.Width) {
		h, x := tallest(objects[i:i+n]), float32(0)
		for _, o := range objects[i : i+n] {
			w := o.MinSize().Width
			o.Move(fyne.NewPos(x, y))
			o.Resize(fyne.NewSize(w, h))
			x += w + l.gap
		}
		y += h + l.gap
		i += n
	}
}

// Shares puts objects one below the other in the height there is. Each gets its
// least height, and what is left goes by weight.
func Shares(gap float32, weights []float32, objects ...fyne.CanvasObject) *fyne.Container {
	return container.New(&shares{gap, weights}, objects...)
}

type shares struct {
	gap     float32
	weights []float32
}

func (l *shares) MinSize(objects []fyne.CanvasObject) fyne.Size {
	s := fyne.NewSize(0, -l.gap)
	for _, o := range objects {
		m := o.MinSize()
		s.Width, s.Height = max(s.Width, m.Width), s.Height+m.Height+l.gap
	}
	return s
}

func (l *shares) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	left, sum := size.Height-l.MinSize(objects).Height, float32(0)
	for _, w := range l.weights {
		sum += w
	}
	y := float32(0)
	for i, o := range objects {
		h := o.MinSize().Height + max(left, 0)*l.weights[i]/sum
		o.Move(fyne.NewPos(0, y))
		o.Resize(fyne.NewSize(size.Width, h))
		y += h + l.gap
	}
}

// Pad leaves room around an object.
func Pad(n float32, o fyne.CanvasObject) *fyne.Container {
	return container.New(&pad{n}, o)
}

type pad struct{ n float32 }

func (l *pad) heightFor(objects []fyne.CanvasObject, width float32) float32 {
	return HeightFor(objects[0], width-2*l.n) + 2*l.n
}

func (l *pad) MinSize(objects []fyne.CanvasObject) fyne.Size {
	return objects[0].MinSize().AddWidthHeight(2*l.n, 2*l.n)
}

func (l *pad) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	objects[0].Move(fyne.NewPos(l.n, l.n))
	objects[0].Resize(size.SubtractWidthHeight(2*l.n, 2*l.n))
}

// measured is how wide running text may be, in letters' heights: about 80
// letters to a line (WCAG 2.2, 1.4.8).
const measured = 46

// Measure keeps running text to a width that is read well; it stands at the
// left of what room there is.
func Measure(o fyne.CanvasObject) *fyne.Container {
	return container.New(&measure{}, o)
}

type measure struct{}

func (l *measure) width(width float32) float32 { return min(width, measured*theme.TextSize()) }

func (l *measure) heightFor(objects []fyne.CanvasObject, width float32) float32 {
	return HeightFor(objects[0], l.width(width))
}

func (l *measure) MinSize(objects []fyne.CanvasObject) fyne.Size { return objects[0].MinSize() }

func (l *measure) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	objects[0].Move(fyne.Position{})
	objects[0].Resize(fyne.NewSize(l.width(size.Width), size.Height))
}

// Page is a whole screen: a head and a foot at the height they need, and the
// middle in what is left.
func Page(gap float32, head, middle, foot fyne.CanvasObject) *fyne.Container {
	return container.New(&page{gap: gap}, head, middle, foot)
}

type page struct{ gap, width float32 }

func (l *page) heightFor(objects []fyne.CanvasObject, width float32) float32 {
	h := objects[1].MinSize().Height
	for _, o := range []fyne.CanvasObject{objects[0], objects[2]} {
		if n := outHeight(o, width); n > 0 {
			h += n + l.gap
		}
	}
	return h
}

func (l *page) MinSize(objects []fyne.CanvasObject) fyne.Size {
	w := float32(0)
	for _, o := range objects {
		w = max(w, outWidth(o))
	}
	return fyne.NewSize(w, l.heightFor(objects, laid(w, l.width)))
}

func (l *page) Layout(objects []fyne.CanvasObject, size fyne.Size) {
	l.width = size.Width
	head, middle, foot := objects[0], objects[1], objects[2]
	top, bottom := outHeight(head, size.Width), outHeight(foot, size.Width)
	put(head, fyne.Position{}, fyne.NewSize(size.Width, top))
	if top > 0 {
		top += l.gap
	}
	put(foot, fyne.NewPos(0, size.Height-bottom), fyne.NewSize(size.Width, bottom))
	if bottom > 0 {
		bottom += l.gap
	}
	put(middle, fyne.NewPos(0, top), fyne.NewSize(size.Width, max(0, size.Height-top-bottom)))
}
