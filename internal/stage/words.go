package stage

import (
	"errors"
	"strings"

	"volar/internal/camera"
)

// CameraWords say to a client what is wrong with the camera and what to do;
// empty while it is opening or sends pictures.
func CameraWords(c Camera) string {
	switch {
	case c.State == Silent:
		return "The camera has stopped sending pictures. Waiting for it."
	case c.State != Lost:
		return ""
	case errors.Is(c.Trouble, camera.ErrUnreadable):
		return "The video that stands for the camera cannot be read: " + firstLine(c.Trouble)
	case c.Trouble != nil && strings.Contains(c.Trouble.Error(), "another program"):
		return "Another program is using the camera. Close it; this one goes on by itself."
	case c.Trouble != nil && strings.Contains(c.Trouble.Error(), "may not use it"):
		return "This account may not use the camera: " + firstLine(c.Trouble)
	}
	return "There is no camera. Plug one in; this goes on by itself."
}

func firstLine(err error) string {
	s, _, _ := strings.Cut(err.Error(), "\n")
	return s
}
