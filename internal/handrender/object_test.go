package handrender

import (
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
)

// TestGripTouches closes the hand on balls and rolls of several sizes. Every
// finger must touch, and no bone may sink in deeper than the flesh that is
// pressed flat.
func TestGripTouches(t *testing.T) {
	h := defaultHand(t)
	r := NewRenderer(h, Options{})
	last := math.Inf(1)
	for _, o := range []Object{
		{Kind: Ball, Radius: 0.022}, {Kind: Ball}, {Kind: Ball, Radius: 0.038},
		{Kind: Roll, Radius: 0.014}, {Kind: Roll}, {Kind: Roll, Radius: 0.032}, {Kind: Lump},
	} {
		s := Scene{Pose: Straight(), Object: o}
		s.Pose = r.Grip(s)
		h := r.pose(&s)
		so := h.solid(o, &r.posed)
		sum := 0.0
		for i, f := range hand.Fingers {
			a := s.Pose.Fingers[i]
			require.GreaterOrEqual(t, min(a.MCP, a.PIP, a.DIP), 0.0)
			require.LessOrEqual(t, a.PIP, 108.0)
			sum += a.MCP + a.PIP + a.DIP
			gap := math.Inf(1)
			for k := range 3 {
				for x := 0.45; x <= 1; x += 0.05 {
					p := mix(r.posed.joints[chainBone(f, k)], r.posed.joints[chainBone(f, k+1)], x)
					gap = min(gap, so.distance(p)-h.digits[f].flesh[k])
				}
			}
			if o.Kind != Ball || o.Radius != 0.022 || f == hand.Index || f == hand.Middle {
				require.InDelta(t, -0.0008, gap, 0.0015, "%v: gap of the %s", o, f)
			}
		}
		if o.Kind == Ball {
			require.Less(t, sum, last, "a larger ball is gripped with less bend")
			last = sum
		}
	}
	require.Equal(t, Straight(), r.Grip(Scene{Pose: Straight()}), "nothing to grip")
}

// TestRollHeldAtItsEnd asks that a roll ends where it should past the index
// finger, for either hand, and stays on the palm.
func TestRollHeldAtItsEnd(t *testing.T) {
	h := defaultHand(t)
	r := NewRenderer(h, Options{})
	s := Scene{Pose: Straight()}
	r.pose(&s)
	middle := h.solid(Object{Kind: Roll}, &r.posed)
	for _, length := range []float64{0.10, 0.14, 0.30} {
		o := h.solid(Object{Kind: Roll, Length: length, Beyond: 0.01}, &r.posed)
		edge := 0.0
		for i, p := range h.pos {
			if h.inf[i].main == int8(hand.Index) {
				edge = max(edge, p.X)
			}
		}
		require.InDelta(t, edge+0.01, o.centre.X+length/2, 0.006)
		require.Equal(t, middle.centre.Y, o.centre.Y)
		require.Equal(t, middle.centre.Z, o.centre.Z)
	}
}

// TestSharedRollMeets asks that the two halves of a roll that two hands hold are
// one roll in the picture: without a gap from hand to hand, and as thick in the
// middle as it is by its measure.
func TestSharedRollMeets(t *testing.T) {
	r := NewRenderer(defaultHand(t), Options{Quality: Draft})
	one := func(side hand.Side, x float64, o Object) Scene {
		roll := 75.0
		if side == hand.Left {
			roll = -roll
		}
		return Scene{Pose: Straight(), Side: side, Object: o, View: View{Yaw: 100, Roll: roll}, Camera: Camera{Distance: 0.52, OffsetX: x}}
	}
	both := func(o Object) *image.RGBA {
		s, b := one(hand.Right, -0.22, o), one(hand.Left, 0.22, o)
		s.Behind = &b
		img, _ := draw(r, s, 320, 240)
		return img
	}
	without, with := both(Object{}), both(Object{Kind: Roll, Radius: 0.02, Shared: true})
	for x := 130; x <= 190; x += 4 {
		thick := 0
		for y := range 240 {
			if a, b := without.RGBAAt(x, y), with.RGBAAt(x, y); a != b {
				thick++
			}
		}
		// 4 cm at 52 cm, 320 pixels to 62 degrees; the run is nearly level.
		require.InDelta(t, 20.5, float64(thick), 6, "column %d", x)
	}
}

// TestThingsAreDrawn asks of each thing that it changes the picture.
func TestThingsAreDrawn(t *testing.T) {
	r := NewRenderer(defaultHand(t), Options{Quality: Draft})
	base := Scene{Pose: Straight(), View: View{Yaw: 20}}
	plain, _ := draw(r, base, 160, 120)
	change := func(name string, edit func(s *Scene), least int) {
		s := base
		edit(&s)
		img, _ := draw(r, s, 160, 120)
		n := 0
		for i := range img.Pix {
			if absInt(int(img.Pix[i])-int(plain.Pix[i])) > 8 {
				n++
			}
		}
		require.Greater(t, n, least, name)
	}
	change("ball", func(s *Scene) { s.Object.Kind = Ball }, 400)
	change("roll", func(s *Scene) { s.Object.Kind = Roll }, 400)
	change("lump", func(s *Scene) { s.Object.Kind = Lump }, 400)
	change("sheet", func(s *Scene) { s.Object.Kind = Sheet }, 400)
	change("band", func(s *Scene) { s.Object.Kind = Band }, 100)
	change("sleeve", func(s *Scene) { s.Sleeve.On = true }, 400)
	change("splint", func(s *Scene) { s.Worn.Splint = true }, 400)
	change("ring", func(s *Scene) { s.Worn.Rings[hand.Middle] = true }, 12)
	change("tape", func(s *Scene) { s.Worn.Tape[hand.Middle] = true }, 40)
	change("nails", func(s *Scene) { s.View.Yaw = 180 }, 400)
	for _, p := range []Pattern{Stripes, Dots, Weave, Terry} {
		change("pattern", func(s *Scene) { s.Sleeve = Sleeve{On: true, Fabric: Fabric{Pattern: p, Colour: RGB{.8, .2, .2}}} }, 400)
	}
}

// TestOpposeTouches brings the thumb to each finger on hands of several shapes
// and measures the gap between the pads.
func TestOpposeTouches(t *testing.T) {
	h := defaultHand(t)
	r := NewRenderer(h, Options{})
	long := Shape{}
	long.FingerLength = [5]float64{-0.1, 0.1, 0.1, 0.1, 0.1}
	for _, shape := range []Shape{{}, {Size: -0.3}, {PalmWidth: 0.15}, long} {
		for _, f := range hand.Fingers {
			s := Scene{Pose: Relaxed(), Shape: shape}
			s.Pose = r.Oppose(s, f)
			hd := r.pose(&s)
			gap := hd.pad(&r.posed, f).sub(hd.pad(&r.posed, hand.Thumb)).norm()
			require.Less(t, gap, 0.002, "%s, %+v", f, shape)
			for i := range s.Pose.Fingers {
				if hand.Finger(i+1) != f {
					require.Equal(t, Relaxed().Fingers[i], s.Pose.Fingers[i])
				}
			}
		}
	}
	require.Equal(t, Relaxed(), r.Oppose(Scene{Pose: Relaxed()}, hand.Thumb))
}
