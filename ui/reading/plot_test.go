package reading

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/overlay"
	"volar/internal/program"
	"volar/internal/review"
	"volar/internal/session"
)

var testInks = inks{
	paper: color.NRGBA{255, 255, 255, 255}, line: color.NRGBA{0, 0, 255, 255}, band: color.NRGBA{0, 0, 255, 60}, limit: color.NRGBA{255, 0, 0, 255},
	grid: color.NRGBA{230, 230, 230, 255}, hatch: color.NRGBA{128, 128, 128, 255}, caution: color.NRGBA{255, 160, 0, 255}, done: color.NRGBA{0, 160, 0, 255},
}

// A curve of known angles is drawn where they are: an even 60 degrees for five
// seconds, two seconds without a judgement, then 30 degrees.
func TestACurveIsDrawnWhereItsAnglesAre(t *testing.T) {
	limit := 0.0
	c := &curve{to: 10 * time.Second, lens: review.Lens{Span: 10 * time.Second, End: 10 * time.Second}}
	c.trace = review.Trace{Joint: hand.IndexPIP, Limit: coach.Limit{Lower: &limit}}
	var a, b []review.Point
	for i := range 50 {
		at := time.Duration(i) * 100 * time.Millisecond
		a = append(a, review.Point{At: at, Deg: 60, SE: 4})
		if i < 31 {
			b = append(b, review.Point{At: 7*time.Second + at, Deg: 30, SE: 4})
		}
	}
	c.trace.Runs = [][]review.Point{a, b}
	c.spans = []review.Span{{Kind: review.Repetition, Start: time.Second, End: 3 * time.Second}, {Kind: review.HoldShort, Start: time.Second, End: 3 * time.Second}}
	c.reach()
	img := image.NewRGBA(image.Rect(0, 0, 1000, 400))
	c.draw(img, testInks, 1)
	p := &plot{sheet: sheet{img, 1}, c: c, base: 400 - 2*float32(math.Round(400*barShare)) - 4}
	at := func(second, deg float64) color.RGBA { return img.RGBAAt(int(second*100), int(p.y(deg))) }
	blue := func(c color.RGBA) bool { return c.B > 150 && c.R < 100 }
	for _, s := range []float64{0.5, 2.5, 4.5} {
		require.True(t, blue(at(s, 60)), "%v s", s)
		require.False(t, blue(at(s, 30)), "%v s", s)
		tint := at(s, 62.5)
		require.True(t, tint.R < 255 && tint.R > 100 && tint.B == 255, "the band holds what is within the error: %v", tint)
		require.Equal(t, color.RGBA{255, 255, 255, 255}, at(s, 67), "and nothing beyond")
	}
	require.True(t, blue(at(8.5, 30)))
	hatched := 0
	for x := 510; x < 690; x++ {
		if img.RGBAAt(x, int(p.y(70))) == (color.RGBA{128, 128, 128, 255}) {
			hatched++
		}
		require.False(t, blue(img.RGBAAt(x, int(p.y(60)))), "no line across what was not judged")
	}
	require.Positive(t, hatched)
	red := 0
	for x := range 1000 {
		if c := img.RGBAAt(x, int(p.y(0))); c.R > 200 && c.G < 100 {
			red++
		}
	}
	require.InDelta(t, 1000*7.0/12, red, 100, "the limit is dashed")
	past := at(6, -10)
	require.Less(t, past.G, uint8(255), "past the limit is tinted")
	// The repetition is full, the short hold hollow.
	y := int(p.base) + 8
	require.Equal(t, color.RGBA{0, 0, 255, 255}, img.RGBAAt(200, y))
	require.Equal(t, color.RGBA{255, 255, 255, 255}, img.RGBAAt(200, y+int(math.Round(400*barShare))))
}

