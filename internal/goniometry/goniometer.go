package goniometry

import (
	"math"
	"time"

	"volar/internal/goniometry/calibration"
	"volar/internal/hand"
)

// Options set what may be judged. The zero value holds the documented
// defaults.
type Options struct {
	// MinPalmPixels is the shortest palm, wrist to middle knuckle, that is
	// judged; 0 = 30: in photographs 100 pixels wide, with palms from there on,
	// straight fingers still read straight.
	MinPalmPixels float64
	// MinLuma and MinContrast are the darkest and flattest region that is
	// judged, both of 1; 0 = 0.06 and 0.02.
	MinLuma, MinContrast float64
	// MaxPalms is the fastest movement of the hand, and MaxPointPalms of any
	// of a joint's own points, at which the joint is judged, in palm lengths a
	// second; 0 = 4 and 8.
	MaxPalms, MaxPointPalms float64
	// Baseline is the client's own hand as it was recorded, nil without one.
	// One that Baseline.Check finds fault with corrects nothing.
	Baseline *Baseline
	// Estimator names what reads the angles now; empty is unknown. A baseline
	// that names another corrects nothing, since the errors of the two have
	// nothing in common.
	Estimator string
}

// withDefaults fills in what is not set.
func (o Options) withDefaults() Options {
	for _, d := range []struct {
		v *float64
		x float64
	}{
		{&o.MinPalmPixels, 30}, {&o.MinLuma, 0.06}, {&o.MinContrast, 0.02}, {&o.MaxPalms, 4}, {&o.MaxPointPalms, 8},
	} {
		if !(*d.v > 0) {
			*d.v = d.x
		}
	}
	return o
}

// maxGap is the longest time between two pictures over which the filters and
// speeds carry on.
const maxGap = 500 * time.Millisecond

// A Goniometer measures one hand over time. It is not for concurrent use.
type Goniometer struct {
	opts Options
	head headEstimator

	zero    *corrector
	follows [hand.NumJoints]follower
	motion  motion
	steady  steadyView
	sight   steadySight
	depth   lowPass
	extra   channels
	track   int
	at      time.Duration
	started bool
}

// New returns a Goniometer with nothing measured yet.
func New(o Options) *Goniometer {
	g := &Goniometer{opts: o.withDefaults(), zero: newCorrector(o.Baseline, o.Estimator)}
	g.Reset()
	return g
}

// Reset forgets what came before.
func (g *Goniometer) Reset() {
	g.follows = [hand.NumJoints]follower{}
	g.motion = motion{}
	g.steady, g.sight = steadyView{}, steadySight{}
	g.depth = lowPass{cutoffHz: depthCutoffHz}
	g.started = false
}

// Measure returns the joint angles of the hand in a picture of a stream. The
// pictures come in order of time; see the package's notes on time.
func (g *Goniometer) Measure(o hand.Observation) hand.Sample {
	if gap := o.Time - g.at; !g.started || o.Track != g.track || gap < 0 || gap > maxGap {
		g.Reset()
	}
	g.started, g.track, g.at = true, o.Track, o.Time
	p, ok := postureOf(&o)
	if !ok {
		g.Reset()
		return unreadable(&o)
	}
	p.weigh(&o, &calibration.FittedDepth)
	p.depthOdds = g.depth.update(p.depthOdds, o.Time)
	p.settle()
	g.motion.update(&o.Image, p.palm, o.Time)
	s := g.sample(&o, &p, &g.motion, &g.steady, &g.sight)
	g.extra.update(&s, &o, &p, &g.opts)
	for j := range s.Joints {
		m := &s.Joints[j]
		m.FlexionDeg, m.SEDeg = g.follows[j].follow(m.RawDeg, m.SEDeg, o.Time)
	}
	return s
}

// MeasureStill returns the joint angles in a single picture. It neither uses
// nor changes what Measure keeps.
func (g *Goniometer) MeasureStill(o hand.Observation) hand.Sample {
	p, ok := postureOf(&o)
	if !ok {
		return unreadable(&o)
	}
	p.weigh(&o, &calibration.FittedDepth)
	p.settle()
	s := g.sample(&o, &p, new(motion), new(steadyView), new(steadySight))
	new(channels).update(&s, &o, &p, &g.opts)
	return s
}

// Lost returns the sample that stands for a picture without the hand. The
// filters carry on if the hand is back, on the same track, within half a
// second.
func (g *Goniometer) Lost(at time.Duration) hand.Sample {
	s := hand.Sample{Time: at, Track: g.track}
	for j := range s.Joints {
		s.Joints[j] = unjudged(hand.NoHand)
	}
	lostChannels(&s)
	s.AbductionDeg = unseen
	return s
}

var unseen = [3]float64{math.NaN(), math.NaN(), math.NaN()}

// unreadable is the sample for points that no hand can have: collapsed into
// one place or not numbers.
func unreadable(o *hand.Observation) hand.Sample {
	s := hand.Sample{Time: o.Time, Found: true, Side: o.Side, Track: o.Track, AbductionDeg: unseen}
	s.View.SEDeg = 180
	for j := range s.Joints {
		s.Joints[j] = unjudged(hand.Unsure)
	}
	return s
}

// unjudged is a measurement that says only why there is none.
func unjudged(why hand.Reason) hand.Measurement {
	return hand.Measurement{SEDeg: 90, Why: why, ExtensionWhy: why}
}

// sample measures one picture; over time go only the speeds, and the view and
// the sight of the joints by which it is decided what is judged.
func (g *Goniometer) sample(o *hand.Observation, p *posture, m *motion, v *steadyView, sight *steadySight) hand.Sample {
	var est estimator = &g.head.landmarks
	if o.Angles != nil {
		est = &g.head
	}
	e := est.estimate(o, p)
	g.zero.apply(&e)
	e.widen()
	sight.update(&e.visible, o.Time)
	s := hand.Sample{
		Time: o.Time, Found: true, Side: o.Side, Track: o.Track,
		View: e.view, PalmPixels: p.palm, SpeedPalms: m.palms,
		AbductionDeg: p.abduction(&e.flexion),
	}
	j := judge{opts: &g.opts, o: o, p: p, m: m, e: &e, steadyYaw: v.update(e.view, o.Time), covered: p.covered()}
	for i := range s.Joints {
		s.Joints[i] = j.measurement(hand.Joint(i))
	}
	return s
}
