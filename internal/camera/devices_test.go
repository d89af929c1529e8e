package camera

import (
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"
)

func TestListDevices(t *testing.T) {
	file := func(s string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(s)} }
	dev := fstest.MapFS{
		"video10": file(""), "video0": file(""), "video1": file(""), "video2": file(""),
		"video": file(""), "video01": file(""), "videoX": file(""), "video-1": file(""), "video300": file(""), "null": file(""), "vbi0": file(""),
	}
	sys := fstest.MapFS{
		"video0/name": file("Integrated Camera: Front\n"), "video0/index": file("0\n"),
		"video1/name": file("Integrated Camera: Front\n"), "video1/index": file("1\n"),
		"video10/name": file("Stick\x1b[2J\xff\n"), "video10/index": file("0\n"),
	}
	require.Equal(t, []Device{
		{Number: 0, Path: "/dev/video0", Name: "Integrated Camera: Front", Captures: true},
		{Number: 1, Path: "/dev/video1", Name: "Integrated Camera: Front"},
		{Number: 2, Path: "/dev/video2", Captures: true},
		{Number: 10, Path: "/dev/video10", Name: "Stick[2J", Captures: true},
	}, listDevices(dev, sys))
	require.Empty(t, listDevices(os.DirFS(filepath.Join(t.TempDir(), "none")), os.DirFS("none")))
}

// Whatever cameras this computer has, they can be listed and judged.
func TestDevices(t *testing.T) {
	for _, d := range Devices() {
		require.Contains(t, d.Path, "/dev/video")
	}
}

func TestFindDevice(t *testing.T) {
	devices := []Device{{Number: 3, Path: "/dev/video3"}, {Number: 4, Path: "/dev/video4", Captures: true}}
	link := filepath.Join(t.TempDir(), "usb-camera")
	require.NoError(t, os.Symlink("/dev/video7", link))
	for name, want := range map[string]int{"": 4, "0": 0, "12": 12, "/dev/video3": 3, "/dev/../dev/video5": 5} {
		n, path, err := findDevice(name, devices)
		require.NoError(t, err, name)
		require.Equal(t, want, n)
		require.Contains(t, path, "/dev/video")
	}
	for _, name := range []string{"front", "-1", "256", "/dev/null", "/dev/video", "/dev/videos", "1.5", "0x1", " 1", link} {
		_, _, err := findDevice(name, devices)
		require.ErrorIs(t, err, ErrNoCamera, name)
		require.ErrorContains(t, err, "file:CLIP")
	}
	_, _, err := findDevice("", devices[:1])
	require.ErrorIs(t, err, ErrNoCamera)
}

func TestCheckDevice(t *testing.T) {
	require.ErrorContains(t, checkDevice(filepath.Join(t.TempDir(), "video9")), "not connected")
	require.ErrorContains(t, checkDevice(saved(t, "video9", []byte("x"))), "not a device")
	require.NoError(t, checkDevice("/dev/null"))
	_, err := OpenWebcam(WebcamOptions{Device: "255"})
	require.ErrorIs(t, err, ErrNoCamera)
	require.EqualError(t, err, "/dev/video255: no camera: it is not connected")
}
