package landmark

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/hand"
)

// noisePicture has no two neighbours alike, so that a sample taken a pixel off
// does not go unnoticed.
func noisePicture(w, h int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	r := rand.New(rand.NewPCG(1, 2))
	for i := range img.Pix {
		img.Pix[i] = uint8(r.Uint32())
	}
	return img
}

// slowWarp is the definition of warp in floating point, sample by sample.
func slowWarp(n int, img *image.RGBA, r hand.Region, b border) []float32 {
	dst := make([]float32, 3*n*n)
	p := place(r)
	pixel := func(x, y int) (v [3]float64) {
		if s := img.Rect.Size(); x < 0 || y < 0 || x >= s.X || y >= s.Y {
			if b == blackBorder {
				return v
			}
			x, y = min(max(x, 0), s.X-1), min(max(y, 0), s.Y-1)
		}
		c := img.RGBAAt(x+img.Rect.Min.X, y+img.Rect.Min.Y)
		return [3]float64{float64(c.R) / 255, float64(c.G) / 255, float64(c.B) / 255}
	}
	for j := range n {
		for i := range n {
			x, y := p.picture((float64(i)+0.5)/float64(n), (float64(j)+0.5)/float64(n))
			x, y = x-0.5, y-0.5
			x0, y0 := math.Floor(x), math.Floor(y)
			fx, fy := x-x0, y-y0
			a, bb := pixel(int(x0), int(y0)), pixel(int(x0)+1, int(y0))
			c, d := pixel(int(x0), int(y0)+1), pixel(int(x0)+1, int(y0)+1)
			for ch := range 3 {
				v := (1-fy)*((1-fx)*a[ch]+fx*bb[ch]) + fy*((1-fx)*c[ch]+fx*d[ch])
				dst[ch*n*n+j*n+i] = float32(v)
			}
		}
	}
	return dst
}

func TestWarpIdentity(t *testing.T) {
	const n = 32
	img := noisePicture(n, n)
	dst := make([]float32, 3*n*n)
	warp(dst, n, img, wholePicture(n, n), edgeBorder)
	for y := range n {
		for x := range n {
			c := img.RGBAAt(x, y)
			for ch, v := range []uint8{c.R, c.G, c.B} {
				require.InDelta(t, float64(v)/255, dst[ch*n*n+y*n+x], 1e-6, "(%d, %d) colour %d", x, y, ch)
			}
		}
	}
}

func TestWarpQuarterTurns(t *testing.T) {
	// With the fingers to the right in the picture, the crop's up is the
	// picture's right: crop row 0 is the picture's last column.
	const n = 16
	img := noisePicture(n, n)
	dst := make([]float32, 3*n*n)
	r := wholePicture(n, n)
	r.Rotation = math.Pi / 2
	warp(dst, n, img, r, edgeBorder)
	for j := range n {
		for i := range n {
			require.InDelta(t, float64(img.RGBAAt(n-1-j, i).G)/255, dst[n*n+j*n+i], 1e-5)
		}
	}
}

func TestWarpBorders(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 8, 4))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	dst := make([]float32, 3*8*8)
	warp(dst, 8, img, wholePicture(8, 4), blackBorder)
	require.Zero(t, dst[0])
	require.Zero(t, dst[7*8+3])
	require.InDelta(t, 1, dst[2*8], 1e-6, "first row of the picture")
	warp(dst, 8, img, wholePicture(8, 4), edgeBorder)
	for _, v := range dst {
		require.InDelta(t, 1, v, 1e-6)
	}
}

