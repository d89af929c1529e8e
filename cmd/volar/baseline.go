package main

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"volar/internal/arom"
	"volar/internal/camera"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/infer"
	"volar/internal/landmark"
	"volar/internal/live"
	"volar/internal/score"
)

type baselineCmd struct {
	Inputs   []string `arg:"" optional:"" name:"input" help:"Videos in which the hand is held straight, as a fist, and straight from the thumb side; or three pictures of that."`
	Camera   string   `help:"Record from a camera instead: a number, a path, or file:CLIP." placeholder:"CAMERA"`
	Side     string   `help:"The client's hand." enum:"left,right,any" default:"any"`
	LeaveOut string   `help:"A pose that this hand cannot do: fist or side." enum:"fist,side,none" default:"none"`
	Measured []string `help:"What a goniometer said of a joint in the straight hand, in degrees, below 0 past straight, such as index.pip=-8; may come again." placeholder:"JOINT=DEG"`
	Norms    string   `help:"The set of norms beside the joints." default:"aaos-1994" placeholder:"ID"`
	Other    string   `help:"The baseline file of the other hand, to be put beside it." type:"path" placeholder:"FILE"`
	Out      string   `short:"o" help:"Write the baseline to a file, as JSON." type:"path" placeholder:"FILE"`
	Force    bool     `help:"Replace an existing file."`
	Client   string   `help:"Keep the baseline in the store, for the client with this code." placeholder:"CODE"`
	JSON     bool     `name:"json" help:"Print one JSON object."`
	storeFlags
	engineFlags
}

func (c *baselineCmd) Run(e *environment) error {
	if err := c.check(); err != nil {
		return &usageError{err}
	}
	norms, err := findNorms(c.Norms)
	if err != nil {
		return &usageError{err}
	}
	known, err := knownAngles(c.Measured)
	if err != nil {
		return &usageError{err}
	}
	other, err := readBaseline(c.Other)
	if err != nil {
		return &inputError{err}
	}
	var keep baselineKeeper
	if c.Client != "" {
		// What keeps it from being stored is said before the hand is held.
		if keep, err = c.keeper(e); err != nil {
			return err
		}
		defer keep.Close()
	}
	b, err := c.record(e)
	if err != nil {
		return err
	}
	for j, deg := range known {
		if b, err = arom.WithKnown(b, goniometry.StraightHand, j, &deg); err != nil {
			return err
		}
	}
	if keep != nil {
		if other == nil {
			side, _ := hand.ParseSide(b.Side)
			if other, err = keep.Baseline(e.ctx, side.Other()); err != nil {
				return err
			}
		}
		if err := keep.Put(e.ctx, b); err != nil {
			return err
		}
	}
	t := arom.TableOf(b, arom.TableOptions{Norms: norms, Other: other})
	if c.JSON {
		err = printBaselineJSON(e.out, b, &t)
	} else {
		_, err = io.WriteString(e.out, t.Text(time.Local))
	}
	if err != nil || c.Out == "" {
		return err
	}
	written := *e
	written.out = e.err // the file's name is no result here
	return writeFile(&written, c.Out, c.Force, func(w io.Writer) error {
		body, err := b.Encode()
		if err != nil {
			return err
		}
		_, err = w.Write(append(body, '\n'))
		return err
	})
}

func (c *baselineCmd) check() error {
	switch {
	case len(c.Inputs) == 0 && c.Camera == "":
		return errors.New("name a video, three pictures, or a --camera")
	case len(c.Inputs) > 0 && c.Camera != "":
		return errors.New("record from files or from a --camera, not from both")
	}
	pictures := c.pictures()
	if n := len(c.steps()); pictures > 0 && (pictures != len(c.Inputs) || pictures != n) {
		return fmt.Errorf("%s and %s; it takes one picture a pose, %d in all, or videos alone",
			plural(pictures, "picture", "pictures"), plural(len(c.Inputs)-pictures, "video", "videos"), n)
	}
	if c.Out != "" && !c.Force {
		if _, err := os.Lstat(c.Out); err == nil {
			return fmt.Errorf("%s exists; name another file with --out, or replace it with --force", c.Out)
		}
	}
	return nil
}

// pictures counts the inputs that are pictures by their names.
func (c *baselineCmd) pictures() int {
	n := 0
	for _, name := range c.Inputs {
		if slices.Contains([]string{".jpg", ".jpeg", ".png", ".webp", ".bmp", ".tif", ".tiff"}, strings.ToLower(filepath.Ext(name))) {
			n++
		}
	}
	return n
}

func (c *baselineCmd) steps() []goniometry.CaptureStep {
	return slices.DeleteFunc(arom.UsualSteps(), func(s goniometry.CaptureStep) bool {
		return c.LeaveOut == "fist" && s.Pose == goniometry.FullFist || c.LeaveOut == "side" && s.YawDeg == 90
	})
}

