package camera

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"math"
	"strings"
	"time"

	"gocv.io/x/gocv"
)

// stream is an opened device or file: one picture after the other. It is used
// by one goroutine at a time.
type stream interface {
	// info describes what was opened; name and liveness are the caller's.
	info() Info
	// read waits for the next picture and writes it to dst, whose size it
	// sets. stamp is the stream's own time of the picture, on a clock of its
	// own, and 0 where it has none. io.EOF is the end; any other error may
	// pass.
	read(ctx context.Context, dst *image.RGBA) (stamp time.Duration, err error)
	close()
}

// Properties of OpenCV 4.6 (videoio.hpp) that gocv v0.31.0 has no names for.
const (
	capOrientationMeta gocv.VideoCaptureProperties = 48
	capOrientationAuto gocv.VideoCaptureProperties = 49
)

var errNoPicture = errors.New("the device sent no picture")

// cvStream is a stream of OpenCV's. It owns its two Mats and reuses them.
type cvStream struct {
	capture   *gocv.VideoCapture
	raw, rgba gocv.Mat
	is        Info
	noMore    error // what a failed read means: io.EOF for files
}

// openCVFile opens a file that examine has let pass. The path must be
// absolute, so that FFmpeg does not take "name:..." for a protocol.
func openCVFile(path string) (*cvStream, error) {
	quiet()
	c, err := gocv.VideoCaptureFileWithAPI(path, gocv.VideoCaptureFFmpeg)
	if err != nil {
		c.Close() // gocv returns an object all the same
		return nil, errors.New("its video cannot be decoded; export it again as H.264 or MJPG")
	}
	c.Set(capOrientationAuto, 1)
	return newCVStream(c, io.EOF)
}

// openCVDevice opens the webcam /dev/video<n>, which must exist, and asks for
// size and rate; what was got is in info.
func openCVDevice(n, w, h int, fps float64) (*cvStream, error) {
	quiet()
	c, err := gocv.VideoCaptureDeviceWithAPI(n, gocv.VideoCaptureV4L2)
	if err != nil {
		c.Close()
		return nil, errors.New("it cannot be opened as a camera; close other programs that use it")
	}
	// The code first: size and rate depend on it. Raw pictures at 30 a second
	// are more than USB 2 carries beyond 640×480.
	c.Set(gocv.VideoCaptureFOURCC, c.ToCodec("MJPG"))
	c.Set(gocv.VideoCaptureFrameWidth, float64(w))
	c.Set(gocv.VideoCaptureFrameHeight, float64(h))
	c.Set(gocv.VideoCaptureFPS, fps)
	c.Set(gocv.VideoCaptureBufferSize, 1)
	return newCVStream(c, errNoPicture)
}

func newCVStream(c *gocv.VideoCapture, noMore error) (*cvStream, error) {
	s := &cvStream{capture: c, noMore: noMore}
	s.is = Info{
		Width:    whole(c.Get(gocv.VideoCaptureFrameWidth)),
		Height:   whole(c.Get(gocv.VideoCaptureFrameHeight)),
		FPS:      rate(c.Get(gocv.VideoCaptureFPS)),
		Frames:   max(0, whole(c.Get(gocv.VideoCaptureFrameCount))),
		Codec:    strings.Trim(c.CodecString(), " \x00"),
		Rotation: (whole(c.Get(capOrientationMeta))%360 + 360) % 360,
	}
	if err := checkSize(s.is.Width, s.is.Height); err != nil {
		c.Close()
		return nil, err
	}
	s.raw, s.rgba = gocv.NewMat(), gocv.NewMat()
	return s, nil
}

// whole and rate bring OpenCV's doubles, which may be anything, to numbers
// that can be computed with; 0 is "unknown".
func whole(v float64) int {
	if math.IsNaN(v) || math.Abs(v) > 1<<31 {
		return 0
	}
	return int(v)
}

func rate(fps float64) float64 {
	// Some files give the tick of their clock (90000 and the like) as rate.
	if math.IsNaN(fps) || fps < 0.1 || fps > 1000 {
		return 0
	}
	return fps
}

func (s *cvStream) info() Info { return s.is }

func (s *cvStream) read(_ context.Context, dst *image.RGBA) (time.Duration, error) {
	if !s.capture.Read(&s.raw) || s.raw.Empty() {
		return 0, s.noMore
	}
	w, h := s.raw.Cols(), s.raw.Rows()
	if err := checkSize(w, h); err != nil {
		return 0, err
	}
	// CvtColor throws on a wrong number of channels.
	var code gocv.ColorConversionCode
	switch t := s.raw.Type(); t {
	case gocv.MatTypeCV8UC3:
		code = gocv.ColorBGRToRGBA
	case gocv.MatTypeCV8UC1:
		code = gocv.ColorGrayToBGRA
	case gocv.MatTypeCV8UC4:
		code = gocv.ColorBGRAToRGBA
	default:
		return 0, fmt.Errorf("its pictures are of an unknown kind (%v)", t)
	}
	gocv.CvtColor(s.raw, &s.rgba, code)
	pix, err := s.rgba.DataPtrUint8()
	if err != nil || len(pix) != 4*w*h {
		return 0, fmt.Errorf("a picture of %d×%d pixels came as %d bytes", w, h, len(pix))
	}
	resize(dst, w, h)
	copy(dst.Pix, pix)
	ms := s.capture.Get(gocv.VideoCapturePosMsec)
	if math.IsNaN(ms) || ms < 0 || ms > 1e15 {
		return 0, nil
	}
	return time.Duration(math.Round(ms*1000)) * time.Microsecond, nil
}

func (s *cvStream) close() {
	s.raw.Close()
	s.rgba.Close()
	s.capture.Close()
}
