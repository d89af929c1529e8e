package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"

	"volar/internal/camera"
	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/live"
	"volar/internal/program"
)

type checkCmd struct {
	Video    string        `arg:"" optional:"" help:"Video file: AVI, MP4, MOV, MKV, WebM or MPEG."`
	Camera   string        `help:"Judge live before a camera instead: a number, a path, or file:CLIP for a video played as one. Ends with Ctrl-C." placeholder:"CAMERA"`
	For      time.Duration `help:"End a live session after this time." placeholder:"TIME"`
	Exercise string        `help:"Which exercise is judged; volar catalogue lists them. Without a program: whole-hand-grip." placeholder:"ID"`
	Program  string        `help:"Judge by this home program: its limits, for both hands where the exercise takes two, its dose and object, its sets and the rests between them." placeholder:"FILE.yaml"`
	Date     string        `help:"The day of the program; today if not given." placeholder:"DATE"`
	Object   string        `help:"The household object used; the usual one if not named." placeholder:"ID"`
	Side     string        `help:"The hand that exercises: left, right, or any." enum:"left,right,any" default:"any"`
	Limit    []string      `help:"A limit set by the therapist for the hand that exercises, in degrees of flexion: index.pip=0.. or *.pip=-5..100. May be repeated." sep:"none" placeholder:"JOINT=LOWER..UPPER"`
	Hold     time.Duration `help:"How long each hold should last, such as 5s; the exercise's usual dose if not given." placeholder:"TIME"`
	NoHold   bool          `help:"No hold is wanted."`
	JSON     bool          `name:"json" help:"One JSON object."`
	Annotate string        `help:"Write a video with skeleton, angles and events drawn in." placeholder:"FILE.avi"`
	engineFlags

	// by is the program that is judged by; nil without one.
	by *programResult
}

// config puts the flags into the coach's words.
func (c *checkCmd) config(e *environment) (live.Options, error) {
	bad := func(err error) (live.Options, error) { return live.Options{}, &usageError{err} }
	if err := c.wanted(); err != nil {
		return bad(err)
	}
	if c.Program != "" {
		return c.prescribed(e)
	}
	if c.Date != "" {
		return bad(errors.New("--date goes with --program"))
	}
	if c.Exercise == "" {
		c.Exercise = "whole-hand-grip"
	}
	m, err := exercise.Find(c.Exercise)
	if err != nil {
		return bad(err)
	}
	if m, err = m.With(c.Object); err != nil {
		return bad(err)
	}
	limits := coach.Limits{}
	for _, s := range c.Limit {
		if err := limits.ParseLimit(s); err != nil {
			return bad(err)
		}
	}
	o := live.Options{Threads: c.Threads, Coach: coach.Config{Movement: m, Object: c.Object, Limits: limits, Hold: c.Hold}}
	switch {
	case c.Hold < 0:
		return bad(fmt.Errorf("--hold %v is less than nothing", c.Hold))
	case c.Hold > 10*time.Minute:
		return bad(fmt.Errorf("--hold %v is longer than ten minutes", c.Hold))
	case c.NoHold && c.Hold > 0:
		return bad(errors.New("--hold and --no-hold exclude each other"))
	case c.NoHold:
		o.Coach.Hold = -1
	}
	if c.Side != "any" {
		if o.Side, err = hand.ParseSide(c.Side); err != nil {
			return bad(err)
		}
	}
	return o, nil
}

// wanted refuses a command line that does not say what to look at.
func (c *checkCmd) wanted() error {
	switch {
	case c.Video == "" && c.Camera == "":
		return errors.New("name a video file, or a camera with --camera")
	case c.Video != "" && c.Camera != "":
		return errors.New("a video file and --camera exclude each other")
	case c.For < 0 || c.For > 0 && c.Camera == "":
		return errors.New("--for takes a time and goes with --camera")
	}
	return nil
}

func (c *checkCmd) Run(e *environment) error {
	r, err := c.judge(e)
	if err != nil {
		return err
	}
	if c.JSON {
		err = json.NewEncoder(e.out).Encode(r)
	} else {
		err = r.print(e.out)
	}
	if err != nil {
		return err
	}
	if r.breaksOff != nil {
		fmt.Fprintf(e.err, "volar: %s\n", sentence(r.breaksOff))
	}
	if r.found == 0 {
		return fmt.Errorf("%w in %s; use a bright, plain background and let the whole hand be seen", errNothing, c.source())
	}
	return nil
}

// source names what is judged.
func (c *checkCmd) source() string {
	if c.Camera != "" {
		return "camera " + c.Camera
	}
	return c.Video
}

