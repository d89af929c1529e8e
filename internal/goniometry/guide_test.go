package goniometry

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
)

// unjudgedAt is a sample in which one joint is not judged, for a reason.
func unjudgedAt(side hand.Side, v hand.View, j hand.Joint, why, past hand.Reason) hand.Sample {
	s := hand.Sample{Found: true, Side: side, View: v}
	for k := range s.Joints {
		s.Joints[k] = hand.Measurement{Judged: true, ExtensionJudged: true}
	}
	s.Joints[j] = hand.Measurement{Judged: why == "", Why: why, ExtensionJudged: past == "", ExtensionWhy: past}
	return s
}

// The turns follow from the bounds of the side view, 55 to 125 degrees, and a
// margin of 10.
func TestGuideTurns(t *testing.T) {
	for _, c := range []struct {
		name  string
		side  hand.Side
		yaw   float64
		joint hand.Joint
		turn  float64
		words string
	}{
		{"palm, index", hand.Right, 0, hand.IndexPIP, 65, "turn your thumb towards the camera, about 65°; easiest with the fingers pointing to your left and the palm up"},
		{"palm, index, left hand", hand.Left, 0, hand.IndexPIP, 65, "turn your thumb towards the camera, about 65°; easiest with the fingers pointing to your right and the palm up"},
		{"palm, side unknown", hand.UnknownSide, 10, hand.IndexDIP, 55, "turn your thumb towards the camera, about 55°"},
		{"back, index", hand.Right, 180, hand.IndexPIP, -65, "turn your thumb towards the camera, about 65°; easiest with the fingers pointing to your left and the palm up"},
		{"back, past the half turn", hand.Left, -170, hand.IndexPIP, -75, "turn your thumb towards the camera, about 75°; easiest with the fingers pointing to your right and the palm up"},
		{"ulnar, index", hand.Right, -80, hand.MiddlePIP, 145, "turn your thumb towards the camera, about 145°; easiest with the fingers pointing to your left and the palm up"},
		{"oblique, middle", hand.Right, 45, hand.MiddlePIP, 20, "turn your thumb towards the camera, about 20°; easiest with the fingers pointing to your left and the palm up"},
		{"palm, little", hand.Right, 0, hand.LittlePIP, -65, "turn your little finger towards the camera, about 65°; easiest with the fingers pointing to your left and the palm down"},
		{"palm, ring, left hand", hand.Left, 20, hand.RingDIP, -85, "turn your little finger towards the camera, about 85°; easiest with the fingers pointing to your right and the palm down"},
		{"back, little", hand.Left, 179, hand.LittleMCP, 66, "turn your little finger towards the camera, about 66°; easiest with the fingers pointing to your right and the palm down"},
		{"radial, thumb", hand.Right, 90, hand.ThumbIP, -70, "turn your palm towards the camera, about 70°"},
		{"ulnar, thumb", hand.Left, -60, hand.ThumbMP, 40, "turn your palm towards the camera, about 40°"},
	} {
		t.Run(c.name, func(t *testing.T) {
			g := Guide(unjudgedAt(c.side, hand.View{YawDeg: c.yaw}, c.joint, "", hand.WrongView), c.joint, true)
			require.InDelta(t, c.turn, g.TurnDeg, 1e-9)
			require.Equal(t, c.words, g.Words)
			require.Empty(t, Guide(unjudgedAt(c.side, hand.View{YawDeg: c.yaw}, c.joint, "", hand.WrongView), c.joint, false).Words, "its flexion is judged")
		})
	}
}

