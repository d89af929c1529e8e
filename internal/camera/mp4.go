package camera

import (
	"encoding/binary"
	"errors"
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
			o.width, o.height, err = mp4Size(r, b)
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

// mp4Size looks through the tracks of a moov box for a video track.
func mp4Size(r io.ReaderAt, moov box) (w, h int, err error) {
	var found bool
	err = boxes(r, moov.body, moov.end, func(trak box) error {
		if trak.typ != "trak" || found {
			return nil
		}
		var video bool
		return boxes(r, trak.body, trak.end, func(mdia box) error {
			if mdia.typ != "mdia" {
				return nil
			}
			return boxes(r, mdia.body, mdia.end, func(b box) error {
				switch b.typ {
				case "hdlr":
					var h [12]byte
					if b.end-b.body >= 12 {
						if err := readFull(r, h[:], b.body); err != nil {
							return err
						}
					}
					video = string(h[8:12]) == "vide"
				case "minf":
					if !video {
						return nil
					}
					return boxes(r, b.body, b.end, func(stbl box) error {
						if stbl.typ != "stbl" {
							return nil
						}
						return boxes(r, stbl.body, stbl.end, func(b box) error {
							// Full box header 4, entry count 4, then the first
							// entry: size 4, type 4, 6+2, 16, width 2, height 2.
							if b.typ != "stsd" || b.end-b.body < 44 {
								return nil
							}
							var e [44]byte
							if err := readFull(r, e[:], b.body); err != nil {
								return err
							}
							w = int(binary.BigEndian.Uint16(e[40:]))
							h = int(binary.BigEndian.Uint16(e[42:]))
							found = true
							return nil
						})
					})
				}
				return nil
			})
		})
	})
	if err == nil && !found {
		err = errors.New("it has no video track")
	}
	return w, h, err
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
