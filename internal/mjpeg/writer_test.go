package mjpeg

import (
	"bytes"
	"encoding/binary"
	"errors"
	"image"
	"image/jpeg"
	"math"
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

// le32 and indexOf look into a written file.
func le32(b []byte) uint32 { return binary.LittleEndian.Uint32(b) }

func indexOf(b []byte, mark string) int { return bytes.Index(b, []byte(mark)) }

func readFile(t *testing.T, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	require.NoError(t, err)
	return b
}

func TestWriterAbortLeavesNothing(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "out.avi")
	w, err := Create(path, Options{Width: 32, Height: 24, FPS: 25})
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
		w, h    int
		fps     float64
		quality int
	}{{0, 24, 30, 0}, {32, -1, 30, 0}, {9000, 24, 30, 0}, {32, 24, 0, 0}, {32, 24, -1, 0}, {32, 24, 1e9, 0}, {32, 24, math.NaN(), 0}, {32, 24, 30, -1}, {32, 24, 30, 101}} {
		_, err := Create(filepath.Join(dir, "out.avi"), Options{Width: tc.w, Height: tc.h, FPS: tc.fps, Quality: tc.quality})
		require.Error(t, err)
		require.ErrorContains(t, err, "out.avi")
	}
	_, err := Create(filepath.Join(dir, "no", "out.avi"), Options{Width: 32, Height: 24, FPS: 30})
	require.ErrorIs(t, err, os.ErrNotExist)
	_, err = Create(dir, Options{Width: 32, Height: 24, FPS: 30})
	require.ErrorContains(t, err, "not a file")
	_, err = Create("/dev/null", Options{Width: 32, Height: 24, FPS: 30})
	require.ErrorContains(t, err, "not a file")

	w, err := Create(filepath.Join(dir, "out.avi"), Options{Width: 32, Height: 24, FPS: 30})
	require.NoError(t, err)
	require.Error(t, w.Write(nil))
	require.ErrorContains(t, w.Write(image.NewRGBA(image.Rect(0, 0, 24, 32))), "32×24")
	require.ErrorContains(t, w.Close(), "no frame")
	require.Empty(t, entries(t, dir))
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
		w, err := create(path, Options{Width: 320, Height: 240, FPS: 30}, func(dir, pattern string) (tempFile, error) {
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
	_, err := create(filepath.Join(t.TempDir(), "out.avi"), Options{Width: 2, Height: 2, FPS: 30}, func(string, string) (tempFile, error) {
		return nil, errors.New("no more files")
	})
	require.ErrorContains(t, err, "no more files")
}

// What was written before the format's limit is a whole file.
func TestWriterAtTheLimitOfTheFormat(t *testing.T) {
	path := filepath.Join(t.TempDir(), "out.avi")
	w, err := Create(path, Options{Width: 64, Height: 48, FPS: 30})
	require.NoError(t, err)
	w.limit = 4000
	img := image.NewRGBA(image.Rect(0, 0, 64, 48))
	n := 0
	for {
		img.Pix[0] = uint8(n)
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
	pictures, index := parts(t, readFile(t, path))
	require.Len(t, pictures, n)
	require.Len(t, index, n)
}

// The file's own structure, byte by byte where players look.
func TestWrittenStructure(t *testing.T) {
	path := filepath.Join(t.TempDir(), "clip.avi")
	w, err := Create(path, Options{Width: 65, Height: 33, FPS: 30000.0 / 1001})
	require.NoError(t, err)
	for range 3 {
		require.NoError(t, w.Write(image.NewRGBA(image.Rect(0, 0, 65, 33))))
	}
	require.NoError(t, w.Close())
	b := readFile(t, path)
	pictures, _ := parts(t, b)
	for _, p := range pictures {
		c, err := jpeg.DecodeConfig(bytes.NewReader(p))
		require.NoError(t, err)
		require.Equal(t, []int{65, 33}, []int{c.Width, c.Height})
	}
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

// parts reads a file's pictures by walking its chunks, and its index.
func parts(t *testing.T, b []byte) (pictures [][]byte, index []uint32) {
	t.Helper()
	at := moviType + 4
	for string(b[at:at+4]) == "00dc" {
		n := int(le32(b[at+4:]))
		pictures = append(pictures, b[at+8:at+8+n])
		at += 8 + n + n&1
	}
	require.Equal(t, "idx1", string(b[at:at+4]))
	for e := b[at+8:]; len(e) > 0; e = e[16:] {
		index = append(index, le32(e[8:]))
	}
	return pictures, index
}
