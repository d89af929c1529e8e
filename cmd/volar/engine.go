package main

import (
	"fmt"
	"os"

	"volar/internal/infer"
)

// engineFlags are shared by the commands that run the models.
type engineFlags struct {
	Threads int `help:"Processor threads for the models; 0 leaves the choice to the program." default:"0"`
}

func (f engineFlags) open() (infer.Engine, error) {
	if f.Threads < 0 || f.Threads > 64 {
		return nil, &usageError{fmt.Errorf("--threads %d is not between 0 and 64", f.Threads)}
	}
	return infer.OpenRuntime(infer.RuntimeOptions{})
}

// quietNativeLibraries keeps OpenCV's and FFmpeg's own chatter off standard
// error, where it would hide what this program says. What goes wrong is
// reported by our own checks. A setting made by the user stays.
func quietNativeLibraries() {
	for _, kv := range [][2]string{
		{"OPENCV_LOG_LEVEL", "SILENT"},
		{"OPENCV_FFMPEG_LOGLEVEL", "-8"},
		{"OPENCV_VIDEOIO_DEBUG", "0"},
	} {
		if _, set := os.LookupEnv(kv[0]); !set {
			// Setenv fails only for a malformed name.
			_ = os.Setenv(kv[0], kv[1])
		}
	}
}
