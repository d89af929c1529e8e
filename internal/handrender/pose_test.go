package handrender

import (
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/hand"
)

const degree = math.Pi / 180

func anyPose(t *rapid.T) Pose {
	deg := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
	var p Pose
	for i := range p.Fingers {
		p.Fingers[i] = FingerPose{MCP: deg("mcp", -40, 100), Abduction: deg("abduction", -20, 25), PIP: deg("pip", -30, 120), DIP: deg("dip", -20, 90)}
	}
	p.Thumb = ThumbPose{Palmar: deg("palmar", -5, 70), Radial: deg("radial", -10, 60), Roll: deg("roll", -30, 30), MP: deg("mp", -30, 70), IP: deg("ip", -30, 85)}
	p.Wrist = WristPose{Flexion: deg("wrist", -70, 70), Deviation: deg("deviation", -30, 30)}
	return p
}

func anyShape(t *rapid.T) Shape {
	share := rapid.Float64Range(-0.2, 0.25)
	s := Shape{Size: share.Draw(t, "size"), PalmWidth: share.Draw(t, "width"), PalmLength: share.Draw(t, "length"), JointBulk: share.Draw(t, "bulk")}
	for d := range s.FingerLength {
		s.FingerLength[d], s.FingerThickness[d] = share.Draw(t, "long"), share.Draw(t, "thick")
		s.Phalanx[d][1] = share.Draw(t, "phalanx")
	}
	return s
}

// signed is the bend from direction a to b in degrees, positive where it turns
// about the given axis.
func signed(a, b, axis hand.Point) float64 {
	c := a.Cross(b)
	deg := math.Atan2(c.Norm(), a.Dot(b)) / degree
	return math.Copysign(deg, c.Dot(axis))
}

// TestAnglesAreExact computes every joint angle again from the landmarks in
// camera axes and compares it with the pose, for any pose, view, shape and
// side. Abduction and MCP flexion are taken apart by their definition; the
// flexion axis of a finger points to the thumb side of a right hand.
func TestAnglesAreExact(t *testing.T) {
	left, err := os.ReadFile("testdata/left.glb")
	require.NoError(t, err)
	other, err := Load(left)
	require.NoError(t, err)
	hands := []*Hand{defaultHand(t), other}
	r := NewRenderer(hands[0], Options{})
	rapid.Check(t, func(t *rapid.T) {
		s := Scene{
			Hand: rapid.SampledFrom(hands).Draw(t, "hand"), Pose: anyPose(t), Shape: anyShape(t),
			Side: rapid.SampledFrom([]hand.Side{hand.Left, hand.Right}).Draw(t, "side"),
			View: View{rapid.Float64Range(-180, 180).Draw(t, "yaw"), rapid.Float64Range(-60, 60).Draw(t, "pitch"), rapid.Float64Range(-180, 180).Draw(t, "roll")},
		}
		truth := r.Locate(s, 640, 480)
		w := truth.World
		bone := func(f hand.Finger, k int) hand.Point {
			i := 1 + 4*int(f) + k
			return w[i+1].Sub(w[i])
		}
		mirror := 1.0
		if s.Side == hand.Left {
			mirror = -1
		}
		// A mirror turns the sense of every rotation.
		radial := truth.Axis.Cross(truth.Normal).Scale(mirror)
		for i, f := range hand.Fingers {
			a := s.Pose.Fingers[i]
			lean := math.Sin(a.Abduction*degree) * radialSign(f)
			straight := truth.Axis.Scale(math.Cos(a.Abduction * degree)).Add(radial.Scale(lean))
			flexion := radial.Scale(mirror)
			require.InDelta(t, a.MCP, signed(straight, bone(f, 0), flexion), 1e-6, "%s MCP", f)
			axis := straight.Cross(bone(f, 0))
			if math.Abs(a.MCP) < 5 {
				axis = flexion
			} else {
				axis = axis.Scale(math.Copysign(1, a.MCP))
			}
			require.InDelta(t, a.PIP, signed(bone(f, 0), bone(f, 1), axis), 1e-6, "%s PIP", f)
			require.InDelta(t, a.DIP, signed(bone(f, 1), bone(f, 2), axis), 1e-6, "%s DIP", f)
		}
		bend := func(k int) float64 {
			return math.Atan2(bone(hand.Thumb, k).Cross(bone(hand.Thumb, k+1)).Norm(), bone(hand.Thumb, k).Dot(bone(hand.Thumb, k+1))) / degree
		}
		require.InDelta(t, math.Abs(s.Pose.Thumb.MP), bend(0), 1e-6)
		require.InDelta(t, math.Abs(s.Pose.Thumb.IP), bend(1), 1e-6)
		// Both bends lie in one plane, so their axes agree or are opposite.
		x := bone(hand.Thumb, 0).Cross(bone(hand.Thumb, 1)).Dot(bone(hand.Thumb, 1).Cross(bone(hand.Thumb, 2)))
		if math.Abs(s.Pose.Thumb.MP) > 0.1 && math.Abs(s.Pose.Thumb.IP) > 0.1 {
			require.Equal(t, s.Pose.Thumb.MP*s.Pose.Thumb.IP > 0, x > 0)
		}
		require.Equal(t, s.Pose.Flexion(), truth.FlexionDeg)
	})
}

