package goniometry

import (
	"math"
	"time"

	"volar/internal/hand"
)

// channels measures what else of a hand drives a movement beside its joints:
// hand.Channel says what each is. It keeps the turn of the hand over time; the
// zero value has seen nothing.
type channels struct {
	turn    float64
	at      time.Duration
	started bool
}

// turnKept is how long a turn is followed on while the hand is away: it cannot
// have gone round unseen in that time without being wrung off.
const turnKept = 2 * time.Second

// update fills in the sample's extra channels and the place of the palm from
// the posture that its joints were read from.
func (c *channels) update(s *hand.Sample, o *hand.Observation, p *posture, opts *Options) {
	s.Palm = palmOf(&o.Image)
	g := gauge{s: s, p: p, sees: o.Angles, why: common(s, o, opts)}
	g.spreads()
	g.pinches()
	g.thumb()
	g.tilt()
	g.set(hand.HandTurn, c.follow(s.View.YawDeg, s.Time), math.Max(s.View.SEDeg, leastTurnSE), hand.NoReason)
}

// lostChannels marks those of a sample without a hand.
func lostChannels(s *hand.Sample) {
	for i := range s.Extra {
		s.Extra[i] = unjudged(hand.NoHand)
	}
}

// follow adds the yaw's change to the turn so far, the short way round.
func (c *channels) follow(yaw float64, at time.Duration) float64 {
	if gap := at - c.at; !c.started || gap < 0 || gap > turnKept {
		c.turn = yaw
	} else {
		c.turn += wrap(yaw - c.turn)
	}
	c.started, c.at = true, at
	return c.turn
}

// palmOf is the middle of the palm: that of the wrist and the four knuckles,
// which move least against each other.
func palmOf(p *hand.Points) (q hand.Point) {
	rigid := [...]int{hand.Wrist, hand.Index.MCP(), hand.Middle.MCP(), hand.Ring.MCP(), hand.Little.MCP()}
	for _, i := range rigid {
		q = q.Add(p[i].Scale(1.0 / float64(len(rigid))))
	}
	return q
}

// common is why nothing of the hand can be judged, or NoReason.
func common(s *hand.Sample, o *hand.Observation, opts *Options) hand.Reason {
	j := judge{opts: opts, o: o}
	switch {
	case s.PalmPixels < opts.MinPalmPixels:
		return hand.TooSmall
	case j.tooDark():
		return hand.TooDark
	case s.SpeedPalms > opts.MaxPalms:
		return hand.TooFast
	case math.Abs(s.View.PitchDeg) > steepDeg:
		return hand.WrongView
	}
	return hand.NoReason
}

// gauge reads the channels of one picture.
type gauge struct {
	s    *hand.Sample
	p    *posture
	sees *hand.ModelAngles
	why  hand.Reason
}

// set enters a value with its standard error, in the channel's own unit.
func (g *gauge) set(c hand.Channel, v, se float64, why hand.Reason) {
	if g.why != hand.NoReason {
		why = g.why
	}
	m := hand.Measurement{FlexionDeg: v, RawDeg: v, SEDeg: se, Judged: why == hand.NoReason, Why: why}
	m.ExtensionJudged, m.ExtensionWhy = m.Judged, m.Why
	g.s.Extra[c-hand.NumJoints] = m
}

// The standard errors below are the scatter on rendered hands of nine shapes
// that had no part in any fit, by view; TestChannelsOnRenderedHands holds them
// against renders.
const (
	spreadSE   = 4
	tiltSE     = 4
	palmarSE   = 10
	radialSE   = 11
	pinchSE    = 10
	pinchFarSE = 7 // more for each palm's length of distance
	// leastTurnSE is what is left of the yaw's error from one picture to the
	// next.
	leastTurnSE = 6
	// A fingertip counts as hidden below this probability of being seen.
	tipHidden = 0.35
	// sideways is the sine of the yaw beyond which what lies across the palm
	// points along the line of sight and cannot be read, 60 degrees; turned is
	// where that begins for the ring and little finger, 30 degrees.
	sideways, turned = 0.87, 0.5
	// upright is the sine of the yaw from which a side view shows the palm's
	// side, and flatness the one up to which spreads are seen, 50 degrees: beyond
	// it readings on rendered hands no longer follow the truth.
	upright, flatness = 0.6, 0.77
)

