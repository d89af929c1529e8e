package camera

import (
	"context"
	"encoding/binary"
	"image"
	"image/color"
	"image/draw"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// paint fills a picture with a grey that tells its index, up to 29, and with
// a red corner that tells which way is up and that red is not blue.
func paint(img *image.RGBA, i int) {
	g := uint8(20 + 8*i)
	draw.Draw(img, img.Rect, image.NewUniform(color.RGBA{g, g, g, 255}), image.Point{}, draw.Src)
	r := img.Rect
	draw.Draw(img, image.Rect(0, 0, r.Dx()/2, r.Dy()/2), image.NewUniform(color.RGBA{200, 0, 0, 255}), image.Point{}, draw.Src)
}

// painted reads back which frame paint has painted, from a corner that is not
// the red one.
func painted(img *image.RGBA) int {
	c := img.RGBAAt(img.Rect.Dx()-4, img.Rect.Dy()-4)
	if redCorner(img) == 3 {
		c = img.RGBAAt(3, 3)
	}
	return (int(c.G) - 20 + 4) / 8
}

// redCorner tells which corner is red: 0 top left, 1 top right, 2 bottom left,
// 3 bottom right, -1 none.
func redCorner(img *image.RGBA) int {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	for i, p := range []image.Point{{3, 3}, {w - 4, 3}, {3, h - 4}, {w - 4, h - 4}} {
		if c := img.RGBAAt(p.X, p.Y); c.R > 150 && c.G < 50 && c.B < 50 {
			return i
		}
	}
	return -1
}

// writeClip writes n painted frames and returns the file's path.
func writeClip(t testing.TB, w, h, n int, fps float64) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "clip.avi")
	v, err := NewVideoWriter(path, w, h, fps)
	require.NoError(t, err)
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range n {
		paint(img, i)
		require.NoError(t, v.Write(img))
	}
	require.NoError(t, v.Close())
	return path
}

// tinyVideos are 20 painted frames of 64×48 pixels at 30 a second in the forms
// that people have; testdata/video/README.md says how they were made.
func tinyVideos() []string {
	var paths []string
	for _, name := range []string{"h264.mp4", "vp8.webm", "h264.ts", "mpeg2.mpg"} {
		paths = append(paths, filepath.Join("..", "..", "testdata", "video", name))
	}
	return paths
}

func readFile(t testing.TB, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	return b
}

// saved writes bytes to a file and returns its path.
func saved(t testing.TB, name string, b []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, b, 0o600))
	return path
}

// drain reads a source to its end and returns which frames came and the end.
func drain(t testing.TB, src Source) (frames []int, end error) {
	t.Helper()
	for {
		f, err := src.Next(context.Background())
		if err != nil {
			return frames, err
		}
		require.Equal(t, len(frames), f.Index)
		frames = append(frames, painted(f.Image))
	}
}

func upTo(n int) []int {
	s := make([]int, n)
	for i := range s {
		s[i] = i
	}
	return s
}

// patched returns a copy of b with the bytes at the end of the first mark, and
// off further, replaced.
func patched(t testing.TB, b []byte, mark string, off int, with ...byte) []byte {
	t.Helper()
	b = append([]byte(nil), b...)
	i := indexOf(b, mark)
	require.GreaterOrEqual(t, i, 0, "no %q in it", mark)
	require.Len(t, with, copy(b[i+len(mark)+off:], with))
	return b
}

func indexOf(b []byte, mark string) int {
	for i := range len(b) - len(mark) + 1 {
		if string(b[i:i+len(mark)]) == mark {
			return i
		}
	}
	return -1
}

func le(v ...uint32) (b []byte) {
	for _, x := range v {
		b = binary.LittleEndian.AppendUint32(b, x)
	}
	return b
}

func be(v ...uint32) (b []byte) {
	for _, x := range v {
		b = binary.BigEndian.AppendUint32(b, x)
	}
	return b
}
