package handrender

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"io"
	"iter"
	"math"
	"os"
	"path/filepath"
	"time"

	"volar/internal/hand"
	"volar/internal/mjpeg"
)

// ClipSpec says what is in a clip.
type ClipSpec struct {
	// Motion moves the hand; Scene is everything else, and its Pose is not
	// used.
	Motion Motion
	Scene  Scene
	// Vary changes the scene at a moment, after the pose is set; nil leaves
	// it. It must depend on its arguments alone.
	Vary func(t time.Duration, s *Scene)
	// Events go to the truth file as they are.
	Events []Event
	// Width and Height in pixels, 0 = 640 x 480. FPS 0 = 30.
	Width, Height int
	FPS           float64
	// Duration 0 = the motion's.
	Duration time.Duration
	// MotionBlur is the share of the time between two frames for which the
	// shutter is open, 0 to 1; BlurSamples are the moments that are averaged
	// while the hand moves, 0 = 4. The truth is that of the middle.
	MotionBlur  float64
	BlurSamples int
	// Quality of the JPEG pictures in a file, 0 = 90.
	JPEGQuality int
	Options     Options
}

// Frame is one picture of a clip.
type Frame struct {
	Index int
	Time  time.Duration // of the middle of the exposure, from 0
	// Image is overwritten by the next frame.
	Image *image.RGBA
	Pose  Pose
	Truth Truth
}

// check fills in what 0 stands for and refuses what cannot be drawn.
func (c ClipSpec) check() (ClipSpec, error) {
	if err := c.Motion.Check(); err != nil {
		return c, err
	}
	if c.Width == 0 && c.Height == 0 {
		c.Width, c.Height = 640, 480
	}
	c.FPS = or(c.FPS, 30)
	if c.Duration == 0 {
		c.Duration = c.Motion.Duration()
	}
	if c.BlurSamples == 0 {
		c.BlurSamples = 4
	}
	if c.JPEGQuality == 0 {
		c.JPEGQuality = 90
	}
	switch {
	case c.Width < 16 || c.Height < 16 || c.Width > 8192 || c.Height > 8192:
		return c, fmt.Errorf("clip of %d x %d pixels; each side must be 16 to 8192", c.Width, c.Height)
	case !(c.FPS >= 1 && c.FPS <= 240):
		return c, fmt.Errorf("clip at %v frames a second; must be 1 to 240", c.FPS)
	case c.Duration < 0 || c.Duration > time.Hour:
		return c, fmt.Errorf("clip of %v; must be at most an hour", c.Duration)
	case !(c.MotionBlur >= 0 && c.MotionBlur <= 1):
		return c, fmt.Errorf("motion blur %v; must be 0 to 1", c.MotionBlur)
	case c.BlurSamples < 1 || c.BlurSamples > 64:
		return c, fmt.Errorf("%d blur samples; must be 1 to 64", c.BlurSamples)
	case c.JPEGQuality < 1 || c.JPEGQuality > 100:
		return c, fmt.Errorf("JPEG quality %d; must be 1 to 100", c.JPEGQuality)
	}
	return c, nil
}

// count is the number of frames of a clip.
func (c ClipSpec) count() int { return int(math.Round(c.Duration.Seconds()*c.FPS)) + 1 }

// Frames draws a clip one frame after the other. The renderer must not be used
// for anything else until the loop over the frames is done.
func (r *Renderer) Frames(spec ClipSpec) (iter.Seq[Frame], error) {
	c, err := spec.check()
	if err != nil {
		return nil, err
	}
	return func(yield func(Frame) bool) {
		img := image.NewRGBA(image.Rect(0, 0, c.Width, c.Height))
		for i := range c.count() {
			f := Frame{Index: i, Time: time.Duration(float64(i) / c.FPS * float64(time.Second)), Image: img}
			s := c.sceneAt(f.Time)
			s.Effects.NoiseSeed += uint32(i)
			f.Pose = s.Pose
			f.Truth = r.exposure(img, &c, f.Time, s)
			if !yield(f) {
				return
			}
		}
	}, nil
}

