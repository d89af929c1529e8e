package camera

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/gif"
	"image/jpeg"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/image/bmp"
	"golang.org/x/image/tiff"
)

// scene is a picture whose four quarters differ, of any colour model.
func scene[T interface {
	image.Image
	Set(x, y int, c color.Color)
}](img T) T {
	r := img.Bounds()
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			img.Set(x, y, sceneColor(x-r.Min.X, y-r.Min.Y, r.Dx(), r.Dy()))
		}
	}
	return img
}

func sceneColor(x, y, w, h int) color.RGBA {
	switch {
	case x < w/2 && y < h/2:
		return color.RGBA{200, 0, 0, 255}
	case y < h/2:
		return color.RGBA{0, 180, 0, 255}
	case x < w/2:
		return color.RGBA{0, 0, 160, 255}
	}
	return color.RGBA{240, 240, 240, 255}
}

func jpegBytes(t testing.TB) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, scene(image.NewRGBA(image.Rect(0, 0, 48, 32))), &jpeg.Options{Quality: 95}))
	return b.Bytes()
}

func pngBytes(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, img))
	return b.Bytes()
}

func TestPictureKinds(t *testing.T) {
	r := image.Rect(0, 0, 48, 32)
	shifted := r.Add(image.Pt(7, 3))
	palette := color.Palette{color.RGBA{200, 0, 0, 255}, color.RGBA{0, 180, 0, 255}, color.RGBA{0, 0, 160, 255}, color.RGBA{240, 240, 240, 255}}
	encoded := func(err error, b *bytes.Buffer) []byte {
		require.NoError(t, err)
		return b.Bytes()
	}
	var bm, tf, tf16 bytes.Buffer
	gray := func(c color.RGBA) color.RGBA {
		g := color.GrayModel.Convert(c).(color.Gray)
		return color.RGBA{g.Y, g.Y, g.Y, 255}
	}
	same := func(c color.RGBA) color.RGBA { return c }
	for _, tc := range []struct {
		name string
		file []byte
		tol  float64
		want func(color.RGBA) color.RGBA
	}{
		{"jpeg", jpegBytes(t), 6, same},
		{"png rgba", pngBytes(t, scene(image.NewRGBA(r))), 0, same},
		{"png not at the origin", pngBytes(t, scene(image.NewRGBA(shifted))), 0, same},
		{"png 16 bit", pngBytes(t, scene(image.NewRGBA64(r))), 0, same},
		{"png nrgba", pngBytes(t, scene(image.NewNRGBA(r))), 0, same},
		{"png grey", pngBytes(t, scene(image.NewGray(r))), 0, gray},
		{"png 16-bit grey", pngBytes(t, scene(image.NewGray16(r))), 1, gray},
		{"png palette", pngBytes(t, scene(image.NewPaletted(r, palette))), 0, same},
		{"bmp", encoded(bmp.Encode(&bm, scene(image.NewRGBA(r))), &bm), 0, same},
		{"tiff", encoded(tiff.Encode(&tf, scene(image.NewNRGBA(r)), &tiff.Options{Compression: tiff.Deflate}), &tf), 0, same},
		{"tiff 16 bit", encoded(tiff.Encode(&tf16, scene(image.NewRGBA64(r)), nil), &tf16), 0, same},
	} {
		t.Run(tc.name, func(t *testing.T) {
			img, err := ReadPicture(saved(t, "picture", tc.file))
			require.NoError(t, err)
			require.Equal(t, r, img.Rect)
			require.Equal(t, 4*48, img.Stride)
			require.True(t, img.Opaque())
			for _, p := range []image.Point{{4, 4}, {40, 4}, {4, 28}, {40, 28}} {
				want, got := tc.want(sceneColor(p.X, p.Y, 48, 32)), img.RGBAAt(p.X, p.Y)
				require.InDelta(t, want.R, got.R, tc.tol, "%v: %v %v", p, want, got)
				require.InDelta(t, want.G, got.G, tc.tol, "%v: %v %v", p, want, got)
				require.InDelta(t, want.B, got.B, tc.tol, "%v: %v %v", p, want, got)
			}
		})
	}
}

