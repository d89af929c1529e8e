package camera

import (
	"bytes"
	"errors"
	"image"
	"io"
	"os"
	"path/filepath"
	"syscall"
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

func TestWriterAbortLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "out.avi")
	w, err := NewVideoWriter(path, 32, 24, 25)
	require.NoError(t, err)
	require.NoError(t, w.Write(image.NewRGBA(image.Rect(0, 0, 32, 24))))
	w.Abort()
	w.Abort()
	require.Empty(t, entries(t, dir))
	require.NoError(t, w.Close(), "after Abort there is nothing to report")
	require.Empty(t, entries(t, dir))
}

func TestWriterRefuses(t *testing.T) {
	dir := t.TempDir()
	for _, tc := range []struct {
		w, h int
		fps  float64
	}{{0, 24, 30}, {32, -1, 30}, {9000, 24, 30}, {32, 24, 0}, {32, 24, -1}, {32, 24, 1e9}} {
		_, err := NewVideoWriter(filepath.Join(dir, "out.avi"), tc.w, tc.h, tc.fps)
		require.Error(t, err)
		require.ErrorContains(t, err, "out.avi")
	}
	_, err := NewVideoWriter(filepath.Join(dir, "no", "out.avi"), 32, 24, 30)
	require.ErrorIs(t, err, os.ErrNotExist)
	_, err = NewVideoWriter(dir, 32, 24, 30)
	require.ErrorContains(t, err, "not a file")
	_, err = NewVideoWriter("/dev/null", 32, 24, 30)
	require.ErrorContains(t, err, "not a file")

	w, err := NewVideoWriter(filepath.Join(dir, "out.avi"), 32, 24, 30)
	require.NoError(t, err)
	require.Error(t, w.Write(nil))
	require.ErrorContains(t, w.Write(image.NewRGBA(image.Rect(0, 0, 24, 32))), "32×24")
	require.ErrorContains(t, w.Close(), "no frame")
	require.Empty(t, entries(t, dir))
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

// failingFile fails its n-th operation with a full disk.
type failingFile struct {
	*os.File
	left *int
}

var errFull error = syscall.ENOSPC

func (f failingFile) fails() bool {
	*f.left--
	return *f.left < 0
}

func (f failingFile) Write(p []byte) (int, error) {
	if f.fails() {
		n, _ := f.File.Write(p[:len(p)/2])
		return n, errFull
	}
	return f.File.Write(p)
}

func (f failingFile) WriteAt(p []byte, off int64) (int, error) {
	if f.fails() {
		return 0, errFull
	}
	return f.File.WriteAt(p, off)
}

func (f failingFile) Sync() error {
	if f.fails() {
		return errFull
	}
	return f.File.Sync()
}

func (f failingFile) Close() error {
	err := f.File.Close()
	if f.fails() {
		return errFull
	}
	return err
}

// The disk fills up at the first, second, third ... operation, until all goes
// well: each time the error is told and nothing but the older file is left.
func TestWriterOnAFullDisk(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 320, 240))
	for i := range img.Pix { // noise, so that the buffer is flushed often
		img.Pix[i] = uint8(i * i >> 3)
	}
	failures := 0
	for n := 0; ; n++ {
		require.Less(t, n, 1000)
		dir := t.TempDir()
		path := filepath.Join(dir, "out.avi")
		require.NoError(t, os.WriteFile(path, []byte("older"), 0o600))
		left := n
		w, err := newVideoWriter(path, 320, 240, 30, func(dir, pattern string) (tempFile, error) {
			f, err := os.CreateTemp(dir, pattern)
			return failingFile{f, &left}, err
		})
		require.NoError(t, err, "the header waits in the buffer")
		for range 10 {
			if err = w.Write(img); err != nil {
				require.ErrorIs(t, err, errFull)
				require.Equal(t, err, w.Write(img), "it stays failed")
				break
			}
		}
		err = w.Close()
		if err == nil {
			require.GreaterOrEqual(t, left, 0)
			break
		}
		failures++
		require.ErrorIs(t, err, errFull)
		require.ErrorContains(t, err, path)
		require.Equal(t, []string{"out.avi"}, entries(t, dir))
		require.Equal(t, "older", string(readFile(t, path)))
	}
	require.Greater(t, failures, 5)
	_, err := newVideoWriter(filepath.Join(t.TempDir(), "out.avi"), 2, 2, 30, func(string, string) (tempFile, error) {
		return nil, errors.New("no more files")
	})
	require.ErrorContains(t, err, "no more files")
}

// What was written before the format's limit is a whole file.
func TestWriterAtTheLimitOfTheFormat(t *testing.T) {
	path := filepath.Join(t.TempDir(), "out.avi")
	w, err := NewVideoWriter(path, 64, 48, 30)
	require.NoError(t, err)
	w.limit = 4000
	img := image.NewRGBA(image.Rect(0, 0, 64, 48))
	n := 0
	for {
		paint(img, n)
		if err = w.Write(img); err != nil {
			break
		}
		n++
	}
	require.ErrorContains(t, err, "as large as an AVI file can be")
	require.NoError(t, w.Close())
	st, err := os.Stat(path)
	require.NoError(t, err)
	require.LessOrEqual(t, st.Size(), int64(4000))
	src, err := OpenVideo(path, VideoOptions{})
	require.NoError(t, err)
	defer src.Close()
	frames, end := drain(t, src)
	require.Equal(t, upTo(n), frames)
	require.Equal(t, io.EOF, end)
}

// The file's own structure, byte by byte where players look.
func TestWrittenStructure(t *testing.T) {
	b := readFile(t, writeClip(t, 65, 33, 3, 30000.0/1001))
	require.EqualValues(t, len(b)-8, le32(b[4:]))
	require.Equal(t, "movi", string(b[moviType:moviType+4]))
	avih := b[indexOf(b, "avih")+8:]
	require.EqualValues(t, 33367, le32(avih), "microseconds a frame")
	require.EqualValues(t, 3, le32(avih[16:]))
	strh := b[indexOf(b, "strh")+8:]
	require.Equal(t, []uint32{1001, 30000}, []uint32{le32(strh[20:]), le32(strh[24:])})
	idx := indexOf(b, "idx1")
	require.EqualValues(t, 3*16, le32(b[idx+4:]))
	require.EqualValues(t, idx-moviType, le32(b[moviType-4:]))
	for i := range 3 {
		e := b[idx+8+16*i:]
		at := moviType + int(le32(e[8:]))
		require.Equal(t, "00dc", string(b[at:at+4]))
		require.Equal(t, le32(e[12:]), le32(b[at+4:]))
		require.True(t, bytes.HasPrefix(b[at+8:], []byte{0xff, 0xd8}), "a JPEG picture")
		require.Zero(t, at%2)
	}
}