func TestGuideReasons(t *testing.T) {
	side, palm := hand.View{YawDeg: 90}, hand.View{YawDeg: 5}
	for _, c := range []struct {
		name      string
		view      hand.View
		joint     hand.Joint
		why, past hand.Reason
		extension bool
		turn      float64
		words     string
	}{
		{"small", side, hand.IndexPIP, hand.TooSmall, hand.TooSmall, true, 0, "move your hand closer to the camera"},
		{"dark", side, hand.IndexPIP, hand.TooDark, hand.TooDark, false, 0, "put more light on your hand"},
		{"fast", side, hand.IndexPIP, "", hand.TooFast, true, 0, "move more slowly"},
		{"steep", hand.View{YawDeg: 90, PitchDeg: -50}, hand.IndexPIP, "", hand.WrongView, true, 0, "let your fingers point across the picture, not at the camera"},
		{"very steep", hand.View{PitchDeg: 70}, hand.IndexPIP, hand.WrongView, hand.WrongView, false, 0, "let your fingers point across the picture, not at the camera"},
		{"middle behind index", side, hand.MiddlePIP, hand.Hidden, hand.Hidden, true, 0, "bend your index finger out of the way, so that the middle finger is seen from the side"},
		{"ring behind little", hand.View{YawDeg: -90}, hand.RingPIP, hand.Hidden, hand.Hidden, true, 0, "bend your little finger out of the way, so that the ring finger is seen from the side"},
		{"index behind something", side, hand.IndexPIP, hand.Hidden, hand.Hidden, true, 0, "take away what is before your index finger"},
		{"unsure", side, hand.IndexPIP, hand.Unsure, hand.Unsure, true, 0, "hold your hand still, with nothing before it"},
		{"unsure of flexion", palm, hand.IndexPIP, hand.Unsure, hand.Unsure, false, 0, "hold your hand still, with nothing before it"},
		{"flexion hidden, thumb side", side, hand.RingPIP, hand.Hidden, hand.Hidden, false, -55, "turn your palm towards the camera, about 55°"},
		{"flexion hidden, past the side", hand.View{YawDeg: 100}, hand.RingPIP, hand.Hidden, hand.Hidden, false, 45, "turn the back of your hand towards the camera, about 45°"},
		{"flexion hidden from the palm", palm, hand.RingPIP, hand.Hidden, hand.Hidden, false, 0, "take away what is before your ring finger"},
		{"thumb hidden from the palm", palm, hand.ThumbIP, hand.Hidden, hand.Hidden, true, 0, "take away what is before your thumb"},
	} {
		t.Run(c.name, func(t *testing.T) {
			g := Guide(unjudgedAt(hand.Right, c.view, c.joint, c.why, c.past), c.joint, c.extension)
			require.InDelta(t, c.turn, g.TurnDeg, 1e-9)
			require.Equal(t, c.words, g.Words)
		})
	}
	// A folded finger hides itself.
	for _, c := range []struct {
		yaw, turn float64
		words     string
	}{
		{170, -135, "turn your palm towards the camera, about 135°"},
		{0, 0, "turn your hand a little to either side, so that your ring finger is seen"},
	} {
		s := unjudgedAt(hand.Left, hand.View{YawDeg: c.yaw}, hand.RingDIP, hand.Hidden, hand.Hidden)
		s.Joints[hand.RingMCP].RawDeg, s.Joints[hand.RingPIP].RawDeg = 70, 90
		g := Guide(s, hand.RingDIP, false)
		require.InDelta(t, c.turn, g.TurnDeg, 1e-9)
		require.Equal(t, c.words, g.Words)
	}
	require.Equal(t, "hold your whole hand before the camera", Guide(New(Options{}).Lost(0), hand.IndexPIP, false).Words)
	require.Zero(t, Guide(unjudgedAt(hand.Right, side, hand.RingPIP, "", ""), hand.RingPIP, true))
	require.Zero(t, Guide(hand.Sample{Found: true}, hand.Joint(-1), true))
}

// Whatever the view, following the turn ends in one that shows the joint.
func TestGuidedTurnEndsInAViewThatShowsTheJoint(t *testing.T) {
	for yaw := -180.0; yaw <= 180; yaw += 5 {
		for j := hand.IndexMCP; j <= hand.LittleDIP; j++ {
			g := Guide(unjudgedAt(hand.Left, hand.View{YawDeg: yaw}, j, "", hand.WrongView), j, true)
			require.LessOrEqual(t, math.Abs(g.TurnDeg), 180.0)
			after := wrap(yaw + g.TurnDeg)
			want := 1.0
			if j.Finger() >= hand.Ring {
				want = -1
			}
			require.GreaterOrEqual(t, want*after, float64(sideFrom)-1e-9, "%v from %v", j, yaw)
			require.LessOrEqual(t, want*after, float64(sideTo)+1e-9, "%v from %v", j, yaw)
		}
	}
}