// record reads the hand from whatever shows it.
func (c *baselineCmd) record(e *environment) (*goniometry.Baseline, error) {
	estimator, err := live.Estimator()
	if err != nil {
		return nil, err
	}
	side, err := hand.ParseSide(c.Side)
	if err != nil {
		side = hand.UnknownSide // any
	}
	pictures := c.pictures() > 0
	rec, err := arom.NewRecording(goniometry.CaptureOptions{Side: side, Steps: c.steps(), Still: pictures, At: time.Now(), Estimator: estimator})
	if err != nil {
		return nil, err
	}
	engine, err := c.engineFlags.open(e.err)
	if err != nil {
		return nil, err
	}
	defer engine.Close()
	if pictures {
		err = c.fromPictures(engine, side, rec)
	} else {
		err = c.fromVideo(e, engine, side, rec)
	}
	if err != nil {
		return nil, err
	}
	return rec.Baseline()
}

// fromPictures takes a pose from each picture.
func (c *baselineCmd) fromPictures(engine infer.Engine, side hand.Side, rec *arom.Recording) error {
	tracker, err := landmark.New(engine, landmark.Options{MaxHands: 2, Threads: c.Threads})
	if err != nil {
		return err
	}
	defer tracker.Close()
	g := goniometry.New(goniometry.Options{})
	for i, name := range c.Inputs {
		img, err := camera.ReadPicture(name)
		if err != nil {
			return &inputError{err}
		}
		found, err := tracker.Detect(img)
		if err != nil {
			return fmt.Errorf("measure %s: %w", name, err)
		}
		at := time.Duration(i+1) * time.Second
		var best *hand.Observation
		for k := range found {
			if o := &found[k]; (side == hand.UnknownSide || o.Side == side) && (best == nil || o.Presence > best.Presence) {
				best = o
			}
		}
		sample := g.Lost(at)
		switch {
		case best != nil:
			sample = g.MeasureStill(*best)
			sample.Time = at
			side = best.Side
		case len(found) > 0:
			sample = arom.Other(at, found[0].Side)
		}
		if rec.Push(sample, best, img.Rect.Size()).Step == i {
			return fmt.Errorf("%s: %w", name, rec.Missing())
		}
	}
	return nil
}

// fromVideo takes the poses from videos, one after the other, or a camera.
func (c *baselineCmd) fromVideo(e *environment, engine infer.Engine, side hand.Side, rec *arom.Recording) error {
	w, err := live.NewWatcher(engine, live.WatcherOptions{Side: side, Threads: c.Threads})
	if err != nil {
		return err
	}
	defer w.Close()
	said := ""
	push := func(img *image.RGBA, at time.Duration) (done bool, err error) {
		seen, err := w.Frame(img, at)
		if err != nil {
			return false, err
		}
		if seen.Hand == nil && seen.Other.Hand != nil {
			seen.Sample = arom.Other(at, seen.Other.Hand.Side)
		}
		now := rec.Push(seen.Sample, seen.Hand, img.Rect.Size())
		if c.Camera != "" && now.Say != said {
			said = now.Say
			fmt.Fprintf(e.err, "%d of %d: %s\n", min(now.Step+1, now.Steps), now.Steps, said)
		}
		return now.Done, nil
	}
	var from time.Duration
	sources := c.Inputs
	if c.Camera != "" {
		sources = []string{c.Camera}
	}
	for _, name := range sources {
		open := func() (camera.Source, error) { return camera.OpenVideo(name, camera.VideoOptions{}) }
		if c.Camera != "" {
			open = func() (camera.Source, error) { return camera.OpenCamera(name, camera.WebcamOptions{}) }
		}
		last, done, err := playInto(e.ctx, open, from, push)
		if err != nil || done {
			return err
		}
		// A new video is a new beginning for what is followed over time.
		from = last + time.Second
	}
	return rec.Missing()
}

// playInto shows every picture of a source, its times counted from from, until
// push is done or the source ends; it returns the last time.
func playInto(ctx context.Context, open func() (camera.Source, error), from time.Duration, push func(*image.RGBA, time.Duration) (bool, error)) (last time.Duration, done bool, err error) {
	src, err := open()
	if err != nil {
		return from, false, &inputError{err}
	}
	defer src.Close()
	last = from
	for {
		f, err := src.Next(ctx)
		switch {
		case errors.Is(err, io.EOF):
			return last, false, nil
		case errors.Is(err, camera.ErrStalled):
			continue
		case err != nil:
			return last, false, err
		}
		last = from + f.Time
		if done, err := push(f.Image, last); err != nil || done {
			return last, done, err
		}
	}
}

func findNorms(id string) (*score.NormSet, error) {
	if set, ok := score.FindNormSet(id); ok {
		return set, nil
	}
	var ids []string
	for _, s := range score.NormSets() {
		ids = append(ids, s.ID)
	}
	return nil, fmt.Errorf("norms %q are not known; there are %s", id, strings.Join(ids, ", "))
}

// knownAngles reads JOINT=DEG.
func knownAngles(args []string) (map[hand.Joint]float64, error) {
	out := map[hand.Joint]float64{}
	for _, a := range args {
		name, value, ok := strings.Cut(a, "=")
		j, err := hand.ParseJoint(name)
		var deg float64
		if ok && err == nil {
			deg, err = strconv.ParseFloat(value, 64)
		}
		if !ok || err != nil {
			return nil, fmt.Errorf("--measured %s is not a joint and its degrees, such as index.pip=-8", a)
		}
		out[j] = deg
	}
	return out, nil
}

func readBaseline(name string) (*goniometry.Baseline, error) {
	if name == "" {
		return nil, nil
	}
	body, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	b, err := goniometry.DecodeBaseline(body)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return b, nil
}