// TestThumbBendsTowardsThePalm fixes the sign of the thumb's angles, which the
// bends alone leave open.
func TestThumbBendsTowardsThePalm(t *testing.T) {
	r := NewRenderer(defaultHand(t), Options{})
	little := func(mp, ip float64) float64 {
		w := r.Locate(Scene{Pose: Pose{Thumb: ThumbPose{Palmar: 40, Radial: 20, MP: mp, IP: ip}}}, 640, 480).World
		return w[hand.ThumbTip].Sub(w[hand.Little.MCP()]).Norm()
	}
	require.Less(t, little(30, 0), little(0, 0)-0.005)
	require.Less(t, little(0, 30), little(0, 0)-0.002)
	require.Greater(t, little(-20, 0), little(0, 0))
}

// far is a camera without perspective: very far away with a long lens.
var far = Camera{Distance: 400, HFOV: 0.06}

func seen(t Truth, j hand.Joint) float64 {
	a, b, c := j.Triple()
	u, v := t.Image[b].Sub(t.Image[a]), t.Image[c].Sub(t.Image[b])
	u.Z, v.Z = 0, 0
	return math.Atan2(u.Cross(v).Norm(), u.Dot(v)) / degree
}

// TestSeenAngle holds the projection against the closed form for a bend whose
// proximal bone lies in the picture and that is rolled by psi about that bone:
// tan(seen) = tan(true) cos(psi). The numbers are that formula, to a tenth.
func TestSeenAngle(t *testing.T) {
	for _, c := range []struct {
		bend float64
		seen map[float64]float64 // by psi
	}{
		{10, map[float64]float64{10: 9.9, 20: 9.4, 30: 8.7, 45: 7.1, 60: 5.0, 90: 0}},
		{30, map[float64]float64{10: 29.6, 20: 28.5, 30: 26.6, 45: 22.2, 60: 16.1, 90: 0}},
		{60, map[float64]float64{10: 59.6, 20: 58.4, 30: 56.3, 45: 50.8, 60: 40.9, 90: 0}},
	} {
		r := NewRenderer(defaultHand(t), Options{})
		var p Pose
		p.Fingers[1].PIP = c.bend
		for psi, want := range c.seen {
			// The middle finger's flexion plane leans by arch.
			truth := r.Locate(Scene{Pose: p, Camera: far, View: View{Yaw: 90 - psi - arch[1]}}, 640, 480)
			require.InDelta(t, want, seen(truth, hand.MiddlePIP), 0.06, "true %v, psi %v", c.bend, psi)
		}
	}
}

// TestSeenAngleForeshortened leans the whole finger towards the camera by psi:
// tan(seen) = tan(true) / cos(psi), which makes a bend look larger.
func TestSeenAngleForeshortened(t *testing.T) {
	r := NewRenderer(defaultHand(t), Options{})
	for _, c := range []struct{ bend, psi, want float64 }{
		{10, 20, 10.6}, {10, 30, 11.5}, {10, 45, 14.0}, {10, 60, 19.4},
		{30, 20, 31.6}, {30, 30, 33.7}, {30, 45, 39.2}, {30, 60, 49.1},
	} {
		var p Pose
		p.Fingers[1].PIP = c.bend
		truth := r.Locate(Scene{Pose: p, Camera: far, View: View{Yaw: 90 - arch[1], Pitch: c.psi}}, 640, 480)
		require.InDelta(t, c.want, seen(truth, hand.MiddlePIP), 0.06, "true %v, psi %v", c.bend, c.psi)
	}
}

