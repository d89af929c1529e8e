package camera

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"sync"
	"time"
)

// RenderedOptions describe a source whose frames are drawn.
type RenderedOptions struct {
	// Name to show; "" is "rendered".
	Name string
	// Width and Height in pixels; 0 is 640×480.
	Width, Height int
	// FPS is the rate, frames a second; 0 is 30.
	FPS float64
	// Frames is how many there are; 0 means no end.
	Frames int
}

// DrawFunc draws the frame of a time and index into dst, which is packed and
// still holds an earlier frame; it must leave it opaque. io.EOF ends the
// source before this frame; any other error ends it too and is passed on.
type DrawFunc func(dst *image.RGBA, at time.Duration, index int) error

type rendered struct {
	mu     sync.Mutex
	is     Info
	draw   DrawFunc
	image  image.RGBA
	index  int
	end    error
	closed bool
}

// NewRendered returns a source of drawn frames, as fast as they are asked for.
// Put NewPaced around it for one that behaves like a webcam.
func NewRendered(o RenderedOptions, draw DrawFunc) (Source, error) {
	if o.Name == "" {
		o.Name = "rendered"
	}
	if o.Width == 0 && o.Height == 0 {
		o.Width, o.Height = defaultWidth, defaultHeight
	}
	if o.FPS == 0 {
		o.FPS = defaultFPS
	}
	if err := checkSize(o.Width, o.Height); err != nil {
		return nil, fmt.Errorf("%s: %w", o.Name, err)
	}
	if rate(o.FPS) == 0 || o.Frames < 0 {
		return nil, fmt.Errorf("%s: %d frames at %g a second cannot be drawn", o.Name, o.Frames, o.FPS)
	}
	if draw == nil {
		return nil, errors.New(o.Name + ": nothing to draw with")
	}
	r := &rendered{draw: draw, is: Info{
		Name: o.Name, Width: o.Width, Height: o.Height, FPS: o.FPS, Frames: o.Frames,
		Duration: frameTime(o.Frames, o.FPS),
	}}
	resize(&r.image, o.Width, o.Height)
	return r, nil
}

// frameTime is when frame i of a steady stream is due.
func frameTime(i int, fps float64) time.Duration {
	return time.Duration(float64(i) / fps * float64(time.Second))
}

func (r *rendered) Info() Info { return r.is }

func (r *rendered) Next(ctx context.Context) (Frame, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	switch {
	case r.closed:
		return Frame{}, ErrClosed
	case ctx.Err() != nil:
		return Frame{}, ctx.Err()
	case r.end != nil:
		return Frame{}, r.end
	case r.is.Frames > 0 && r.index >= r.is.Frames:
		return Frame{}, io.EOF
	}
	f := Frame{Image: &r.image, Time: frameTime(r.index, r.is.FPS), Index: r.index}
	if r.end = r.draw(f.Image, f.Time, f.Index); r.end != nil {
		return Frame{}, r.end
	}
	r.index++
	return f, nil
}

func (r *rendered) Close() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.closed = true
	return nil
}
