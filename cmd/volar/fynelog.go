package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"
)

// fyneLog stands between fyne's log and standard error. Fyne only logs that a
// window could not be made; fyneLog notices.
//
// Fyne writes an error as a line "Fyne error: …", and may follow it with one
// that begins "Cause:" and one that begins "At:".
type fyneLog struct {
	to io.Writer

	mu sync.Mutex
	// about is true for the lines after a window could not be made.
	about bool
	cause string
}

// Write is part of io.Writer; it takes whole lines.
func (l *fyneLog) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	switch {
	case bytes.Contains(p, []byte("window creation error")):
		if l.cause == "" {
			l.cause = "no reason given"
		}
		l.about = true
	case l.about && bytes.Contains(p, []byte("  Cause: ")):
		_, cause, _ := strings.Cut(string(p), "  Cause: ")
		l.cause = strings.TrimSpace(cause)
	case l.about && bytes.Contains(p, []byte("  At: ")):
	default:
		l.about = false
		return l.to.Write(p)
	}
	return len(p), nil
}

// errNoOpenGL says that there is a display, but no way to draw on it.
var errNoOpenGL = errors.New("no window can be opened, since OpenGL does not work here")

// failed is why there is no window; nil where there is one.
func (l *fyneLog) failed() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.cause == "" {
		return nil
	}
	return fmt.Errorf("%w (%s); install the graphics driver (on Debian and Ubuntu libgl1-mesa-dri draws without one), or use volar check and the other commands", errNoOpenGL, l.cause)
}
