package camera

import (
	"errors"
	"io"
	"math/bits"
)

// Element IDs of Matroska (RFC 9559) that the outline needs.
const (
	ebmlHeader      = 0x1A45DFA3
	mkvSegment      = 0x18538067
	mkvCluster      = 0x1F43B675
	mkvTracks       = 0x1654AE6B
	mkvTrackEntry   = 0xAE
	mkvVideo        = 0xE0
	mkvPixelWidth   = 0xB0
	mkvPixelHeight  = 0xBA
	ebmlUnknownSize = -1
)

// outlineMatroska walks the EBML elements (RFC 8794) down to the first video
// track's picture size.
func outlineMatroska(r io.ReaderAt, size int64) (outline, error) {
	var o outline
	var segment, tracks, cluster bool
	err := elements(r, 0, size, func(e element) (bool, error) {
		if e.id != mkvSegment {
			return true, nil
		}
		segment = true
		end := size
		if e.size != ebmlUnknownSize {
			o.truncated = e.body+e.size > size
			end = min(size, e.body+e.size)
		}
		return false, elements(r, e.body, end, func(e element) (bool, error) {
			switch e.id {
			case mkvTracks:
				tracks = true
				if e.size == ebmlUnknownSize || e.body+e.size > end {
					return false, errors.New("it ends within its track list")
				}
				var err error
				o.width, o.height, err = mkvSize(r, e.body, e.body+e.size)
				return true, err
			case mkvCluster:
				// The tracks come first, and a cluster may be of unknown size.
				cluster = true
				return false, nil
			}
			return true, nil
		})
	})
	switch {
	case err != nil:
		return o, err
	case !segment || !tracks:
		return o, errors.New("it has no track list")
	case !cluster:
		return o, errors.New("it ends before the first frame")
	}
	return o, nil
}

func mkvSize(r io.ReaderAt, off, end int64) (w, h int, err error) {
	// Three levels, all of known size: entries, their video part, its fields.
	var walk func(off, end int64) error
	depth := 0
	walk = func(off, end int64) error {
		depth++
		defer func() { depth-- }()
		return elements(r, off, end, func(e element) (bool, error) {
			if e.size == ebmlUnknownSize || e.body+e.size > end {
				return false, errors.New("its track list is garbled")
			}
			switch e.id {
			case mkvTrackEntry, mkvVideo:
				if depth < 4 && w == 0 {
					return true, walk(e.body, e.body+e.size)
				}
			case mkvPixelWidth, mkvPixelHeight:
				n, err := ebmlUint(r, e)
				if err != nil {
					return false, err
				}
				if e.id == mkvPixelWidth {
					w = n
				} else {
					h = n
				}
			}
			return true, nil
		})
	}
	if err := walk(off, end); err != nil {
		return 0, 0, err
	}
	if w == 0 && h == 0 {
		return 0, 0, errors.New("it has no video track")
	}
	return w, h, nil
}

type element struct {
	id         uint32
	body, size int64 // size may be ebmlUnknownSize
}

// elements calls visit for each element from off to end until visit says no.
func elements(r io.ReaderAt, off, end int64, visit func(element) (more bool, err error)) error {
	for n := 0; off < end && n < 65536; n++ {
		id, idLen, err := ebmlVint(r, off, end, 4, true)
		if err != nil {
			return err
		}
		length, lenLen, err := ebmlVint(r, off+idLen, end, 8, false)
		if err != nil {
			return err
		}
		e := element{id: uint32(id), body: off + idLen + lenLen, size: int64(length)}
		if length == 1<<(7*lenLen)-1 {
			e.size = ebmlUnknownSize
		} else if length > 1<<56 {
			return errors.New("an element has an impossible length")
		}
		more, err := visit(e)
		if err != nil || !more {
			return err
		}
		if e.size == ebmlUnknownSize {
			return errors.New("an element that must have a length has none")
		}
		off = e.body + e.size
	}
	return nil
}

// ebmlVint reads a variable-length number of at most limit bytes. IDs keep the
// marker bit that tells their length.
func ebmlVint(r io.ReaderAt, off, end int64, limit int, keepMarker bool) (v uint64, n int64, err error) {
	var b [8]byte
	avail := min(int64(limit), end-off)
	if avail <= 0 {
		return 0, 0, io.ErrUnexpectedEOF
	}
	if err := readFull(r, b[:avail], off); err != nil {
		return 0, 0, err
	}
	n = int64(bits.LeadingZeros8(b[0])) + 1
	if n > int64(limit) {
		return 0, 0, errors.New("an element has no valid name or length")
	}
	if n > avail {
		return 0, 0, io.ErrUnexpectedEOF
	}
	v = uint64(b[0])
	if !keepMarker {
		v &= 1<<(8-n) - 1
	}
	for _, c := range b[1:n] {
		v = v<<8 | uint64(c)
	}
	return v, n, nil
}

func ebmlUint(r io.ReaderAt, e element) (int, error) {
	if e.size < 1 || e.size > 8 {
		return 0, errors.New("a number in its track list has an impossible length")
	}
	var b [8]byte
	if err := readFull(r, b[:e.size], e.body); err != nil {
		return 0, err
	}
	v := uint64(0)
	for _, c := range b[:e.size] {
		v = v<<8 | uint64(c)
	}
	if v > 1<<31 {
		return 1 << 31, nil // far beyond any limit; checkSize refuses it
	}
	return int(v), nil
}
