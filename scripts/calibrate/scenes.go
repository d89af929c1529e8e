package main

import (
	"math"
	"math/rand/v2"

	"volar/internal/hand"
	"volar/internal/handrender"
)

// dice draws the numbers of one scene.
type dice struct{ *rand.Rand }

func (d dice) between(a, b float64) float64 { return a + (b-a)*d.Float64() }
func (d dice) about(mean, sd float64) float64 {
	return mean + sd*math.Max(-3, math.Min(3, d.NormFloat64()))
}
func (d dice) chance(p float64) bool { return d.Float64() < p }

// family is a kind of posture that hands doing exercises take up.
type family struct {
	name  string
	share float64
	pose  func(dice) handrender.Pose
}

// families and how often each is drawn; the first two are straight and past
// straight.
var families = []family{
	{"straight", 0.16, straight},
	{"hyperextended", 0.16, hyperextended},
	{"fist", 0.18, fist},
	{"hook", 0.12, hook},
	{"tabletop", 0.07, tabletop},
	{"cascade", 0.13, cascade},
	{"counting", 0.12, counting},
	{"independent", 0.06, independent},
}

// finger is one finger's bends; the DIP follows the PIP as the tendons make
// it.
func finger(d dice, mcp, pip float64) handrender.FingerPose {
	f := handrender.FingerPose{MCP: mcp, PIP: pip}
	f.DIP = pip * d.between(0.35, 0.7)
	if pip < 10 {
		f.DIP = d.between(-4, 12)
	}
	return f
}

func straight(d dice) handrender.Pose {
	p := handrender.Straight()
	m, s := d.between(-15, 20), d.between(-3, 10)
	for i := range p.Fingers {
		p.Fingers[i] = finger(d, d.about(m, 5), d.about(s, 3))
	}
	p.Thumb = thumb(d)
	return p
}

// hyperextended has one finger, or all, past straight at the PIP, with the DIP
// bent as in a lax swan-neck posture or straight.
func hyperextended(d dice) handrender.Pose {
	p := straight(d)
	h, c := -d.between(2, 28), d.between(0, 35)
	one := -1
	if d.chance(0.4) {
		one = d.IntN(4)
	}
	for i := range p.Fingers {
		f := &p.Fingers[i]
		if one < 0 || i == one {
			f.PIP, f.DIP = d.about(h, 2), d.about(c, 4)
		}
	}
	return p
}

// fist closes the whole hand, from a quarter to all the way.
func fist(d dice) handrender.Pose {
	var p handrender.Pose
	t := d.between(0.25, 1.08)
	m := d.between(0.7, 1.05)
	for i := range p.Fingers {
		p.Fingers[i] = finger(d, d.about(84*t*m, 6), d.about(102*t, 6))
	}
	p.Thumb = thumb(d)
	return p
}

func hook(d dice) handrender.Pose {
	var p handrender.Pose
	m, t := d.between(-15, 30), d.between(0.3, 1.08)
	for i := range p.Fingers {
		f := finger(d, d.about(m, 5), d.about(100*t, 6))
		f.DIP = f.PIP * d.between(0.45, 0.75)
		p.Fingers[i] = f
	}
	p.Thumb = thumb(d)
	return p
}

func tabletop(d dice) handrender.Pose {
	p := straight(d)
	m := d.between(35, 92)
	for i := range p.Fingers {
		p.Fingers[i].MCP = d.about(m, 5)
	}
	return p
}

// cascade is a relaxed hand, each finger more bent than its radial neighbour.
func cascade(d dice) handrender.Pose {
	var p handrender.Pose
	t, step := d.between(0, 1), d.between(-0.1, 0.18)
	for i := range p.Fingers {
		q := t + step*(float64(i)-1.5)
		p.Fingers[i] = finger(d, d.about(65*q*d.between(0.4, 1), 5), d.about(92*q, 6))
	}
	p.Thumb = thumb(d)
	return p
}

// counting has each finger either up or folded into the palm.
func counting(d dice) handrender.Pose {
	p := straight(d)
	m, s := d.between(45, 92), d.between(75, 108)
	for i := range p.Fingers {
		if d.chance(0.5) {
			p.Fingers[i] = finger(d, d.about(m, 7), d.about(s, 7))
		}
	}
	return p
}

func independent(d dice) handrender.Pose {
	var p handrender.Pose
	for i := range p.Fingers {
		p.Fingers[i] = finger(d, d.between(-20, 92), d.between(-22, 110))
	}
	p.Thumb = thumb(d)
	return p
}

// thumb rests beside the index finger, over the fingers, or anywhere.
func thumb(d dice) handrender.ThumbPose {
	switch d.IntN(3) {
	case 0:
		return handrender.ThumbPose{Palmar: d.about(2, 6), Radial: d.about(-6, 6), Roll: d.about(0, 5), MP: d.about(6, 8), IP: d.about(4, 10)}
	case 1:
		return handrender.ThumbPose{Palmar: d.about(44, 8), Radial: d.about(-2, 6), Roll: d.about(6, 6), MP: d.about(30, 14), IP: d.about(40, 18)}
	}
	return handrender.ThumbPose{Palmar: d.between(-4, 55), Radial: d.between(-15, 15), Roll: d.between(-12, 16), MP: d.between(-10, 55), IP: d.between(-20, 75)}
}

