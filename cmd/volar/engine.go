package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"volar/internal/infer"
	"volar/internal/infer/portable"
	"volar/models"
)

// engineFlags are shared by the commands that run the models.
type engineFlags struct {
	Engine  string `help:"What runs the models: auto, onnxruntime or portable. The portable engine needs no native library and is slower; auto takes it where ONNX Runtime cannot be loaded." enum:"auto,onnxruntime,portable" default:"auto"`
	Threads int    `help:"Processor threads for the models; 0 leaves the choice to the program." default:"0"`
}

// open returns the engine, and says on notes if it is not the usual one
// although nobody asked for another.
func (f engineFlags) open(notes io.Writer) (infer.Engine, error) {
	e, why, err := f.choose()
	if why != nil {
		fmt.Fprintf(notes, "volar: the slower %s is used: %s\n", e.Name(), sentence(why))
	}
	return e, err
}

// choose returns the engine, and why it is not ONNX Runtime if that could not
// be loaded.
func (f engineFlags) choose() (e infer.Engine, why, err error) {
	if f.Threads < 0 || f.Threads > 64 {
		return nil, nil, &usageError{fmt.Errorf("--threads %d is not between 0 and 64", f.Threads)}
	}
	if f.Engine == "portable" {
		return openPortable(), nil, nil
	}
	e, err = infer.OpenRuntime(infer.RuntimeOptions{})
	if errors.Is(err, infer.ErrNoRuntime) && f.Engine != "onnxruntime" {
		return openPortable(), err, nil
	}
	return e, nil, err
}

func openPortable() infer.Engine { return portable.Open(portable.Options{Known: models.Known}) }

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
