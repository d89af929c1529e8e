package camera

import (
	"errors"
	"io"
)

// outlineAVI walks the RIFF chunks of an AVI file ("AVI RIFF File Reference",
// DirectShow documentation): the picture size from the video stream's format,
// and, where the file is shorter than its chunks claim, how many frames are
// complete.
func outlineAVI(r io.ReaderAt, size int64) (outline, error) {
	var o outline
	var hdr [12]byte
	if err := readFull(r, hdr[:], 0); err != nil {
		return o, err
	}
	// A recorder that was killed leaves 0 here, or what it last wrote.
	declared := int64(le32(hdr[4:])) + 8
	o.truncated = declared > size || declared == 8
	var header, movi, counted bool
walk:
	for off, n := int64(12), 0; off+8 <= size && n < maxChunks; n++ {
		c, err := riffChunkAt(r, off, size)
		if err != nil {
			return o, err
		}
		switch {
		case c.id == "LIST" && c.list == "hdrl":
			header = true
			o.width, o.height, err = aviSize(r, c.body+4, min(c.end, size))
			if err != nil {
				return o, err
			}
		case c.id == "LIST" && c.list == "movi":
			movi = true
			if c.end > size {
				o.truncated = true
			}
			if o.truncated {
				o.whole, counted = wholeFrames(r, c.body+4, size), true
				break walk
			}
		case c.id == "RIFF" && c.end > size:
			// A later part of a large file (OpenDML); frames are not counted.
			o.truncated = true
			break walk
		}
		off = c.end + c.end&1
	}
	switch {
	case !header:
		return o, errors.New("it has no stream header")
	case !movi:
		return o, errors.New("it ends before the first frame")
	case counted && o.whole == 0:
		return o, errors.New("it ends within the first frame")
	}
	return o, nil
}

// maxChunks bounds every walk, so that a file made of nothing but headers
// costs a moment and no more: an hour of video at 60 frames a second with
// sound has half as many.
const maxChunks = 1 << 19

// riffChunk is a chunk's place: body is where its data starts, end where the
// chunk says that it ends, which may lie beyond the file.
type riffChunk struct {
	id, list  string
	body, end int64
}

func riffChunkAt(r io.ReaderAt, off, size int64) (riffChunk, error) {
	var b [12]byte
	n := min(int64(len(b)), size-off)
	if n < 8 {
		return riffChunk{}, io.ErrUnexpectedEOF
	}
	if err := readFull(r, b[:n], off); err != nil {
		return riffChunk{}, err
	}
	c := riffChunk{id: string(b[:4]), body: off + 8}
	c.end = c.body + int64(le32(b[4:]))
	if c.id == "LIST" && n == 12 {
		c.list = string(b[8:12])
	}
	return c, nil
}

// aviSize finds the first video stream's format within the header list.
func aviSize(r io.ReaderAt, off, end int64) (w, h int, err error) {
	video := false
	for n := 0; off+8 <= end && n < 4096; n++ {
		c, err := riffChunkAt(r, off, end)
		if err != nil {
			return 0, 0, err
		}
		switch {
		case c.id == "LIST" && c.list == "strl":
			off = c.body + 4 // step into the stream's list
			video = false
			continue
		case c.id == "strh" && c.end <= end && c.end-c.body >= 4:
			var typ [4]byte
			if err := readFull(r, typ[:], c.body); err != nil {
				return 0, 0, err
			}
			video = string(typ[:]) == "vids"
		case c.id == "strf" && video && c.end <= end && c.end-c.body >= 12:
			// BITMAPINFOHEADER: size, width, height; a negative height means
			// rows from the top.
			var bi [12]byte
			if err := readFull(r, bi[:], c.body); err != nil {
				return 0, 0, err
			}
			w, h := int(int32(le32(bi[4:]))), int(int32(le32(bi[8:])))
			return w, max(h, -h), nil
		}
		off = c.end + c.end&1
	}
	return 0, 0, errors.New("it has no video stream")
}

// wholeFrames counts the video chunks of a movi list that lie within the file.
func wholeFrames(r io.ReaderAt, off, size int64) int {
	frames := 0
	for n := 0; off+8 <= size && n < maxChunks; n++ {
		c, err := riffChunkAt(r, off, size)
		if err != nil {
			break
		}
		if c.id == "LIST" && c.list == "rec " {
			off = c.body + 4
			continue
		}
		if c.end > size {
			break
		}
		if (c.id[2:] == "dc" || c.id[2:] == "db") && c.end > c.body {
			frames++
		}
		off = c.end + c.end&1
	}
	return frames
}
