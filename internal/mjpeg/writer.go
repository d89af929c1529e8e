// Package mjpeg writes videos of JPEG pictures (MJPG) in AVI files, in Go
// alone.
//
// Sizes are in pixels, rates in frames a second. One chunk is one frame; the
// index at the end names each as a key frame. The file is limited to what a
// 32-bit length can say, a little under 4 GiB.
//
// # Errors
//
// Every error names the file. A full disk is an error of Write or Close that
// wraps the system's own; nothing but an older file of the same name is left
// then.
package mjpeg

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"math"
	"os"
	"path/filepath"
)

// DefaultQuality of the pictures. At 85 a skeleton drawn one pixel wide keeps
// its edges and a 640×480 frame takes about 40 KB.
const DefaultQuality = 85

// maxSide bounds a picture's width and height: the format's stream header has
// 16 bits for each, and nobody films more.
const maxSide = 8192

// Options of a video.
type Options struct {
	Width, Height int
	// FPS is the steady rate, 0.1 to 1000.
	FPS float64
	// Quality of the JPEG pictures, 1 to 100; 0 is DefaultQuality.
	Quality int
}

func (o Options) check() error {
	switch {
	case o.Width <= 0 || o.Height <= 0 || o.Width > maxSide || o.Height > maxSide:
		return fmt.Errorf("a picture of %d×%d pixels is not possible; each side must be 1 to %d", o.Width, o.Height, maxSide)
	case !(o.FPS >= 0.1 && o.FPS <= 1000):
		return fmt.Errorf("%g frames a second is not a rate", o.FPS)
	case o.Quality < 1 || o.Quality > 100:
		return fmt.Errorf("JPEG quality %d is outside 1 to 100", o.Quality)
	}
	return nil
}

// maxAVI is where a RIFF file's 32-bit lengths end, less room for the index.
const maxAVI = math.MaxUint32 - 64<<20

// Writer writes frames of one size and a steady rate to an AVI file of JPEG
// pictures, which every common player reads. It is written in Go because
// OpenCV's writer cannot say that the disk is full.
//
// The file grows under a temporary name beside its place and takes its place
// only when Close succeeds; a run that fails leaves neither a half file nor
// the loss of an older one. Use it as
//
//	w, err := mjpeg.Create(...)
//	defer w.Abort() // nothing after a successful Close
//	... w.Write(img) ...
//	err = w.Close()
//
// It is for one goroutine at a time.
type Writer struct {
	path   string
	file   tempFile
	buf    *bufio.Writer
	size   int64 // bytes written so far
	limit  int64
	o      Options
	frames []aviFrame
	jpeg   jpegBuffer
	err    error // first failure, sticky
	done   bool
}

// tempFile is the part of *os.File that a Writer uses.
type tempFile interface {
	io.Writer
	io.WriterAt
	io.Closer
	Sync() error
	Chmod(os.FileMode) error
	Name() string
}

// aviFrame is a frame's place for the index: offset of its chunk from the
// movi list's type, and length of its data.
type aviFrame struct{ offset, length uint32 }

type jpegBuffer []byte

func (b *jpegBuffer) Write(p []byte) (int, error) {
	*b = append(*b, p...)
	return len(p), nil
}

// Create begins a video at path.
func Create(path string, o Options) (*Writer, error) {
	return create(path, o, func(dir, pattern string) (tempFile, error) { return os.CreateTemp(dir, pattern) })
}

func create(path string, o Options, temp func(dir, pattern string) (tempFile, error)) (*Writer, error) {
	if o.Quality == 0 {
		o.Quality = DefaultQuality
	}
	if err := o.check(); err != nil {
		return nil, fmt.Errorf("cannot write video %s: %w", path, err)
	}
	if st, err := os.Stat(path); err == nil && !st.Mode().IsRegular() {
		return nil, fmt.Errorf("cannot write video %s: it exists and is not a file; choose another name", path)
	}
	f, err := temp(filepath.Dir(path), "."+filepath.Base(path)+".*.part")
	if err != nil {
		return nil, fmt.Errorf("cannot write video %s: %w", path, err)
	}
	v := &Writer{path: path, file: f, limit: maxAVI, o: o}
	v.buf = bufio.NewWriterSize(f, 1<<16)
	v.put(v.header())
	if v.err != nil {
		v.Abort()
		return nil, v.err
	}
	return v, nil
}

// put appends to the file and keeps the first error.
func (v *Writer) put(p []byte) {
	if v.err != nil {
		return
	}
	n, err := v.buf.Write(p)
	v.size += int64(n)
	v.fail(err)
}

func (v *Writer) fail(err error) {
	if err != nil && v.err == nil {
		v.err = fmt.Errorf("cannot write video %s: %w", v.path, err)
	}
}

