package camera

import (
	"context"
	"errors"
	"image"
	"image/color"
	"image/draw"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// paint fills a picture with a grey that tells its index, and a red corner
// that tells which way is up.
func paint(img *image.RGBA, i int) {
	g := uint8(20 + 5*i)
	draw.Draw(img, img.Rect, image.NewUniform(color.RGBA{g, g, g, 255}), image.Point{}, draw.Src)
	r := img.Rect
	draw.Draw(img, image.Rect(0, 0, r.Dx()/2, r.Dy()/2), image.NewUniform(color.RGBA{200, 0, 0, 255}), image.Point{}, draw.Src)
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

// index reads back which frame paint has painted.
func index(img *image.RGBA) int {
	c := img.RGBAAt(img.Rect.Dx()-4, img.Rect.Dy()-4)
	return (int(c.G) - 20 + 2) / 5
}

func TestVideoDeliversEveryFrameInOrder(t *testing.T) {
	for _, tc := range []struct {
		w, h, n int
		fps     float64
	}{
		{64, 48, 30, 30},
		{65, 33, 7, 25},
		{640, 480, 12, 30000.0 / 1001},
		{16, 16, 1, 15},
	} {
		path := writeClip(t, tc.w, tc.h, tc.n, tc.fps)
		src, err := OpenVideo(path, VideoOptions{})
		require.NoError(t, err)
		is := src.Info()
		require.Equal(t, path, is.Name)
		require.Equal(t, [2]int{tc.w, tc.h}, [2]int{is.Width, is.Height})
		require.InDelta(t, tc.fps, is.FPS, 1e-3)
		require.Equal(t, tc.n, is.Frames)
		require.Equal(t, "MJPG", is.Codec)
		require.False(t, is.Live)
		require.InDelta(t, float64(tc.n)/tc.fps, is.Duration.Seconds(), 1e-3)
		for i := range tc.n {
			f, err := src.Next(context.Background())
			require.NoError(t, err)
			require.Equal(t, i, f.Index)
			require.Equal(t, i, index(f.Image))
			require.Equal(t, image.Rect(0, 0, tc.w, tc.h), f.Image.Rect)
			require.Equal(t, 4*tc.w, f.Image.Stride)
			require.InDelta(t, float64(i)/tc.fps, f.Time.Seconds(), 1e-3)
			c := f.Image.RGBAAt(1, 1)
			require.InDelta(t, 200, int(c.R), 20, "red is red, not blue")
			require.InDelta(t, 0, int(c.B), 20)
			require.EqualValues(t, 255, c.A)
		}
		for range 2 {
			_, err = src.Next(context.Background())
			require.Equal(t, io.EOF, err)
		}
		require.NoError(t, src.Close())
		require.NoError(t, src.Close())
		_, err = src.Next(context.Background())
		require.ErrorIs(t, err, ErrClosed)
	}
}

func TestVideoThatBreaksOff(t *testing.T) {
	path := writeClip(t, 64, 48, 30, 30)
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	for _, keep := range []int{len(b) / 10, len(b) / 2, len(b) - 600} {
		cut := filepath.Join(t.TempDir(), "cut.avi")
		require.NoError(t, os.WriteFile(cut, b[:keep], 0o600))
		src, err := OpenVideo(cut, VideoOptions{})
		require.NoError(t, err)
		n := 0
		var end error
		for {
			f, err := src.Next(context.Background())
			if err != nil {
				end = err
				break
			}
			require.Equal(t, n, index(f.Image), "a whole frame")
			n++
		}
		require.NoError(t, src.Close())
		require.ErrorIs(t, end, io.EOF)
		t.Log(keep, n, end)
		require.ErrorIs(t, end, ErrTruncated)
		require.ErrorContains(t, end, cut)
	}
}

func TestPaced(t *testing.T) {
	src, err := OpenCamera("file:"+writeClip(t, 64, 48, 10, 30), WebcamOptions{})
	require.NoError(t, err)
	defer src.Close()
	start := time.Now()
	n := 0
	for {
		f, err := src.Next(context.Background())
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		n++
		t.Log(f.Index, f.Time, time.Since(start))
	}
	require.GreaterOrEqual(t, n, 5)
}
