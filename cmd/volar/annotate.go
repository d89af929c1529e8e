package main

import (
	"fmt"
	"image"
	"image/draw"
	"math"
	"time"

	"volar/internal/camera"
	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/live"
	"volar/internal/overlay"
)

// annotator writes a video with what was found drawn in.
type annotator struct {
	out     *camera.VideoWriter
	fps     float64
	paint   *overlay.Painter
	canvas  *image.RGBA
	counted int
	holding bool
	since   time.Duration
	// raised are the flags that are on, and news the last thing said, until
	// newsUntil.
	raised    []coach.Flag
	news      string
	newsUntil time.Duration
}

// newsTime is how long the end of a repetition stays in the picture.
const newsTime = 1200 * time.Millisecond

func newAnnotator(path string, info camera.Info) (*annotator, error) {
	fps := info.FPS
	if fps <= 0 {
		fps = 30
	}
	out, err := camera.NewVideoWriter(path, info.Width, info.Height, fps)
	if err != nil {
		return nil, err
	}
	p, err := overlay.New()
	if err != nil {
		out.Abort()
		return nil, err
	}
	return &annotator{out: out, fps: fps, paint: p, canvas: image.NewRGBA(image.Rect(0, 0, info.Width, info.Height))}, nil
}

func (a *annotator) abort() { a.out.Abort() }

func (a *annotator) close() error { return a.out.Close() }

// frame draws one picture's result and appends it.
func (a *annotator) frame(img *image.RGBA, at time.Duration, r live.Result) error {
	draw.Draw(a.canvas, a.canvas.Rect, img, img.Rect.Min, draw.Src)
	for _, e := range r.Events {
		a.note(e)
	}
	var marked [hand.NumJoints]bool
	for _, f := range a.raised {
		if f.OnJoint {
			marked[f.Joint] = true
		}
	}
	if r.Hand != nil {
		a.paint.Hand(a.canvas, *r.Hand.Drawn(), marked)
	}
	a.paint.Panel(a.canvas, image.Pt(8, 8), a.lines(at, r))
	// The file has a steady rate and the source may not: a picture is repeated
	// until its time is filled, and left out where the last one still covers it.
	for due := int(math.Round(at.Seconds() * a.fps)); a.out.Frames() <= due; {
		if err := a.out.Write(a.canvas); err != nil {
			return err
		}
	}
	return nil
}

// note keeps what an event changes in the picture.
func (a *annotator) note(e coach.Event) {
	switch e := e.(type) {
	case coach.RepetitionCounted:
		a.counted++
		a.say(fmt.Sprintf("repetition %d done", a.counted), e.When())
	case coach.RepetitionPartial:
		a.say("repetition not complete", e.When())
	case coach.HoldStarted:
		a.holding, a.since = true, e.When()
	case coach.HoldEnded:
		a.holding = false
	case coach.FlagRaised:
		a.raised = append(a.raised, e.Flag)
	case coach.FlagEnded:
		for i, f := range a.raised {
			if f.Kind == e.Flag.Kind && f.Joint == e.Flag.Joint && f.Start == e.Flag.Start {
				a.raised = append(a.raised[:i], a.raised[i+1:]...)
				break
			}
		}
		if !e.Flag.OnJoint || e.Flag.Kind == coach.IncompleteGrip {
			a.say(flagText(e.Flag), e.When())
		}
	}
}

func (a *annotator) say(text string, at time.Duration) {
	a.news, a.newsUntil = text, at+newsTime
}

// lines is the text in the corner.
func (a *annotator) lines(at time.Duration, r live.Result) []overlay.Line {
	out := []overlay.Line{{Text: fmt.Sprintf("%s    %s", clock(at), plural(a.counted, "repetition", "repetitions"))}}
	if r.Hand == nil {
		return append(out, overlay.Line{Text: "no hand in the picture"})
	}
	s := r.Sample
	out = append(out, overlay.Line{Text: fmt.Sprintf("%s hand, %s view", s.Side, s.View.Name())})
	for _, f := range hand.Fingers {
		m, p, d := s.Joints[hand.JointOf(f, hand.MCP)], s.Joints[hand.JointOf(f, hand.PIP)], s.Joints[hand.JointOf(f, hand.DIP)]
		out = append(out, overlay.Line{Text: fmt.Sprintf("%s\tMCP %s\tPIP %s\tDIP %s", f, shortAngle(m), shortAngle(p), shortAngle(d))})
	}
	if a.holding {
		out = append(out, overlay.Line{Text: "holding " + clock(at-a.since)})
	}
	if at < a.newsUntil {
		out = append(out, overlay.Line{Text: a.news})
	}
	for _, f := range a.raised {
		if f.OnJoint {
			out = append(out, overlay.Line{Text: flagNow(f, s.Joints[f.Joint]), Warn: true})
		}
	}
	return out
}

func shortAngle(m hand.Measurement) string {
	if !m.Judged {
		return "?"
	}
	return judgedAngle(m)
}

// flagNow is a flag while it lasts, with the angle of the moment.
func flagNow(f coach.Flag, m hand.Measurement) string {
	switch f.Kind {
	case coach.Hyperextension:
		return fmt.Sprintf("! %s finger: %s straight", f.Joint.Finger(), pastStraight(m.FlexionDeg))
	case coach.OverFlexion:
		return fmt.Sprintf("! %s finger: bent to %.0f°", f.Joint.Finger(), m.FlexionDeg)
	}
	return "! " + f.Subject() + ": " + string(f.Kind)
}
