package camera

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

// outlineMP4 walks the boxes of an ISO base media or QuickTime file
// (ISO/IEC 14496-12) as far as the first video track's sample description.
func outlineMP4(r io.ReaderAt, size int64) (outline, error) {
	var o outline
	var movie, media bool
	err := boxes(r, 0, size, func(b box) error {
		if b.end > size {
			o.truncated = true
		}
		switch b.typ {
		case "moov":
			if b.end > size {
				return errors.New("it ends within its index")
			}
			movie = true
			var err error
			o.width, o.height, o.orientation, err = mp4Track(r, b)
			return err
		case "mdat", "moof":
			media = true
		}
		return nil
	})
	switch {
	case err != nil:
		return o, err
	case !movie:
		return o, errors.New("the recording was not finished, it has no index (moov)")
	case !media:
		return o, errors.New("it has an index but no pictures (mdat)")
	}
	return o, nil
}

// mp4Track looks through the tracks of a moov box for the first video track:
// the size of its coded pictures, and the orientation (as in EXIF, 1 to 8) to
// show them in.
func mp4Track(r io.ReaderAt, moov box) (w, h, orientation int, err error) {
	err = boxes(r, moov.body, moov.end, func(trak box) error {
		if trak.typ != "trak" || w != 0 {
			return nil
		}
		var video bool
		turn := 1
		// Depth first through what holds what is wanted, in file order; the
		// handler comes before the tables.
		var visit func(b box) error
		visit = func(b box) error {
			switch b.typ {
			case "mdia", "minf", "stbl":
				return boxes(r, b.body, b.end, visit)
			case "tkhd":
				// 40 bytes up to the matrix, or 52 with 64-bit times.
				var t [52 + 36]byte
				n := min(int64(len(t)), b.end-b.body)
				if n < 40+36 {
					return nil
				}
				if err := readFull(r, t[:n], b.body); err != nil {
					return err
				}
				switch {
				case t[0] == 0:
					turn = matrixOrientation(t[40:])
				case n == int64(len(t)):
					turn = matrixOrientation(t[52:])
				}
			case "hdlr":
				var t [12]byte
				if b.end-b.body < int64(len(t)) {
					return nil
				}
				if err := readFull(r, t[:], b.body); err != nil {
					return err
				}
				video = string(t[8:]) == "vide"
			case "stsd":
				// Full box header 4, entry count 4, then the first entry:
				// size 4, type 4, 6+2, 16, width 2, height 2.
				var e [44]byte
				if !video || b.end-b.body < int64(len(e)) {
					return nil
				}
				if err := readFull(r, e[:], b.body); err != nil {
					return err
				}
				w = int(binary.BigEndian.Uint16(e[40:]))
				h = int(binary.BigEndian.Uint16(e[42:]))
				orientation = turn
				if w == 0 || h == 0 {
					return fmt.Errorf("it declares a picture of %d×%d pixels", w, h)
				}
			}
			return nil
		}
		return boxes(r, trak.body, trak.end, visit)
	})
	if err == nil && w == 0 {
		err = errors.New("it has no video track")
	}
	return w, h, orientation, err
}

// matrixOrientation reads a track's matrix (a b u, c d v, x y w in ISO/IEC
// 14496-12, 8.3.2), which takes a pixel x, y to ax+cy, bx+dy, as the EXIF
// orientation of the same effect. Matrices that are no quarter turn or flip
// leave the picture as it is.
func matrixOrientation(t []byte) int {
	at := func(i int) int32 { return int32(be32(t[4*i:])) }
	const one = 1 << 16
	switch [4]int32{at(0), at(1), at(3), at(4)} {
	case [4]int32{-one, 0, 0, one}:
		return 2
	case [4]int32{-one, 0, 0, -one}:
		return 3
	case [4]int32{one, 0, 0, -one}:
		return 4
	case [4]int32{0, one, one, 0}:
		return 5
	case [4]int32{0, one, -one, 0}:
		return 6
	case [4]int32{0, -one, -one, 0}:
		return 7
	case [4]int32{0, -one, one, 0}:
		return 8
	}
	return 1
}

// box is a box's type and place; end may lie beyond the file.
type box struct {
	typ       string
	body, end int64
}

// boxes calls visit for each box from off to end, in order.
func boxes(r io.ReaderAt, off, end int64, visit func(box) error) error {
	for n := 0; off+8 <= end && n < 65536; n++ {
		var h [16]byte
		if err := readFull(r, h[:8], off); err != nil {
			return err
		}
		b := box{typ: string(h[4:8]), body: off + 8}
		switch n := be32(h[:]); n {
		case 0: // to the end of what holds it
			b.end = end
		case 1: // 64-bit length follows
			if off+16 > end {
				return io.ErrUnexpectedEOF
			}
			if err := readFull(r, h[8:], off+8); err != nil {
				return err
			}
			b.body = off + 16
			l := binary.BigEndian.Uint64(h[8:])
			if l < 16 || l > 1<<62 {
				return errors.New("a box has an impossible length")
			}
			b.end = off + int64(l)
		default:
			if n < 8 {
				return errors.New("a box has an impossible length")
			}
			b.end = off + int64(n)
		}
		if err := visit(b); err != nil {
			return err
		}
		if b.end <= off || b.end > end {
			break
		}
		off = b.end
	}
	return nil
}