// The fast warp agrees with the slow one in every position. The tolerance is
// that of the fixed-point weights, 1/128 and 1/64 of a pixel rounded down, on
// a picture of noise.
func TestWarpAgainstReference(t *testing.T) {
	const n = 24
	img := noisePicture(61, 47)
	sub := noisePicture(90, 80).SubImage(image.Rect(13, 9, 13+61, 9+47)).(*image.RGBA)
	rapid.Check(t, func(t *rapid.T) {
		r := drawSmallRegion(t)
		b := rapid.SampledFrom([]border{blackBorder, edgeBorder}).Draw(t, "border")
		src := rapid.SampledFrom([]*image.RGBA{img, sub}).Draw(t, "picture")
		dst := make([]float32, 3*n*n)
		for i := range dst {
			dst[i] = -9 // every sample must be written
		}
		warp(dst, n, src, r, b)
		require.InDeltaSlice(t, slowWarp(n, src, r, b), dst, 1.0/128+1.0/64+1e-3)
	})
}

func drawSmallRegion(t *rapid.T) hand.Region {
	return hand.Region{
		CX:       rapid.Float64Range(-40, 100).Draw(t, "cx"),
		CY:       rapid.Float64Range(-40, 90).Draw(t, "cy"),
		Size:     rapid.Float64Range(4, 300).Draw(t, "size"),
		Rotation: rapid.Float64Range(-4, 4).Draw(t, "rotation"),
	}
}

// slowShrink averages blocks of f by f pixels of the whole picture.
func slowShrink(img *image.RGBA, f int, b border) *image.RGBA {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	small := image.NewRGBA(image.Rect(0, 0, (w+f-1)/f, (h+f-1)/f))
	for y := range small.Rect.Dy() {
		for x := range small.Rect.Dx() {
			var sum [3]float64
			count := 0
			for j := y * f; j < y*f+f; j++ {
				for i := x * f; i < x*f+f; i++ {
					if i >= w || j >= h {
						continue
					}
					c := img.RGBAAt(img.Rect.Min.X+i, img.Rect.Min.Y+j)
					sum[0], sum[1], sum[2] = sum[0]+float64(c.R), sum[1]+float64(c.G), sum[2]+float64(c.B)
					count++
				}
			}
			if b == blackBorder {
				count = f * f
			}
			mean := func(v float64) uint8 { return uint8(math.Floor(v/float64(count) + 0.5)) }
			small.SetRGBA(x, y, color.RGBA{mean(sum[0]), mean(sum[1]), mean(sum[2]), 255})
		}
	}
	return small
}

func TestShrinkBy(t *testing.T) {
	for _, c := range []struct {
		size float64
		want int
	}{{10, 1}, {224, 1}, {640, 1}, {895, 1}, {896, 4}, {1119, 4}, {1120, 5}, {7680, 34}, {1e6, maxShrink}} {
		require.Equal(t, c.want, shrinkBy(hand.Region{Size: c.size}, 224), "%v", c.size)
	}
}

// Cropping from far away is averaging the whole picture and cropping that.
func TestCropShrinksFirst(t *testing.T) {
	const n = 10
	img := noisePicture(61, 47)
	var c cropper // kept, to see that leavings of one call do no harm to the next
	rapid.Check(t, func(t *rapid.T) {
		r := drawSmallRegion(t)
		b := rapid.SampledFrom([]border{blackBorder, edgeBorder}).Draw(t, "border")
		got, want := make([]float32, 3*n*n), make([]float32, 3*n*n)
		c.crop(got, n, img, r, b)
		src := img
		if f := shrinkBy(r, n); f > 1 {
			src = slowShrink(img, f, b)
			r.CX, r.CY, r.Size = r.CX/float64(f), r.CY/float64(f), r.Size/float64(f)
		}
		warp(want, n, src, r, b)
		require.InDeltaSlice(t, want, got, 1e-6)
	})
}

func TestCropAveragesLargePictures(t *testing.T) {
	// A fine checkerboard must come out grey, not as some of its squares.
	img := image.NewRGBA(image.Rect(0, 0, 2240, 2240))
	for y := range 2240 {
		for x := range 2240 {
			img.SetRGBA(x, y, color.RGBA{R: uint8(255 * ((x + y) & 1)), G: uint8(255 * (x & 1)), B: 255, A: 255})
		}
	}
	dst := make([]float32, 3*224*224)
	r := hand.Region{CX: 1100, CY: 1100, Size: 1600, Rotation: 0.3}
	require.NoError(t, Crop(dst, 224, img, r))
	var worst float64
	for i := range 224 * 224 {
		worst = max(worst, math.Abs(float64(dst[i])-0.5), math.Abs(float64(dst[224*224+i])-0.5))
		require.InDelta(t, 1, dst[2*224*224+i], 1e-6)
	}
	require.Less(t, worst, 0.15)
}