func TestWebPPictures(t *testing.T) {
	for name, tol := range map[string]float64{"lossy.webp": 4, "lossless.webp": 0} {
		img, err := ReadPicture(filepath.Join("..", "..", "testdata", "pictures", name))
		require.NoError(t, err, name)
		require.Equal(t, image.Rect(0, 0, 64, 48), img.Rect)
		require.Equal(t, 0, redCorner(img))
		require.InDelta(t, 20, img.RGBAAt(60, 40).G, 1+tol)
	}
}

// cmykJPEG builds a baseline JPEG of one 8×8 block in each of four components
// (ITU-T T.81), as image editors write them: inverted, with Adobe's segment
// (Adobe Technical Note 5116), transform 0 for CMYK and 2 for YCCK.
func cmykJPEG(transform byte, c [4]uint8) []byte {
	var b bytes.Buffer
	segment := func(marker byte, body ...byte) {
		b.Write([]byte{0xff, marker})
		b.Write(binary.BigEndian.AppendUint16(nil, uint16(len(body)+2)))
		b.Write(body)
	}
	b.Write([]byte{0xff, 0xd8})
	segment(0xee, append([]byte("Adobe"), 0, 100, 0, 0, 0, 0, transform)...)
	quant := bytes.Repeat([]byte{8}, 64) // so that the DC value is the level
	segment(0xdb, append([]byte{0}, quant...)...)
	segment(0xc0, 8, 0, 8, 0, 8, 4, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0, 4, 0x11, 0)
	// DC: nine codes of four bits for categories 0 to 8. AC: one code of one
	// bit, end of block.
	segment(0xc4, 0x00, 0, 0, 0, 9, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 2, 3, 4, 5, 6, 7, 8)
	segment(0xc4, 0x10, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0)
	segment(0xda, 4, 1, 0, 2, 0, 3, 0, 4, 0, 0, 63, 0)
	bits := ""
	for _, v := range c {
		dc := int(v) - 128
		size := 0
		for m := max(dc, -dc); m > 0; m >>= 1 {
			size++
		}
		bits += fmt.Sprintf("%04b", size)
		if dc < 0 {
			dc += 1<<size - 1
		}
		if size > 0 {
			bits += fmt.Sprintf("%0*b", size, dc)
		}
		bits += "0"
	}
	for len(bits)%8 != 0 {
		bits += "1"
	}
	for i := 0; i < len(bits); i += 8 {
		var v byte
		fmt.Sscanf(bits[i:i+8], "%b", &v)
		b.WriteByte(v)
		if v == 0xff {
			b.WriteByte(0)
		}
	}
	b.Write([]byte{0xff, 0xd9})
	return b.Bytes()
}

func TestCMYKPicture(t *testing.T) {
	// Inverted inks: 255 is none. Cyan 20 %, magenta 60 %, yellow 80 %, no
	// black: R = 204, G = 102, B = 51 by R = 255·(1-C)·(1-K).
	img, err := DecodePicture(cmykJPEG(0, [4]uint8{204, 102, 51, 255}))
	require.NoError(t, err)
	got := img.RGBAAt(3, 3)
	require.InDelta(t, 204, got.R, 2)
	require.InDelta(t, 102, got.G, 2)
	require.InDelta(t, 51, got.B, 2)
	require.True(t, img.Opaque())
	// With a black of half.
	img, err = DecodePicture(cmykJPEG(0, [4]uint8{204, 102, 51, 128}))
	require.NoError(t, err)
	require.InDelta(t, 102, img.RGBAAt(3, 3).R, 2)
	// YCCK of a neutral grey: Y 128, chroma 128.
	img, err = DecodePicture(cmykJPEG(2, [4]uint8{128, 128, 128, 255}))
	require.NoError(t, err)
	got = img.RGBAAt(3, 3)
	require.InDelta(t, got.R, got.G, 2)
	require.InDelta(t, got.G, got.B, 2)
	require.InDelta(t, 128, got.G, 2)
}

