package camera

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"path/filepath"
	"sync"
	"time"
)

// VideoOptions says how a video file is opened. The zero value suits all files
// that say when their frames are to be shown.
type VideoOptions struct {
	// FPS is the rate to assume where the file gives neither times nor a
	// rate; 0 is 30, usual for webcams.
	FPS float64
}

// video is a Source of all frames of a file, in order.
type video struct {
	mu     sync.Mutex
	s      stream
	is     Info
	limit  int  // deliver no more than this many frames; 0 all
	short  bool // the container breaks off
	avi    bool
	image  image.RGBA
	first  bool // image holds the first frame, read when opening
	clock  fileClock
	index  int
	end    error // sticky
	closed bool
}

// OpenVideo opens a video file (AVI, MP4, QuickTime, Matroska, WebM, MPEG) and
// decodes its first frame, so that a file that opens has at least one. Every
// frame is delivered, in order, all of one size.
//
// At the end Next returns io.EOF. Where the file breaks off the error also
// wraps ErrTruncated, and its text says how much there was; test for both with
// errors.Is. Errors of OpenVideo wrap ErrUnreadable and name the file.
func OpenVideo(path string, opt VideoOptions) (Source, error) {
	o, err := examine(path)
	if err != nil {
		return nil, err
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, unreadable(path, "%w", err)
	}
	s, err := openCVFile(abs, o.orientation)
	if err != nil {
		return nil, unreadable(path, "%w", err)
	}
	v, err := newVideo(path, o, opt, s)
	if err != nil {
		s.close()
		return nil, err
	}
	return v, nil
}

func newVideo(path string, o outline, opt VideoOptions, s stream) (*video, error) {
	v := &video{s: s, is: s.info(), limit: o.whole, short: o.truncated, avi: o.kind == aviVideo}
	v.is.Name = path
	stamp, err := s.read(context.Background(), &v.image)
	if errors.Is(err, io.EOF) {
		err = errors.New("no frame in it can be decoded; export it again as H.264 or MJPG")
	}
	if err != nil {
		return nil, unreadable(path, "%w", err)
	}
	v.first = true
	v.is.Width, v.is.Height = v.image.Rect.Dx(), v.image.Rect.Dy()
	if v.is.FPS > 0 {
		v.is.Duration = time.Duration(float64(v.is.Frames) / v.is.FPS * float64(time.Second))
	}
	v.clock = newFileClock(v.is.FPS, opt.FPS)
	v.clock.at(stamp)
	return v, nil
}

func (v *video) Info() Info { return v.is }

func (v *video) Next(ctx context.Context) (Frame, error) {
	v.mu.Lock()
	defer v.mu.Unlock()
	switch {
	case v.closed:
		return Frame{}, ErrClosed
	case ctx.Err() != nil:
		return Frame{}, ctx.Err()
	case v.end != nil:
		return Frame{}, v.end
	}
	if v.first {
		v.first = false
		return v.frame(), nil
	}
	if v.limit > 0 && v.index >= v.limit {
		// The frame that the file breaks off in would come with its lower
		// part made up by the decoder.
		return Frame{}, v.finish(io.EOF)
	}
	stamp, err := v.s.read(ctx, &v.image)
	if err != nil {
		return Frame{}, v.finish(err)
	}
	if w, h := v.image.Rect.Dx(), v.image.Rect.Dy(); w != v.is.Width || h != v.is.Height {
		return Frame{}, v.finish(fmt.Errorf("its picture changes from %d×%d to %d×%d pixels after %d frames; export it in one size",
			v.is.Width, v.is.Height, w, h, v.index))
	}
	v.clock.at(stamp)
	return v.frame(), nil
}

func (v *video) frame() Frame {
	f := Frame{Image: &v.image, Time: v.clock.last, Index: v.index}
	v.index++
	return f
}

// finish decides what the end was, and keeps it for later calls.
func (v *video) finish(err error) error {
	switch {
	case !errors.Is(err, io.EOF):
		v.end = unreadable(v.is.Name, "%w", err)
	case v.breaksOff():
		of := ""
		if v.is.Frames > v.index {
			of = fmt.Sprintf(" of %d", v.is.Frames)
		}
		v.end = truncatedEnd(fmt.Sprintf("%s %v: %d%s frames could be read, up to %.2f s",
			v.is.Name, ErrTruncated, v.index, of, v.clock.last.Seconds()))
	default:
		v.end = io.EOF
	}
	return v.end
}

// truncatedEnd is both ErrTruncated and io.EOF without saying "EOF" to people.
type truncatedEnd string

func (e truncatedEnd) Error() string { return string(e) }

func (e truncatedEnd) Is(target error) bool { return target == ErrTruncated || target == io.EOF }

// breaksOff tells a file that was cut from one that has simply ended. Only an
// AVI's own count is exact enough to be missed in an otherwise sound file, and
// it counts frames that were dropped on purpose; hence the tenth.
func (v *video) breaksOff() bool {
	if v.short {
		return v.is.Frames == 0 || v.index < v.is.Frames
	}
	return v.avi && 10*v.index < 9*v.is.Frames
}

func (v *video) Close() error {
	v.mu.Lock()
	defer v.mu.Unlock()
	if !v.closed {
		v.closed = true
		v.s.close()
	}
	return nil
}

// fileClock turns the stamps of a file into times that start at 0 and strictly
// increase.
type fileClock struct {
	step    time.Duration // one frame at the nominal rate
	started bool
	start   time.Duration // stamp of the first frame
	stamp   time.Duration // of the latest frame
	last    time.Duration // time of the latest frame
}

// newFileClock takes the first rate that is one.
func newFileClock(rates ...float64) fileClock {
	for _, fps := range rates {
		if rate(fps) > 0 {
			return fileClock{step: frameTime(1, fps)}
		}
	}
	return fileClock{step: frameTime(1, defaultFPS)}
}

// at sets last to the time of a frame with the given stamp.
func (c *fileClock) at(stamp time.Duration) {
	moved := stamp > c.stamp
	switch t := stamp - c.start; {
	case !c.started:
		c.started, c.start = true, stamp
	case t > c.last:
		c.last = t
	case moved:
		// Right in itself, but an earlier frame without a stamp was put too
		// late: creep until the stamps have caught up.
		c.last += time.Millisecond
	default:
		c.last += c.step
	}
	c.stamp = stamp
}
