package matrix

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	"time"

	"volar/internal/demonstration"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/mjpeg"
)

const (
	// width and height of the pictures; where two hands share one it is twice
	// as wide and high, as every camera can, for a palm must be some 30 pixels
	// long to be judged.
	width, height = 320, 240
	fps           = 15
	// noiseLevels is the standard deviation of the sensor noise, in grey
	// levels of 255: a laptop camera in a lit room (chosen by eye).
	noiseLevels = 2
	// quality of the JPEG pictures, as cheap cameras send them (chosen).
	quality = 88
)

// shots are the scenes of the case's pictures, one after the other; a scene
// that is like the one before is the same pointer. While the hand stands still
// only the noise changes.
func (c *Case) shots() ([]*handrender.Scene, error) {
	p, other, err := c.Performance()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", c.ID(), err)
	}
	first, second := c.scenes()
	var out []*handrender.Scene
	var drawn [2]demonstration.Moment
	for i := 0; moment(i) <= p.Duration; i++ {
		now := [2]demonstration.Moment{p.At(moment(i))}
		if other != nil {
			now[1] = other.At(moment(i))
		}
		if i > 0 && now == drawn {
			out = append(out, out[i-1])
			continue
		}
		s := first
		p.Dress(&s, moment(i))
		if other != nil {
			b := second
			other.Dress(&b, moment(i))
			s.Behind = &b
		}
		out, drawn = append(out, &s), now
	}
	return out, nil
}

// frame is an empty picture of the case's size.
func (c *Case) frame() *image.RGBA {
	return image.NewRGBA(image.Rect(0, 0, c.Movement.Hands*width, c.Movement.Hands*height))
}

// moment is the time of a picture.
func moment(i int) time.Duration { return time.Duration(i) * time.Second / fps }

// film renders the pictures of the case as a camera would send them, and gives
// them one by one to each. The picture is each's for the time of the call.
func (c *Case) film(ctx context.Context, each func(img *image.RGBA, at time.Duration) error) error {
	shots, err := c.shots()
	if err != nil {
		return err
	}
	h, err := handrender.Default()
	if err != nil {
		return err
	}
	r := handrender.NewRenderer(h, handrender.Options{Workers: 1})
	clean, noisy := c.frame(), c.frame()
	for i, s := range shots {
		if err := ctx.Err(); err != nil {
			return err
		}
		if i == 0 || s != shots[i-1] {
			r.Render(clean, *s)
		}
		addNoise(noisy, clean, uint32(i))
		if err := throughJPEG(noisy); err != nil {
			return err
		}
		if err := each(noisy, moment(i)); err != nil {
			return err
		}
	}
	return nil
}

// throughJPEG leaves a picture as it is after a camera has packed it.
func throughJPEG(img *image.RGBA) error {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: quality}); err != nil {
		return err
	}
	back, err := jpeg.Decode(&b)
	if err != nil {
		return err
	}
	draw.Draw(img, img.Rect, back, back.Bounds().Min, draw.Src)
	return nil
}

// Film renders the case's clip into a video file, for looking at it.
func (c *Case) Film(ctx context.Context, path string) error {
	w, err := mjpeg.Create(path, mjpeg.Options{Width: c.frame().Rect.Dx(), Height: c.frame().Rect.Dy(), FPS: fps, Quality: quality})
	if err != nil {
		return err
	}
	defer w.Abort()
	if err := c.film(ctx, func(img *image.RGBA, _ time.Duration) error { return w.Write(img) }); err != nil {
		return err
	}
	return w.Close()
}

// look varies skin, light and room from case to case and from hand to hand, the
// same way always.
func (c *Case) look() (tone float64, seed uint32, clutter bool) {
	n := hash32(c.ID() + c.HandName)
	return []float64{0.05, 0.3, 0.55, 0.8, 0.95}[n%5], n % 97, n%3 == 0
}

func (c *Case) scenes() (judged, other handrender.Scene) {
	tone, seed, clutter := c.look()
	s := handrender.Scene{
		Hand:   c.Hand,
		Side:   c.Side,
		View:   demonstration.Turned(c.View, c.Side),
		Camera: handrender.Camera{Distance: 0.34, OffsetY: 0.04},
		Skin:   handrender.Skin{Tone: tone, Seed: seed},
		Sleeve: handrender.Sleeve{On: seed%2 == 0, Start: 0.03},
		Background: handrender.Background{
			Kind: map[bool]handrender.BackgroundKind{true: handrender.Clutter, false: handrender.Gradient}[clutter], Seed: seed},
	}
	s.View.Pitch = 4
	s.View.Roll -= 5
	if o, err := c.Movement.Object(""); err == nil && c.shows(o) {
		s.Object = demonstration.Held(c.Movement, o)
	}
	// A hand that lies across the picture, or turns about the wrist, wants the
	// middle of it and more room.
	if c.View.RollDeg != 0 {
		s.Camera.OffsetY = 0
	}
	if c.tilts() {
		s.Camera.Distance = 0.42
	}
	if c.Movement.Hands == 1 {
		return s, s
	}
	// Two hands come in from both sides: the client's right hand is on the left
	// of a picture that is not mirrored.
	s.Camera.Distance = 0.52
	b := s
	b.Side, b.View = c.Side.Other(), demonstration.Turned(c.View, c.Side.Other())
	for _, x := range []*handrender.Scene{&s, &b} {
		x.Camera.OffsetX = 0.22
		if x.Side == hand.Right {
			x.Camera.OffsetX = -0.22
		}
	}
	return s, b
}

// tilts says whether the wrist moves the hand through the picture.
func (c *Case) tilts() bool {
	for ch := range c.Movement.Measure.Ways {
		if ch == hand.HandTilt {
			return true
		}
	}
	return false
}

// shows says whether the object is in the picture: a cloth on the table would
// lie between a hand and a camera that sees its palm.
func (c *Case) shows(o exercise.Object) bool {
	return o.Shape != exercise.Cloth || side(c.View)
}

// addNoise copies a picture and adds grey noise to it.
func addNoise(dst, src *image.RGBA, seed uint32) {
	x := seed*2654435761 + 12345
	for i := 0; i < len(src.Pix); i += 4 {
		// xorshift (Marsaglia 2003); the sum of four bytes is nearly normal,
		// with a standard deviation of 148 of their steps.
		x ^= x << 13
		x ^= x >> 17
		x ^= x << 5
		n := (int(x&255) + int(x>>8&255) + int(x>>16&255) + int(x>>24) - 510) * noiseLevels / 148
		for k := range 3 {
			dst.Pix[i+k] = uint8(min(max(int(src.Pix[i+k])+n, 0), 255))
		}
		dst.Pix[i+3] = 255
	}
}