func TestTransparentIsWhite(t *testing.T) {
	img := image.NewNRGBA(image.Rect(0, 0, 3, 1))
	img.SetNRGBA(1, 0, color.NRGBA{255, 0, 0, 128})
	img.SetNRGBA(2, 0, color.NRGBA{10, 20, 30, 255})
	got, err := DecodePicture(pngBytes(t, img))
	require.NoError(t, err)
	require.Equal(t, color.RGBA{255, 255, 255, 255}, got.RGBAAt(0, 0))
	require.InDelta(t, 127, got.RGBAAt(1, 0).G, 1)
	require.Equal(t, color.RGBA{10, 20, 30, 255}, got.RGBAAt(2, 0))
	require.True(t, got.Opaque())
}

// exif is a TIFF structure with an orientation, after another entry.
func exif(order binary.AppendByteOrder, orientation int) []byte {
	b := []byte("II*\x00")
	if order == binary.AppendByteOrder(binary.BigEndian) {
		b = []byte("MM\x00*")
	}
	b = order.AppendUint32(b, 8)
	b = order.AppendUint16(b, 2)
	for _, e := range [][2]int{{256, 48}, {274, orientation}} {
		b = order.AppendUint16(b, uint16(e[0]))
		b = order.AppendUint16(b, 3)
		b = order.AppendUint32(b, 1)
		b = order.AppendUint16(b, uint16(e[1]))
		b = order.AppendUint16(b, 0)
	}
	return order.AppendUint32(b, 0)
}

func jpegWithExif(t testing.TB, x []byte) []byte {
	b := jpegBytes(t)
	body := append([]byte("Exif\x00\x00"), x...)
	app0 := []byte{0xff, 0xe0, 0, 4, 'J', 'F'}
	app1 := append(binary.BigEndian.AppendUint16([]byte{0xff, 0xff, 0xe1}, uint16(len(body)+2)), body...)
	return bytes.Join([][]byte{b[:2], app0, app1, b[2:]}, nil)
}

func pngChunk(typ string, body []byte) []byte {
	c := append(be(uint32(len(body))), typ...)
	c = append(c, body...)
	return append(c, be(crc32.ChecksumIEEE(c[4:]))...)
}

func pngWithExif(t testing.TB, x []byte) []byte {
	b := pngBytes(t, scene(image.NewRGBA(image.Rect(0, 0, 48, 32))))
	return bytes.Join([][]byte{b[:33], pngChunk("eXIf", x), b[33:]}, nil)
}

func webpWithExif(t testing.TB, x []byte) []byte {
	b := readFile(t, filepath.Join("..", "..", "testdata", "pictures", "lossless.webp"))
	vp8x := append([]byte("VP8X\x0a\x00\x00\x00\x08\x00\x00\x00"), 63, 0, 0, 47, 0, 0)
	chunk := append(append([]byte("EXIF"), le(uint32(len(x)))...), x...)
	b = bytes.Join([][]byte{b[:12], vp8x, b[12:], chunk}, nil)
	copy(b[4:], le(uint32(len(b)-8)))
	return b
}

// Where the red corner, top left as stored, is to be seen (CIPA DC-008, tag
// 274: what the 0th row and the 0th column of the stored picture show).
var redCornerOf = map[int]int{0: 0, 1: 0, 2: 1, 3: 3, 4: 2, 5: 0, 6: 1, 7: 3, 8: 2, 9: 0}

func TestExifOrientation(t *testing.T) {
	for o, corner := range redCornerOf {
		for _, order := range []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian} {
			for name, b := range map[string][]byte{
				"jpeg": jpegWithExif(t, exif(order, o)),
				"png":  pngWithExif(t, exif(order, o)),
				"webp": webpWithExif(t, exif(order, o)),
			} {
				img, err := DecodePicture(b)
				require.NoError(t, err, "%s %d", name, o)
				w, h := img.Rect.Dx(), img.Rect.Dy()
				require.Equal(t, o >= 5 && o <= 8, w < h, "%s %d", name, o)
				require.Equal(t, corner, redCorner(img), "%s %d", name, o)
			}
		}
	}
}

