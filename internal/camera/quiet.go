package camera

/*
#cgo !windows pkg-config: opencv4
#cgo CXXFLAGS: --std=c++11
#include "quiet.h"
*/
import "C"

import (
	"os"
	"sync"
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
