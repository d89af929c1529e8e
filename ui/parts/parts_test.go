package parts

import (
	"image"
	"image/color"
	"strings"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"volar/ui/look"
)

// window is a window of fyne's test driver in the program's look.
func window(t *testing.T, th look.Theme, content fyne.CanvasObject) fyne.Window {
	t.Helper()
	test.NewTempApp(t).Settings().SetTheme(th)
	w := test.NewTempWindow(t, content)
	w.SetPadded(false)
	w.Resize(fyne.NewSize(800, 600))
	return w
}

func key(w fyne.Window, k fyne.KeyName) {
	if f := w.Canvas().Focused(); f != nil {
		f.TypedKey(&fyne.KeyEvent{Name: k})
		return
	}
	w.Canvas().OnTypedKey()(&fyne.KeyEvent{Name: k})
}

// screen notes the keys that reach it.
type screen struct {
	content fyne.CanvasObject
	first   fyne.Focusable
	keys    []fyne.KeyName
	left    int
}

func (s *screen) Content() fyne.CanvasObject { return s.content }
func (s *screen) First() fyne.Focusable      { return s.first }
func (s *screen) Key(k fyne.KeyName)         { s.keys = append(s.keys, k) }
func (s *screen) Leave()                     { s.left++ }

func TestButtonIsWorkedByKeyAndTouch(t *testing.T) {
	done := 0
	b := NewButton(Lead, "Start", "Space", func() { done++ })
	w := window(t, look.Theme{Variant: look.Light}, nil)
	r := NewRouter(w.Canvas())
	s := &screen{content: Column(0, b), first: b}
	r.Show(s)
	for _, k := range []fyne.KeyName{fyne.KeySpace, fyne.KeyReturn, fyne.KeyEnter} {
		key(w, k)
	}
	test.Tap(b)
	require.Equal(t, 4, done)
	key(w, fyne.KeyEscape)
	require.Equal(t, []fyne.KeyName{fyne.KeyEscape}, s.keys, "what a button does not use goes to the screen")
	b.LeaveSpace()
	key(w, fyne.KeySpace)
	require.Equal(t, 4, done)
	require.Equal(t, []fyne.KeyName{fyne.KeyEscape, fyne.KeySpace}, s.keys)
	b.Set("Go on", func() { done = 100 })
	key(w, fyne.KeyReturn)
	require.Equal(t, 100, done)
	require.Equal(t, "Go on", b.Label())

	next := &screen{content: Column(0)}
	r.Show(next)
	require.Equal(t, 1, s.left)
	require.Same(t, next, r.Screen())
	key(w, fyne.KeyA)
	require.Equal(t, []fyne.KeyName{fyne.KeyA}, next.keys)
	r.Close()
	require.Equal(t, 1, next.left)
	key(w, fyne.KeyB)
	require.Len(t, next.keys, 1)
}

// The ring of the focus is drawn, in a colour with contrast to what it is on
// (WCAG 2.2, 2.4.7 and 1.4.11), and only where the focus is.
func TestFocusIsSeen(t *testing.T) {
	for _, v := range []look.Variant{look.Light, look.Dark} {
		th := look.Theme{Variant: v}
		b := NewButton(Plain, "Back", "B", func() {})
		w := window(t, th, Column(0, b))
		r := test.TempWidgetRenderer(t, b).(*buttonRenderer)
		require.True(t, r.ring.Hidden)
		w.Canvas().Focus(b)
		require.False(t, r.ring.Hidden)
		require.GreaterOrEqual(t, r.ring.StrokeWidth, float32(2))
		require.GreaterOrEqual(t, look.Contrast(r.ring.StrokeColor, th.Color(look.Paper, 0)), 3.0)
		w.Canvas().Unfocus()
		require.True(t, r.ring.Hidden)
	}
}

// The colours that the buttons are really drawn in.
func TestButtonsHaveContrast(t *testing.T) {
	for _, v := range []look.Variant{look.Light, look.Dark} {
		th := look.Theme{Variant: v}
		for _, k := range []Kind{Plain, Lead, Stop} {
			b := NewButton(k, "Go", "G", func() {})
			window(t, th, Column(0, b))
			r := test.TempWidgetRenderer(t, b).(*buttonRenderer)
			require.GreaterOrEqual(t, look.Contrast(r.label.Color, r.fill.FillColor), 4.5)
			require.GreaterOrEqual(t, look.Contrast(r.key.Color, r.fill.FillColor), 4.5)
			require.GreaterOrEqual(t, look.Contrast(r.fill.StrokeColor, th.Color(look.Paper, 0)), 3.0)
		}
	}
}

