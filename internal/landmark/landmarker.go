package landmark

import (
	"image"
	"math"

	"volar/internal/hand"
	"volar/internal/infer"
)

const (
	// handSide is how many samples a side the landmark model is shown.
	handSide = 224
	// depthScale is how much smaller the model's z is than its x and y.
	// Source: MediaPipe, hand_landmark_cpu.pbtxt, normalize_z 0.4 (Apache-2.0).
	depthScale = 0.4
)

// landmarker runs the landmark model on one region of a picture. It keeps its
// buffers from call to call and is not for concurrent use.
type landmarker struct {
	model   *model
	cropper cropper

	landmarks  []float32 // 21 times x, y, z in samples of the crop
	presence   []float32 // 1, a probability
	handedness []float32 // 1, probability of the model's label "Left"
	world      []float32 // 21 times x, y, z in metres, axes of the crop

	// What a model that reads angles from its feature maps gives besides; nil
	// where it does not.
	angles, spreads []float32 // 14 each, degrees
	normal, axis    []float32 // 3 each, axes of the crop
	visible         []float32 // 21 probabilities
	bends           []float32 // 4, degrees, index to little finger
	fingers         []float32 // 4 times 4 points, index to little finger from MCP to tip: x, y in samples of the crop
}

func newLandmarker(g infer.Graph) (*landmarker, error) {
	m, err := newModel("hand landmark", g, handSide)
	if err != nil {
		return nil, err
	}
	l := &landmarker{model: m}
	for _, o := range []struct {
		data *[]float32
		name string
		n    int
	}{
		{&l.landmarks, "landmarks", 3 * hand.NumPoints},
		{&l.presence, "presence", 1},
		{&l.handedness, "handedness", 1},
		{&l.world, "world", 3 * hand.NumPoints},
	} {
		if *o.data, err = m.required(o.name, o.n); err != nil {
			return nil, err
		}
	}
	l.angles = m.optional("angles", hand.NumJoints)
	l.spreads = m.optional("spreads", hand.NumJoints)
	l.normal = m.optional("normal", 3)
	l.axis = m.optional("axis", 3)
	l.visible = m.optional("visible", hand.NumPoints)
	l.bends = m.optional("bends", len(hand.ModelAngles{}.BendDeg))
	l.fingers = m.optional("fingers", 2*4*len(hand.Fingers))
	return l, nil
}

// reading is what one run of the landmark model says of one region.
type reading struct {
	region hand.Region // that was shown
	next   hand.Region // laid around the points that were found
	// apart is how far the long fingers' points lie from where the angle head puts
	// them, in samples of the crop: the mean, 0 without a head that does.
	apart        float64
	presence     float64
	rightScore   float64 // probability that it is the client's right hand
	image, world hand.Points
	// shown are the points of image, those of the long fingers where the angle head
	// puts them.
	shown    hand.Points
	luma     float64
	contrast float64
	angles   *hand.ModelAngles
}

// read shows the region to the model. Where presence falls short of
// minPresence nothing else of the reading is set.
func (l *landmarker) read(img *image.RGBA, where hand.Region, minPresence float64) (reading, error) {
	r := reading{region: where}
	if !usable(where, img.Rect.Dx(), img.Rect.Dy()) {
		return r, nil
	}
	l.cropper.crop(l.model.input, handSide, img, where, edgeBorder)
	if err := l.model.run(); err != nil {
		return r, err
	}
	r.presence = float64(l.presence[0])
	if !(r.presence >= minPresence) || !finite(l.landmarks) || !finite(l.world) {
		return reading{region: where}, nil
	}
	// The output is the score of the model's first label, "Left". The model
	// was trained on mirrored pictures; in ours, which are not mirrored, what
	// it calls a left hand is the client's right. This is the one place that
	// turns it round. Source: MediaPipe, docs/solutions/hands.md, "Handedness",
	// and modules/hand_landmark/handedness.txt (Apache-2.0).
	r.rightScore = float64(l.handedness[0])

	to := place(where)
	for i := range r.image {
		x, y, z := float64(l.landmarks[3*i]), float64(l.landmarks[3*i+1]), float64(l.landmarks[3*i+2])
		px, py := to.picture(x/handSide, y/handSide)
		r.image[i] = hand.Point{X: px, Y: py, Z: z / depthScale * where.Size / handSide}
		r.world[i] = to.turn(point3(l.world[3*i:]))
	}
	r.shown = r.image
	r.apart = l.mend(to, &r.shown)
	r.next = pointsRegion(&r.shown)
	r.luma, r.contrast = brightness(l.model.input, handSide)
	r.angles = l.readAngles(to)
	return r, nil
}

// mend moves the points of the long fingers to where the angle head puts them,
// which on hard rendered crops is 4 samples off in the median where the network's
// own points are 10, and more than 20 in 2 instead of 17 % of crops. It returns how
// far apart they lie, in samples of the crop, and does nothing where the model
// gives none.
func (l *landmarker) mend(to placement, p *hand.Points) (apart float64) {
	if l.fingers == nil || !finite(l.fingers) {
		return 0
	}
	for i, f := range hand.Fingers {
		for k, at := range [4]int{f.MCP(), f.PIP(), f.DIP(), f.Tip()} {
			x, y := float64(l.fingers[8*i+2*k]), float64(l.fingers[8*i+2*k+1])
			apart += math.Hypot(x-float64(l.landmarks[3*at]), y-float64(l.landmarks[3*at+1]))
			p[at].X, p[at].Y = to.picture(x/handSide, y/handSide)
		}
	}
	return apart / float64(4*len(hand.Fingers))
}

// readAngles returns the angle outputs, or nil if the model has none.
func (l *landmarker) readAngles(to placement) *hand.ModelAngles {
	if l.angles == nil || !finite(l.angles) {
		return nil
	}
	a := new(hand.ModelAngles)
	for j := range a.FlexionDeg {
		a.FlexionDeg[j] = float64(l.angles[j])
	}
	for j, s := range l.spreads {
		a.SpreadDeg[j] = float64(s)
	}
	if l.normal != nil {
		a.Normal = unitVector(to.turn(point3(l.normal)))
	}
	if l.axis != nil {
		a.Axis = unitVector(to.turn(point3(l.axis)))
	}
	for i, v := range l.visible {
		a.Visible[i] = float64(v)
	}
	for i, v := range l.bends {
		a.BendDeg[i] = float64(v)
	}
	return a
}

func point3(v []float32) hand.Point {
	return hand.Point{X: float64(v[0]), Y: float64(v[1]), Z: float64(v[2])}
}

func unitVector(p hand.Point) hand.Point {
	if n := p.Norm(); n > 0 {
		return p.Scale(1 / n)
	}
	return p
}

func finite(v []float32) bool {
	for _, x := range v {
		if f := float64(x); math.IsNaN(f) || math.IsInf(f, 0) {
			return false
		}
	}
	return true
}
