package camera

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

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
			require.Equal(t, i, painted(f.Image))
			require.Equal(t, 0, redCorner(f.Image))
			require.Equal(t, image.Rect(0, 0, tc.w, tc.h), f.Image.Rect)
			require.Equal(t, 4*tc.w, f.Image.Stride)
			require.True(t, f.Image.Opaque())
			require.InDelta(t, float64(i)/tc.fps, f.Time.Seconds(), 1e-3)
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

func TestVideoKinds(t *testing.T) {
	for _, path := range tinyVideos() {
		t.Run(filepath.Base(path), func(t *testing.T) {
			src, err := OpenVideo(path, VideoOptions{})
			require.NoError(t, err)
			defer src.Close()
			for i := range 20 {
				f, err := src.Next(context.Background())
				require.NoError(t, err)
				require.Equal(t, i, painted(f.Image))
				// Matroska and WebM keep times in whole milliseconds.
				require.InDelta(t, float64(i)/30, f.Time.Seconds(), 1e-3)
			}
			_, err = src.Next(context.Background())
			require.Equal(t, io.EOF, err)
		})
	}
}

// The corners are those of ISO/IEC 14496-12, 8.3.2: the matrix takes x, y to
// ax+cy, bx+dy, with y down. ffmpeg's own rotation agrees for each.
func TestVideoIsTurnedUpright(t *testing.T) {
	const one, minus = 1 << 16, math.MaxUint32 - 1<<16 + 1
	plain := readFile(t, tinyVideos()[0])
	for _, tc := range []struct {
		name       string
		a, b, c, d uint32
		rotation   int
		corner     int
	}{
		{"upright", one, 0, 0, one, 0, 0},
		{"telephone held upright", 0, one, minus, 0, 90, 1},
		{"telephone on its head", minus, 0, 0, minus, 180, 3},
		{"the other quarter turn", 0, minus, one, 0, 270, 2},
		{"mirrored", minus, 0, 0, one, 0, 1},
		{"upside down in a mirror", one, 0, 0, minus, 0, 2},
		{"transposed", 0, one, one, 0, 90, 0},
		{"transposed the other way", 0, minus, minus, 0, 90, 3},
		{"sheared, which is left alone", one, one, 0, one, 0, 0},
	} {
		t.Run(tc.name, func(t *testing.T) {
			matrix := be(tc.a, tc.b, 0, tc.c, tc.d, 0, 0, 0, 1<<30)
			path := saved(t, "turned.mp4", patched(t, plain, "tkhd", 40, matrix...))
			src, err := OpenVideo(path, VideoOptions{})
			require.NoError(t, err)
			defer src.Close()
			size := image.Pt(64, 48)
			if tc.rotation%180 == 90 {
				size = image.Pt(48, 64)
			}
			require.Equal(t, tc.rotation, src.Info().Rotation)
			require.Equal(t, size, image.Pt(src.Info().Width, src.Info().Height))
			f, err := src.Next(context.Background())
			require.NoError(t, err)
			require.Equal(t, size, f.Image.Rect.Max)
			require.Equal(t, tc.corner, redCorner(f.Image))
		})
	}
}