// Every pixel of a 3×2 picture, written out by hand.
func TestOrientMovesEveryPixel(t *testing.T) {
	for o, want := range map[int][]string{
		1: {"abc", "def"},
		2: {"cba", "fed"},
		3: {"fed", "cba"},
		4: {"def", "abc"},
		5: {"ad", "be", "cf"},
		6: {"da", "eb", "fc"},
		7: {"fc", "eb", "da"},
		8: {"cf", "be", "ad"},
	} {
		src := image.NewRGBA(image.Rect(0, 0, 3, 2))
		for i := range 6 {
			src.SetRGBA(i%3, i/3, color.RGBA{uint8('a' + i), 1, 2, 255})
		}
		got := orient(src, o)
		for y, row := range want {
			for x, r := range row {
				require.Equal(t, color.RGBA{uint8(r), 1, 2, 255}, got.RGBAAt(x, y), "orientation %d at %d,%d", o, x, y)
			}
		}
		require.Equal(t, image.Rect(0, 0, len(want[0]), len(want)), got.Rect)
	}
}

func TestGarbledExifIsIgnored(t *testing.T) {
	good := exif(binary.LittleEndian, 6)
	for n := range len(good) - 4 {
		img, err := DecodePicture(jpegWithExif(t, good[:n]))
		require.NoError(t, err)
		if n < 34 {
			require.Equal(t, 48, img.Rect.Dx(), "cut after %d bytes", n)
		}
	}
	far := append([]byte("II*\x00"), le(0xfffffff0)...)
	img, err := DecodePicture(jpegWithExif(t, far))
	require.NoError(t, err)
	require.Equal(t, 48, img.Rect.Dx())
}

// bomb is a PNG that declares a size and holds next to nothing.
func bomb(w, h uint32) []byte {
	head := append(be(w, h), 8, 6, 0, 0, 0)
	return bytes.Join([][]byte{[]byte("\x89PNG\r\n\x1a\n"), pngChunk("IHDR", head), pngChunk("IDAT", nil), pngChunk("IEND", nil)}, nil)
}

func TestUnreadablePictures(t *testing.T) {
	small := jpegBytes(t)
	var g bytes.Buffer
	require.NoError(t, gif.Encode(&g, scene(image.NewRGBA(image.Rect(0, 0, 8, 8))), nil))
	for _, tc := range []struct {
		name string
		file []byte
		says string
	}{
		{"empty", nil, "empty"},
		{"a text", []byte("a text"), "not a picture"},
		{"cut", small[:len(small)/2], "damaged JPEG"},
		{"cut early", small[:20], "damaged JPEG"},
		{"damaged png", bomb(8, 8), "damaged PNG"},
		{"bomb", bomb(50000, 50000), "larger than"},
		{"wide bomb", bomb(MaxSide+1, 1), "larger than"},
		{"square bomb", bomb(8192, 8193), "larger than"},
		{"most that is allowed, but damaged", bomb(8192, 8192), "damaged PNG"},
		{"no width", bomb(0, 8), "PNG"},
		{"a video", readFile(t, writeClip(t, 16, 16, 1, 30)), "is an AVI video"},
		{"gif", g.Bytes(), "save it as JPEG"},
		{"heic", append(be(24), "ftypheic\x00\x00\x00\x00mif1heic"...), "save it as JPEG"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			path := saved(t, "picture.jpg", tc.file)
			img, err := ReadPicture(path)
			require.Nil(t, img)
			require.ErrorIs(t, err, ErrUnreadable)
			require.ErrorContains(t, err, path)
			require.ErrorContains(t, err, tc.says)
			_, err = DecodePicture(tc.file)
			require.ErrorIs(t, err, ErrUnreadable)
		})
	}
	// A sparse file of half a gigabyte that begins like a picture.
	path := saved(t, "huge.png", bomb(8, 8))
	require.NoError(t, os.Truncate(path, 512<<20))
	_, err := ReadPicture(path)
	require.ErrorIs(t, err, ErrUnreadable)
	require.ErrorContains(t, err, "MiB")
	_, err = ReadPicture(filepath.Join(t.TempDir(), "missing.png"))
	require.ErrorIs(t, err, ErrUnreadable)
	require.ErrorIs(t, err, os.ErrNotExist)
}