// limits of the joints in the order MCP, PIP, DIP; beyond them a mesh folds
// into itself.
var limits = [3][2]float64{{-28, 95}, {-28, 112}, {-14, 82}}

// pose draws a posture. In a side view half are past straight and one in ten
// straight whatever the families' shares: it is there that the two must be told
// apart.
func pose(d dice, sideways bool) handrender.Pose {
	x := d.Float64()
	f := families[len(families)-1]
	if sideways {
		switch q := d.Float64(); {
		case q < 0.5:
			x = families[0].share + families[1].share/2
		case q < 0.6:
			x = 0
		}
	}
	for _, g := range families {
		if x -= g.share; x < 0 {
			f = g
			break
		}
	}
	p := f.pose(d)
	spread := d.about(2, 4)
	for i := range p.Fingers {
		q := &p.Fingers[i]
		q.Abduction = []float64{1.2, 0, 1, 2}[i]*spread + d.about(0, 2)
		for k, v := range []*float64{&q.MCP, &q.PIP, &q.DIP} {
			*v = math.Max(limits[k][0], math.Min(limits[k][1], *v))
		}
	}
	p.Wrist = handrender.WristPose{Flexion: d.about(0, 20), Deviation: d.about(0, 8)}
	return p.Couple()
}

// shape draws a hand's own bones and flesh.
func shape(d dice) handrender.Shape {
	s := handrender.Shape{
		PalmLength: d.about(0, 0.05), PalmWidth: d.about(0, 0.05), PalmDepth: d.about(0, 0.06),
		ForearmWidth: d.about(0, 0.1),
	}
	long, thick := d.about(0, 0.05), d.about(0, 0.06)
	for i := range s.FingerLength {
		s.FingerLength[i] = long + d.about(0, 0.02)
		s.FingerThickness[i] = thick + d.about(0, 0.02)
	}
	if d.chance(0.25) {
		s.JointBulk = d.between(0, 0.2)
	}
	return s
}

// view draws how the hand is turned: half of all scenes show a side, as the
// exercises ask for, most others the palm, the rest anything.
func view(d dice) handrender.View {
	v := handrender.View{Pitch: d.about(0, 14), Roll: d.about(0, 25)}
	switch x := d.Float64(); {
	case x < 0.42:
		v.Yaw = d.between(45, 135)
	case x < 0.52:
		v.Yaw = -d.between(45, 135)
	case x < 0.85:
		v.Yaw = d.about(0, 28)
	default:
		v.Yaw = d.between(-180, 180)
	}
	return v
}

// held draws a ball or a rolled towel; the fingers close on it.
func held(d dice) handrender.Object {
	o := handrender.Object{Kind: handrender.Ball, Radius: d.between(0.02, 0.04)}
	if d.chance(0.5) {
		o = handrender.Object{Kind: handrender.Roll, Radius: d.between(0.012, 0.03), Length: d.between(0.08, 0.16)}
	}
	o.Fabric = handrender.Fabric{Colour: handrender.RGB{R: d.Float64(), G: d.Float64(), B: d.Float64()}}
	return o
}

// scene draws everything but the hand's mesh.
func scene(d dice) handrender.Scene {
	s := handrender.Scene{Shape: shape(d), Side: hand.Right, View: view(d)}
	s.Pose = pose(d, math.Abs(s.View.Yaw) > 45 && math.Abs(s.View.Yaw) < 135)
	if d.chance(0.5) {
		s.Side = hand.Left
	}
	if d.chance(0.1) {
		s.Object = held(d)
	}
	s.Camera = handrender.Camera{HFOV: 60, Distance: d.between(0.2, 0.42), OffsetX: d.about(0, 0.06), OffsetY: d.about(0.05, 0.05)}
	s.Skin = handrender.Skin{
		Tone: d.Float64(), Redness: d.between(0.3, 1.5), Mottle: d.between(0.5, 1.5), Creases: d.between(0.5, 1.5),
		Gloss: d.between(0.3, 1.5), Nails: d.between(0.5, 1.5), Grain: d.between(0.5, 1.5),
	}
	s.Light = handrender.Light{
		Azimuth: d.between(-80, 80), Elevation: d.between(0, 70), Key: d.between(0.5, 1.3), Fill: d.between(0.3, 1.5),
		Ambient: d.between(0.6, 1.6), FillAzimuth: d.between(-90, 90), FillElevation: d.between(-20, 40), Shadow: d.between(0.4, 1),
	}
	s.Background = handrender.Background{
		Kind:   handrender.BackgroundKind(d.IntN(3)),
		Colour: handrender.RGB{R: d.between(0.1, 0.9), G: d.between(0.1, 0.9), B: d.between(0.1, 0.9)},
	}
	if d.chance(0.5) {
		s.Sleeve = handrender.Sleeve{On: true, Start: d.between(0.01, 0.12),
			Fabric: handrender.Fabric{Colour: handrender.RGB{R: d.Float64(), G: d.Float64(), B: d.Float64()}}}
	}
	s.Effects = handrender.Effects{Exposure: d.about(0, 0.4), Blur: d.between(0, 0.9), Noise: d.between(0, 6), NoiseSeed: d.Uint32()}
	return s
}