func TestVideoThatBreaksOff(t *testing.T) {
	whole := readFile(t, writeClip(t, 64, 48, 30, 30))
	movi := indexOf(whole, "movi") + 4
	frame := 8 + int(le32(whole[movi+4:]))
	frame += frame & 1
	idx := indexOf(whole, "idx1")
	for _, tc := range []struct {
		name string
		keep int
		want int
	}{
		{"just after the first frame", movi + frame, 1},
		{"within the second", movi + frame + 100, 1},
		{"in the last", idx - 3, 29},
	} {
		t.Run(tc.name, func(t *testing.T) {
			path := saved(t, "cut.avi", whole[:tc.keep])
			src, err := OpenVideo(path, VideoOptions{})
			require.NoError(t, err)
			defer src.Close()
			frames, end := drain(t, src)
			require.Equal(t, upTo(tc.want), frames)
			require.ErrorIs(t, end, io.EOF)
			require.ErrorIs(t, end, ErrTruncated)
			require.ErrorContains(t, end, path)
			require.ErrorContains(t, end, fmt.Sprintf("%d of 30 frames", tc.want))
			require.NotContains(t, end.Error(), "EOF")
			_, again := src.Next(context.Background())
			require.Equal(t, end, again)
		})
	}
	t.Run("only the index is lost", func(t *testing.T) {
		src, err := OpenVideo(saved(t, "cut.avi", whole[:idx+20]), VideoOptions{})
		require.NoError(t, err)
		defer src.Close()
		frames, end := drain(t, src)
		require.Equal(t, upTo(30), frames)
		require.Equal(t, io.EOF, end, "nothing is missing")
	})
	t.Run("a recorder that was killed", func(t *testing.T) {
		// Lengths and counts are still 0, the last frame is half there.
		b := patched(t, whole, "RIFF", 0, le(0)...)
		b = patched(t, b, "movi", -8, le(4)...)
		b = patched(t, b, "avih", 4+16, le(0)...)
		b = patched(t, b, "strh", 4+32, le(0)...)
		src, err := OpenVideo(saved(t, "killed.avi", b[:movi+5*frame+40]), VideoOptions{})
		require.NoError(t, err)
		defer src.Close()
		frames, end := drain(t, src)
		require.GreaterOrEqual(t, len(frames), 4)
		require.Equal(t, upTo(len(frames)), frames)
		require.ErrorIs(t, end, ErrTruncated)
	})
	t.Run("other kinds", func(t *testing.T) {
		for _, path := range tinyVideos()[:2] {
			b := readFile(t, path)
			src, err := OpenVideo(saved(t, "cut"+filepath.Ext(path), b[:len(b)-200]), VideoOptions{})
			require.NoError(t, err, path)
			frames, end := drain(t, src)
			require.NoError(t, src.Close())
			require.ErrorIs(t, end, ErrTruncated, path)
			require.NotEmpty(t, frames)
			require.Less(t, len(frames), 20)
		}
	})
	t.Run("a sound file of damaged frames", func(t *testing.T) {
		b := append([]byte(nil), whole...)
		for i := movi + 10*frame; i < idx; i++ {
			b[i] = 0
		}
		src, err := OpenVideo(saved(t, "zeroed.avi", b), VideoOptions{})
		require.NoError(t, err)
		defer src.Close()
		frames, end := drain(t, src)
		require.LessOrEqual(t, len(frames), 11)
		require.ErrorIs(t, end, ErrTruncated)
	})
}

