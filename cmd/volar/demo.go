package main

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"volar/internal/demonstration"
	"volar/internal/exercise"
)

// The bundled clip shows a rendered hand, since no client's hand may be; what
// it does is known to the degree. scripts/make-demo makes both files.
var (
	//go:embed demo/clip.avi
	demoClip []byte
	//go:embed demo/truth.json
	demoTruth []byte
)

type demoCmd struct {
	Text     bool   `help:"Print what is found, also where there is a display."`
	JSON     bool   `name:"json" help:"One JSON object, as from volar check."`
	Annotate string `help:"Write the clip with skeleton, angles and events drawn in." placeholder:"FILE.avi"`
	engineFlags
}

// demoDone is what the bundled clip shows.
type demoDone struct {
	Exercise    string
	Side        string
	Hold        time.Duration
	Performance demonstration.Performance
}

// demoShows reads what the bundled clip shows.
func demoShows() (done demoDone, err error) {
	if err := json.Unmarshal(demoTruth, &done); err != nil {
		return done, fmt.Errorf("read what the bundled clip shows: %w", err)
	}
	return done, nil
}

func (c *demoCmd) Run(e *environment) error {
	done, err := demoShows()
	if err != nil {
		return err
	}
	dir, err := os.MkdirTemp("", "volar-demo-")
	if err != nil {
		return fmt.Errorf("make room for the bundled clip: %w", err)
	}
	defer os.RemoveAll(dir)
	clip := filepath.Join(dir, "clip.avi")
	if err := os.WriteFile(clip, demoClip, 0o600); err != nil {
		return fmt.Errorf("put down the bundled clip: %w", err)
	}
	if !c.Text && !c.JSON && c.Annotate == "" && displayFinding().Works {
		return c.window(e, dir, clip, &done)
	}
	check := checkCmd{Video: clip, Exercise: done.Exercise, Side: done.Side, Hold: done.Hold, Annotate: c.Annotate, engineFlags: c.engineFlags}
	r, err := check.judge(e)
	if err != nil {
		return err
	}
	r.Video = "bundled clip"
	if c.JSON {
		return json.NewEncoder(e.out).Encode(r)
	}
	b := &printer{w: e.out}
	p := done.Performance
	b.wrapped("", "", fmt.Sprintf("The bundled clip is a real video file of a rendered hand, so what it does is known: %s of %s each, and %s.",
		plural(len(p.Repetitions), "repetition with a hold", "repetitions with a hold"), clock(done.Hold), excursionsText(p.Excursions)))
	b.wrapped("", "", "The landmark model has not been told. This is what it found:")
	b.f("\n")
	if b.err != nil {
		return b.err
	}
	if err := r.print(e.out); err != nil {
		return err
	}
	if c.Annotate != "" {
		b.f("The clip with what was found drawn in: %s\n", c.Annotate)
	}
	return b.err
}

// window shows the home side before the bundled clip, which stands for the
// camera and begins again when it is over. Nothing of it is kept.
func (c *demoCmd) window(e *environment, dir, clip string, done *demoDone) error {
	p, err := demoProgram(exercise.Dose{
		Sets: 2, Repetitions: len(done.Performance.Repetitions), HoldSeconds: done.Hold.Seconds(), RestSeconds: 20, TimesADay: 1, DaysAWeek: 7,
	})
	if err != nil {
		return err
	}
	w := window{alone: true, dir: filepath.Join(dir, "store"), secret: passing(), program: p, camera: "file:" + clip, engineFlags: c.engineFlags}
	return w.run(e, nil)
}

func excursionsText(all []demonstration.Excursion) string {
	if len(all) == 0 {
		return "no joint past straight"
	}
	x := all[0]
	return fmt.Sprintf("the %s finger's middle knuckle (PIP) %.0f° past straight from %.1f to %.1f s",
		x.Joint.Finger(), -x.PeakDeg, x.Start.Seconds(), x.End.Seconds())
}
