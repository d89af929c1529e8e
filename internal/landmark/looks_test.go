package landmark

import (
	"image"
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
	"volar/internal/infer"
)

// angleOutputs are the outputs of a model that reads angles, for the fake.
func angleOutputs() []infer.Tensor {
	var list []infer.Tensor
	for _, o := range []struct {
		name string
		n    int
	}{{"angles", hand.NumJoints}, {"spreads", hand.NumJoints}, {"normal", 3}, {"axis", 3}, {"visible", hand.NumPoints}, {"bends", 4}} {
		list = append(list, infer.Tensor{Name: o.name, Shape: []int{1, o.n}, Data: make([]float32, o.n)})
	}
	return list
}

func TestDetectJoinsLooks(t *testing.T) {
	// Run 0 finds the hand, run 1 is the reading, runs 2 to 6 are further
	// looks, the last three of them mirrored.
	for _, c := range []struct {
		name    string
		angles  [7]float32
		spreads [7]float32
		blind   []int // runs that see no hand
		deg, sd float64
	}{
		{name: "plain mean", angles: [7]float32{99, 10, 12, 14, 16, 18, 20}, spreads: [7]float32{4, 4, 4, 4, 4, 4, 4}, deg: 15, sd: 4},
		{name: "a look that is unsure counts for less", angles: [7]float32{0, 0, 0, 0, 0, 0, 31}, spreads: [7]float32{5, 5, 5, 5, 5, 5, 25},
			deg: 31 * 0.04 / 1.04, sd: 6 / 1.04},
		{name: "a spread of nothing is taken for one degree", angles: [7]float32{0, 6, 0, 0, 0, 0, 0}, deg: 1},
		{name: "a look without a hand does not count", angles: [7]float32{0, 10, 20, 90, 90, 90, 90}, spreads: [7]float32{4, 4, 4, 4, 4, 4, 4},
			blind: []int{3, 4, 5, 6}, deg: 15, sd: 4},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newScene(t, rightHand())
			s.extra = angleOutputs()
			s.raw = func(out []infer.Tensor) {
				k := s.handRuns - 1
				out[4].Data[3], out[5].Data[3] = c.angles[k], c.spreads[k]
				out[6].Data[0], out[6].Data[2] = 0.6, -0.8
				if k >= 4 { // the model sees the mirror image
					out[6].Data[0] = -0.6
				}
				out[7].Data[1] = -1
				out[8].Data[5] = 0.5
				out[9].Data[2] = 20 + float32(k)
				for _, b := range c.blind {
					if k == b {
						out[1].Data[0] = 0
					}
				}
			}
			list, err := s.tracker(Options{}).Detect(mapPicture())
			require.NoError(t, err)
			require.Len(t, list, 1)
			require.Equal(t, 7, s.handRuns)
			a := list[0].Angles
			require.InDelta(t, c.deg, a.FlexionDeg[3], 1e-6)
			require.InDelta(t, c.sd, a.SpreadDeg[3], 1e-6)
			require.InDelta(t, 0.5, a.Visible[5], 1e-9)
			if c.blind == nil {
				require.InDelta(t, 23.5, a.BendDeg[2], 1e-6)
				// Looks turned to both sides cancel, mirrored ones are turned back.
				sin, cos := math.Sincos(list[0].Region.Rotation)
				require.InDelta(t, 0.6*cos, a.Normal.X, 0.01)
				require.InDelta(t, 0.6*sin, a.Normal.Y, 0.01)
				require.InDelta(t, sin, a.Axis.X, 0.01)
			}
		})
	}
}

func TestDetectWithoutAnglesLooksNoFurther(t *testing.T) {
	s := newScene(t, rightHand())
	_, err := s.tracker(Options{}).Detect(mapPicture())
	require.NoError(t, err)
	require.Equal(t, 2, s.handRuns)
}

func TestMirror(t *testing.T) {
	crop := []float32{1, 2, 3, 4, 5, 6}
	mirror(crop, 3)
	require.Equal(t, []float32{3, 2, 1, 6, 5, 4}, crop)
	mirror(crop, 2)
	require.Equal(t, []float32{2, 3, 6, 1, 4, 5}, crop)
}

// A hand and its mirror image have the same angles; only the sides change
// places. The looks include both, so that the real model, which knows no such
// law, must obey it but for where the palm detector draws its box.
func TestMirroredPictureHasSameAngles(t *testing.T) {
	tr := realTracker(t, Options{})
	for _, name := range []string{"open-left-palm.png", "tabletop-right-radial.png", "hook-left-radial.png"} {
		img := readPNG(t, filepath.Join(referenceFolder, "pictures", name))
		turned := image.NewRGBA(img.Rect)
		for y := range img.Rect.Dy() {
			for x := range img.Rect.Dx() {
				turned.SetRGBA(img.Rect.Dx()-1-x, y, img.RGBAAt(x, y))
			}
		}
		a, err := tr.Detect(img)
		require.NoError(t, err)
		b, err := tr.Detect(turned)
		require.NoError(t, err)
		require.Len(t, a, 1, name)
		require.Len(t, b, 1, name)
		require.Equal(t, a[0].Side, b[0].Side.Other(), name)
		worst := 0.0
		for j, v := range a[0].Angles.FlexionDeg {
			worst = max(worst, math.Abs(v-b[0].Angles.FlexionDeg[j]))
		}
		t.Logf("%s: angles differ by up to %.1f degrees", name, worst)
		require.Less(t, worst, 4.0, name)
		require.InDelta(t, a[0].Angles.Normal.X, -b[0].Angles.Normal.X, 0.1, name)
		require.InDelta(t, a[0].Angles.Axis.Y, b[0].Angles.Axis.Y, 0.1, name)
	}
}
