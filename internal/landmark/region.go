package landmark

import (
	"math"

	"volar/internal/hand"
)

// How the square that is shown to the landmark model is laid around a hand.
// Source: MediaPipe, modules/hand_landmark/palm_detection_detection_to_roi.pbtxt
// and hand_landmark_landmarks_to_roi.pbtxt (Apache-2.0).
const (
	palmShift  = -0.5 // of the palm box's height, towards the fingers
	palmScale  = 2.6
	pointShift = -0.1 // of the height of the box around the points
	pointScale = 2.0
)

// regionPoints are the points that lay out the region of the next picture:
// everything but the outer halves of the fingers, so that the region does not
// breathe as the hand opens and closes.
// Source: MediaPipe, hand_landmark_landmarks_to_roi.pbtxt.
var regionPoints = [12]int{0, 1, 2, 3, 5, 6, 9, 10, 13, 14, 17, 18}

// upright returns the rotation that turns the direction (dx, dy) of the
// picture to point up: radians, clockwise on the screen, in [-π, π).
func upright(dx, dy float64) float64 {
	a := math.Pi/2 - math.Atan2(-dy, dx)
	return a - 2*math.Pi*math.Floor((a+math.Pi)/(2*math.Pi))
}

// palmRegion lays the region around a detected palm: the box is turned so that
// the middle finger points up, moved towards the fingers, squared to its long
// side and enlarged, in this order.
func palmRegion(p palm) hand.Region {
	wrist, middle := p.points[palmWrist], p.points[palmMiddleMCP]
	r := hand.Region{
		CX:       (p.x0 + p.x1) / 2,
		CY:       (p.y0 + p.y1) / 2,
		Rotation: upright(middle.X-wrist.X, middle.Y-wrist.Y),
	}
	w, h := p.x1-p.x0, p.y1-p.y0
	sin, cos := math.Sincos(r.Rotation)
	r.CX -= h * palmShift * sin
	r.CY += h * palmShift * cos
	r.Size = palmScale * max(w, h)
	return r
}

// pointsRegion lays the region of the next picture around the points found in
// this one.
func pointsRegion(p *hand.Points) hand.Region {
	// The hand's axis runs from the wrist to the knuckles, where the middle
	// one counts as much as its two neighbours together.
	wrist, index, middle, ring := p[hand.Wrist], p[hand.Index.MCP()], p[hand.Middle.MCP()], p[hand.Ring.MCP()]
	kx := ((index.X+ring.X)/2 + middle.X) / 2
	ky := ((index.Y+ring.Y)/2 + middle.Y) / 2
	rot := upright(kx-wrist.X, ky-wrist.Y)
	sin, cos := math.Sincos(rot)

	// The box in the hand's own axes, measured from the wrist.
	x0, y0 := math.Inf(1), math.Inf(1)
	x1, y1 := math.Inf(-1), math.Inf(-1)
	for _, i := range regionPoints {
		dx, dy := p[i].X-wrist.X, p[i].Y-wrist.Y
		x, y := cos*dx+sin*dy, cos*dy-sin*dx
		x0, x1 = min(x0, x), max(x1, x)
		y0, y1 = min(y0, y), max(y1, y)
	}
	mx := (x0 + x1) / 2
	my := (y0+y1)/2 + pointShift*(y1-y0)
	return hand.Region{
		CX:       wrist.X + cos*mx - sin*my,
		CY:       wrist.Y + sin*mx + cos*my,
		Size:     pointScale * max(x1-x0, y1-y0),
		Rotation: rot,
	}
}

// wholePicture is the upright square that just holds a picture of w by h
// pixels, centred on it.
func wholePicture(w, h int) hand.Region {
	return hand.Region{CX: float64(w) / 2, CY: float64(h) / 2, Size: float64(max(w, h))}
}

// usable tells whether a region can be cut out of a picture of w by h pixels:
// its numbers are finite, it is at least four pixels wide, not absurdly larger
// than the picture, and touches it.
func usable(r hand.Region, w, h int) bool {
	for _, v := range [...]float64{r.CX, r.CY, r.Size, r.Rotation} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	half := r.Size * math.Sqrt2 / 2
	return r.Size >= 4 && r.Size <= 16*float64(max(w, h)) &&
		r.CX > -half && r.CX < float64(w)+half && r.CY > -half && r.CY < float64(h)+half
}

// placement maps the unit square of a region to the picture.
type placement struct{ cx, cy, size, sin, cos float64 }

func place(r hand.Region) placement {
	sin, cos := math.Sincos(r.Rotation)
	return placement{r.CX, r.CY, r.Size, sin, cos}
}

// picture takes (u, v), each 0 to 1 across the region, to pixels.
func (p placement) picture(u, v float64) (x, y float64) {
	dx, dy := (u-0.5)*p.size, (v-0.5)*p.size
	return p.cx + p.cos*dx - p.sin*dy, p.cy + p.sin*dx + p.cos*dy
}

// turn rotates a direction of the region's axes into the picture's; z stays.
func (p placement) turn(q hand.Point) hand.Point {
	return hand.Point{X: p.cos*q.X - p.sin*q.Y, Y: p.sin*q.X + p.cos*q.Y, Z: q.Z}
}

// box is an upright rectangle in pixels of the picture.
type box struct{ x0, y0, x1, y1 float64 }

func pointsBox(p *hand.Points) box {
	b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, q := range p {
		b.x0, b.x1 = min(b.x0, q.X), max(b.x1, q.X)
		b.y0, b.y1 = min(b.y0, q.Y), max(b.y1, q.Y)
	}
	return b
}

func (b box) area() float64 { return max(0, b.x1-b.x0) * max(0, b.y1-b.y0) }

// shared is the area that two boxes have in common.
func shared(a, b box) float64 {
	return box{max(a.x0, b.x0), max(a.y0, b.y0), min(a.x1, b.x1), min(a.y1, b.y1)}.area()
}

// iou is the area that two boxes share as a part of the area they cover.
func iou(a, b box) float64 {
	s := shared(a, b)
	if s == 0 {
		return 0
	}
	return s / (a.area() + b.area() - s)
}
