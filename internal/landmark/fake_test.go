package landmark

import (
	"errors"
	"image"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
	"volar/internal/infer"
)

// The fake models of these tests see through the crop they are given: the
// picture is a map of itself, red growing with x and green with y, so that a
// crop tells which part of the picture it shows. Cutting, scaling and turning
// are thereby tested along with the logic.

const mapW, mapH = 640, 480

// mapPicture is the picture that every scripted frame shows.
func mapPicture() *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, mapW, mapH))
	for y := range mapH {
		for x := range mapW {
			p := img.Pix[y*img.Stride+4*x:]
			p[0] = uint8(math.Round((float64(x) + 0.5) / mapW * 255))
			p[1] = uint8(math.Round((float64(y) + 0.5) / mapH * 255))
			p[2], p[3] = 128, 255
		}
	}
	return img
}

// template is an open right hand, palm to the camera, fingers up: wrist at the
// origin, the middle MCP one unit above it.
var template = hand.Points{
	{X: 0, Y: 0}, {X: 0.30, Y: -0.15}, {X: 0.55, Y: -0.40}, {X: 0.70, Y: -0.65}, {X: 0.82, Y: -0.85},
	{X: 0.28, Y: -0.97}, {X: 0.33, Y: -1.40}, {X: 0.35, Y: -1.66}, {X: 0.36, Y: -1.90},
	{X: 0, Y: -1}, {X: 0, Y: -1.47}, {X: 0, Y: -1.77}, {X: 0, Y: -2.02},
	{X: -0.22, Y: -0.93}, {X: -0.26, Y: -1.37}, {X: -0.28, Y: -1.65}, {X: -0.29, Y: -1.89},
	{X: -0.42, Y: -0.82}, {X: -0.50, Y: -1.16}, {X: -0.54, Y: -1.36}, {X: -0.57, Y: -1.55},
}

// fakeHand is a hand in the scripted scene.
type fakeHand struct {
	x, y  float64 // wrist, pixels
	palm  float64 // wrist to middle MCP, pixels
	turn  float64 // clockwise, radians
	side  hand.Side
	label hand.Side // what the model takes it for; zero is side
	faint bool      // the landmark model sees no hand
	blind bool      // the palm detector sees no palm
	pale  bool      // the palm detector hardly sees one
	shape func(*hand.Points)
}

func (h *fakeHand) points() hand.Points {
	sin, cos := math.Sincos(h.turn)
	var p hand.Points
	for i, q := range template {
		x := q.X
		if h.side == hand.Left {
			x = -x
		}
		p[i] = hand.Point{X: h.x + h.palm*(cos*x-sin*q.Y), Y: h.y + h.palm*(sin*x+cos*q.Y), Z: h.palm * 0.1 * float64(i%4)}
	}
	if h.shape != nil {
		h.shape(&p)
	}
	return p
}

// scene is what the fake models see; a test changes it between frames.
type scene struct {
	t        *testing.T
	hands    []fakeHand
	palmRuns int
	handRuns int
	// leastPalm is the smallest palm, in parts of the searched square, that
	// the palm detector sees; mostPalm the largest.
	leastPalm, mostPalm float64
	broken              error
	raw                 func(out []infer.Tensor) // last word on the landmark model's outputs
	extra               []infer.Tensor           // further outputs of the landmark model
}

func newScene(t *testing.T, hands ...fakeHand) *scene {
	return &scene{t: t, hands: hands, leastPalm: 0.02, mostPalm: 1}
}

// tracker returns a Tracker on the fake models.
func (s *scene) tracker(o Options) *Tracker {
	t, err := newTracker(&fakePalms{s}, &fakeLandmarks{s}, o)
	require.NoError(s.t, err)
	s.t.Cleanup(func() { require.NoError(s.t, t.Close()) })
	return t
}

// view is where a crop of n by n samples was taken: a pixel is
// origin + u*right + v*down for u, v from 0 to 1.
type view struct{ ox, oy, rx, ry, dx, dy float64 }

