package stage

import (
	"image"
	"time"

	"volar/internal/coach"
	"volar/internal/session"
)

// CameraState is how the camera is doing.
type CameraState string

// The states. Silent is a camera that is open and has sent nothing for a
// second; Lost one that could not be opened or went away.
const (
	Opening CameraState = "opening"
	Sending CameraState = "sending"
	Silent  CameraState = "silent"
	Lost    CameraState = "lost"
)

// Camera is the camera's state with what is wrong, if anything.
type Camera struct {
	State CameraState
	// Trouble wraps the errors of package camera; nil while pictures come.
	Trouble error
}

// Cue is what is to be told to the client now.
type Cue struct {
	Text string
	// Warning is true for a fault, false for all else.
	Warning bool
	At      time.Duration
}

// View is what there is to show. It is a copy that stays as it is, but for
// Picture, which is the viewer's until the next Take.
type View struct {
	// Picture is mirrored and packed; nil before the first.
	Picture *image.RGBA
	// At is the capture time of the picture, or the time of what else changed.
	At     time.Duration
	Camera Camera
	// Failed is an error after which nothing more comes.
	Failed error
	// Check is set while the camera is being checked, Practice while an
	// exercise is done.
	Check    *Check
	Practice *coach.PracticeStatus
	Cue      Cue
	// Saving is how the recording fares, and Unkept why something of the
	// exercise is not kept, now or for good; nil where all of it is.
	Saving session.Status
	Unkept error
}
