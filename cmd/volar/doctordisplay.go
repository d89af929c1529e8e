package main

import (
	"fmt"
	"os"
	"strings"

	"github.com/go-gl/gl/v2.1/gl"
	"github.com/go-gl/glfw/v3.3/glfw"

	"volar/internal/sound"
)

func displayFinding() finding {
	f := finding{What: "display", Detail: "no X11 or Wayland display", Do: "results are printed as text; start from a desktop to see windows"}
	for _, v := range []string{"WAYLAND_DISPLAY", "DISPLAY"} {
		if d := os.Getenv(v); d != "" {
			return finding{What: "display", Works: true, Detail: v + "=" + d}
		}
	}
	return f
}

// openGLFinding makes a window that is not shown, as the program's own would be
// made. It has to run on the main thread.
func openGLFinding() finding {
	f := finding{What: "OpenGL", Detail: "not tried without a display", Do: "start from a desktop to see windows"}
	if !displayFinding().Works {
		return f
	}
	f.Do = "install the driver of the graphics card, or libgl1-mesa-dri, which draws without one"
	if err := glfw.Init(); err != nil {
		f.Detail = "the display cannot be opened: " + err.Error()
		return f
	}
	defer glfw.Terminate()
	glfw.WindowHint(glfw.Visible, glfw.False)
	glfw.WindowHint(glfw.ContextVersionMajor, 2)
	glfw.WindowHint(glfw.ContextVersionMinor, 1)
	w, err := glfw.CreateWindow(64, 64, "volar", nil, nil)
	if err != nil {
		f.Detail = "no window can be drawn: " + err.Error()
		return f
	}
	defer w.Destroy()
	w.MakeContextCurrent()
	if err := gl.Init(); err != nil {
		f.Detail = "OpenGL 2.1 is not there: " + err.Error()
		return f
	}
	renderer := gl.GoStr(gl.GetString(gl.RENDERER))
	f.Works, f.Do = true, ""
	f.Detail = fmt.Sprintf("%s, %s", gl.GoStr(gl.GetString(gl.VERSION)), renderer)
	if strings.Contains(strings.ToLower(renderer), "llvmpipe") || strings.Contains(strings.ToLower(renderer), "software") {
		f.Do = "windows are drawn by the processor, which has less left for measuring: install the driver of the graphics card if there is one"
	}
	return f
}

// soundFinding looks for what tones and cues are heard with; it makes no sound.
func soundFinding() finding {
	f := finding{What: "sound", Detail: "no program that plays tones", Do: "install pulseaudio-utils or alsa-utils; everything that sounds is also shown"}
	p, err := sound.New(sound.Options{})
	if err != nil {
		f.Detail = sentence(err)
		return f
	}
	s := p.Status()
	if err := p.Close(); err != nil {
		f.Detail = sentence(err)
		return f
	}
	switch {
	case s.CanTone && s.CanSpeak:
		return finding{What: "sound", Works: true, Detail: "tones, and cues spoken aloud"}
	case s.CanTone:
		return finding{What: "sound", Works: true, Detail: "tones; no program that speaks", Do: "install speech-dispatcher or espeak-ng to have cues spoken"}
	}
	return f
}