func TestTargetsAreLarge(t *testing.T) {
	b := NewButton(Plain, "I", "", func() {})
	c := NewChoice(NewWords("x", Style{}), false, func() {})
	window(t, look.Theme{}, Column(0, b, c))
	for _, o := range []fyne.CanvasObject{b, c} {
		require.GreaterOrEqual(t, o.MinSize().Width, float32(look.Target))
		require.GreaterOrEqual(t, o.MinSize().Height, float32(look.Target))
	}
}

func TestScaleTakesOneKeyOrOneTouch(t *testing.T) {
	var got []int
	s := NewScale(func(n int) { got = append(got, n) })
	w := window(t, look.Theme{}, Column(0, s.Content()))
	for _, k := range []fyne.KeyName{fyne.Key0, fyne.Key7, TenKey} {
		require.True(t, s.Key(k))
	}
	test.Tap(s.buttons[3])
	require.Equal(t, []int{0, 7, 10, 3}, got)
	require.False(t, s.Key(fyne.KeyEscape))
	w.Canvas().Focus(s.First())
	require.True(t, s.Key(fyne.KeyRight))
	require.True(t, s.Key(fyne.KeyRight))
	require.Same(t, s.buttons[2], w.Canvas().Focused())
	key(w, fyne.KeyReturn)
	require.Equal(t, 2, got[len(got)-1])
	for range 20 {
		s.Key(fyne.KeyLeft)
	}
	require.Same(t, s.buttons[0], w.Canvas().Focused(), "it ends at the ends")
}

func TestWordsBreakIntoLines(t *testing.T) {
	w := NewWords("one two three\nfour", Style{})
	window(t, look.Theme{}, Column(0, w))
	require.Equal(t, []string{"one two three", "four"}, w.lines(2000))
	require.Equal(t, []string{"one", "two", "three", "four"}, w.lines(10), "a word is never broken")
	require.Equal(t, 2*w.lineHeight(), w.HeightFor(2000))
	require.Equal(t, w.lineHeight(), NewWords("", Style{}).HeightFor(100))
	w.Set("new")
	require.Equal(t, "new", w.Text())
}

// boxed is an object of a given least size.
func boxed(w, h float32) *canvas.Rectangle {
	r := canvas.NewRectangle(color.Black)
	r.SetMinSize(fyne.NewSize(w, h))
	return r
}

func TestLayouts(t *testing.T) {
	words := NewWords(strings.Repeat("word ", 40), Style{})
	a, b, c := boxed(100, 20), boxed(100, 30), boxed(100, 40)
	col := Column(10, a, words, b)
	col.Resize(fyne.NewSize(300, 900))
	require.Equal(t, float32(30), words.Position().Y)
	require.Greater(t, words.Size().Height, 3*words.lineHeight())
	require.Equal(t, words.Position().Y+words.Size().Height+10, b.Position().Y)
	words.Hide()
	col.Layout.Layout(col.Objects, col.Size())
	require.Equal(t, float32(30), b.Position().Y, "what is hidden takes no room")

	row := Row(10, []float32{3, 1}, a, b, c)
	row.Resize(fyne.NewSize(620, 50))
	require.Equal(t, []float32{375, 125, 100}, []float32{a.Size().Width, b.Size().Width, c.Size().Width})
	row.Resize(fyne.NewSize(420, 50))
	require.Equal(t, []float32{200, 100, 100}, []float32{a.Size().Width, b.Size().Width, c.Size().Width}, "nothing falls below its least")

	fl := Flow(10, a, b, c)
	fl.Resize(fyne.NewSize(215, 200))
	require.Equal(t, fyne.NewPos(110, 0), b.Position())
	require.Equal(t, fyne.NewPos(0, 40), c.Position())
	require.Equal(t, float32(80), HeightFor(fl, 215))

	pg := Page(10, a, b, c)
	pg.Resize(fyne.NewSize(200, 300))
	require.Equal(t, float32(30), b.Position().Y)
	require.Equal(t, float32(300-20-40-20), b.Size().Height)
	require.Equal(t, float32(260), c.Position().Y)
	require.Equal(t, fyne.NewSize(120, 40), Pad(10, boxed(100, 20)).MinSize())
}