// look recovers the view by fitting a plane to red and one to green, over the
// samples that show the picture and not its border.
func (s *scene) look(crop []float32, n int) view {
	var m [3][3]float64
	var bx, by [3]float64
	for j := 0; j < n; j += 8 {
		for i := 0; i < n; i += 8 {
			x, y := float64(crop[j*n+i])*mapW, float64(crop[n*n+j*n+i])*mapH
			if x < 4 || y < 4 || x > mapW-4 || y > mapH-4 {
				continue
			}
			r := [3]float64{1, (float64(i) + 0.5) / float64(n), (float64(j) + 0.5) / float64(n)}
			for a := range 3 {
				for b := range 3 {
					m[a][b] += r[a] * r[b]
				}
				bx[a] += r[a] * x
				by[a] += r[a] * y
			}
		}
	}
	x, y := solve3(m, bx), solve3(m, by)
	return view{x[0], y[0], x[1], y[1], x[2], y[2]}
}

// solve3 solves m x = b by Cramer's rule.
func solve3(m [3][3]float64, b [3]float64) (x [3]float64) {
	det := func(m [3][3]float64) float64 {
		return m[0][0]*(m[1][1]*m[2][2]-m[1][2]*m[2][1]) - m[0][1]*(m[1][0]*m[2][2]-m[1][2]*m[2][0]) + m[0][2]*(m[1][0]*m[2][1]-m[1][1]*m[2][0])
	}
	d := det(m)
	for k := range 3 {
		c := m
		for r := range 3 {
			c[r][k] = b[r]
		}
		x[k] = det(c) / d
	}
	return x
}

func (v view) size() float64 { return math.Hypot(v.rx, v.ry) }

// unit takes pixels to u, v.
func (v view) unit(x, y float64) (float64, float64) {
	x, y = x-v.ox, y-v.oy
	d := v.rx*v.dy - v.dx*v.ry
	return (x*v.dy - v.dx*y) / d, (v.rx*y - x*v.ry) / d
}

type fakePalms struct{ *scene }

func (f *fakePalms) Inputs() []infer.Spec {
	return []infer.Spec{{Name: "input", Shape: []int{1, 3, 192, 192}}}
}

func (f *fakePalms) Outputs() []infer.Spec {
	return []infer.Spec{{Name: "boxes", Shape: []int{1, 2016, 18}}, {Name: "scores", Shape: []int{1, 2016, 1}}}
}

func (f *fakePalms) Close() error { return nil }

func (f *fakePalms) Run(in, out []infer.Tensor) error {
	if f.broken != nil {
		return f.broken
	}
	f.palmRuns++
	v := f.look(in[0].Data, 192)
	boxes, scores := out[0].Data, out[1].Data
	for i := range scores {
		scores[i] = -200
	}
	centres := anchors()
	for k, h := range f.hands {
		p := h.points()
		c := palmCentre(&p)
		u, w := v.unit(c.X, c.Y)
		size := h.palm / v.size()
		if h.blind || u < 0 || w < 0 || u > 1 || w > 1 || size < f.leastPalm || size > f.mostPalm || c.X < 0 || c.Y < 0 || c.X > mapW || c.Y > mapH {
			continue
		}
		best, distance := 0, math.Inf(1)
		for i, a := range centres {
			if d := math.Hypot(a[0]-u, a[1]-w); d < distance {
				best, distance = i, d
			}
		}
		scores[best] = 3 - float32(k)*0.1
		if h.pale {
			scores[best] = -0.8 // 0.31 of 1
		}
		b := boxes[best*18 : best*18+18]
		put := func(i int, x, y float64) {
			b[i], b[i+1] = float32((x-centres[best][0])*192), float32((y-centres[best][1])*192)
		}
		put(0, u, w)
		b[2], b[3] = float32(size*192), float32(size*192)
		for i, pt := range [7]int{0, 5, 9, 13, 17, 1, 2} {
			x, y := v.unit(p[pt].X, p[pt].Y)
			put(4+2*i, x, y)
		}
	}
	return nil
}

