package camera

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"io"
	"math"
	"sync"

	"golang.org/x/image/bmp"
	"golang.org/x/image/tiff"
	"golang.org/x/image/webp"
)

// maxPictureFile bounds a picture's file in bytes, before it is read.
const maxPictureFile = 256 << 20

// ReadPicture reads a JPEG, PNG, WebP, BMP or TIFF picture as an upright,
// opaque, packed RGBA picture that belongs to the caller. Its pixels are those
// of the file (nothing is scaled), so that points found in it can be compared
// with the file; a picture beyond MaxSide or MaxPixels is refused before it is
// decoded. The largest that are accepted need up to 1.5 GiB while they are decoded
// (64 megapixels, progressive, full colour), usual ones 8 bytes a pixel.
// Errors wrap ErrUnreadable and name the file.
func ReadPicture(path string) (*image.RGBA, error) {
	f, size, err := openRegular(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	head := make([]byte, min(headLen, size))
	if _, err := io.ReadFull(f, head); err != nil {
		return nil, unreadable(path, "%w", err)
	}
	// Judge before reading the rest: a video may be gigabytes.
	if err := pictureKind(sniff(head), head); err != nil {
		return nil, unreadable(path, "%w", err)
	}
	if size > maxPictureFile {
		return nil, unreadable(path, "the file is larger than %d MiB; make the picture smaller", maxPictureFile>>20)
	}
	b := make([]byte, size)
	copy(b, head)
	if _, err := io.ReadFull(f, b[len(head):]); err != nil {
		return nil, unreadable(path, "%w", err)
	}
	img, err := decodePicture(b)
	if err != nil {
		return nil, unreadable(path, "%w", err)
	}
	return img, nil
}

// DecodePicture is ReadPicture for a picture in memory.
func DecodePicture(b []byte) (*image.RGBA, error) {
	img, err := decodePicture(b)
	if err != nil {
		return nil, unreadable("the picture", "%w", err)
	}
	return img, nil
}

// pictureKind explains why a file of another kind is no picture for us.
func pictureKind(k kind, head []byte) error {
	switch {
	case k.video():
		return fmt.Errorf("it is an %v, not a picture; check it as a video", k)
	case k == heifPicture, k == gifPicture:
		return fmt.Errorf("it is a %v, which is not supported; save it as JPEG or PNG", k)
	case !k.picture():
		return fmt.Errorf("it is not a picture of a known kind (%s); save it as JPEG or PNG", glimpse(head))
	}
	return nil
}

func decodePicture(b []byte) (*image.RGBA, error) {
	head := b[:min(len(b), headLen)]
	k := sniff(head)
	if len(b) == 0 {
		return nil, fmt.Errorf("it is empty")
	}
	if err := pictureKind(k, head); err != nil {
		return nil, err
	}
	// Chosen by kind and not through image.Decode, which depends on what
	// other packages have registered.
	config, decode := jpeg.DecodeConfig, jpeg.Decode
	switch k {
	case pngPicture:
		config, decode = png.DecodeConfig, png.Decode
	case webpPicture:
		config, decode = webp.DecodeConfig, webp.Decode
	case bmpPicture:
		config, decode = bmp.DecodeConfig, bmp.Decode
	case tiffPicture:
		config, decode = tiff.DecodeConfig, tiff.Decode
	}
	c, err := config(bytes.NewReader(b))
	if err != nil {
		return nil, fmt.Errorf("damaged %v: %w", k, err)
	}
	if err := checkSize(c.Width, c.Height); err != nil {
		return nil, err
	}
	img, err := decode(bytes.NewReader(b))
	if err != nil {
		return nil, fmt.Errorf("damaged %v: %w", k, err)
	}
	// What was decoded need not be what was announced.
	if err := checkSize(img.Bounds().Dx(), img.Bounds().Dy()); err != nil {
		return nil, err
	}
	if k == webpPicture {
		fullRange(img)
	}
	return orient(packed(img), orientation(k, b)), nil
}

// fullRange stretches a lossy WebP picture's levels from those of VP8 (16 to
// 235, chroma 16 to 240; RFC 6386, section 9.2, and ITU-R BT.601) to those
// that image.YCbCr stands for, 0 to 255; x/image v0.47 hands them out as they
// are.
func fullRange(img image.Image) {
	var c *image.YCbCr
	switch img := img.(type) {
	case *image.YCbCr:
		c = img
	case *image.NYCbCrA:
		c = &img.YCbCr
	default:
		return
	}
	var luma, chroma [256]uint8
	for i := range 256 {
		luma[i] = uint8(min(255, max(0, ((i-16)*255+109)/219)))
		chroma[i] = uint8(min(255, max(0, 128+int(math.Round(float64(i-128)*255/224)))))
	}
	for _, plane := range []struct {
		pix   []uint8
		table *[256]uint8
	}{{c.Y, &luma}, {c.Cb, &chroma}, {c.Cr, &chroma}} {
		for i, v := range plane.pix {
			plane.pix[i] = plane.table[v]
		}
	}
}

// packed converts any picture to an opaque, packed RGBA one. What is
// transparent becomes white, as most viewers show it.
func packed(img image.Image) *image.RGBA {
	b := img.Bounds()
	dst := &image.RGBA{}
	resize(dst, b.Dx(), b.Dy())
	if o, ok := img.(interface{ Opaque() bool }); ok && o.Opaque() {
		draw.Draw(dst, dst.Rect, img, b.Min, draw.Src)
		return dst
	}
	draw.Draw(dst, dst.Rect, image.NewUniform(color.White), image.Point{}, draw.Src)
	draw.Draw(dst, dst.Rect, img, b.Min, draw.Over)
	return dst
}

// orient turns and flips a packed picture upright by its EXIF orientation, a
// number from 1 to 8; others leave it as it is.
func orient(src *image.RGBA, o int) *image.RGBA {
	if o < 2 || o > 8 {
		return src
	}
	w, h := src.Rect.Dx(), src.Rect.Dy()
	// A source pixel x, y goes to start + x·right + y·down of the result,
	// counted in pixels.
	dst := &image.RGBA{}
	var start, right, down int
	if o < 5 {
		resize(dst, w, h)
		right, down = 1, w
		if o == 2 || o == 3 { // mirrored left to right
			start, right = start+w-1, -1
		}
		if o == 3 || o == 4 { // upside down
			start, down = start+w*(h-1), -w
		}
	} else {
		resize(dst, h, w)
		right, down = h, 1
		if o == 6 || o == 7 { // rows become columns from the right
			start, down = start+h-1, -1
		}
		if o == 7 || o == 8 { // columns become rows from the bottom
			start, right = start+h*(w-1), -h
		}
	}
	for y := range h {
		to := start + y*down
		row := src.Pix[4*w*y : 4*w*(y+1)]
		for x := 0; x < 4*w; x += 4 {
			copy(dst.Pix[4*to:4*to+4], row[x:x+4])
			to += right
		}
	}
	return dst
}

// pictures is a Source of picture files.
type pictures struct {
	mu     sync.Mutex
	paths  []string
	next   int
	closed bool
}

// NewPictures returns a source of the named pictures in order. A picture that
// cannot be read gives an error that wraps ErrUnreadable, and the call after
// it goes on with the next picture. Pictures have no time: Frame.Time is 0.
// Each Frame.Image belongs to the caller.
func NewPictures(paths []string) Source {
	return &pictures{paths: append([]string(nil), paths...)}
}

func (p *pictures) Info() Info {
	name := fmt.Sprintf("%d pictures", len(p.paths))
	if len(p.paths) == 1 {
		name = p.paths[0]
	}
	return Info{Name: name, Frames: len(p.paths)}
}

func (p *pictures) Next(ctx context.Context) (Frame, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	switch {
	case p.closed:
		return Frame{}, ErrClosed
	case ctx.Err() != nil:
		return Frame{}, ctx.Err()
	case p.next == len(p.paths):
		return Frame{}, io.EOF
	}
	i := p.next
	p.next++
	img, err := ReadPicture(p.paths[i])
	if err != nil {
		return Frame{}, err
	}
	return Frame{Image: img, Index: i}, nil
}

func (p *pictures) Close() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.closed = true
	return nil
}
