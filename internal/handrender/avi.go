package handrender

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// aviWriter writes a Motion-JPEG AVI 1.0 file: a RIFF with one video stream
// and an index (Microsoft, "AVI RIFF File Reference"). The header is written
// first with counts of zero and again by Close.
type aviWriter struct {
	w       io.WriteSeeker
	at      int64 // bytes written
	width   int
	height  int
	rate    uint32 // frames a second is rate over scale
	scale   uint32
	index   [][2]uint32
	largest uint32
	movi    int64 // where the movi list begins
}

// Four-byte marks and sizes make an AVI 1.0 file at most 2 GiB in practice.
const maxAVI = 1 << 31

func newAVIWriter(w io.WriteSeeker, width, height int, fps float64) (*aviWriter, error) {
	if width <= 0 || height <= 0 || width > 16384 || height > 16384 {
		return nil, fmt.Errorf("video of %d x %d pixels", width, height)
	}
	if !(fps > 0 && fps <= 1000) {
		return nil, fmt.Errorf("video at %v frames a second", fps)
	}
	a := &aviWriter{w: w, width: width, height: height, rate: uint32(math.Round(fps * 1000)), scale: 1000}
	if fps == math.Trunc(fps) {
		a.rate, a.scale = uint32(fps), 1
	}
	return a, a.write(a.header())
}

func (a *aviWriter) write(b []byte) error {
	n, err := a.w.Write(b)
	a.at += int64(n)
	return err
}

// header builds everything before the first frame, with the counts so far.
func (a *aviWriter) header() []byte {
	le := binary.LittleEndian
	var b []byte
	u32 := func(v ...uint32) {
		for _, x := range v {
			b = le.AppendUint32(b, x)
		}
	}
	mark := func(s string) { b = append(b, s...) }
	chunk := func(id string, body func()) {
		mark(id)
		at := len(b)
		u32(0)
		body()
		le.PutUint32(b[at:], uint32(len(b)-at-4))
	}
	n := uint32(len(a.index))
	mark("RIFF")
	u32(uint32(max(a.at-8, 0)))
	mark("AVI ")
	chunk("LIST", func() {
		mark("hdrl")
		const hasIndex = 0x10
		chunk("avih", func() {
			perFrame := uint32(math.Round(1e6 * float64(a.scale) / float64(a.rate)))
			u32(perFrame, 0, 0, hasIndex, n, 0, 1, a.largest, uint32(a.width), uint32(a.height), 0, 0, 0, 0)
		})
		chunk("LIST", func() {
			mark("strl")
			chunk("strh", func() {
				mark("vids")
				mark("MJPG")
				u32(0, 0, 0, a.scale, a.rate, 0, n, a.largest, math.MaxUint32, 0, 0)
				u32(uint32(a.width) | uint32(a.height)<<16) // right and bottom of the frame, 16 bits each
			})
			chunk("strf", func() { // BITMAPINFOHEADER
				u32(40, uint32(a.width), uint32(a.height), 1|24<<16)
				mark("MJPG")
				u32(uint32(a.width*a.height*3), 0, 0, 0, 0)
			})
		})
	})
	a.movi = int64(len(b))
	mark("LIST")
	u32(a.moviSize())
	mark("movi")
	return b
}

// moviSize is the size of the list of frames: its mark and, for each frame, a
// chunk header, the data and a byte to make it even.
func (a *aviWriter) moviSize() uint32 {
	size := uint32(4)
	for _, e := range a.index {
		size += 8 + e[1] + e[1]&1
	}
	return size
}

// Add appends one JPEG picture.
func (a *aviWriter) Add(jpeg []byte) error {
	if a.at+int64(len(jpeg))+int64(16*len(a.index))+1024 > maxAVI {
		return errors.New("clip is larger than an AVI file may be (2 GiB); make it shorter or smaller")
	}
	n := uint32(len(jpeg))
	a.index = append(a.index, [2]uint32{uint32(a.at - a.movi - 8), n})
	a.largest = max(a.largest, n)
	head := binary.LittleEndian.AppendUint32([]byte("00dc"), n)
	if err := a.write(head); err != nil {
		return err
	}
	if err := a.write(jpeg); err != nil {
		return err
	}
	if n&1 == 1 {
		return a.write([]byte{0})
	}
	return nil
}

// Close writes the index and the final header; it does not close the file.
func (a *aviWriter) Close() error {
	le := binary.LittleEndian
	idx := le.AppendUint32([]byte("idx1"), uint32(16*len(a.index)))
	const keyFrame = 0x10
	for _, e := range a.index {
		idx = append(idx, "00dc"...)
		idx = le.AppendUint32(le.AppendUint32(le.AppendUint32(idx, keyFrame), e[0]), e[1])
	}
	if err := a.write(idx); err != nil {
		return err
	}
	if _, err := a.w.Seek(0, io.SeekStart); err != nil {
		return err
	}
	_, err := a.w.Write(a.header())
	return err
}