func (c *ClipSpec) sceneAt(t time.Duration) Scene {
	s := c.Scene
	s.Pose = c.Motion.At(t)
	if c.Vary != nil {
		c.Vary(t, &s)
	}
	return s
}

// exposure draws one frame, averaged over the time the shutter is open if the
// hand moves in it.
func (r *Renderer) exposure(img *image.RGBA, c *ClipSpec, t time.Duration, s Scene) Truth {
	open := c.MotionBlur / c.FPS * float64(time.Second)
	moment := func(share float64) Scene { return c.sceneAt(max(0, t+time.Duration(open*share))) }
	n := c.BlurSamples
	if open == 0 || n < 2 || alike(moment(-.5), moment(.5)) {
		return r.Render(img, s)
	}
	w, h := c.Width, c.Height
	r.behind(&s, w, h)
	truth := r.Locate(s, w, h)
	for i := range n {
		m := moment((float64(i)+.5)/float64(n) - .5)
		seen := r.foreground(&m, picture(&m, w, h), w, h)
		r.lay(&m, w, h, 1/float32(n), i == 0)
		if i == n/2 {
			truth.Visible = seen.Visible
		}
	}
	r.develop(img, &s, w, h)
	return truth
}

// alike says whether two moments differ by less than shows in a picture.
func alike(a, b Scene) bool {
	x, y := a.Pose.Flexion(), b.Pose.Flexion()
	for j := range x {
		if math.Abs(x[j]-y[j]) > 0.15 {
			return false
		}
	}
	for i := range a.Pose.Fingers {
		if math.Abs(a.Pose.Fingers[i].Abduction-b.Pose.Fingers[i].Abduction) > 0.15 {
			return false
		}
	}
	p, q := a.Pose.Thumb, b.Pose.Thumb
	if math.Abs(p.Palmar-q.Palmar)+math.Abs(p.Radial-q.Radial)+math.Abs(p.Roll-q.Roll) > 0.2 {
		return false
	}
	return a.View == b.View && a.Camera == b.Camera && a.Pose.Wrist == b.Pose.Wrist
}

// ClipTruth is the truth file of a clip.
type ClipTruth struct {
	Width    int          `json:"width"`
	Height   int          `json:"height"`
	FPS      float64      `json:"fps"`
	Duration float64      `json:"duration_s"`
	Side     string       `json:"side"`
	HFOV     float64      `json:"hfov_deg"`
	Distance float64      `json:"distance_m"`
	Joints   []string     `json:"joints"`
	Events   []EventTruth `json:"events"`
	Frames   []FrameTruth `json:"frames"`
}

// EventTruth is an Event in a truth file.
type EventTruth struct {
	Kind  string  `json:"kind"`
	Start float64 `json:"start_s"`
	End   float64 `json:"end_s"`
	Label string  `json:"label,omitempty"`
}

// FrameTruth is one frame in a truth file. Points are x, y and z in pixels, z
// from the wrist on and nearer smaller; World is in metres in camera axes.
type FrameTruth struct {
	Time      float64                    `json:"time_s"`
	Flexion   [hand.NumJoints]float64    `json:"flexion_deg"`
	Abduction [4]float64                 `json:"abduction_deg"`
	Yaw       float64                    `json:"yaw_deg"`
	Pitch     float64                    `json:"pitch_deg"`
	Points    [hand.NumPoints][3]float64 `json:"points"`
	World     [hand.NumPoints][3]float64 `json:"world_m"`
	Visible   [hand.NumPoints]bool       `json:"visible"`
}

// round keeps files small; k is how many steps a unit has.
func round(x, k float64) float64 {
	x = math.Round(x*k) / k
	if x == 0 {
		return 0 // not -0
	}
	return x
}

func frameTruth(f Frame) FrameTruth {
	t := FrameTruth{Time: round(f.Time.Seconds(), 1e6), Visible: f.Truth.Visible,
		Yaw: round(f.Truth.View.YawDeg, 1e3), Pitch: round(f.Truth.View.PitchDeg, 1e3)}
	for j, a := range f.Truth.FlexionDeg {
		t.Flexion[j] = round(a, 1e3)
	}
	for j, a := range f.Truth.AbductionDeg {
		t.Abduction[j] = round(a, 1e3)
	}
	for i, p := range f.Truth.Image {
		t.Points[i] = [3]float64{round(p.X, 1e2), round(p.Y, 1e2), round(p.Z, 1e2)}
		q := f.Truth.World[i]
		t.World[i] = [3]float64{round(q.X, 1e6), round(q.Y, 1e6), round(q.Z, 1e6)}
	}
	return t
}