// Write appends a frame. Its picture may be changed as soon as Write returns.
// After an error all further calls return that error.
func (v *Writer) Write(img *image.RGBA) error {
	switch {
	case v.err != nil:
		return v.err
	case v.done:
		return fmt.Errorf("cannot write video %s: it is finished", v.path)
	case img == nil || img.Rect.Dx() != v.o.Width || img.Rect.Dy() != v.o.Height:
		return fmt.Errorf("cannot write video %s: a frame is not %d×%d pixels like the others", v.path, v.o.Width, v.o.Height)
	}
	v.jpeg = v.jpeg[:0]
	if err := jpeg.Encode(&v.jpeg, img, &jpeg.Options{Quality: v.o.Quality}); err != nil {
		v.fail(err)
		return v.err
	}
	n := len(v.jpeg)
	if v.size+int64(n)+16*int64(len(v.frames)+2) > v.limit {
		// Not sticky: what there is can still be closed as a whole file.
		return fmt.Errorf("cannot write more to video %s: after %d frames it is as large as an AVI file can be; write a shorter part", v.path, len(v.frames))
	}
	v.frames = append(v.frames, aviFrame{uint32(v.size - moviType), uint32(n)})
	v.put(chunkHead("00dc", n))
	v.put(v.jpeg)
	if n&1 == 1 { // chunks start at even places
		v.put([]byte{0})
	}
	return v.err
}

// Frames returns how many frames have been written.
func (v *Writer) Frames() int { return len(v.frames) }

// Close writes the index, waits until the disk has everything and puts the
// file in its place. On an error nothing is left behind. A video without a
// frame is an error. Calls after the first do nothing.
func (v *Writer) Close() error {
	if v.done {
		return v.err
	}
	if len(v.frames) == 0 {
		v.fail(errors.New("no frame was written"))
	}
	moviEnd := v.size
	v.put(chunkHead("idx1", 16*len(v.frames)))
	var e [16]byte
	copy(e[:], "00dc\x10\x00\x00\x00") // 0x10: a key frame
	for _, f := range v.frames {
		binary.LittleEndian.PutUint32(e[8:], f.offset)
		binary.LittleEndian.PutUint32(e[12:], f.length)
		v.put(e[:])
	}
	if v.err == nil {
		v.fail(v.buf.Flush())
	}
	if v.err == nil {
		h := v.header()
		binary.LittleEndian.PutUint32(h[4:], uint32(v.size-8))
		binary.LittleEndian.PutUint32(h[moviType-4:], uint32(moviEnd-moviType))
		_, err := v.file.WriteAt(h, 0)
		v.fail(err)
	}
	if v.err == nil {
		// CreateTemp makes files for the owner only; so are clients' videos
		// to stay, but a file that was there keeps its mode.
		if st, err := os.Stat(v.path); err == nil {
			v.fail(v.file.Chmod(st.Mode().Perm()))
		}
	}
	if v.err == nil {
		v.fail(v.file.Sync())
	}
	if v.err != nil {
		v.Abort()
		return v.err
	}
	v.done = true
	v.fail(v.file.Close())
	if v.err == nil {
		v.fail(os.Rename(v.file.Name(), v.path))
	}
	if v.err != nil {
		os.Remove(v.file.Name())
	}
	return v.err
}

// Abort gives up and removes the unfinished file. After Close it does nothing.
func (v *Writer) Abort() {
	if v.done {
		return
	}
	v.done = true
	v.file.Close()
	os.Remove(v.file.Name())
}

// moviType is the place of the movi list's type in the file, right after the
// header lists, from which index offsets count.
const moviType = 12 + 8 + hdrlSize + 8

// hdrlSize is the header list: its type, the main header, and a stream list of
// its type, stream header and picture format.
const hdrlSize = 4 + (8 + 56) + (8 + 4 + (8 + 56) + (8 + 40))

// header builds everything up to the first frame ("AVI RIFF File Reference",
// DirectShow documentation). Lengths that are not known yet are 0.
func (v *Writer) header() []byte {
	longest := uint32(0)
	for _, f := range v.frames {
		longest = max(longest, f.length)
	}
	// Rates as a fraction of thousandths, and exact for the broadcast ones
	// such as 30000/1001.
	scale, rate := uint32(1000), uint32(math.Round(v.o.FPS*1000))
	if ntsc := math.Round(v.o.FPS * 1001 / 1000); math.Abs(ntsc*1000/1001-v.o.FPS) < 0.0005 {
		scale, rate = 1001, uint32(ntsc)*1000
	}
	le := binary.LittleEndian
	b := make([]byte, 0, moviType+4)
	text := func(s string) { b = append(b, s...) }
	u32 := func(vs ...uint32) {
		for _, x := range vs {
			b = le.AppendUint32(b, x)
		}
	}
	u16 := func(vs ...uint16) {
		for _, x := range vs {
			b = le.AppendUint16(b, x)
		}
	}
	text("RIFF\x00\x00\x00\x00AVI LIST")
	u32(hdrlSize)
	text("hdrlavih")
	const hasIndex = 0x10
	u32(56, uint32(math.Round(1e6/v.o.FPS)), 0, 0, hasIndex, uint32(len(v.frames)), 0, 1,
		longest, uint32(v.o.Width), uint32(v.o.Height), 0, 0, 0, 0)
	text("LIST")
	u32(4 + (8 + 56) + (8 + 40))
	text("strlstrh")
	u32(56)
	text("vidsMJPG")
	u32(0, 0, 0, scale, rate, 0, uint32(len(v.frames)), longest, math.MaxUint32, 0)
	u16(0, 0, uint16(v.o.Width), uint16(v.o.Height))
	text("strf")
	u32(40, 40, uint32(v.o.Width), uint32(v.o.Height))
	u16(1, 24)
	text("MJPG")
	u32(uint32(3*v.o.Width*v.o.Height), 0, 0, 0, 0)
	text("LIST")
	u32(0)
	text("movi")
	return b
}

func chunkHead(id string, n int) []byte {
	return binary.LittleEndian.AppendUint32([]byte(id), uint32(n))
}
