package camera

import (
	"io/fs"
	"os"
	"slices"
	"strconv"
	"strings"
)

// Device is a video device of this computer.
type Device struct {
	Number int    // of /dev/video<number>
	Path   string // /dev/video<number>
	Name   string // as the driver calls the camera; "" unknown
	// Captures is false for the second node of a camera, which carries only
	// data about the pictures.
	Captures bool
	// Trouble says why the device cannot be used; nil if nothing is known to
	// stand against it.
	Trouble error
}

// Devices lists the video devices by number, for the user to choose from. It
// opens each for a moment but takes no picture.
func Devices() []Device {
	ds := systemDevices()
	for i := range ds {
		ds[i].Trouble = checkDevice(ds[i].Path)
	}
	return ds
}

// systemDevices lists without opening anything.
func systemDevices() []Device {
	return listDevices(os.DirFS("/dev"), os.DirFS("/sys/class/video4linux"))
}

// listDevices reads the device folder and the kernel's folder about them. Both
// may be missing, where there is no camera.
func listDevices(dev, sys fs.FS) []Device {
	entries, err := fs.ReadDir(dev, ".")
	if err != nil {
		return nil
	}
	var ds []Device
	for _, e := range entries {
		digits, ok := strings.CutPrefix(e.Name(), "video")
		n, err := strconv.ParseUint(digits, 10, 8)
		if !ok || err != nil || strconv.FormatUint(n, 10) != digits {
			continue
		}
		index := attribute(sys, e.Name(), "index")
		ds = append(ds, Device{
			Number: int(n),
			Path:   "/dev/" + e.Name(),
			Name:   attribute(sys, e.Name(), "name"),
			// The kernel numbers the nodes of one camera from 0, pictures
			// first.
			Captures: index == "0" || index == "",
		})
	}
	slices.SortFunc(ds, func(a, b Device) int { return a.Number - b.Number })
	return ds
}

func attribute(sys fs.FS, device, name string) string {
	b, err := fs.ReadFile(sys, device+"/"+name)
	if err != nil {
		return ""
	}
	// A name comes from the plugged-in device; keep it to what can be shown.
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == '\uFFFD' {
			return -1
		}
		return r
	}, strings.TrimSpace(string(b)))
}
