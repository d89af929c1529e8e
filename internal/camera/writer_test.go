package camera

import (
	"image"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

func entries(t *testing.T, dir string) []string {
	t.Helper()
	es, err := os.ReadDir(dir)
	require.NoError(t, err)
	names := []string{}
	for _, e := range es {
		names = append(names, e.Name())
	}
	return names
}

func TestWriterTakesItsPlaceOnClose(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "out.avi")
	require.NoError(t, os.WriteFile(path, []byte("older"), 0o640))
	w, err := NewVideoWriter(path, 32, 24, 25)
	require.NoError(t, err)
	img := image.NewRGBA(image.Rect(0, 0, 32, 24))
	for i := range 4 {
		paint(img, i)
		require.NoError(t, w.Write(img))
	}
	require.Equal(t, 4, w.Frames())
	require.Equal(t, "older", string(readFile(t, path)), "until it is closed")
	require.NoError(t, w.Close())
	require.Equal(t, []string{"out.avi"}, entries(t, dir))
	st, err := os.Stat(path)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o640), st.Mode().Perm())
	require.NoError(t, w.Close())
	w.Abort()
	require.Error(t, w.Write(img))

	src, err := OpenVideo(path, VideoOptions{})
	require.NoError(t, err)
	defer src.Close()
	frames, end := drain(t, src)
	require.Equal(t, upTo(4), frames)
	require.Equal(t, io.EOF, end)
}

// A picture need not be packed nor begin at 0,0.
func TestWriterTakesSubImages(t *testing.T) {
	big := image.NewRGBA(image.Rect(0, 0, 200, 100))
	part := big.SubImage(image.Rect(50, 20, 114, 68)).(*image.RGBA)
	own := &image.RGBA{}
	resize(own, 64, 48)
	paint(own, 5)
	for y := range 48 {
		for x := range 64 {
			part.SetRGBA(50+x, 20+y, own.RGBAAt(x, y))
		}
	}
	path := filepath.Join(t.TempDir(), "out.avi")
	w, err := NewVideoWriter(path, 64, 48, 30)
	require.NoError(t, err)
	require.NoError(t, w.Write(part))
	require.NoError(t, w.Close())
	src, err := OpenVideo(path, VideoOptions{})
	require.NoError(t, err)
	defer src.Close()
	frames, _ := drain(t, src)
	require.Equal(t, []int{5}, frames)
}
