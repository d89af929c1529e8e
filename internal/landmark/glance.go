package landmark

import (
	"image"
	"math"

	"volar/internal/hand"
)

// Where a picture as it is shows no hand it is looked at in other light,
// mirrored, turned and in parts: palms are read from such a glance however
// faintly they are seen, and believed by what the landmark model and the angle
// head make of them in several views. The presence of one crop does not do for
// that: things without a hand reach 0.9 in it.
//
// Measured on single rendered pictures of the exercises, light, skin and room
// varied, with the rules chosen on two of the sets: of 224 pictures with hands of
// the scoreboard's quick set 215 are found so and 207 without, of 350 others 341
// and 327, and of 224 kept apart 217 and 210, all seven with the points at most
// 0.14 of the hand's size off on average. Of all 29 two lie further off, 0.21 and
// 0.36. In 444 pictures without a hand, of balls, rolls and cloths, faces,
// arms, painted walls and shuffled pieces of photographs, ten show one and the
// glances add none to them. In videos of 23 stills that nothing else found, 24
// pictures each, a hand is in 52 % of the pictures, and in 5 % without. The time
// of a picture without a hand doubles, to 40 ms on a busy computer.

// glance is one way to look at a picture again: in a light, mirrored or not, in
// a square whose middle lies right and down of the picture's by parts of the
// picture's long side.
type glance struct {
	light    light
	mirrored bool
	square
	right, down float64
}

// glances are what is tried: all of them in a still picture, one after another
// in successive pictures of a video with no hand in sight. The likeliest to
// show a hand that no earlier one shows come first. Of 20 ways that were tried
// on 40 rendered hands that nothing else found, the first six show all 23 that
// any of them showed.
var glances = [...]glance{
	{light: brightened, square: square{1, 0}},
	{square: square{2, 0}},
	{square: square{0.7, 0}},
	{square: square{0.62, 0}, right: -0.19, down: 0.09},
	{light: stretched, square: square{2, 0}},
	{light: stretched, square: square{0.62, 0}, right: -0.19, down: -0.09},
	{mirrored: true, square: square{1, 0}},
	{light: brightened, square: square{2, 0}},
	{square: square{0.62, 0}, right: 0.19, down: 0.09},
	{light: stretched, square: square{1.25, -45 * degree}},
	{mirrored: true, square: square{1.25, 0}},
	{square: square{0.62, 0}, right: 0.19, down: -0.09},
}

func (g *glance) of(w, h int) hand.Region {
	r := g.square.of(w, h)
	long := float64(max(w, h))
	r.CX += g.right * long
	r.CY += g.down * long
	return r
}

const (
	// glancePalm is the least score of a palm, and stillPalms and videoPalms
	// how many are read of one glance, best first.
	glancePalm             = 0.1
	stillPalms, videoPalms = 3, 1
	// followFrom is the least presence of a reading whose points are followed,
	// and lookInto the least of the better of the first two readings.
	followFrom, lookInto = 0.02, 0.4
)

// views are how the region around a hand is shown to ask whether it is one,
// with its size and rotation changed by the square's.
var views = [...]glance{
	{mirrored: true, square: square{1, 0}},
	{light: stretched, square: square{1, 0}},
	{light: brightened, square: square{1, 0}},
	{square: square{1.2, 0}},
	{square: square{1, 12 * degree}},
	{square: square{1, -12 * degree}},
	{square: square{0.9, 0}},
}

// What a reading must be for the views to make a hand of it.
const (
	// headSpread is the most that the angle head may state as its spread,
	// degrees, mean of the joints. It was trained on hands alone, and it shows:
	// of what passes the other two it states 5 to 12 on rendered hands that are
	// read right, 11 to 26 on those that are read wrong, and 14 to 19 on balls,
	// rolls and cloths without a hand, whose presence is as high. A head that is
	// trained anew may state others.
	headSpread = 12
	// viewsPresence is the least mean presence in the views, and viewsScatter
	// the most that their points lie off the reading's, on average, in parts of
	// the region around these.
	viewsPresence = 0.55
	viewsScatter  = 0.04
	// scatterCost weighs the scatter against the presence where one of several
	// is to be taken.
	scatterCost = 3
)

// candidate is a hand that the views agree on, the better the more merit; none
// has a merit of 0.
type candidate struct {
	reading
	merit float64
}

// glancer looks at one picture again.
type glancer struct {
	t      *Tracker
	img    *image.RGBA
	curves *curves
	known  []hand.Points // that have been looked into
	best   candidate
}

func (t *Tracker) glancer(img *image.RGBA) *glancer {
	return &glancer{t: t, img: img, curves: curvesOf(img)}
}

