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

// capOrientationAuto of OpenCV 4.6 (videoio.hpp) has no name in gocv v0.31.0.
const capOrientationAuto gocv.VideoCaptureProperties = 49

var errNoPicture = errors.New("the device sent no picture that can be decoded")

// cvStream is a stream of OpenCV's. It owns its Mats and reuses them.
type cvStream struct {
	capture            *gocv.VideoCapture
	raw, upright, rgba gocv.Mat
	turn               turn
	is                 Info
	noMore             error // what a failed read means: io.EOF for files
}

// turn brings a picture upright: first a clockwise rotation, then a flip about
// the vertical axis (1), the horizontal axis (0), or none (-1), as OpenCV
// numbers them.
type turn struct {
	degrees int
	flip    int
}

// turns by EXIF orientation; 0 stands for "not said".
var turns = [9]turn{
	{0, -1}, {0, -1}, {0, 1}, {180, -1}, {0, 0}, {90, 1}, {90, -1}, {90, 0}, {270, -1},
}

// openCVFile opens a file that examine has let pass. The path must be
// absolute, so that FFmpeg does not take "name:..." for a protocol. Pictures are
// turned here to the given EXIF orientation: OpenCV's own turning goes the
// wrong way by half a turn with FFmpeg 5, which shows a telephone's upright
// videos upside down, and takes a mirrored video for one on its head.
func openCVFile(path string, orientation int) (*cvStream, error) {
	quiet()
	c, err := gocv.VideoCaptureFileWithAPI(path, gocv.VideoCaptureFFmpeg)
	if err != nil {
		c.Close() // gocv returns an object all the same
		return nil, errors.New("its video cannot be decoded; export it again as H.264 or MJPG")
	}
	c.Set(capOrientationAuto, 0)
	return newCVStream(c, orientation, io.EOF)
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
	return newCVStream(c, 1, errNoPicture)
}

func newCVStream(c *gocv.VideoCapture, orientation int, noMore error) (*cvStream, error) {
	s := &cvStream{capture: c, noMore: noMore, turn: turns[orientation]}
	s.is = Info{
		Width:    whole(c.Get(gocv.VideoCaptureFrameWidth)),
		Height:   whole(c.Get(gocv.VideoCaptureFrameHeight)),
		FPS:      rate(c.Get(gocv.VideoCaptureFPS)),
		Frames:   max(0, whole(c.Get(gocv.VideoCaptureFrameCount))),
		Codec:    strings.Trim(c.CodecString(), " \x00"),
		Rotation: s.turn.degrees,
	}
	if err := checkSize(s.is.Width, s.is.Height); err != nil {
		c.Close()
		return nil, err
	}
	if s.turn.degrees%180 == 90 {
		s.is.Width, s.is.Height = s.is.Height, s.is.Width
	}
	s.raw, s.upright, s.rgba = gocv.NewMat(), gocv.NewMat(), gocv.NewMat()
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
	ok, err := guardedRead(s.capture, &s.raw)
	if err != nil {
		return 0, err
	}
	if !ok || s.raw.Empty() {
		return 0, s.noMore
	}
	if err := s.convert(dst); err != nil {
		return 0, err
	}
	ms := s.capture.Get(gocv.VideoCapturePosMsec)
	if math.IsNaN(ms) || ms < 0 || ms > 1e15 {
		return 0, nil
	}
	return time.Duration(math.Round(ms*1000)) * time.Microsecond, nil
}

// convert copies the raw picture to dst as RGBA, through the reused Mat.
func (s *cvStream) convert(dst *image.RGBA) error {
	w, h := s.raw.Cols(), s.raw.Rows()
	if err := checkSize(w, h); err != nil {
		return err
	}
	if s.turn.degrees%180 == 90 {
		w, h = h, w
	}
	up := s.orient()
	// CvtColor throws on a wrong number of channels.
	var code gocv.ColorConversionCode
	switch t := up.Type(); t {
	case gocv.MatTypeCV8UC3:
		code = gocv.ColorBGRToRGBA
	case gocv.MatTypeCV8UC1:
		code = gocv.ColorGrayToBGRA
	case gocv.MatTypeCV8UC4:
		code = gocv.ColorBGRAToRGBA
	default:
		return fmt.Errorf("its pictures are of an unknown kind (%v)", t)
	}
	gocv.CvtColor(up, &s.rgba, code)
	pix, err := s.rgba.DataPtrUint8()
	if err != nil || len(pix) != 4*w*h {
		return fmt.Errorf("a picture of %d×%d pixels came as %d bytes", w, h, len(pix))
	}
	resize(dst, w, h)
	copy(dst.Pix, pix)
	return nil
}

// orient returns the raw picture upright: itself, or in the reused Mat.
func (s *cvStream) orient() gocv.Mat {
	up := s.raw
	switch s.turn.degrees {
	case 90:
		gocv.Rotate(up, &s.upright, gocv.Rotate90Clockwise)
		up = s.upright
	case 180:
		gocv.Rotate(up, &s.upright, gocv.Rotate180Clockwise)
		up = s.upright
	case 270:
		gocv.Rotate(up, &s.upright, gocv.Rotate90CounterClockwise)
		up = s.upright
	}
	if s.turn.flip >= 0 {
		gocv.Flip(up, &s.upright, s.turn.flip)
		up = s.upright
	}
	return up
}

func (s *cvStream) close() {
	s.raw.Close()
	s.upright.Close()
	s.rgba.Close()
	s.capture.Close()
}
