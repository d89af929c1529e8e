package main

import (
	"math/rand/v2"
	"time"

	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/scripts/unseen"
)

// dice draws from a seeded source.
type dice struct{ *rand.Rand }

func newDice(what, number uint64) dice { return dice{rand.New(rand.NewPCG(what, number))} }

func (d dice) between(a, b float64) float64    { return a + (b-a)*d.Float64() }
func (d dice) about(mean, sd float64) float64  { return mean + sd*d.NormFloat64() }
func (d dice) chance(p float64) bool           { return d.Float64() < p }
func clamp(x, least, greatest float64) float64 { return min(max(x, least), greatest) }
func pick[T any](d dice, from []T) T           { return from[d.IntN(len(from))] }
func quarterOf(tone float64) int               { return min(int(4*tone), 3) }

// quarters are the names of the quarters of the skin tones.
var quarters = [4]string{"lightest quarter", "second quarter", "third quarter", "darkest quarter"}

// shape is one hand of the tests: a mesh with bones, flesh and skin of its own.
type shape struct {
	mesh  unseen.Hand
	bones handrender.Shape
	skin  handrender.Skin
	side  hand.Side
	// dice is where everything else that is random with this hand comes from.
	dice dice
}

// shapes draws n hands of each mesh, with tones and sides spread evenly over
// each mesh's own.
func shapes(meshes []unseen.Hand, n int, seed uint64) []shape {
	var out []shape
	for i, m := range meshes {
		for k := range n {
			d := newDice(seed, uint64(1000*i+k))
			skin := tinted(d)
			skin.Tone = (float64((k+i)%4) + d.Float64()) / 4
			side := hand.Left
			if (k/4+k+i)%2 == 0 {
				side = hand.Right
			}
			out = append(out, shape{m, bones(d), skin, side, d})
		}
	}
	return out
}

// bones varies a hand in other ways than the training of the angle head does,
// which draws every bone around a common length: here fingers grow or shrink
// from the index to the little finger and phalanges from the palm to the tip,
// by more than they do there, and every third hand has swollen middle knuckles.
func bones(d dice) handrender.Shape {
	palm := d.between(-.14, .14)
	s := handrender.Shape{
		Size:       d.between(-.14, .14),
		PalmLength: palm, PalmWidth: -.5*palm + d.between(-.08, .08), PalmDepth: d.between(-.14, .14),
		JointBulk: d.between(0, .16), ForearmWidth: d.between(-.15, .15),
	}
	long, slope := d.between(-.1, .1), d.between(-.06, .06)
	thick, slim := d.between(-.13, .15), d.between(-.05, .05)
	proximal, middle := d.between(-.09, .09), d.between(-.09, .09)
	for f := range s.FingerLength {
		along := (float64(f) - 2.5) / 1.5
		s.FingerLength[f], s.FingerThickness[f] = long+slope*along, thick+slim*along
		s.Phalanx[f] = [3]float64{proximal, middle, -(proximal + middle) / 2}
	}
	if d.chance(1. / 3) {
		for _, f := range hand.Fingers {
			s.Swelling[hand.JointOf(f, hand.PIP)] = d.between(0, .3)
		}
	}
	return s
}

// tinted is a skin without its tone.
func tinted(d dice) handrender.Skin {
	return handrender.Skin{
		Palm: d.between(.2, 1.5), Redness: d.between(.2, 1.8), Mottle: d.between(.3, 1.8), Creases: d.between(.3, 1.8),
		Nails: d.between(.3, 1.2), Gloss: d.between(.3, 1.8), Grain: d.between(.2, 1.8), Veins: d.between(.1, 1.8),
		Seed: d.Uint32(),
	}
}

// paint is the colour of a wall or a cloth: some grey with some colour in it.
func (d dice) paint() handrender.RGB {
	grey, much := d.between(.12, .85), d.between(0, .3)
	tint := func() float64 { return clamp(grey+much*d.between(-1, 1), .02, .98) }
	return handrender.RGB{R: tint(), G: tint(), B: tint()}
}

// home is a room, a camera and a light such as a client may have; the pose, the
// view and the object are left to the caller.
func (s *shape) home(d dice) handrender.Scene {
	return handrender.Scene{
		Hand: s.mesh.Hand, Shape: s.bones, Skin: s.skin, Side: s.side,
		View:   handrender.View{Pitch: clamp(d.about(0, 9), -20, 20), Roll: d.between(-25, 25)},
		Camera: handrender.Camera{Distance: d.between(.32, .5), HFOV: d.between(54, 70), OffsetX: d.between(-.1, .1), OffsetY: d.between(-.08, .08)},
		Light: handrender.Light{
			Azimuth: d.between(-130, 130), Elevation: d.between(5, 65), Key: d.between(.5, 1.3), Fill: d.between(.3, 1.3), Ambient: d.between(.6, 1.5),
			FillAzimuth: d.between(-120, 120), FillElevation: d.between(-20, 50), Shadow: d.between(.5, 1),
		},
		Background: handrender.Background{
			Kind: pick(d, []handrender.BackgroundKind{handrender.Clutter, handrender.Clutter, handrender.Gradient, handrender.Plain}),
			Seed: d.Uint32(), Colour: d.paint(),
		},
		Sleeve: handrender.Sleeve{On: d.chance(.5), Start: d.between(.01, .1), Fabric: handrender.Fabric{
			Colour: d.paint(), Seed: d.Uint32()}},
		Effects: handrender.Effects{Exposure: clamp(d.about(0, .3), -.8, .8), Blur: d.between(0, .8), Noise: d.between(1, 5), NoiseSeed: d.Uint32()},
	}
}

// A hand comes before the camera with its palm and turns to the side, so that
// the program knows whose hand it is: lead lists the shares of the turn, a
// picture every leadStep.
var lead = [...]float64{0, 0, .25, .5, .75, 1}

const leadStep = 100 * time.Millisecond

// tremble moves a hand that is held still a little, as hands do, and renews the
// camera's noise. The amounts are chosen by eye.
func tremble(still handrender.Scene, d dice, picture int) handrender.Scene {
	s := still
	s.View.Yaw, s.View.Pitch, s.View.Roll = d.about(s.View.Yaw, .6), d.about(s.View.Pitch, .6), d.about(s.View.Roll, .4)
	s.Camera.OffsetX, s.Camera.OffsetY = d.about(s.Camera.OffsetX, .002), d.about(s.Camera.OffsetY, .002)
	s.Effects.NoiseSeed += uint32(picture)
	return s
}

// personal makes a pose of the catalogue that of one person: all joints bend a
// share more or less, each finger and each joint a little for itself.
func personal(p handrender.Pose, d dice, share float64) handrender.Pose {
	a := p.Flexion()
	for _, f := range hand.Fingers {
		own := d.about(0, .05)
		for k := hand.MCP; k <= hand.DIP; k++ {
			j := hand.JointOf(f, k)
			a[j] = a[j]*(share+own) + d.about(0, 3)
		}
	}
	a[hand.ThumbMP] += d.about(0, 5)
	a[hand.ThumbIP] += d.about(0, 5)
	return p.WithFlexion(a)
}
