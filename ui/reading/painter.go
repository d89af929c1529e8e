package reading

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"math"
	"sync"

	xdraw "golang.org/x/image/draw"

	"volar/internal/demonstration"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/overlay"
	"volar/internal/review"
	"volar/internal/session"
)

// scene is what a painter draws: a sample as a hand seen from a side, and as
// the points in the camera's picture.
type scene struct {
	sample *session.Sample
	// picture is the kept picture behind the points; nil where there is none.
	picture *session.Picture
	side    hand.Side
	view    handrender.View
	marked  [hand.NumJoints]bool
	ground  color.NRGBA
}

// painter draws scenes on a goroutine of its own, always the latest that was
// asked for, and hands the pictures to done, which is called there. Close ends
// it and waits.
type painter struct {
	done func(hand, points *image.RGBA, err error)
	wake chan struct{}
	over chan struct{}
	once sync.Once

	mu   sync.Mutex
	want *scene
}

// The size of the pictures. The window scales them.
const (
	paintWidth  = 400
	paintHeight = 320
)

func newPainter(done func(hand, points *image.RGBA, err error)) *painter {
	p := &painter{done: done, wake: make(chan struct{}, 1), over: make(chan struct{})}
	go p.run()
	return p
}

// Paint asks for a scene in the place of one that is not drawn yet.
func (p *painter) Paint(s scene) {
	p.mu.Lock()
	p.want = &s
	p.mu.Unlock()
	select {
	case p.wake <- struct{}{}:
	default:
	}
}

// Close ends the painter. Nothing may be asked of it any more.
func (p *painter) Close() {
	p.once.Do(func() { close(p.wake) })
	<-p.over
}

func (p *painter) run() {
	defer close(p.over)
	h, err := handrender.Default()
	if err != nil {
		p.done(nil, nil, fmt.Errorf("drawing the hand: %w", err))
		return
	}
	bones, err := overlay.New()
	if err != nil {
		p.done(nil, nil, fmt.Errorf("drawing the points: %w", err))
		return
	}
	r := handrender.NewRenderer(h, handrender.Options{})
	for range p.wake {
		p.mu.Lock()
		s := p.want
		p.want = nil
		p.mu.Unlock()
		if s != nil {
			p.done(s.hand(r), s.points(bones), nil)
		}
	}
}

// hand draws the hand at the sample's angles; a plain ground without a hand.
func (s *scene) hand(r *handrender.Renderer) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, paintWidth, paintHeight))
	if s.sample == nil || !s.sample.Found {
		draw.Draw(img, img.Rect, image.NewUniform(s.ground), image.Point{}, draw.Src)
		return img
	}
	x := demonstration.Scene(s.side, exercise.View{})
	x.View = s.view
	x.Camera = handrender.Camera{Distance: 0.31, OffsetY: 0.05}
	x.Pose, _ = review.PoseOf(s.sample)
	g := s.ground
	x.Background = handrender.Background{Kind: handrender.Plain, Colour: handrender.RGB{R: float64(g.R) / 255, G: float64(g.G) / 255, B: float64(g.B) / 255}}
	r.Render(img, x)
	return img
}

// seenAs is the view in which the camera saw the hand: turned and tipped as was
// measured, and leaning as the points do.
func seenAs(x *session.Sample) handrender.View {
	v := handrender.View{Yaw: x.View.YawDeg, Pitch: x.View.PitchDeg}
	w, h, ok := review.FrameSize(x)
	if !ok {
		w, h = 4, 3
	}
	a, b := x.Points[hand.Wrist], x.Points[hand.Middle.MCP()]
	v.Roll = math.Atan2((b[0]-a[0])*w, (a[1]-b[1])*h) * 180 / math.Pi
	return v
}

// points draws the found points as the camera saw them, over the kept picture
// where there is one.
func (s *scene) points(bones *overlay.Painter) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, paintWidth, paintHeight))
	draw.Draw(img, img.Rect, image.NewUniform(s.ground), image.Point{}, draw.Src)
	if s.sample == nil || !s.sample.Found {
		return img
	}
	w, h, ok := review.FrameSize(s.sample)
	if !ok {
		w, h = 640, 480
	}
	left, top, right, bottom := box(s.sample, w/h)
	if q := s.picture; q != nil {
		if still, err := jpeg.Decode(bytes.NewReader(q.JPEG)); err == nil {
			left, top, right, bottom = q.Left, q.Top, q.Right, q.Bottom
			size := fitted((right-left)*w, (bottom-top)*h)
			xdraw.ApproxBiLinear.Scale(img, size, still, still.Bounds(), draw.Src, nil)
		}
	}
	at := fitted((right-left)*w, (bottom-top)*h)
	var pts hand.Points
	for i, p := range s.sample.Points {
		pts[i] = hand.Point{
			X: float64(at.Min.X) + (p[0]-left)/(right-left)*float64(at.Dx()),
			Y: float64(at.Min.Y) + (p[1]-top)/(bottom-top)*float64(at.Dy()),
		}
	}
	bones.Hand(img, pts, s.marked)
	return img
}

// fitted is the largest rectangle of a shape in the picture, in its middle.
func fitted(w, h float64) image.Rectangle {
	k := min(paintWidth/w, paintHeight/h)
	dx, dy := int(w*k), int(h*k)
	x, y := (paintWidth-dx)/2, (paintHeight-dy)/2
	return image.Rect(x, y, x+dx, y+dy)
}

// box is the part of the camera's picture that holds the points, with room
// round them, as shares; aspect is the picture's width by its height.
func box(x *session.Sample, aspect float64) (left, top, right, bottom float64) {
	left, top, right, bottom = 1, 1, 0, 0
	for _, p := range x.Points {
		left, right = min(left, p[0]), max(right, p[0])
		top, bottom = min(top, p[1]), max(bottom, p[1])
	}
	half := max((right-left)*aspect, bottom-top, 0.05) * 0.62
	cx, cy := (left+right)/2, (top+bottom)/2
	return cx - half/aspect, cy - half, cx + half/aspect, cy + half
}
