package camera

import (
	"context"
	"fmt"
	"image"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// BenchmarkConvert is what each frame costs after it has been decoded: from
// OpenCV's BGR to a packed RGBA picture, upright.
func BenchmarkConvert(b *testing.B) {
	for _, size := range []image.Point{{640, 480}, {1280, 720}, {1920, 1080}} {
		for _, orientation := range []int{1, 6} {
			b.Run(fmt.Sprintf("%dx%d/orientation%d", size.X, size.Y, orientation), func(b *testing.B) {
				s := &cvStream{turn: turns[orientation]}
				s.raw = gocv.NewMatWithSize(size.Y, size.X, gocv.MatTypeCV8UC3)
				s.upright, s.rgba = gocv.NewMat(), gocv.NewMat()
				defer s.raw.Close()
				defer s.upright.Close()
				defer s.rgba.Close()
				dst := &image.RGBA{}
				b.ReportAllocs()
				for b.Loop() {
					if err := s.convert(dst); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}

// BenchmarkVideo is reading an MJPG file, decoding included.
func BenchmarkVideo(b *testing.B) {
	path := writeClip(b, 640, 480, 30, 30)
	b.ReportAllocs()
	frames := 0
	for b.Loop() {
		src, err := OpenVideo(path, VideoOptions{})
		require.NoError(b, err)
		for {
			if _, err := src.Next(context.Background()); err != nil {
				break
			}
			frames++
		}
		src.Close()
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(frames), "µs/frame")
}

func BenchmarkVideoWriter(b *testing.B) {
	img := image.NewRGBA(image.Rect(0, 0, 640, 480))
	paint(img, 3)
	w, err := NewVideoWriter(filepath.Join(b.TempDir(), "out.avi"), 640, 480, 30)
	require.NoError(b, err)
	defer w.Abort()
	b.ReportAllocs()
	for b.Loop() {
		if err := w.Write(img); err != nil {
			b.Fatal(err)
		}
	}
}
