package camera

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
)

// kind is what a file is, judged by its first bytes and never by its name.
type kind int8

const (
	unknownKind kind = iota
	aviVideo
	mp4Video
	matroskaVideo
	tsVideo
	psVideo
	jpegPicture
	pngPicture
	webpPicture
	bmpPicture
	tiffPicture
	gifPicture
	heifPicture
)

func (k kind) String() string {
	switch k {
	case aviVideo:
		return "AVI video"
	case mp4Video:
		return "MP4 or QuickTime video"
	case matroskaVideo:
		return "Matroska or WebM video"
	case tsVideo, psVideo:
		return "MPEG video"
	case jpegPicture:
		return "JPEG picture"
	case pngPicture:
		return "PNG picture"
	case webpPicture:
		return "WebP picture"
	case bmpPicture:
		return "BMP picture"
	case tiffPicture:
		return "TIFF picture"
	case gifPicture:
		return "GIF picture"
	case heifPicture:
		return "HEIF or AVIF picture"
	}
	return "file of unknown kind"
}

func (k kind) video() bool { return k >= aviVideo && k <= psVideo }

func (k kind) picture() bool { return k >= jpegPicture }

// headLen is how much of a file sniff wants to see: four packets of the longer
// MPEG transport stream.
const headLen = 4 * 192

// sniff tells the kind of a file from its first headLen bytes, or fewer.
func sniff(head []byte) kind {
	at := func(off int, magic string) bool {
		return len(head) >= off+len(magic) && string(head[off:off+len(magic)]) == magic
	}
	switch {
	case at(0, "RIFF") && at(8, "AVI "):
		return aviVideo
	case at(0, "RIFF") && at(8, "WEBP"):
		return webpPicture
	case at(4, "ftyp"):
		if len(head) >= 12 {
			switch string(head[8:12]) {
			case "heic", "heix", "heim", "heis", "mif1", "avif":
				return heifPicture
			}
		}
		return mp4Video
	case at(4, "moov"), at(4, "mdat"), at(4, "wide"), at(4, "pnot"),
		at(4, "free"), at(4, "skip"):
		// QuickTime from before ftyp: the first four bytes are a box length,
		// and only the pictures' own box is ever as long as four letters read
		// as a number.
		n := binary.BigEndian.Uint32(head)
		if n > 1 && n < 8 || n >= 0x20202020 && !at(4, "mdat") {
			return unknownKind
		}
		return mp4Video
	case at(0, "\x1a\x45\xdf\xa3"):
		return matroskaVideo
	case at(0, "\x00\x00\x01\xba"):
		return psVideo
	case at(0, "\xff\xd8\xff"):
		return jpegPicture
	case at(0, "\x89PNG\r\n\x1a\n"):
		return pngPicture
	case at(0, "GIF87a"), at(0, "GIF89a"):
		return gifPicture
	case at(0, "II*\x00"), at(0, "MM\x00*"):
		return tiffPicture
	case at(0, "BM") && at(6, "\x00\x00\x00\x00"):
		return bmpPicture
	case synced(head, 0, 188), synced(head, 4, 192):
		return tsVideo
	}
	return unknownKind
}

// synced reports whether an MPEG transport stream's sync byte starts four
// packets in a row (ISO/IEC 13818-1, 2.4.3.2).
func synced(head []byte, first, packet int) bool {
	for i := range 4 {
		if at := first + i*packet; at >= len(head) || head[at] != 0x47 {
			return false
		}
	}
	return true
}

// outline is what a container says of itself, read without a codec.
type outline struct {
	kind          kind
	width, height int // of the coded picture, before rotation; 0 not said
	// orientation in which to show the pictures, as in EXIF; 0 not said.
	orientation int
	// truncated: the file ends before the container says that it does.
	truncated bool
	// whole is the number of frames that are complete, where truncated and
	// where the container allows counting them; else 0.
	whole int
}

// openRegular opens a file after making sure that it is one and is not empty:
// opening a pipe would block, and reading a device might never end.
func openRegular(path string) (*os.File, int64, error) {
	st, err := os.Stat(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, 0, unreadable(path, "%w; check the name", os.ErrNotExist)
	}
	if err != nil {
		return nil, 0, unreadable(path, "%w", err)
	}
	if st.IsDir() {
		return nil, 0, unreadable(path, "it is a folder; name a file in it")
	}
	if !st.Mode().IsRegular() {
		return nil, 0, unreadable(path, "it is not a regular file; copy it to disk first")
	}
	if st.Size() == 0 {
		return nil, 0, unreadable(path, "the file is empty; copy or record it again")
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, 0, unreadable(path, "%w; check that you may read it", err)
	}
	return f, st.Size(), nil
}

// examine reads the outline of a video file and refuses what OpenCV had better
// not see. Errors wrap ErrUnreadable.
func examine(path string) (outline, error) {
	f, size, err := openRegular(path)
	if err != nil {
		return outline{}, err
	}
	defer f.Close()
	o, err := examineFrom(f, size)
	if err != nil {
		return outline{}, unreadable(path, "%w", err)
	}
	return o, nil
}

func examineFrom(r io.ReaderAt, size int64) (outline, error) {
	head := make([]byte, min(headLen, size))
	if _, err := io.ReadFull(io.NewSectionReader(r, 0, size), head); err != nil {
		return outline{}, err
	}
	k := sniff(head)
	switch {
	case k.picture():
		return outline{}, fmt.Errorf("it is a %v, not a video; measure it as a picture", k)
	case !k.video():
		return outline{}, fmt.Errorf("it is not a video of a known kind (%s); export it as AVI, MP4 or WebM", glimpse(head))
	}
	var o outline
	var err error
	switch k {
	case aviVideo:
		o, err = outlineAVI(r, size)
	case mp4Video:
		o, err = outlineMP4(r, size)
	case matroskaVideo:
		o, err = outlineMatroska(r, size)
	}
	if err != nil {
		return outline{}, fmt.Errorf("damaged %v: %w; copy or record it again", k, err)
	}
	o.kind = k
	if o.width != 0 || o.height != 0 {
		if err := checkSize(o.width, o.height); err != nil {
			return outline{}, err
		}
	}
	return o, nil
}

// glimpse shows the start of a file in a message without letting its bytes
// act on a terminal.
func glimpse(head []byte) string {
	if bytes.IndexByte(head[:min(len(head), 32)], 0) < 0 {
		return fmt.Sprintf("it begins with %q", head[:min(len(head), 12)])
	}
	return fmt.Sprintf("it begins with % x", head[:min(len(head), 8)])
}

// le32 and be32 read a number at an offset; the caller has checked the length.
func le32(b []byte) uint32 { return binary.LittleEndian.Uint32(b) }
func be32(b []byte) uint32 { return binary.BigEndian.Uint32(b) }

// readFull fills b from off, for walkers that step from header to header.
func readFull(r io.ReaderAt, b []byte, off int64) error {
	n, err := r.ReadAt(b, off)
	if n == len(b) {
		return nil
	}
	if err == nil || err == io.EOF {
		err = io.ErrUnexpectedEOF
	}
	return err
}
