package camera

import (
	"image"
	"image/color"
	"io"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// Whatever OpenCV decodes to becomes opaque RGBA, or an error; a conversion
// with a wrong number of channels would end the process.
func TestConvert(t *testing.T) {
	// Two pixels in a row, in OpenCV's order blue, green, red.
	for _, tc := range []struct {
		name string
		typ  gocv.MatType
		pix  []byte
		want [2]color.RGBA
	}{
		{"colour", gocv.MatTypeCV8UC3, []byte{1, 2, 3, 4, 5, 6}, [2]color.RGBA{{3, 2, 1, 255}, {6, 5, 4, 255}}},
		{"grey", gocv.MatTypeCV8UC1, []byte{7, 8}, [2]color.RGBA{{7, 7, 7, 255}, {8, 8, 8, 255}}},
		{"with alpha", gocv.MatTypeCV8UC4, []byte{1, 2, 3, 255, 4, 5, 6, 255}, [2]color.RGBA{{3, 2, 1, 255}, {6, 5, 4, 255}}},
		{"16 bit", gocv.MatTypeCV16UC3, make([]byte, 12), [2]color.RGBA{}},
		{"two channels", gocv.MatTypeCV8UC2, make([]byte, 4), [2]color.RGBA{}},
	} {
		for o, order := range map[int][2]int{1: {0, 1}, 2: {1, 0}, 6: {0, 1}, 8: {1, 0}} {
			s := &cvStream{turn: turns[o]}
			var err error
			s.raw, err = gocv.NewMatFromBytes(1, 2, tc.typ, tc.pix)
			require.NoError(t, err)
			s.upright, s.rgba = gocv.NewMat(), gocv.NewMat()
			dst := &image.RGBA{}
			err = s.convert(dst)
			s.raw.Close()
			s.upright.Close()
			s.rgba.Close()
			if tc.want == [2]color.RGBA{} {
				require.ErrorContains(t, err, "unknown kind", tc.name)
				continue
			}
			require.NoError(t, err, tc.name)
			want := append(pixel(tc.want[order[0]]), pixel(tc.want[order[1]])...)
			require.Equal(t, want, dst.Pix, "%s, orientation %d", tc.name, o)
		}
	}
	s := &cvStream{raw: gocv.NewMat()}
	defer s.raw.Close()
	require.Error(t, s.convert(&image.RGBA{}), "an empty picture")
}

func pixel(c color.RGBA) []byte { return []byte{c.R, c.G, c.B, c.A} }

func TestNumbersFromOpenCV(t *testing.T) {
	for v, want := range map[float64]int{0: 0, 480: 480, 29.9: 29, -1: -1, 1e300: 0, math.Inf(-1): 0} {
		require.Equal(t, want, whole(v), "%v", v)
	}
	require.Zero(t, whole(math.NaN()))
	for v, want := range map[float64]float64{30: 30, 29.97: 29.97, 0: 0, -5: 0, 90000: 0, math.Inf(1): 0} {
		require.Equal(t, want, rate(v), "%v", v)
	}
	require.Zero(t, rate(math.NaN()))
}

func TestGuardAfterClose(t *testing.T) {
	s, err := openCVFile(writeClip(t, 16, 16, 1, 30), 1)
	require.NoError(t, err)
	ok, err := guardedRead(s.capture, &s.raw)
	require.True(t, ok)
	require.NoError(t, err)
	ok, err = guardedRead(s.capture, &s.raw)
	require.False(t, ok)
	require.NoError(t, err)
	require.Equal(t, io.EOF, s.noMore)
	s.close()
	_, err = guardedRead(s.capture, &s.raw)
	require.ErrorIs(t, err, ErrClosed)
}
