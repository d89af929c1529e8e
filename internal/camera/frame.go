package camera

import (
	"context"
	"errors"
	"fmt"
	"image"
	"time"
)

// What a source may report; doc.go says when.
var (
	ErrUnreadable = errors.New("cannot be read")
	ErrTruncated  = errors.New("is incomplete")
	ErrNoCamera   = errors.New("no camera")
	ErrStalled    = errors.New("no new picture")
	ErrClosed     = errors.New("source is closed")
)

// The largest picture that is accepted from any file or device. 8192 takes 8K
// video and most pictures of telephones; 64 megapixels are 256 MiB as RGBA.
const (
	MaxSide   = 8192     // pixels
	MaxPixels = 64 << 20 // width × height
)

// Frame is one picture and when it was taken.
type Frame struct {
	// Image is packed (Stride = 4·width) and opaque, with origin 0,0. It is
	// valid until the next call of Next or Close of its source.
	Image *image.RGBA
	// Time is the capture time since the source was opened.
	Time time.Duration
	// Index counts the frames of the source from 0. In a live source dropped
	// frames are counted too, so that a gap shows.
	Index int
}

// Retain returns the frame with a picture of its own, which no source touches.
func (f Frame) Retain() Frame {
	if f.Image == nil {
		return f
	}
	own := &image.RGBA{}
	resize(own, f.Image.Rect.Dx(), f.Image.Rect.Dy())
	copy(own.Pix, f.Image.Pix)
	f.Image = own
	return f
}

// Info describes a source as it is, which may differ from what was asked for.
type Info struct {
	// Name is the file's path, the device's path with the camera's name, or
	// what the maker of a rendered source called it.
	Name string
	// Width and Height of the frames in pixels, upright. 0 for pictures,
	// which differ from one to the next.
	Width, Height int
	// FPS is the nominal rate, frames a second; 0 unknown.
	FPS float64
	// Frames is the number of frames that the source promises; 0 unknown.
	Frames int
	// Duration is what the source promises to last; 0 unknown or endless.
	Duration time.Duration
	// Live sources deliver the newest frame and drop the rest.
	Live bool
	// Codec is the four-character code of the pictures, such as "MJPG"; empty
	// where there is none.
	Codec string
	// Rotation is the clockwise turn in degrees that the file asked for and
	// that has been applied: 0, 90, 180 or 270.
	Rotation int
}

// Source is where frames come from. Next returns the next frame, or the newest
// one of a live source, and io.EOF (see errors.Is) at the end.
type Source interface {
	Info() Info
	Next(ctx context.Context) (Frame, error)
	Close() error
}

// checkSize refuses pictures that are empty or larger than the package takes.
func checkSize(w, h int) error {
	switch {
	case w <= 0 || h <= 0:
		return fmt.Errorf("it declares a picture of %d×%d pixels", w, h)
	case w > MaxSide || h > MaxSide || w*h > MaxPixels:
		return fmt.Errorf("its picture of %d×%d pixels is larger than %d a side or %d megapixels; make it smaller",
			w, h, MaxSide, MaxPixels>>20)
	}
	return nil
}

// resize makes img a packed picture of w×h, keeping its memory where it fits.
// The content is left undefined.
func resize(img *image.RGBA, w, h int) {
	n := 4 * w * h
	if cap(img.Pix) < n {
		img.Pix = make([]uint8, n)
	}
	img.Pix = img.Pix[:n]
	img.Stride = 4 * w
	img.Rect = image.Rect(0, 0, w, h)
}

// unreadable is an error about a file that wraps ErrUnreadable.
func unreadable(path, format string, args ...any) error {
	return fmt.Errorf("%s %w: %w", path, ErrUnreadable, fmt.Errorf(format, args...))
}
