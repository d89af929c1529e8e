package hand

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestJointNamesGoThereAndBack(t *testing.T) {
	seen := map[string]bool{}
	for j := Joint(0); j < NumJoints; j++ {
		name := j.String()
		require.False(t, seen[name], name)
		seen[name] = true
		back, err := ParseJoint(name)
		require.NoError(t, err)
		require.Equal(t, j, back)
		require.Equal(t, j, JointOf(j.Finger(), map[Kind]Kind{MCP: MCP, PIP: PIP, DIP: DIP, IP: IP}[j.Kind()]))
	}
	for _, bad := range []string{"", "index", "index.ip", "thumb.pip", "toe.mcp", "joint(3)"} {
		_, err := ParseJoint(bad)
		require.Error(t, err, bad)
	}
}

// The order of the 21 points is that of the published landmark model (Zhang et
// al. 2020, arXiv 2006.10214): wrist 0, thumb 1-4, index 5-8, and so on.
func TestTriplesFollowThePublishedOrder(t *testing.T) {
	for j, want := range map[Joint][3]int{
		IndexMCP: {0, 5, 6}, IndexPIP: {5, 6, 7}, IndexDIP: {6, 7, 8},
		MiddlePIP: {9, 10, 11}, RingDIP: {14, 15, 16}, LittleMCP: {0, 17, 18}, LittleDIP: {18, 19, 20},
		ThumbMP: {1, 2, 3}, ThumbIP: {2, 3, 4},
	} {
		a, b, c := j.Triple()
		require.Equal(t, want, [3]int{a, b, c}, "%v", j)
	}
	require.Equal(t, []int{4, 8, 12, 16, 20}, []int{Thumb.Tip(), Index.Tip(), Middle.Tip(), Ring.Tip(), Little.Tip()})
}

func TestSides(t *testing.T) {
	for _, s := range []Side{Left, Right} {
		back, err := ParseSide(s.String())
		require.NoError(t, err)
		require.Equal(t, s, back)
		require.Equal(t, s, s.Other().Other())
		require.NotEqual(t, s, s.Other())
	}
	_, err := ParseSide("both")
	require.Error(t, err)
	require.Equal(t, UnknownSide, UnknownSide.Other())
}

func TestViewNames(t *testing.T) {
	for yaw, want := range map[float64]string{
		0: "palmar", -35: "palmar", 45: "oblique palmar-radial", 55: "radial", 90: "radial", 125: "radial",
		130: "oblique dorsal-radial", 180: "dorsal", -180: "dorsal", 540: "dorsal", 450: "radial",
		-45: "oblique palmar-ulnar", -90: "ulnar", -130: "oblique dorsal-ulnar",
	} {
		require.Equal(t, want, View{YawDeg: yaw}.Name(), "yaw %v", yaw)
	}
}