func TestUnreadableVideos(t *testing.T) {
	avi := readFile(t, writeClip(t, 64, 48, 3, 30))
	movi := indexOf(avi, "movi")
	mp4 := readFile(t, tinyVideos()[0])
	webm := readFile(t, tinyVideos()[1])
	for _, tc := range []struct {
		name string
		file []byte
		says string
	}{
		{"empty", nil, "empty"},
		{"a text", []byte("a text named as a video\n"), "not a video"},
		{"a playlist", []byte("#EXTM3U\n#EXTINF:1,\n/etc/passwd\n"), "not a video"},
		{"a script for ffmpeg", []byte("ffconcat version 1.0\nfile /etc/passwd\n"), "not a video"},
		{"noise", []byte{0, 1, 2, 3, 4, 5}, "not a video"},
		{"one byte", []byte{0}, "not a video"},
		{"a picture", jpegBytes(t), "is a JPEG picture"},
		{"RIFF and nothing else", avi[:12], "no stream header"},
		{"AVI cut in the header", avi[:150], "damaged AVI"},
		{"AVI cut in the first frame", avi[:movi+100], "first frame"},
		{"AVI without frames", avi[:movi], "first frame"},
		{"AVI of width 0", patched(t, avi, "strf", 4+4, le(0)...), "0×48"},
		{"AVI of negative width", patched(t, avi, "strf", 4+4, le(0xffffffc0)...), "-64×48"},
		{"AVI of absurd size", patched(t, avi, "strf", 4+4, le(60000, 60000)...), "60000×60000 pixels is larger"},
		{"AVI just too wide", patched(t, avi, "strf", 4+4, le(MaxSide+1)...), "larger"},
		{"AVI without video", patched(t, avi, "strh", 4, []byte("auds")...), "no video stream"},
		{"AVI of an unknown codec", patched(t, patched(t, avi, "vids", 0, []byte("ZZZZ")...), "strf", 4+16, []byte("ZZZZ")...), "export it again"},
		{"MP4 that was not finished", append(append([]byte(nil), mp4[:32]...), be(0x1000)...), "damaged MP4"},
		{"MP4 cut in its index", mp4[:300], "within its index"},
		{"MP4 of absurd size", patched(t, mp4, "stsd", 40, 0xff, 0xff, 0xff, 0xff), "65535×65535 pixels is larger"},
		{"MP4 without video", patched(t, mp4, "hdlr", 8, []byte("soun")...), "no video track"},
		{"WebM cut in the header", webm[:60], "damaged Matroska"},
		// Without the guard around OpenCV's read this one ends the process.
		{"WebM whose header lies", patched(t, webm, "\xb0\x81", 0, 96), "OpenCV reports"},
		{"WebM of no width", patched(t, webm, "\xb0\x81", 0, 0), "0×48"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			path := saved(t, "input.avi", tc.file)
			src, err := OpenVideo(path, VideoOptions{})
			require.Error(t, err)
			require.Nil(t, src)
			require.ErrorIs(t, err, ErrUnreadable)
			require.ErrorContains(t, err, path)
			require.ErrorContains(t, err, tc.says)
		})
	}
	dir := t.TempDir()
	fifo := filepath.Join(dir, "pipe.avi")
	require.NoError(t, syscall.Mkfifo(fifo, 0o600))
	for path, says := range map[string]string{
		filepath.Join(dir, "missing.avi"): "file does not exist",
		dir:                               "folder",
		fifo:                              "not a regular file", // must not block
		"/dev/zero":                       "not a regular file",
		"nul\x00byte.avi":                 "invalid argument",
		"":                                "file does not exist",
	} {
		_, err := OpenVideo(path, VideoOptions{})
		require.ErrorIs(t, err, ErrUnreadable, path)
		require.ErrorContains(t, err, says)
	}
	if os.Geteuid() != 0 { // root may read everything
		path := saved(t, "secret.avi", avi)
		require.NoError(t, os.Chmod(path, 0))
		_, err := OpenVideo(path, VideoOptions{})
		require.ErrorIs(t, err, ErrUnreadable)
	}
}

func TestVideoNamesThatFFmpegMightTakeForMore(t *testing.T) {
	t.Chdir(t.TempDir())
	clip := readFile(t, writeClip(t, 64, 48, 3, 30))
	for _, name := range []string{"concat:a|b.avi", "http:x.avi", "-i.avi", "clip%03d.avi", "größe 100%.avi", "pipe:0"} {
		require.NoError(t, os.WriteFile(name, clip, 0o600))
		src, err := OpenVideo(name, VideoOptions{})
		require.NoError(t, err, name)
		frames, end := drain(t, src)
		require.NoError(t, src.Close())
		require.Equal(t, upTo(3), frames)
		require.Equal(t, io.EOF, end)
	}
}

// One pixel is a legal size and nothing that a decoder is often asked for.
func TestSmallestVideo(t *testing.T) {
	for _, size := range []image.Point{{1, 1}, {2, 2}, {1, 480}, {640, 1}} {
		src, err := OpenVideo(writeClip(t, size.X, size.Y, 3, 30), VideoOptions{})
		require.NoError(t, err)
		require.Equal(t, size, image.Pt(src.Info().Width, src.Info().Height))
		for range 3 {
			f, err := src.Next(context.Background())
			require.NoError(t, err)
			require.Equal(t, size, f.Image.Rect.Max)
		}
		require.NoError(t, src.Close())
	}
}