type fakeLandmarks struct{ *scene }

func (f *fakeLandmarks) Inputs() []infer.Spec {
	return []infer.Spec{{Name: "input", Shape: []int{1, 3, 224, 224}}}
}

func (f *fakeLandmarks) Outputs() []infer.Spec {
	specs := []infer.Spec{{Name: "landmarks", Shape: []int{1, 63}}, {Name: "presence", Shape: []int{1, 1}},
		{Name: "handedness", Shape: []int{1, 1}}, {Name: "world", Shape: []int{1, 63}}}
	for _, e := range f.extra {
		specs = append(specs, infer.Spec{Name: e.Name, Shape: e.Shape})
	}
	return specs
}

func (f *fakeLandmarks) Close() error { return nil }

func (f *fakeLandmarks) Run(in, out []infer.Tensor) error {
	if f.broken != nil {
		return f.broken
	}
	f.handRuns++
	for _, o := range out {
		clear(o.Data)
	}
	v := f.look(in[0].Data, 224)
	cx, cy := v.ox+(v.rx+v.dx)/2, v.oy+(v.ry+v.dy)/2
	best, distance := -1, 0.4*v.size()
	for i, h := range f.hands {
		p := h.points()
		c := palmCentre(&p)
		if d := math.Hypot(c.X-cx, c.Y-cy); d < distance && !h.faint && v.size() > 1.2*h.palm && v.size() < 8*h.palm {
			best, distance = i, d
		}
	}
	if best >= 0 {
		h := f.hands[best]
		p := h.points()
		for i, q := range p {
			x, y := v.unit(q.X, q.Y)
			out[0].Data[3*i], out[0].Data[3*i+1] = float32(x*224), float32(y*224)
			out[0].Data[3*i+2] = float32(q.Z / v.size() * 224 * 0.4)
			out[3].Data[3*i] = 0.1 // metres along the crop's x axis
		}
		out[1].Data[0] = 0.98 - float32(distance/v.size())*0.1
		label := h.side
		if h.label != hand.UnknownSide {
			label = h.label
		}
		out[2].Data[0] = 0.04
		if label == hand.Right { // the model calls it "Left"
			out[2].Data[0] = 0.96
		}
		for i, e := range f.extra {
			copy(out[4+i].Data, e.Data)
		}
	}
	if f.raw != nil {
		f.raw(out)
	}
	return nil
}

// player feeds a Tracker with frames at 30 a second.
type player struct {
	*scene
	tracker *Tracker
	img     *image.RGBA
	at      time.Duration
}

func (s *scene) player(o Options) *player {
	return &player{scene: s, tracker: s.tracker(o), img: mapPicture()}
}

const frameTime = time.Second / 30

// next tracks one frame.
func (p *player) next() []hand.Observation {
	p.t.Helper()
	p.at += frameTime
	list, err := p.tracker.Track(p.img, p.at)
	require.NoError(p.t, err)
	return list
}

// play tracks n frames, calling step before each, and returns the last result.
func (p *player) play(n int, step func(i int)) (list []hand.Observation) {
	p.t.Helper()
	for i := range n {
		if step != nil {
			step(i)
		}
		list = p.next()
	}
	return list
}

// nearest is the index of the scripted hand that an observation shows, and
// the mean distance of its points in pixels.
func (s *scene) nearest(o hand.Observation) (index int, distance float64) {
	index, distance = -1, math.Inf(1)
	for i, h := range s.hands {
		p := h.points()
		var d float64
		for k := range p {
			d += math.Hypot(p[k].X-o.Image[k].X, p[k].Y-o.Image[k].Y) / hand.NumPoints
		}
		if d < distance {
			index, distance = i, d
		}
	}
	return index, distance
}

var errBroken = errors.New("broken")
