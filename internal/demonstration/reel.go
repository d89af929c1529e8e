package demonstration

import (
	"context"
	"errors"
	"image"
	"sync"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/handrender"
)

// ReelOptions say what a reel shows. Movement and Renderer have to be set.
type ReelOptions struct {
	Movement *exercise.Movement
	// Object is the ID of the movement's object; empty is the usual one.
	Object string
	Side   hand.Side
	View   exercise.View
	// Width and Height of the pictures in pixels; 0 = 480 x 360.
	Width, Height int
	// Background is the colour behind the hand; zero = the renderer's own.
	Background handrender.RGB
	// Mirror shows the hand as in a mirror, as the client sees their own.
	Mirror   bool
	Renderer *handrender.Renderer
}

// reelStep is the time between two pictures of a reel: smooth enough for slow
// movements, and few enough to be drawn in some seconds.
const reelStep = 100 * time.Millisecond

// reelHold is how long a reel stays in the end pose; nobody wants to watch a
// hold of ten seconds.
const reelHold = 1200 * time.Millisecond

// Reel is one repetition as pictures, of both hands where the movement takes two, to be shown over and over. Film fills it
// from coarse to fine while it is already shown; both may run on goroutines of
// their own.
type Reel struct {
	opt    ReelOptions
	shown  *Shown
	steps  int
	mu     sync.RWMutex
	frames []*image.RGBA
}

// NewReel plans a reel; nothing is drawn yet.
func NewReel(o ReelOptions) (*Reel, error) {
	if o.Renderer == nil {
		return nil, errors.New("demonstration: a reel needs a renderer")
	}
	if o.Width == 0 || o.Height == 0 {
		o.Width, o.Height = 480, 360
	}
	plan := Plan{Movement: o.Movement, Object: o.Object, Side: o.Side, Rest: 500 * time.Millisecond}
	if o.Movement != nil && o.Movement.Dose.Hold() > reelHold {
		plan.Hold = reelHold
	}
	s, err := Show(plan, o.View)
	if err != nil {
		return nil, err
	}
	n := int(s.Duration/reelStep) + 1
	return &Reel{opt: o, shown: s, steps: n, frames: make([]*image.RGBA, n)}, nil
}

// Film draws the pictures: first a few over the whole repetition, then those
// between. It returns early, with the context's error, when that ends. drawn is
// called after each picture; it may be nil.
func (r *Reel) Film(ctx context.Context, drawn func()) error {
	drawnOf := map[Moments]*image.RGBA{}
	for _, stride := range []int{8, 4, 2, 1} {
		for i := 0; i < r.steps; i += stride {
			if err := ctx.Err(); err != nil {
				return err
			}
			if r.has(i) {
				continue
			}
			at := time.Duration(i) * reelStep
			m := r.shown.At(at)
			img := drawnOf[m]
			if img == nil {
				img = r.render(at)
				drawnOf[m] = img
			}
			r.mu.Lock()
			r.frames[i] = img
			r.mu.Unlock()
			if drawn != nil {
				drawn()
			}
		}
	}
	return nil
}

func (r *Reel) has(i int) bool {
	r.mu.RLock()
	defer r.mu.RUnlock()
	return r.frames[i] != nil
}

func (r *Reel) render(at time.Duration) *image.RGBA {
	o := &r.opt
	img := image.NewRGBA(image.Rect(0, 0, o.Width, o.Height))
	scene := r.shown.Scene(at)
	scene.Background = handrender.Background{Kind: handrender.Plain, Colour: o.Background}
	o.Renderer.Render(img, scene)
	if o.Mirror {
		Mirror(img)
	}
	return img
}

// Scene is how a hand is shown to a client: turned as the view says, large in
// the picture, with the cuff of a sleeve.
func Scene(side hand.Side, v exercise.View) handrender.Scene {
	view := Turned(v, side)
	view.Pitch = 4
	return handrender.Scene{
		Side:   side,
		View:   view,
		Skin:   handrender.Skin{Tone: 0.35, Seed: 7},
		Sleeve: handrender.Sleeve{On: true, Start: 0.03, Fabric: handrender.Fabric{Colour: handrender.RGB{R: 0.30, G: 0.38, B: 0.42}}},
		Camera: handrender.Camera{Distance: 0.33, OffsetY: 0.08},
	}
}

// Mirror exchanges left and right.
func Mirror(img *image.RGBA) {
	w := img.Rect.Dx()
	for y := range img.Rect.Dy() {
		row := img.Pix[y*img.Stride : y*img.Stride+4*w]
		for a, b := 0, 4*(w-1); a < b; a, b = a+4, b-4 {
			for k := range 4 {
				row[a+k], row[b+k] = row[b+k], row[a+k]
			}
		}
	}
}

// Duration is the time of one round.
func (r *Reel) Duration() time.Duration { return time.Duration(r.steps) * reelStep }

// At returns the picture for a moment, or the nearest that is drawn; nil
// before the first. Times go round.
func (r *Reel) At(t time.Duration) *image.RGBA {
	i := int(t/reelStep) % r.steps
	r.mu.RLock()
	defer r.mu.RUnlock()
	for d := range r.steps {
		if i-d >= 0 && r.frames[i-d] != nil {
			return r.frames[i-d]
		}
		if i+d < r.steps && r.frames[i+d] != nil {
			return r.frames[i+d]
		}
	}
	return nil
}

// Done is true once every picture is drawn.
func (r *Reel) Done() bool {
	r.mu.RLock()
	defer r.mu.RUnlock()
	for _, f := range r.frames {
		if f == nil {
			return false
		}
	}
	return true
}