// glance reads the best palms of one more look.
func (g *glancer) glance(at *glance, palms int) error {
	w, h := g.img.Rect.Dx(), g.img.Rect.Dy()
	as := shown{g.curves[at.light], at.mirrored}
	found, err := g.t.palms.findAs(g.img, at.of(w, h), glancePalm, as)
	if err != nil {
		return err
	}
	for i := range found[:min(palms, len(found))] {
		if err := g.read(palmRegion(found[i]), as); err != nil {
			return err
		}
	}
	return nil
}

// read follows the points of a palm's region to the hand, in the light of the
// glance, and asks the views there.
func (g *glancer) read(where hand.Region, as shown) error {
	var p hand.Points
	most := 0.0
	for range 2 {
		var presence float64
		var err error
		if presence, p, err = g.t.hands.glimpse(g.img, where, as); err != nil || presence < followFrom {
			return err
		}
		most = max(most, presence)
		where = pointsRegion(&p)
	}
	if most < lookInto {
		return nil
	}
	for i := range g.known {
		if apartBy(&g.known[i], &p) < viewsScatter/2 {
			return nil
		}
	}
	g.known = append(g.known, p)
	return g.ask(where)
}

// ask reads a region and keeps it if the angle head and the views take it for a
// hand. It stops as soon as they cannot.
func (g *glancer) ask(where hand.Region) error {
	r, err := g.t.hands.read(g.img, where, g.t.options.MinPresence)
	if err != nil || r.presence == 0 || !r.plausible(g.img.Rect.Dx(), g.img.Rect.Dy()) || !(meanSpread(r.angles) <= headSpread) {
		return err
	}
	n := float64(len(views) + 1)
	presence, scatter := r.presence/n, 0.0
	for i := range views {
		v := &views[i]
		at := where
		at.Size *= v.size
		at.Rotation += v.turn
		seen, p, err := g.t.hands.glimpse(g.img, at, shown{g.curves[v.light], v.mirrored})
		if err != nil {
			return err
		}
		presence += seen / n
		scatter += apartBy(&p, &r.image) / n
		if left := float64(len(views)-1-i) / n; presence+left < viewsPresence || scatter > viewsScatter {
			return nil
		}
	}
	if merit := presence - scatterCost*scatter; merit > g.best.merit {
		g.best = candidate{r, merit}
	}
	return nil
}

// statesSpread tells whether the model says how sure it is of its angles. One
// that does not cannot be asked whether something is a hand.
func (l *landmarker) statesSpread() bool { return l.angles != nil && l.spreads != nil }

// meanSpread is the mean of the spreads stated for the joints, without bound
// where a model gave no number.
func meanSpread(a *hand.ModelAngles) float64 {
	if a == nil {
		return math.Inf(1)
	}
	var sum float64
	for _, s := range a.SpreadDeg {
		sum += s
	}
	return sum / hand.NumJoints
}

// apartBy is the mean distance of the points in parts of the region around the
// second ones.
func apartBy(a, b *hand.Points) float64 {
	var sum float64
	for i := range a {
		sum += math.Hypot(a[i].X-b[i].X, a[i].Y-b[i].Y)
	}
	return sum / hand.NumPoints / pointsRegion(b).Size
}

// glimpse shows the region to the landmark model in some way and returns no
// more than is needed to tell whether there is a hand, and where: no presence
// where there is none to speak of.
func (l *landmarker) glimpse(img *image.RGBA, where hand.Region, as shown) (presence float64, p hand.Points, err error) {
	if !usable(where, img.Rect.Dx(), img.Rect.Dy()) {
		return 0, p, nil
	}
	l.cropper.crop(l.model.input, handSide, img, where, edgeBorder)
	as.apply(l.model.input, handSide)
	if err := l.model.run(); err != nil {
		return 0, p, err
	}
	if !finite(l.presence) || !finite(l.landmarks) {
		return 0, p, nil
	}
	to := place(where)
	for i := range p {
		x, y := float64(l.landmarks[3*i])/handSide, float64(l.landmarks[3*i+1])/handSide
		if as.mirrored {
			x = 1 - x
		}
		p[i].X, p[i].Y = to.picture(x, y)
	}
	return float64(l.presence[0]), p, nil
}

// glanceOnce gives a picture of a video with no hand in sight one glance,
// another one in each picture, so that the time for a picture stays bounded.
func (t *Tracker) glanceOnce(img *image.RGBA) error {
	if len(t.sightings) > 0 || !t.hands.statesSpread() {
		t.glanced = 0
		return nil
	}
	g := t.glancer(img)
	at := &glances[t.glanced%len(glances)]
	t.glanced++
	if err := g.glance(at, videoPalms); err != nil || g.best.merit == 0 {
		return err
	}
	t.sightings = append(t.sightings, sighting{g.best.reading, t.comesBack(&g.best.reading)})
	return nil
}
