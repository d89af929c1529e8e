package camera

import "volar/internal/mjpeg"

// VideoWriter writes frames of one size and a steady rate to a video file that
// OpenVideo and every common player read.
type VideoWriter = mjpeg.Writer

// NewVideoWriter begins a video of w×h pixels at fps frames a second.
func NewVideoWriter(path string, w, h int, fps float64) (*VideoWriter, error) {
	return mjpeg.Create(path, mjpeg.Options{Width: w, Height: h, FPS: fps})
}