// fakeFile is a stream of pictures of given sizes.
type fakeFile struct {
	sizes  []image.Point
	stamps []time.Duration
	n      int
	closed bool
}

func (f *fakeFile) info() Info { return Info{Width: 1, Height: 1, FPS: 10, Frames: len(f.sizes)} }

func (f *fakeFile) read(_ context.Context, dst *image.RGBA) (time.Duration, error) {
	if f.n == len(f.sizes) {
		return 0, io.EOF
	}
	resize(dst, f.sizes[f.n].X, f.sizes[f.n].Y)
	f.n++
	if f.stamps == nil {
		return 0, nil
	}
	return f.stamps[f.n-1], nil
}

func (f *fakeFile) close() { f.closed = true }

func TestVideoThatChangesItsSize(t *testing.T) {
	f := &fakeFile{sizes: []image.Point{{64, 48}, {64, 48}, {96, 64}}}
	src, err := newVideo("fake", outline{}, VideoOptions{}, f)
	require.NoError(t, err)
	require.Equal(t, 64, src.Info().Width, "what came counts, not what was declared")
	for range 2 {
		_, err = src.Next(context.Background())
		require.NoError(t, err)
	}
	for range 2 {
		_, err = src.Next(context.Background())
		require.ErrorIs(t, err, ErrUnreadable)
		require.ErrorContains(t, err, "64×48 to 96×64")
	}
	require.NoError(t, src.Close())
	require.True(t, f.closed)
}

func TestFileClock(t *testing.T) {
	ms := func(v ...float64) (ds []time.Duration) {
		for _, x := range v {
			ds = append(ds, time.Duration(x*1e6))
		}
		return ds
	}
	for _, tc := range []struct {
		name         string
		rates        []float64
		stamps, want []time.Duration
	}{
		{"as the file says", []float64{30}, ms(0, 33, 67, 100), ms(0, 33, 67, 100)},
		{"from 0, wherever the file starts", []float64{30}, ms(1400, 1433, 1467), ms(0, 33, 67)},
		{"uneven", []float64{30}, ms(0, 10, 500, 501), ms(0, 10, 500, 501)},
		{"no stamps: the file's rate", []float64{20}, ms(0, 0, 0), ms(0, 50, 100)},
		{"no stamps, no rate: the caller's", []float64{0, 50}, ms(0, 0, 0), ms(0, 20, 40)},
		{"nothing at all: 30 a second", []float64{0, 0}, ms(0, 0), []time.Duration{0, time.Second / 30}},
		{"a stamp that stands still", []float64{10}, ms(0, 100, 100, 300), ms(0, 100, 200, 300)},
		{"a stamp that goes back", []float64{10}, ms(0, 100, 50, 300), ms(0, 100, 200, 300)},
		{"catching up after a step that was too long", []float64{10}, ms(0, 20, 20, 40, 60, 130), ms(0, 20, 120, 121, 122, 130)},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := newFileClock(tc.rates...)
			var got []time.Duration
			for _, s := range tc.stamps {
				c.at(s)
				got = append(got, c.last)
			}
			require.Equal(t, tc.want, got)
		})
	}
}

func TestFileClockStrictlyIncreases(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := newFileClock(rapid.Float64Range(-1, 120).Draw(t, "fps"))
		last := time.Duration(-1)
		for _, s := range rapid.SliceOf(rapid.Int64Range(0, 1e12)).Draw(t, "stamps") {
			c.at(time.Duration(s))
			if c.last <= last {
				t.Fatalf("%v after %v", c.last, last)
			}
			if last < 0 && c.last != 0 {
				t.Fatalf("starts at %v", c.last)
			}
			last = c.last
		}
	})
}