// The hand is drawn from the sample's angles and turns; the points lie over the
// kept picture where the camera saw them.
func TestPaintersDrawTheSample(t *testing.T) {
	all, err := sessions()
	require.NoError(t, err)
	s := all[3]
	mesh, err := handrender.Default()
	require.NoError(t, err)
	bones, err := overlay.New()
	require.NoError(t, err)
	r := handrender.NewRenderer(mesh, handrender.Options{})
	ground := color.NRGBA{220, 223, 220, 255}
	x := scene{sample: &s.Samples[30], side: hand.Right, ground: ground}
	x.view = seenAs(x.sample)
	// The camera's view of the movement, as the sample states it.
	require.InDelta(t, x.sample.View.YawDeg, x.view.Yaw, 1e-9)
	require.InDelta(t, 0, x.view.Roll, 25, "the fingers point up")
	front := x.hand(r)
	require.Greater(t, skin(front), 2000, "there is a hand")
	x.view.Yaw += 90
	turned := x.hand(r)
	require.NotEqual(t, front.Pix, turned.Pix)
	bent := x
	sample := *x.sample
	for j := range sample.Joints {
		sample.Joints[j].FlexionDeg = 80
	}
	bent.sample = &sample
	require.NotEqual(t, skin(turned), skin(bent.hand(r)))
	require.Zero(t, skin((&scene{ground: ground}).hand(r)), "no hand, none drawn")

	// A kept picture, all red, of the middle of the camera's picture.
	still := image.NewRGBA(image.Rect(0, 0, 120, 120))
	for i := 0; i < len(still.Pix); i += 4 {
		still.Pix[i], still.Pix[i+3] = 200, 255
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, still, nil))
	x.picture = &session.Picture{Left: 0.2, Right: 0.8, Top: 0.1, Bottom: 0.9, JPEG: b.Bytes()}
	img := x.points(bones)
	red, others := 0, 0
	for i := 0; i < len(img.Pix); i += 4 {
		switch {
		case img.Pix[i] > 180 && img.Pix[i+1] < 60:
			red++
		case img.Pix[i] != ground.R:
			others++
		}
	}
	require.Greater(t, red, paintWidth*paintHeight/2)
	require.Positive(t, others, "the points are drawn over it")
	x.picture = &session.Picture{Left: 0.2, Right: 0.8, Top: 0.1, Bottom: 0.9, JPEG: []byte("no picture")}
	require.NotPanics(t, func() { x.points(bones) })
}

// skin counts the pixels that have the warmth of skin.
func skin(img *image.RGBA) int {
	n := 0
	for i := 0; i < len(img.Pix); i += 4 {
		if int(img.Pix[i]) > int(img.Pix[i+2])+25 {
			n++
		}
	}
	return n
}

// A trend's points, errors and baseline stand at their angles.
func TestATrendIsDrawnWhereItsWeeksAre(t *testing.T) {
	test.NewTempApp(t)
	from := program.Date{Year: 2026, Month: time.November, Day: 2}
	x := newTrend(from, from.AddDays(27))
	x.Resize(fyne.NewSize(800, 400))
	x.Draw("index PIP", []review.Week{
		{Monday: from, Reach: review.Reach{MaxDeg: 60, MaxSE: 6, MinDeg: -12, MinSE: 3, MinJudged: true}},
		{Monday: from.AddDays(14), Reach: review.Reach{MaxDeg: 80, MaxSE: 6}},
	}, &coach.Range{Start: 5, End: 95})
	img := image.NewRGBA(image.Rect(0, 0, 1000, 400))
	x.draw(&sheet{img, 1}, testInks)
	y := func(deg float64) int { return int(400 * (x.top - deg) / (x.top - x.low)) }
	day := func(n int) int { return int(1000 * (float64(n) + 0.5) / 28) }
	blue, orange := color.RGBA{0, 0, 255, 255}, color.RGBA{255, 160, 0, 255}
	require.Equal(t, blue, img.RGBAAt(day(3), y(60)))
	require.Equal(t, blue, img.RGBAAt(day(3)+3, y(66)), "the error's end")
	require.Equal(t, orange, img.RGBAAt(day(3), y(-12)))
	require.Equal(t, blue, img.RGBAAt(day(17), y(80)))
	for d := -40.0; d < 40; d++ {
		require.NotEqual(t, orange, img.RGBAAt(day(17), y(d)), "what was not judged has no point")
	}
	for _, deg := range []float64{5, 95} {
		dashes := 0
		for px := range 1000 {
			if img.RGBAAt(px, y(deg)) == (color.RGBA{128, 128, 128, 255}) {
				dashes++
			}
		}
		require.InDelta(t, 1000*7.0/12, dashes, 60)
	}
}
