package camera

/*
#cgo !windows pkg-config: opencv4
#cgo CXXFLAGS: --std=c++11
#include "guard.h"
*/
import "C"

import (
	"fmt"
	"os"
	"sync"
	"unsafe"

	"gocv.io/x/gocv"
)

// quiet makes OpenCV and FFmpeg say nothing on standard error, and shortens
// how long a webcam that sends nothing may block a read, to a time that Close
// can wait for. FFmpeg's level and the time-out are read by OpenCV at their
// first use, so that setting them here is early enough; a user who has set
// them keeps their values.
var quiet = sync.OnceFunc(func() {
	C.volar_quiet_opencv()
	for name, value := range map[string]string{
		"OPENCV_FFMPEG_LOGLEVEL":            "-8", // AV_LOG_QUIET
		"OPENCV_VIDEOIO_V4L_SELECT_TIMEOUT": "2",  // seconds
	} {
		if _, set := os.LookupEnv(name); !set {
			os.Setenv(name, value)
		}
	}
})

// The C++ object is the only field of gocv's VideoCapture, which has no other
// way to it; this does not compile when that changes.
var _ [unsafe.Sizeof(uintptr(0))]byte = [unsafe.Sizeof(gocv.VideoCapture{})]byte{}

// guardedRead is capture.Read with an exception as an error. Reading decodes
// what outsiders have made, and no check beforehand sees all that can be wrong
// with it: OpenCV 4.6 throws, for one, where a Matroska header gives another
// width than the pictures have. The objects stay valid.
func guardedRead(capture *gocv.VideoCapture, m *gocv.Mat) (bool, error) {
	object := *(*unsafe.Pointer)(unsafe.Pointer(capture))
	if object == nil {
		return false, ErrClosed
	}
	var why [200]C.char
	switch C.volar_read(object, unsafe.Pointer(m.Ptr()), &why[0], C.int(len(why))) {
	case 1:
		return true, nil
	case 0:
		return false, nil
	}
	return false, fmt.Errorf("it cannot be decoded: OpenCV reports %s", C.GoString(&why[0]))
}