func (c *checkCmd) open() (camera.Source, error) {
	if c.Camera != "" {
		return camera.OpenCamera(c.Camera, camera.WebcamOptions{})
	}
	return camera.OpenVideo(c.Video, camera.VideoOptions{})
}

// tell says live what a client would be told.
func tell(w io.Writer, events []coach.Event) {
	for _, ev := range events {
		switch ev := ev.(type) {
		case coach.RepetitionCounted:
			fmt.Fprintf(w, "%7s  repetition %d\n", clock(ev.When()), ev.Repetition.Number)
		case coach.HoldMet:
			fmt.Fprintf(w, "%7s  hold done\n", clock(ev.When()))
		case coach.Cue:
			fmt.Fprintf(w, "%7s  %s\n", clock(ev.When()), ev.Text)
		case coach.FlagRaised:
			fmt.Fprintf(w, "%7s  %s %s\n", clock(ev.When()), ev.Flag.Kind, ev.Flag.Subject())
		}
	}
}

// judge runs the pictures through the live path.
func (c *checkCmd) judge(e *environment) (*checkResult, error) {
	opt, err := c.config(e)
	if err != nil {
		return nil, err
	}
	src, err := c.open()
	if err != nil {
		return nil, &inputError{err}
	}
	defer src.Close()
	ctx, cancel := e.ctx, context.CancelFunc(func() {})
	if c.For > 0 {
		ctx, cancel = context.WithTimeout(ctx, c.For)
	}
	defer cancel()
	engine, err := c.engineFlags.open(e.err)
	if err != nil {
		return nil, err
	}
	defer engine.Close()
	judge, err := live.New(engine, opt)
	if err != nil {
		return nil, err
	}
	defer judge.Close()

	info := src.Info()
	var notes *annotator
	if c.Annotate != "" {
		if notes, err = newAnnotator(c.Annotate, info); err != nil {
			return nil, err
		}
		defer notes.abort()
	}
	bar := newProgress(e.err, "checking", info.Frames)
	defer bar.done()

	r := &checkResult{Video: c.source(), Exercise: opt.Coach.Movement.ID, Program: c.by}
	var took []time.Duration
	var last time.Duration
	begun := time.Now()
	for {
		start := time.Now()
		frame, err := src.Next(ctx)
		if errors.Is(err, camera.ErrStalled) {
			// The camera may come back; the coach pauses by itself, since time
			// goes on without a sample.
			fmt.Fprintf(e.err, "volar: %s\n", sentence(err))
			continue
		}
		if c.Camera != "" && ctx.Err() != nil {
			break // the end that was asked for
		}
		if errors.Is(err, io.EOF) {
			if errors.Is(err, camera.ErrTruncated) {
				r.breaksOff = err
			}
			break
		}
		if err != nil {
			if ctx.Err() != nil {
				return nil, ctx.Err()
			}
			if c.Camera != "" && r.Frames > 0 {
				r.breaksOff = err
				break
			}
			return nil, &inputError{err}
		}
		res, err := judge.Frame(frame.Image, frame.Time)
		if err != nil {
			return nil, fmt.Errorf("check %s at %.2f s: %w", c.source(), frame.Time.Seconds(), err)
		}
		took = append(took, time.Since(start))
		r.Frames++
		last = frame.Time
		if res.Hand != nil {
			r.found++
		}
		if res.Others > 0 {
			r.crowded++
		}
		if notes != nil {
			if err := notes.frame(frame.Image, frame.Time, res); err != nil {
				return nil, err
			}
		}
		if info.Live {
			tell(e.err, res.Events)
		}
		bar.at(r.Frames)
	}
	spent := time.Since(begun)
	if r.Frames == 0 {
		return nil, &inputError{fmt.Errorf("%s: %w: no picture came", c.source(), camera.ErrUnreadable)}
	}
	if err := c.crowd(r); err != nil {
		return nil, err
	}
	r.fill(judge.Finish(last), judge.Side(), last, info)
	if both, ok := judge.FinishBoth(last); ok {
		r.fillBoth(both, judge.Side())
	} else {
		r.fillSets(program.Attempts(r.summary))
	}
	r.Timing = timing(took, r.DurationS, spent)
	if notes != nil {
		if err := notes.close(); err != nil {
			return nil, err
		}
	}
	return r, nil
}

// crowd refuses to guess whose hand is judged: two hands in view for a tenth
// of the time are not a passing glimpse.
func (c *checkCmd) crowd(r *checkResult) error {
	if c.Side == "any" && r.crowded*10 > r.Frames {
		return &usageError{fmt.Errorf("two hands are in %s; say which one exercises with --side left or --side right", c.source())}
	}
	return nil
}
