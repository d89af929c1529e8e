package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"fyne.io/fyne/v2"

	"volar/internal/camera"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/ui/home"
)

// soakCmd runs the window as a client would for a long time, and prints what
// it costs and whether anything grows.
type soakCmd struct {
	For    time.Duration `help:"How long." default:"10m" placeholder:"TIME"`
	Every  time.Duration `help:"How often a line is printed." default:"15s" placeholder:"TIME"`
	Camera string        `help:"Camera to use; the bundled clip at 30 pictures a second if not named." placeholder:"CAMERA"`
	engineFlags
}

// longestSoak is somewhat less than the largest dose takes with the bundled
// clip.
const longestSoak = 40 * time.Minute

func (c *soakCmd) Run(e *environment) error {
	if c.For <= 0 || c.Every <= 0 || c.For > longestSoak {
		return &usageError{errors.New("--for and --every take a time such as 10m, at most 40m")}
	}
	if !displayFinding().Works {
		return &usageError{errors.New("there is no display to open a window on; start from a desktop, or under Xvfb")}
	}
	dir, err := os.MkdirTemp("", "volar-soak-")
	if err != nil {
		return fmt.Errorf("make room for the store: %w", err)
	}
	defer os.RemoveAll(dir)
	if c.Camera == "" {
		clip := filepath.Join(dir, "clip.avi")
		if err := smoothClip(e.ctx, clip); err != nil {
			return err
		}
		c.Camera = "file:" + clip
	}
	p, err := demoProgram(exercise.Dose{Sets: 10, Repetitions: 50, HoldSeconds: 2, RestSeconds: 5, TimesADay: 1, DaysAWeek: 7})
	if err != nil {
		return err
	}
	w := window{dir: filepath.Join(dir, "store"), secret: passing(), program: p, camera: c.Camera, engineFlags: c.engineFlags}
	var soaked error
	err = w.run(e, func(ctx context.Context, a fyne.App, win fyne.Window, h *home.Home) {
		soaked = c.soak(ctx, e, win, h)
		fyne.Do(a.Quit)
	})
	return errors.Join(soaked, err)
}

// soak goes to the exercise by keys and then watches.
func (c *soakCmd) soak(ctx context.Context, e *environment, w fyne.Window, h *home.Home) error {
	if err := toExercise(ctx, w); err != nil {
		return err
	}
	fmt.Fprintf(e.out, "%8s %9s %9s %9s %9s %8s %8s %8s %6s %5s %5s\n", "time", "CPU", "delay", "p95", "pictures", "dropped", "skipped", "memory", "heap", "go", "files")
	start, last := time.Now(), usage()
	var before home.Measures
	from := start
	for time.Since(start) < c.For {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(min(c.Every, c.For)):
		}
		now, u, m := time.Now(), usage(), h.Measures()
		took := now.Sub(from).Seconds()
		fmt.Fprintf(e.out, "%8s %7.0f %% %6.0f ms %6.0f ms %7.1f/s %8d %8d %5.0f MB %3.0f MB %5d %5d",
			clock(now.Sub(start)), 100*(u.cpu-last.cpu).Seconds()/took, ms(m.Delay), ms(m.DelayP95),
			float64(m.Judged-before.Judged)/took, m.Dropped, m.Skipped, u.memory, u.heap, runtime.NumGoroutine(), u.files)
		if n, ok := camera.Mats(); ok {
			fmt.Fprintf(e.out, "  Mats %d", n)
		}
		fmt.Fprintln(e.out)
		from, last, before = now, u, m
	}
	return nil
}

func ms(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }

// toExercise presses keys until the exercise runs. Each screen is known by the
// window's title.
func toExercise(ctx context.Context, w fyne.Window) error {
	late := time.After(time.Minute)
	pressed := ""
	for {
		var title string
		fyne.DoAndWait(func() { title, _, _ = strings.Cut(w.Title(), " – ") })
		key := fyne.KeySpace
		switch {
		case strings.HasPrefix(title, "How much"):
			key = fyne.Key0
		case title == "One moment" || strings.HasPrefix(title, "Can the camera"):
			key = ""
		}
		// The exercise has the same title before the camera as when it is told.
		if key != "" && title != pressed {
			fyne.DoAndWait(func() { w.Canvas().OnTypedKey()(&fyne.KeyEvent{Name: key}) })
			if strings.HasPrefix(pressed, "Can the camera") {
				return nil
			}
		}
		pressed = title
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-late:
			return fmt.Errorf("the exercise never began; the window stands at %q", title)
		case <-time.After(200 * time.Millisecond):
		}
	}
}

// smoothClip writes the bundled clip with each picture twice: 30 a second.
func smoothClip(ctx context.Context, path string) error {
	half := path + ".half.avi"
	if err := os.WriteFile(half, demoClip, 0o600); err != nil {
		return fmt.Errorf("put down the bundled clip: %w", err)
	}
	src, err := camera.OpenVideo(half, camera.VideoOptions{})
	if err != nil {
		return err
	}
	defer src.Close()
	in := src.Info()
	out, err := camera.NewVideoWriter(path, in.Width, in.Height, 2*in.FPS)
	if err != nil {
		return err
	}
	defer out.Abort()
	for {
		f, err := src.Next(ctx)
		if err != nil {
			if in.Frames > 0 && out.Frames() >= 2*in.Frames {
				return out.Close()
			}
			return fmt.Errorf("read the bundled clip: %w", err)
		}
		for range 2 {
			if err := out.Write(f.Image); err != nil {
				return err
			}
		}
	}
}

// demoProgram is the exercise of the bundled clip with a dose.
func demoProgram(d exercise.Dose) (*program.Program, error) {
	done, err := demoShows()
	if err != nil {
		return nil, err
	}
	side, err := hand.ParseSide(done.Side)
	if err != nil {
		return nil, err
	}
	p, _, err := program.New(program.Options{Client: "C-000", Side: program.Side(side), Dominant: program.Side(side), Exercises: []string{done.Exercise}, Now: time.Now().AddDate(0, 0, -1)}, program.Source{})
	if err != nil {
		return nil, err
	}
	p.Exercises[0].Dose = program.FullDose(d)
	return p, nil
}

// used is what the process has used.
type used struct {
	cpu          time.Duration
	memory, heap float64 // MB resident, and of Go's own
	files        int
}

// statusMB reads a size from the system's account of this process.
func statusMB(name string) float64 {
	b, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	for line := range bytes.Lines(b) {
		var kb float64
		if _, err := fmt.Sscanf(string(line), name+": %f kB", &kb); err == nil {
			return kb / 1024
		}
	}
	return 0
}