// side is how far the view is a side view: the sine of the yaw's size.
func (g *gauge) side() float64 { return math.Abs(math.Sin(g.s.View.YawDeg * degree)) }

// visible is the model's score that a point can be seen; a model that does not
// say so is taken to see it.
func (g *gauge) visible(i int) float64 {
	if g.sees == nil {
		return 1
	}
	return g.sees.Visible[i]
}

// spreads come from the abduction that the sample has already.
func (g *gauge) spreads() {
	for i, deg := range g.s.AbductionDeg {
		why := hand.NoReason
		switch {
		case math.IsNaN(deg):
			// The fingers are folded: there is no spread to speak of.
			deg, why = 0, hand.Unsure
		case g.side() > flatness:
			why = hand.WrongView
		}
		// The little finger's knuckle is placed worst, and a turned hand shows
		// every angle across the palm too small.
		g.set(hand.SpreadIndexMiddle+hand.Channel(i), deg, spreadSE+float64(i)+2*g.side(), why)
	}
}

// pinches are the distances from the thumb's tip. Across the line of sight the
// picture is exact and along it the depth is a guess, by which image points
// overstate a distance and world points understate it.
func (g *gauge) pinches() {
	side := g.side()
	for _, f := range hand.Fingers {
		a, b := f.Tip(), hand.ThumbTip
		im := g.p.image[a].Sub(g.p.image[b])
		world := g.p.world[a].Sub(g.p.world[b]).Norm()
		flat := math.Hypot(im.X, im.Y)
		v := 100 * (world + flat + side*(im.Norm()-flat)) / 2
		why := hand.NoReason
		switch {
		case math.Min(g.visible(a), g.visible(b)) < tipHidden:
			why = hand.Hidden
		case side > sideways, side > turned && f >= hand.Ring:
			why = hand.WrongView
		}
		c, _ := hand.PinchOf(f)
		g.set(c, v, (pinchSE+pinchFarSE*math.Min(v/100, 1.5))*(1+side), why)
	}
}

// thumb reads the thumb's abduction from the directions of its metacarpal and
// of the line from its root to its IP joint: how far each stands out of the
// palm's plane and how far it turns in it.
func (g *gauge) thumb() {
	p, f := &g.p.image, g.p.imageF
	out := func(v hand.Point) (palmar, radial float64) {
		v = unit(f.in(v))
		return math.Asin(clamp(v.Z, -1, 1)) / degree, math.Atan2(v.X, v.Y) / degree
	}
	mp, mr := out(p[hand.ThumbMCP].Sub(p[hand.ThumbCMC]))
	ip, ir := out(p[hand.ThumbIPPt].Sub(p[hand.ThumbCMC]))
	x := [...]float64{1, mp, mr, ip, ir}
	palmar, radial := 0.0, 0.0
	for i, v := range x {
		palmar += thumbPalmar[i] * v
		radial += thumbRadial[i] * v
	}
	why := hand.NoReason
	if g.visible(hand.ThumbMCP) < tipHidden || g.visible(hand.ThumbIPPt) < tipHidden {
		why = hand.Hidden
	}
	g.set(hand.ThumbPalmar, palmar, palmarSE, why)
	if why == hand.NoReason && g.side() > sideways {
		why = hand.WrongView
	}
	g.set(hand.ThumbRadial, radial, radialSE*(1+g.side()/2), why)
}

// tilt is read in the picture alone; which way is the palm's shows in views
// from the side.
func (g *gauge) tilt() {
	d, n := g.p.imageF.distal, g.p.imageF.palmar
	deg := math.Atan2(d.X, -d.Y) / degree
	// The palm's side lies clockwise of the long axis where turning the axis a
	// quarter that way leads towards the palm's normal.
	if n.X*-d.Y+n.Y*d.X < 0 {
		deg = -deg
	}
	why := hand.NoReason
	if g.side() < upright {
		why = hand.WrongView
	}
	g.set(hand.HandTilt, deg, tiltSE, why)
}

// The weights of the thumb's abduction: a constant, then the metacarpal out of
// the plane and in it, then the line to the IP joint likewise. They are the
// least-squares fit over 1200 renders of seven hands of both sides in all views.
var (
	thumbPalmar = [...]float64{9.7, -0.02, 0.41, 0.62, -0.51}
	thumbRadial = [...]float64{2.5, -0.24, -0.12, 0.25, 0.89}
)
