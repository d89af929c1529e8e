package calibration

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
)

func TestFittedNetworksFitTogether(t *testing.T) {
	require.NoError(t, Fitted.Finger.Check(FeatureCount, 9))
	require.NoError(t, Fitted.Thumb.Check(FeatureCount, 6))
	require.NoError(t, Fitted.View.Check(ViewFeatureCount, ViewOutputs))
}

func TestCheckRefuses(t *testing.T) {
	good := func() Network {
		return Network{
			Mean: []float32{0, 0}, Scale: []float32{1, 1},
			Layers: []Layer{{Weights: []float32{1, 2, 3, 4, 5, 6}, Bias: []float32{0, 0, 0}}, {Weights: []float32{1, 1, 1}, Bias: []float32{0}}},
		}
	}
	n := good()
	require.NoError(t, n.Check(2, 1))
	for name, spoil := range map[string]func(*Network){
		"too few means":    func(n *Network) { n.Mean = n.Mean[:1] },
		"no layers":        func(n *Network) { n.Layers = nil },
		"a missing weight": func(n *Network) { n.Layers[0].Weights = n.Layers[0].Weights[1:] },
		"an empty layer":   func(n *Network) { n.Layers[1] = Layer{} },
		"too many outputs": func(n *Network) { n.Layers = n.Layers[:1] },
		"not a number":     func(n *Network) { n.Layers[1].Bias[0] = float32(math.NaN()) },
		"infinite":         func(n *Network) { n.Scale[0] = float32(math.Inf(1)) },
	} {
		n := good()
		spoil(&n)
		require.Error(t, n.Check(2, 1), name)
	}
}

// Worked by hand: inputs (3, 1) standardised to (1, -0.5); first layer sums
// 0.5 and -1.5 through x·sigmoid(x); last layer 2a - b + 0.25.
func TestRun(t *testing.T) {
	n := Network{
		Mean: []float32{1, 2}, Scale: []float32{0.5, 0.5},
		Layers: []Layer{{Weights: []float32{1, 1, -1, 1}, Bias: []float32{0, 0}}, {Weights: []float32{2, -1}, Bias: []float32{0.25}}},
	}
	silu := func(x float64) float64 { return x / (1 + math.Exp(-x)) }
	var s Scratch
	require.InDelta(t, 2*silu(0.5)-silu(-1.5)+0.25, n.Run([]float64{3, 1}, &s)[0], 1e-12)
	// Inputs are held within bounds: 1e9 counts as InputLimit.
	require.InDelta(t, n.Run([]float64{1 + 2*InputLimit, 1}, &s)[0], n.Run([]float64{1e9, 1}, &s)[0], 1e-12)
}

func TestRead(t *testing.T) {
	out := []float64{1, -0.5, 0, math.Log(0.1), -9, 9, 0, 2, -2}
	r := Read(out, 0)
	require.InDelta(t, 30, r.FlexionDeg, 1e-12)
	require.InDelta(t, 30*0.1*math.Sqrt2, r.SpreadDeg, 1e-12)
	require.InDelta(t, 0.5, r.Visible, 1e-12)
	require.InDelta(t, -15, Read(out, 1).FlexionDeg, 1e-12)
	require.Greater(t, Read(out, 1).SpreadDeg, 0.5, "a stated spread has a floor")
	require.Less(t, Read(out, 2).SpreadDeg, 320.0, "and a ceiling")
	require.InDelta(t, -15, unitDeg*Target(-15), 1e-12)
}

func TestBlended(t *testing.T) {
	for _, c := range []struct{ read, whole, want float64 }{
		{-18, 7, -18}, {0, 12, 0}, {10, 30, 10}, {20, 40, 25}, {30, 60, 45}, {80, 100, 90},
	} {
		require.InDelta(t, c.want, Reading{FlexionDeg: c.read}.Blended(c.whole).FlexionDeg, 1e-12, "%+v", c)
	}
}

func TestRowsOfTheErrorTable(t *testing.T) {
	for deg, want := range map[float64]int{-30: 0, -5.1: 0, -5: 1, 19.9: 1, 20: 2, 50: 3, 80: 4, 130: 4} {
		require.Equal(t, want, RangeOf(deg), "%v", deg)
	}
	for yaw, want := range map[float64]string{
		0: "palmar", -35: "palmar", 36: "oblique palmar", -54: "oblique palmar", 55: "radial", 125: "radial", -55: "ulnar", -125: "ulnar",
		126: "oblique dorsal", -144: "oblique dorsal", 145: "dorsal", 180: "dorsal", -180: "dorsal", 270: "ulnar", 450: "radial",
	} {
		require.Equal(t, want, ViewNames[ViewOf(yaw)], "%v", yaw)
	}
	for j, want := range map[hand.Joint]string{hand.LittleMCP: "mcp", hand.IndexPIP: "pip", hand.RingDIP: "dip", hand.ThumbMP: "thumb.mp", hand.ThumbIP: "thumb.ip"} {
		require.Equal(t, want, LevelNames[LevelOf(j)])
	}
}

// Every cell holds a usable ratio: thin cells lean on their level.
func TestErrorTableIsComplete(t *testing.T) {
	for l := range Errors.Ratio {
		n := 0
		for g := range Errors.Ratio[l] {
			for v, r := range Errors.Ratio[l][g] {
				require.Greater(t, r, float32(0.3), "%s %s %s", LevelNames[l], RangeNames[g], ViewNames[v])
				require.Less(t, r, float32(4), "%s %s %s", LevelNames[l], RangeNames[g], ViewNames[v])
				require.Equal(t, Errors.Count[l][g][v] > 0, Errors.RMSDeg[l][g][v] > 0)
				n += Errors.Count[l][g][v]
			}
		}
		require.Greater(t, n, 200, "%s: measured on too few joints", LevelNames[l])
	}
	for v, y := range Errors.YawDeg {
		require.Greater(t, y, float32(1), "%s", ViewNames[v])
		require.Greater(t, Errors.Yaw[v], float32(0.3), "%s", ViewNames[v])
		require.Less(t, Errors.Yaw[v], float32(4), "%s", ViewNames[v])
	}
}

func TestSE(t *testing.T) {
	var e ErrorTable
	e.Ratio[1][0][2] = 1.5
	require.InDelta(t, 9, e.SE(hand.MiddlePIP, Reading{FlexionDeg: -12, SpreadDeg: 6}, 90), 1e-6)
}

func TestReadYaw(t *testing.T) {
	for _, deg := range []float64{0, 90, -135, 179} {
		w := YawTarget(deg)
		got := ReadYaw(w[:])
		require.InDelta(t, deg, got.Deg, 1e-9)
		require.Less(t, got.SpreadDeg, 4.0)
	}
	// A normal distribution with a standard deviation of 30 degrees wrapped
	// round the circle has a mean vector of length exp(-(30°)²/2) = 0.87190.
	require.InDelta(t, 30, ReadYaw([]float64{0.87190, 0}).SpreadDeg, 0.01)
	require.Greater(t, ReadYaw([]float64{0.1, 0.1}).SpreadDeg, 100.0)
	require.False(t, math.IsNaN(ReadYaw([]float64{0, 0}).Deg))
}