func TestWithin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 30).Draw(t, "n")
		x := rapid.IntRange(-200, 200).Draw(t, "x")
		d := rapid.IntRange(-20, 20).Draw(t, "d")
		limit := rapid.IntRange(-5, 150).Draw(t, "limit")
		lo, hi := within(x, d, n, limit)
		require.True(t, 0 <= lo && lo <= hi && hi <= n, "%d %d", lo, hi)
		for i := range n {
			v := x + i*d
			require.Equal(t, v >= 0 && v < limit, i >= lo && i < hi, "at %d", i)
		}
	})
}

func TestCropErrors(t *testing.T) {
	good := hand.Region{CX: 10, CY: 10, Size: 10}
	img := noisePicture(20, 20)
	broken := *img
	broken.Pix = broken.Pix[:100]
	for _, c := range []struct {
		name string
		dst  int
		n    int
		img  *image.RGBA
		r    hand.Region
		want string
	}{
		{"no picture", 12, 2, nil, good, "picture is empty"},
		{"empty picture", 12, 2, image.NewRGBA(image.Rectangle{}), good, "picture is empty"},
		{"short picture", 12, 2, &broken, good, "only 100 bytes"},
		{"wrong length", 11, 2, img, good, "want 12"},
		{"no samples", 0, 0, img, good, "0 by 0 samples"},
		{"region elsewhere", 12, 2, img, hand.Region{CX: 100, CY: 10, Size: 10}, "cannot be cut out"},
		{"not a number", 12, 2, img, hand.Region{CX: math.NaN(), CY: 10, Size: 10}, "cannot be cut out"},
	} {
		require.ErrorContains(t, Crop(make([]float32, c.dst), c.n, c.img, c.r), c.want, c.name)
	}
}

func TestBrightness(t *testing.T) {
	const n = 64
	crop := make([]float32, 3*n*n)
	for i := range n * n {
		crop[i] = 1 // red alone: 0.299 by ITU-R BT.601
	}
	mean, deviation := brightness(crop, n)
	require.InDelta(t, 0.299, mean, 1e-6)
	require.InDelta(t, 0, deviation, 1e-3)
	// The left half white, the right black: mean and deviation are a half.
	for ch := range 3 {
		for i := range n * n {
			crop[ch*n*n+i] = 0
			if i%n < n/2 {
				crop[ch*n*n+i] = 1
			}
		}
	}
	mean, deviation = brightness(crop, n)
	require.InDelta(t, 0.5, mean, 1e-6)
	require.InDelta(t, 0.5, deviation, 1e-6)
}

func BenchmarkWarp(b *testing.B) {
	img := noisePicture(640, 480)
	large := noisePicture(1920, 1080)
	dst := make([]float32, 3*224*224)
	for _, c := range []struct {
		name string
		img  *image.RGBA
		n    int
		r    hand.Region
		b    border
	}{
		{"hand-480p", img, 224, hand.Region{CX: 320, CY: 240, Size: 280, Rotation: 0.4}, edgeBorder},
		{"hand-1080p", large, 224, hand.Region{CX: 960, CY: 540, Size: 700, Rotation: 0.4}, edgeBorder},
		{"palm-480p", img, 192, wholePicture(640, 480), blackBorder},
		{"palm-1080p", large, 192, wholePicture(1920, 1080), blackBorder},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			var cut cropper
			for b.Loop() {
				cut.crop(dst[:3*c.n*c.n], c.n, c.img, c.r, c.b)
			}
		})
	}
}
