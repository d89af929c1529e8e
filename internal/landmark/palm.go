package landmark

import (
	"cmp"
	"image"
	"math"
	"slices"

	"volar/internal/hand"
	"volar/internal/infer"
)

// The palm detector: a single-shot detector over a fixed grid of anchors.
// Source of every number: MediaPipe,
// modules/palm_detection/palm_detection_cpu.pbtxt (Apache-2.0).
const (
	palmSide    = 192 // pixels a side of the model's input
	palmNumbers = 18  // cx, cy, w, h, then x, y of seven points
	palmPoints  = 7
	palmOverlap = 0.3 // boxes that overlap more are one palm
	scoreClip   = 100 // bound of the raw score
	numAnchors  = 2016
)

// The seven points of a palm are these points of the hand: wrist, the MCP
// joints from index to little, CMC and MCP of the thumb.
// Source: opencv_zoo, models/handpose_estimation_mediapipe (Apache-2.0).
const (
	palmWrist     = 0
	palmMiddleMCP = 2
)

// anchors returns the centres of the 2016 anchors as parts of the input's
// side: two for each cell of 8 pixels, then six for each cell of 16, row by
// row. All have the nominal size 1, so only the centres matter.
func anchors() [][2]float64 {
	a := make([][2]float64, 0, numAnchors)
	for _, layer := range [...]struct{ stride, perCell int }{{8, 2}, {16, 6}} {
		cells := palmSide / layer.stride
		for y := range cells {
			for x := range cells {
				c := [2]float64{(float64(x) + 0.5) / float64(cells), (float64(y) + 0.5) / float64(cells)}
				for range layer.perCell {
					a = append(a, c)
				}
			}
		}
	}
	return a
}

// palm is one detected palm: a box and seven points, in pixels of the picture
// once it leaves the detector (parts of the searched region before).
type palm struct {
	score          float64
	x0, y0, x1, y1 float64
	points         [palmPoints]hand.Point // Z is not used
}

func (p *palm) box() box { return box{p.x0, p.y0, p.x1, p.y1} }

// palmDetector finds palms in a part of a picture. It keeps its buffers from
// call to call and is not for concurrent use.
type palmDetector struct {
	model   *model
	boxes   []float32 // 2016 by 18
	scores  []float32 // 2016, before the sigmoid
	anchors [][2]float64
	cropper cropper

	candidates, rest, kept []palm
}

func newPalmDetector(g infer.Graph) (*palmDetector, error) {
	m, err := newModel("palm detection", g, palmSide)
	if err != nil {
		return nil, err
	}
	d := &palmDetector{model: m, anchors: anchors()}
	if d.boxes, err = m.required("boxes", numAnchors*palmNumbers); err != nil {
		return nil, err
	}
	if d.scores, err = m.required("scores", numAnchors); err != nil {
		return nil, err
	}
	return d, nil
}

// find returns the palms in the square region of the picture whose score is
// at least minScore, best first. The slice is good until the next call.
func (d *palmDetector) find(img *image.RGBA, where hand.Region, minScore float64) ([]palm, error) {
	return d.findAs(img, where, minScore, shown{})
}

// findAs is find with the region shown to the model in some way.
func (d *palmDetector) findAs(img *image.RGBA, where hand.Region, minScore float64, as shown) ([]palm, error) {
	d.cropper.crop(d.model.input, palmSide, img, where, blackBorder)
	as.apply(d.model.input, palmSide)
	if err := d.model.run(); err != nil {
		return nil, err
	}
	d.candidates = decodePalms(d.candidates[:0], d.boxes, d.scores, d.anchors, minScore)
	d.merge()
	to := place(where)
	for i := range d.kept {
		if as.mirrored {
			d.kept[i].mirror()
		}
		d.kept[i].toPicture(to)
	}
	return d.kept, nil
}

// decodePalms appends every anchor that scores at least minScore.
func decodePalms(dst []palm, boxes, scores []float32, anchors [][2]float64, minScore float64) []palm {
	for i, raw := range scores {
		score := sigmoid(min(max(float64(raw), -scoreClip), scoreClip))
		if !(score >= minScore) { // also drops NaN
			continue
		}
		v := boxes[i*palmNumbers : (i+1)*palmNumbers]
		at := func(j int) float64 { return float64(v[j]) / palmSide }
		ax, ay := anchors[i][0], anchors[i][1]
		cx, cy, w, h := at(0)+ax, at(1)+ay, at(2), at(3)
		if !(w > 0 && h > 0) {
			continue
		}
		p := palm{score: score, x0: cx - w/2, y0: cy - h/2, x1: cx + w/2, y1: cy + h/2}
		for k := range p.points {
			p.points[k] = hand.Point{X: at(4+2*k) + ax, Y: at(5+2*k) + ay}
		}
		dst = append(dst, p)
	}
	return dst
}

// merge turns candidates that overlap into one palm each: the mean of their
// boxes and points weighted by score, with the score of the best. The result
// is in d.kept. Source: MediaPipe, non_max_suppression_calculator.cc,
// WeightedNonMaxSuppression.
func (d *palmDetector) merge() {
	slices.SortStableFunc(d.candidates, func(a, b palm) int { return cmp.Compare(b.score, a.score) })
	d.kept = d.kept[:0]
	left := d.candidates
	for len(left) > 0 {
		best := left[0].box()
		var sum palm
		d.rest = d.rest[:0]
		for i := range left {
			// The best one itself always counts, so every round ends with
			// fewer candidates.
			if p := &left[i]; i == 0 || iou(best, p.box()) > palmOverlap {
				sum.add(p)
			} else {
				d.rest = append(d.rest, *p)
			}
		}
		d.kept = append(d.kept, sum.mean(left[0].score))
		left = append(left[:0], d.rest...)
	}
}

// add adds q weighted by its score; the score sums up.
func (p *palm) add(q *palm) {
	p.score += q.score
	p.x0 += q.score * q.x0
	p.y0 += q.score * q.y0
	p.x1 += q.score * q.x1
	p.y1 += q.score * q.y1
	for i := range p.points {
		p.points[i] = p.points[i].Add(q.points[i].Scale(q.score))
	}
}

// mean divides by the summed score.
func (p *palm) mean(score float64) palm {
	m := palm{score: score, x0: p.x0 / p.score, y0: p.y0 / p.score, x1: p.x1 / p.score, y1: p.y1 / p.score}
	for i := range p.points {
		m.points[i] = p.points[i].Scale(1 / p.score)
	}
	return m
}

// mirror turns left and right round in the searched square.
func (p *palm) mirror() {
	p.x0, p.x1 = 1-p.x1, 1-p.x0
	for i := range p.points {
		p.points[i].X = 1 - p.points[i].X
	}
}

// toPicture takes a palm from parts of a region to pixels. The box keeps its
// size and its sides' directions; only its centre turns with the region.
func (p *palm) toPicture(to placement) {
	cx, cy := to.picture((p.x0+p.x1)/2, (p.y0+p.y1)/2)
	w, h := (p.x1-p.x0)*to.size, (p.y1-p.y0)*to.size
	p.x0, p.x1, p.y0, p.y1 = cx-w/2, cx+w/2, cy-h/2, cy+h/2
	for i, q := range p.points {
		p.points[i].X, p.points[i].Y = to.picture(q.X, q.Y)
	}
}

func sigmoid(x float64) float64 { return 1 / (1 + math.Exp(-x)) }
