package main

import (
	"context"
	"errors"
	"fmt"
	"image"
	"time"

	"volar/internal/camera"
)

// cameraLook is how long pictures are taken for the real rate; the first ones,
// in which a camera sets its exposure, do not count.
const (
	cameraLook   = 2 * time.Second
	cameraSettle = 700 * time.Millisecond
	cameraWait   = 8 * time.Second
)

// Brightness, 0 to 1, below which a hand is hard to see and above which its
// edges are lost: what the check before an exercise asks for, of the whole
// picture.
const leastLight, mostLight = 0.12, 0.92

// cameraFindings lists every camera, and opens the chosen one for a moment to
// see how many pictures really come and how light they are.
func (c *doctorCmd) cameraFindings(e *environment) []finding {
	const access = "plug a camera in, close other programs that use it, and see that you may read /dev/video*"
	var out []finding
	usable := 0
	for _, d := range camera.Devices() {
		f := finding{What: "camera " + d.Path, Detail: d.Name}
		switch {
		case !d.Captures:
			continue // only tells about the pictures of another
		case d.Trouble != nil:
			f.Detail, f.Do = sentence(d.Trouble), access
		default:
			f.Works, usable = true, usable+1
		}
		out = append(out, f)
	}
	f := finding{What: "pictures", Detail: "no camera can be used", Do: access}
	if usable == 0 && c.Camera == "" {
		return append(out, f)
	}
	ctx, stop := context.WithTimeout(e.ctx, cameraWait)
	defer stop()
	src, err := camera.OpenCamera(c.Camera, camera.WebcamOptions{})
	if err != nil {
		f.Detail = sentence(err)
		return append(out, f)
	}
	defer src.Close()
	seen, err := lookAt(ctx, src)
	switch {
	case errors.Is(err, context.DeadlineExceeded):
		f.Detail = fmt.Sprintf("no picture came within %.0f s", cameraWait.Seconds())
		return append(out, f)
	case err != nil:
		f.Detail = sentence(err)
		return append(out, f)
	}
	in := src.Info()
	f.Works, f.Do = true, ""
	f.Detail = fmt.Sprintf("%s, %d×%d, %.0f a second, brightness %.0f %%", in.Name, in.Width, in.Height, seen.rate, 100*seen.light)
	switch {
	case seen.light < leastLight:
		f.Do = "it is dark: turn on a light in front of you, and see that the lens is not covered"
	case seen.light > mostLight:
		f.Do = "it is too bright: turn away from the window or the lamp"
	case seen.rate < 14:
		f.Do = "few pictures come, as in a dark room: turn on a light, or plug the camera in directly"
	}
	return append(out, f)
}

// looked is what came of looking: pictures a second by their own times, and
// their mean brightness, 0 to 1.
type looked struct{ rate, light float64 }

func lookAt(ctx context.Context, src camera.Source) (looked, error) {
	var first, last time.Duration
	n, sum := 0, 0.0
	start := time.Duration(-1)
	for {
		f, err := src.Next(ctx)
		if err != nil {
			return looked{}, err
		}
		if start < 0 {
			start = f.Time
		}
		if f.Time-start < cameraSettle {
			continue
		}
		if n == 0 {
			first = f.Time
		}
		n, last = n+1, f.Time
		sum += brightness(f.Image)
		if last-first >= cameraLook {
			return looked{rate: float64(n-1) / (last - first).Seconds(), light: sum / float64(n)}, nil
		}
	}
}

// brightness is the mean luma (ITU-R BT.601) of every eighth pixel each way.
func brightness(m *image.RGBA) float64 {
	sum, n := 0.0, 0
	for y := m.Rect.Min.Y; y < m.Rect.Max.Y; y += 8 {
		for x := m.Rect.Min.X; x < m.Rect.Max.X; x += 8 {
			p := m.Pix[m.PixOffset(x, y):]
			sum += 0.299*float64(p[0]) + 0.587*float64(p[1]) + 0.114*float64(p[2])
			n++
		}
	}
	return sum / float64(max(n, 1)) / 255
}
