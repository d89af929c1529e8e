package camera

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// What is asked of a webcam, and of a rendered source, unless said otherwise.
const (
	defaultWidth  = 640
	defaultHeight = 480
	defaultFPS    = 30
)

// WebcamOptions say which camera to open and how. The zero value takes the
// first camera at 640×480 and 30 frames a second.
type WebcamOptions struct {
	// Device is a number ("0"), a path ("/dev/video0" or a link to one), or
	// "" for the first camera.
	Device string
	// Width, Height and FPS are asked for; what the camera gives is in Info.
	Width, Height int
	FPS           float64
	// StallAfter is how long no new picture may come before Next returns
	// ErrStalled; 0 is 1 s.
	StallAfter time.Duration
	// Retries is how often in a row to try to open a camera that was lost,
	// with waits that grow from 0.25 s to 4 s; 0 is 8 times, which takes
	// about 20 s, and a negative number never.
	Retries int
}

// OpenWebcam opens a camera and waits for its first picture, which may take a
// few seconds; do not call it where that hurts. Errors wrap ErrNoCamera. Close
// may take 2 s, when the camera has just stopped sending.
func OpenWebcam(o WebcamOptions) (Source, error) {
	return openWebcam(o, system)
}

// OpenCamera opens what the user named as camera: "file:CLIP" plays a video
// file as though it were one, and all else is WebcamOptions.Device.
func OpenCamera(name string, o WebcamOptions) (Source, error) {
	if path, ok := strings.CutPrefix(name, "file:"); ok {
		src, err := OpenVideo(path, VideoOptions{})
		if err != nil {
			return nil, err
		}
		return NewPaced(src)
	}
	o.Device = name
	return OpenWebcam(o)
}

// host is what a webcam needs of the operating system; tests have their own.
type host struct {
	devices func() []Device
	// check tells why a device may not be opened, before OpenCV is asked.
	check func(path string) error
	open  func(n, w, h int, fps float64) (stream, error)
}

var system = host{
	devices: systemDevices,
	check:   checkDevice,
	open: func(n, w, h int, fps float64) (stream, error) {
		s, err := openCVDevice(n, w, h, fps)
		if err != nil {
			return nil, err
		}
		return s, nil
	},
}

func openWebcam(o WebcamOptions, sys host) (Source, error) {
	if o.Width == 0 && o.Height == 0 {
		o.Width, o.Height = defaultWidth, defaultHeight
	}
	if o.FPS == 0 {
		o.FPS = defaultFPS
	}
	if err := checkSize(o.Width, o.Height); err != nil {
		return nil, fmt.Errorf("webcam: %w", err)
	}
	if rate(o.FPS) == 0 {
		return nil, fmt.Errorf("webcam: %g frames a second cannot be asked for", o.FPS)
	}
	n, path, err := findDevice(o.Device, sys.devices())
	if err != nil {
		return nil, err
	}
	open := func() (stream, error) {
		if err := sys.check(path); err != nil {
			return nil, noCamera(path, err)
		}
		s, err := sys.open(n, o.Width, o.Height, o.FPS)
		if err != nil {
			return nil, noCamera(path, err)
		}
		return s, nil
	}
	name := path
	for _, d := range sys.devices() {
		if d.Path == path && d.Name != "" {
			name = fmt.Sprintf("%s (%s)", path, d.Name)
		}
	}
	l, err := newLive(name, open, liveOptions{stall: o.StallAfter, retries: o.Retries})
	if err == nil {
		return l, nil
	}
	if !errors.Is(err, ErrNoCamera) {
		err = noCamera(path, fmt.Errorf("%w; close other programs that use it, or unplug it and plug it in again", err))
	}
	return nil, err
}

func noCamera(path string, cause error) error {
	return fmt.Errorf("%s: %w: %w", path, ErrNoCamera, cause)
}

// findDevice turns what the user wrote into the number that V4L2 wants.
func findDevice(name string, devices []Device) (n int, path string, err error) {
	switch {
	case name == "":
		for _, d := range devices {
			if d.Captures {
				return d.Number, d.Path, nil
			}
		}
		return 0, "", fmt.Errorf("%w found: connect one, or name a video to play instead as file:CLIP", ErrNoCamera)
	case !strings.Contains(name, "/"):
		path = "/dev/video" + name
	default:
		path = filepath.Clean(name)
		// Links such as those in /dev/v4l/by-id stay right when the numbers
		// change.
		if real, err := filepath.EvalSymlinks(path); err == nil {
			path = real
		}
	}
	digits, ok := strings.CutPrefix(path, "/dev/video")
	n, err = strconv.Atoi(digits)
	if !ok || err != nil || n < 0 || n > 255 {
		return 0, "", fmt.Errorf("%q: %w is named so: give its number, its path such as /dev/video0, or file:CLIP", name, ErrNoCamera)
	}
	return n, fmt.Sprintf("/dev/video%d", n), nil
}

// checkDevice makes sure that a device node is there and open to us.
func checkDevice(path string) error {
	st, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return errors.New("it is not connected")
	case err != nil:
		return err
	case st.Mode()&fs.ModeCharDevice == 0:
		return errors.New("it is not a device")
	}
	f, err := os.OpenFile(path, os.O_RDWR|syscall.O_NONBLOCK, 0)
	switch {
	case errors.Is(err, fs.ErrPermission):
		return errors.New(`you may not use it: add your account to the group "video" and log in again`)
	case errors.Is(err, syscall.EBUSY):
		return errors.New("another program is using it; close that program")
	case err != nil:
		return err
	}
	return f.Close()
}