// Nothing that happens to a file in transit may end the process, and frames
// that come are as they should be. A process that aborts fails this test.
func TestDamagedVideos(t *testing.T) {
	files := []string{writeClip(t, 64, 48, 6, 30)}
	files = append(files, tinyVideos()...)
	rounds := 60
	if testing.Short() {
		rounds = 10
	}
	path := filepath.Join(t.TempDir(), "damaged")
	for _, file := range files {
		whole := readFile(t, file)
		for seed := range rounds {
			rnd := rand.New(rand.NewPCG(uint64(seed), uint64(len(whole))))
			b := damaged(rnd, whole)
			require.NoError(t, os.WriteFile(path, b, 0o600))
			playDamaged(t, path, fmt.Sprintf("%s damaged with seed %d", file, seed))
		}
	}
}

func damaged(rnd *rand.Rand, whole []byte) []byte {
	b := append([]byte(nil), whole...)
	switch rnd.IntN(4) {
	case 0: // cut
		b = b[:rnd.IntN(len(b))]
	case 1: // a hole
		at := rnd.IntN(len(b))
		clear(b[at:min(len(b), at+1+rnd.IntN(64))])
	case 2: // a piece missing
		at := rnd.IntN(len(b))
		b = append(b[:at], b[min(len(b), at+1+rnd.IntN(64)):]...)
	default:
		for range 1 + rnd.IntN(8) {
			b[rnd.IntN(len(b))] ^= 1 << rnd.IntN(8)
		}
	}
	return b
}

func playDamaged(t testing.TB, path, name string) {
	src, err := OpenVideo(path, VideoOptions{})
	if err != nil {
		require.ErrorIs(t, err, ErrUnreadable, name)
		return
	}
	defer src.Close()
	last := time.Duration(-1)
	for n := 0; ; n++ {
		f, err := src.Next(context.Background())
		if err != nil {
			require.True(t, errors.Is(err, io.EOF) || errors.Is(err, ErrUnreadable), "%s: %v", name, err)
			return
		}
		require.Less(t, n, 5000, name)
		require.Greater(t, f.Time, last, name)
		require.Equal(t, image.Pt(src.Info().Width, src.Info().Height), f.Image.Rect.Max, name)
		last = f.Time
	}
}

func TestVideoStopsWithItsContext(t *testing.T) {
	src, err := OpenVideo(writeClip(t, 64, 48, 3, 30), VideoOptions{})
	require.NoError(t, err)
	defer src.Close()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err = src.Next(ctx)
	require.ErrorIs(t, err, context.Canceled)
	frames, _ := drain(t, src)
	require.Equal(t, upTo(3), frames, "no frame is lost by it")
}

func TestFrameIsReusedAndRetainIsNot(t *testing.T) {
	src, err := OpenVideo(writeClip(t, 64, 48, 3, 30), VideoOptions{})
	require.NoError(t, err)
	defer src.Close()
	a, err := src.Next(context.Background())
	require.NoError(t, err)
	kept := a.Retain()
	require.Equal(t, a.Image.Pix, kept.Image.Pix)
	b, err := src.Next(context.Background())
	require.NoError(t, err)
	require.Same(t, a.Image, b.Image)
	require.Equal(t, 0, painted(kept.Image))
	require.Equal(t, 1, painted(b.Image))
	require.Equal(t, a.Index, kept.Index)
	require.Equal(t, Frame{}, Frame{}.Retain())
}

func TestErrorsReadWell(t *testing.T) {
	_, err := OpenVideo("missing.avi", VideoOptions{})
	require.EqualError(t, err, "missing.avi cannot be read: file does not exist; check the name")
	_, err = OpenVideo(saved(t, "x", []byte("\x1b[31mred")), VideoOptions{})
	require.False(t, strings.Contains(err.Error(), "\x1b"), "no control characters from files: %q", err)
}