func TestScrollerFollowsTheFocus(t *testing.T) {
	var objects []fyne.CanvasObject
	var cards []*Choice
	for range 20 {
		c := NewChoice(NewWords("exercise", Style{}), false, func() {})
		cards, objects = append(cards, c), append(objects, c)
	}
	s := NewScroller(Column(8, objects...))
	w := window(t, look.Theme{}, Page(0, Column(0), s, Column(0)))
	d := fyne.CurrentApp().Driver()
	seen := func(c *Choice) bool {
		y := d.AbsolutePositionForObject(c).Y - d.AbsolutePositionForObject(s).Y
		return y >= 0 && y+c.Size().Height <= s.Size().Height+0.5
	}
	require.False(t, seen(cards[19]))
	w.Canvas().Focus(cards[19])
	require.True(t, seen(cards[19]))
	require.False(t, seen(cards[0]))
	require.True(t, Arrows(fyne.KeyUp, cards))
	require.Same(t, cards[18], w.Canvas().Focused())
	w.Canvas().Focus(cards[0])
	require.True(t, seen(cards[0]))
	s.By(0.8)
	require.False(t, seen(cards[0]))
	require.False(t, Arrows(fyne.KeyEscape, cards))
}

func TestRingRunsAndCloses(t *testing.T) {
	r := NewRing()
	window(t, look.Theme{Variant: look.Light}, r)
	x := test.TempWidgetRenderer(t, r).(*ringRenderer)
	r.Set(1200*time.Millisecond, 3*time.Second, "hold")
	require.Equal(t, "2", x.seconds.Text, "1.8 s are left: the second 2 is running")
	require.InDelta(t, 144, x.arc.EndAngle, 0.1)
	r.Set(5*time.Second, 3*time.Second, "hold")
	require.Equal(t, "0", x.seconds.Text)
	require.InDelta(t, 360, x.arc.EndAngle, 0.1)
	require.Equal(t, look.Theme{Variant: look.Light}.Color(look.Done, 0), x.arc.FillColor)
	r.Clear("rest")
	require.Empty(t, x.seconds.Text)
	require.True(t, x.arc.Hidden)
	require.Equal(t, "rest", x.word.Text)
}

func TestCountAndCue(t *testing.T) {
	c, cue := NewCount(), NewCueLine()
	window(t, look.Theme{}, Column(0, c, cue))
	c.Set(7, 10)
	x := test.TempWidgetRenderer(t, c).(*countRenderer)
	require.Equal(t, "7", x.n.Text)
	require.Equal(t, "of 10", x.of.Text)
	c.Set(8, 0)
	require.Empty(t, x.of.Text)

	before := cue.HeightFor(700)
	cue.Say("A little slower.", false)
	require.Equal(t, before, cue.HeightFor(700), "nothing moves when a cue comes")
	cr := test.TempWidgetRenderer(t, cue).(*cueRenderer)
	require.Equal(t, NoSign, cr.sign.sign)
	cue.Say("Your index finger's middle knuckle is bending backwards. Bend it a little.", true)
	require.Equal(t, CautionSign, cr.sign.sign, "a fault has a sign, not only a colour")
	require.Equal(t, look.SizeFigure, cue.words.style.Size, "a long sentence is set smaller")
	require.NotEmpty(t, cue.Text())
}

func TestVideoShowsWhatItIsGivenAsItIs(t *testing.T) {
	v := NewVideo(fyne.NewSize(320, 240))
	window(t, look.Theme{}, v)
	img := image.NewRGBA(image.Rect(0, 0, 640, 480))
	v.Picture(img)
	require.Same(t, img, v.picture.Image)
	require.Equal(t, canvas.ImageScaleFastest, v.picture.ScaleMode, "any other is too slow for a camera")
}

func TestSignsDifferByShape(t *testing.T) {
	seen := map[string]Sign{}
	for _, s := range []Sign{ToDo, DoneSign, LeftOut, CautionSign, Point} {
		b := NewBadge(s, 40)
		w := window(t, look.Theme{Variant: look.Light}, b)
		w.Resize(fyne.NewSize(60, 60))
		var shape strings.Builder
		img := w.Canvas().Capture()
		for y := range img.Bounds().Dy() {
			for x := range img.Bounds().Dx() {
				if look.Contrast(img.At(x, y), look.Theme{Variant: look.Light}.Color(look.Paper, 0)) > 2 {
					shape.WriteByte('#')
				} else {
					shape.WriteByte('.')
				}
			}
		}
		other, same := seen[shape.String()]
		require.False(t, same, "signs %d and %d look alike without colour", s, other)
		seen[shape.String()] = s
	}
}