// ReadTruth reads a truth file.
func ReadTruth(r io.Reader) (*ClipTruth, error) {
	var t ClipTruth
	if err := json.NewDecoder(r).Decode(&t); err != nil {
		return nil, fmt.Errorf("clip truth: %w", err)
	}
	return &t, nil
}

// WriteClip draws a clip into a Motion-JPEG AVI file and its truth into a JSON
// file; an empty truthPath writes none. Both files appear only when complete.
// The hand is the scene's, or the built-in one.
func WriteClip(ctx context.Context, spec ClipSpec, aviPath, truthPath string) (err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("write clip %s: %w", aviPath, err)
		}
	}()
	c, err := spec.check()
	if err != nil {
		return err
	}
	h := c.Scene.Hand
	if h == nil {
		if h, err = Default(); err != nil {
			return err
		}
	}
	frames, err := NewRenderer(h, c.Options).Frames(c)
	if err != nil {
		return err
	}
	truth := newClipTruth(&c)
	w, err := mjpeg.Create(aviPath, mjpeg.Options{Width: c.Width, Height: c.Height, FPS: c.FPS, Quality: c.JPEGQuality})
	if err != nil {
		return err
	}
	defer w.Abort()
	if err := encode(ctx, w, frames, &c, truth); err != nil {
		return err
	}
	if err := w.Close(); err != nil || truthPath == "" {
		return err
	}
	return complete(truthPath, func(f *os.File) error { return json.NewEncoder(f).Encode(truth) })
}

func newClipTruth(c *ClipSpec) *ClipTruth {
	t := &ClipTruth{
		Width: c.Width, Height: c.Height, FPS: c.FPS, Duration: round(float64(c.count())/c.FPS, 1e6),
		Side: hand.Right.String(), HFOV: or(c.Scene.Camera.HFOV, 62), Distance: or(c.Scene.Camera.Distance, 0.42),
		Events: []EventTruth{}, Frames: []FrameTruth{},
	}
	if c.Scene.Side == hand.Left {
		t.Side = hand.Left.String()
	}
	for j := hand.Joint(0); j < hand.NumJoints; j++ {
		t.Joints = append(t.Joints, j.String())
	}
	for _, e := range c.Events {
		t.Events = append(t.Events, EventTruth{e.Kind, round(e.Start.Seconds(), 1e6), round(e.End.Seconds(), 1e6), e.Label})
	}
	return t
}

// encode compresses each frame while the next is drawn.
func encode(ctx context.Context, w *mjpeg.Writer, frames iter.Seq[Frame], c *ClipSpec, truth *ClipTruth) error {
	free, full := make(chan *image.RGBA, 2), make(chan *image.RGBA, 2)
	for range cap(free) {
		free <- image.NewRGBA(image.Rect(0, 0, c.Width, c.Height))
	}
	done := make(chan error, 1)
	go func() {
		var first error
		for img := range full {
			if first == nil {
				first = w.Write(img)
			}
			free <- img
		}
		done <- first
	}()
	var stopped error
	for f := range frames {
		if stopped = ctx.Err(); stopped != nil {
			break
		}
		img := <-free
		copy(img.Pix, f.Image.Pix)
		full <- img
		truth.Frames = append(truth.Frames, frameTruth(f))
	}
	close(full)
	return errors.Join(stopped, <-done)
}

// complete writes a file under another name in the same folder and renames it
// when it is whole.
func complete(path string, write func(*os.File) error) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".clip-*")
	if err != nil {
		return err
	}
	err = write(f)
	if e := f.Chmod(0o644); err == nil {
		err = e
	}
	if e := f.Close(); err == nil {
		err = e
	}
	if err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		os.Remove(f.Name())
	}
	return err
}