// 8K pictures and those of telephones are taken as they are; that the limits
// stand before the decoder is in TestUnreadablePictures.
func TestLargePictures(t *testing.T) {
	for _, size := range []image.Point{{7680, 4320}, {8160, 6120}, {8192, 8192}, {1, 1}} {
		require.NoError(t, checkSize(size.X, size.Y))
	}
	for _, size := range []image.Point{{8193, 1}, {1, 8193}, {0, 1}, {-1, -1}} {
		require.Error(t, checkSize(size.X, size.Y))
	}
	for _, size := range []image.Point{{MaxSide, 40}, {40, MaxSide}} {
		img, err := DecodePicture(pngBytes(t, image.NewGray(image.Rectangle{Max: size})))
		require.NoError(t, err)
		require.Equal(t, size, img.Rect.Max)
	}
}

func TestPicturesSource(t *testing.T) {
	a, b := saved(t, "a.jpg", jpegBytes(t)), saved(t, "b.png", pngBytes(t, scene(image.NewRGBA(image.Rect(0, 0, 8, 6)))))
	src := NewPictures([]string{a, "missing.jpg", b})
	require.Equal(t, Info{Name: "3 pictures", Frames: 3}, src.Info())
	f, err := src.Next(context.Background())
	require.NoError(t, err)
	require.Equal(t, 48, f.Image.Rect.Dx())
	_, err = src.Next(context.Background())
	require.ErrorIs(t, err, ErrUnreadable)
	g, err := src.Next(context.Background())
	require.NoError(t, err)
	require.Equal(t, 2, g.Index)
	require.Equal(t, 8, g.Image.Rect.Dx())
	require.Equal(t, 48, f.Image.Rect.Dx(), "pictures are the caller's own")
	_, err = src.Next(context.Background())
	require.Equal(t, io.EOF, err)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = src.Next(ctx)
	require.ErrorIs(t, err, context.Canceled)
	require.NoError(t, src.Close())
	_, err = src.Next(context.Background())
	require.ErrorIs(t, err, ErrClosed)
	require.Equal(t, a, NewPictures([]string{a}).Info().Name)
}

func FuzzDecodePicture(f *testing.F) {
	f.Add(jpegBytes(f))
	f.Add(jpegWithExif(f, exif(binary.BigEndian, 6)))
	f.Add(pngWithExif(f, exif(binary.LittleEndian, 8)))
	f.Add(webpWithExif(f, exif(binary.LittleEndian, 3)))
	f.Add(cmykJPEG(0, [4]uint8{1, 2, 3, 4}))
	f.Add(cmykJPEG(2, [4]uint8{1, 2, 3, 4}))
	f.Add(bomb(50000, 50000))
	for _, name := range []string{"lossy.webp", "lossless.webp"} {
		f.Add(readFile(f, filepath.Join("..", "..", "testdata", "pictures", name)))
	}
	var bm, tf bytes.Buffer
	require.NoError(f, bmp.Encode(&bm, scene(image.NewRGBA(image.Rect(0, 0, 9, 5)))))
	require.NoError(f, tiff.Encode(&tf, scene(image.NewGray16(image.Rect(0, 0, 9, 5))), nil))
	f.Add(bm.Bytes())
	f.Add(tf.Bytes())
	f.Fuzz(func(t *testing.T, b []byte) {
		// A header that declares a large picture is right to be believed, but
		// not worth the fuzzer's time.
		if w, h, ok := declared(b); ok && w*h > 1<<20 {
			return
		}
		img, err := DecodePicture(b)
		if err != nil {
			require.ErrorIs(t, err, ErrUnreadable)
			return
		}
		w, h := img.Rect.Dx(), img.Rect.Dy()
		require.Equal(t, image.Rect(0, 0, w, h), img.Rect)
		require.NoError(t, checkSize(w, h))
		require.Equal(t, 4*w, img.Stride)
		require.Len(t, img.Pix, 4*w*h)
		require.True(t, img.Opaque())
	})
}

// declared reads the size from a file's header with the decoders themselves.
func declared(b []byte) (w, h int, ok bool) {
	c, _, err := image.DecodeConfig(bytes.NewReader(b))
	return c.Width, c.Height, err == nil
}
