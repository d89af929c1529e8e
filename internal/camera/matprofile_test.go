//go:build matprofile

package camera

import (
	"image"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// Every Mat is closed, whatever becomes of the file.
func TestNoMatIsLeft(t *testing.T) {
	before := gocv.MatProfile.Count()
	paths := append([]string{writeClip(t, 64, 48, 5, 30)}, tinyVideos()...)
	turned := patched(t, readFile(t, tinyVideos()[0]), "tkhd", 40, be(0, 1<<16, 0, 0xffff0000, 0, 0, 0, 0, 1<<30)...)
	paths = append(paths, saved(t, "turned.mp4", turned))
	for _, path := range paths {
		src, err := OpenVideo(path, VideoOptions{})
		require.NoError(t, err)
		require.Greater(t, gocv.MatProfile.Count(), before)
		_, _ = drain(t, src)
		require.NoError(t, src.Close())
		require.Equal(t, before, gocv.MatProfile.Count(), path)

		src, err = OpenCamera("file:"+path, WebcamOptions{})
		require.NoError(t, err)
		require.NoError(t, src.Close())
		require.Equal(t, before, gocv.MatProfile.Count(), "played %s", path)

		b := readFile(t, path)
		for n := 0; n < len(b); n += 97 {
			cut := filepath.Join(t.TempDir(), "cut")
			require.NoError(t, os.WriteFile(cut, b[:n], 0o600))
			if src, err := OpenVideo(cut, VideoOptions{}); err == nil {
				_, _ = drain(t, src)
				require.NoError(t, src.Close())
			}
			require.Equal(t, before, gocv.MatProfile.Count(), "%s cut after %d bytes", path, n)
		}
	}
	_, err := OpenWebcam(WebcamOptions{Device: "255"})
	require.Error(t, err)
	_, err = openCVDevice(250, 640, 480, 30)
	require.Error(t, err)
	f := &fakeFile{sizes: []image.Point{{2, 2}}}
	src, err := newVideo("fake", outline{}, VideoOptions{}, f)
	require.NoError(t, err)
	require.NoError(t, src.Close())
	require.Equal(t, before, gocv.MatProfile.Count())
}