func TestViewConvention(t *testing.T) {
	r := NewRenderer(defaultHand(t), Options{})
	at := func(side hand.Side, v View) Truth { return r.Locate(Scene{Side: side, View: v}, 640, 480) }
	for _, side := range []hand.Side{hand.Left, hand.Right} {
		index, little := hand.Index.MCP(), hand.Little.MCP()
		w := at(side, View{Yaw: 90}).World
		require.Less(t, w[index].Z, w[little].Z-0.04, "%s: yaw 90 has the thumb side nearer", side)
		require.Less(t, w[hand.ThumbMCP].Z, w[index].Z, "%s: and the thumb nearest", side)
		w = at(side, View{Yaw: -90}).World
		require.Greater(t, w[index].Z, w[little].Z+0.04, "%s: yaw -90 has the little finger nearer", side)
		require.InDelta(t, -1, at(side, View{}).Normal.Z, 1e-9, "%s: yaw 0 has the palm to the camera", side)
		require.InDelta(t, 1, at(side, View{Yaw: 180}).Normal.Z, 1e-9, "%s: yaw 180 has the back to the camera", side)
		w = at(side, View{Pitch: 30}).World
		require.Less(t, w[hand.Middle.Tip()].Z, w[hand.Wrist].Z, "%s: positive pitch leans the fingers to the camera", side)
		p := at(side, View{Roll: 90}).Image
		require.Greater(t, p[hand.Middle.Tip()].X, p[hand.Wrist].X+50, "%s: roll 90 points the fingers to the right", side)
		p = at(side, View{}).Image
		require.Less(t, p[hand.Middle.Tip()].Y, p[hand.Wrist].Y-50, "%s: at roll 0 the fingers point up", side)
		for _, yaw := range []float64{0, 45, 75, 90, 105, -90, 170} {
			got := at(side, View{Yaw: yaw, Pitch: 12, Roll: 33}).View
			require.InDelta(t, yaw, got.YawDeg, 1e-6)
			require.InDelta(t, 12, got.PitchDeg, 1e-6)
		}
	}
	// A right palm facing the camera has its thumb on the right of the
	// unmirrored picture.
	require.Greater(t, at(hand.Right, View{}).Image[hand.ThumbTip].X, 330.0)
	require.Less(t, at(hand.Left, View{}).Image[hand.ThumbTip].X, 310.0)
}

// TestLeftIsTheMirrorImage compares all landmarks of both hands.
func TestLeftIsTheMirrorImage(t *testing.T) {
	r := NewRenderer(defaultHand(t), Options{})
	s := Scene{Pose: Pinch(), View: View{Yaw: 50, Pitch: 10, Roll: 20}, Side: hand.Right}
	a := r.Locate(s, 640, 480)
	s.Side, s.View.Roll = hand.Left, -20
	b := r.Locate(s, 640, 480)
	for i := range a.Image {
		require.InDelta(t, 640-a.Image[i].X, b.Image[i].X, 1e-9)
		require.InDelta(t, a.Image[i].Y, b.Image[i].Y, 1e-9)
	}
}

// inFist is the abduction of a full fist as hand.Pose.Couple gives it, degrees.
var inFist = [4]float64{2, 0, 1, 3}

func TestCoupleKeepsFlexion(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyPose(t)
		q := p.Couple()
		require.Equal(t, p.Flexion(), q.Flexion())
		for i, f := range p.Fingers {
			lo, hi := min(f.Abduction, inFist[i]), max(f.Abduction, inFist[i])
			require.GreaterOrEqual(t, q.Fingers[i].Abduction, lo-1e-9)
			require.LessOrEqual(t, q.Fingers[i].Abduction, hi+1e-9)
			switch {
			case f.MCP >= 80:
				require.InDelta(t, inFist[i], q.Fingers[i].Abduction, 1e-9)
			case f.MCP <= 10 && f.PIP <= 30:
				require.InDelta(t, f.Abduction, q.Fingers[i].Abduction, 1e-9)
			}
		}
	})
}

func TestBlendAndFlexionRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, q := anyPose(t), anyPose(t)
		require.Equal(t, p, withRest(Pose{}.WithFlexion(p.Flexion()), p))
		m := p.Blend(q, 0.25).Flexion()
		for j := range m {
			require.InDelta(t, 0.75*p.Flexion()[j]+0.25*q.Flexion()[j], m[j], 1e-9)
		}
	})
}

// withRest takes everything that is not flexion from q.
func withRest(p, q Pose) Pose {
	for i := range p.Fingers {
		p.Fingers[i].Abduction = q.Fingers[i].Abduction
	}
	mp, ip := p.Thumb.MP, p.Thumb.IP
	p.Thumb, p.Wrist = q.Thumb, q.Wrist
	p.Thumb.MP, p.Thumb.IP = mp, ip
	return p
}

// TestShapeScalesBones checks that a share of length is exactly that.
func TestShapeScalesBones(t *testing.T) {
	r := NewRenderer(defaultHand(t), Options{})
	length := func(s Shape, f hand.Finger, k int) float64 {
		w := r.Locate(Scene{Shape: s}, 640, 480).World
		i := 1 + 4*int(f) + k
		return w[i+1].Sub(w[i]).Norm()
	}
	s := Shape{}
	s.FingerLength[hand.Ring], s.Phalanx[hand.Ring][1] = 0.2, 0.1
	require.InDelta(t, 1.2, length(s, hand.Ring, 0)/length(Shape{}, hand.Ring, 0), 1e-9)
	require.InDelta(t, 1.32, length(s, hand.Ring, 1)/length(Shape{}, hand.Ring, 1), 1e-9)
	require.InDelta(t, 1, length(s, hand.Index, 1)/length(Shape{}, hand.Index, 1), 1e-9)
	wide := r.Locate(Scene{Shape: Shape{PalmWidth: 0.25}}, 640, 480).World
	plain := r.Locate(Scene{}, 640, 480).World
	require.InDelta(t, 1.25, (wide[5].X-wide[17].X)/(plain[5].X-plain[17].X), 1e-9)
}
