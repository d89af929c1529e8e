package landmark

import (
	"encoding/json"
	"image"
	"image/draw"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
	"volar/internal/infer"
)

// referenceFolder holds what the reference pipeline finds in rendered
// pictures; its README has the format.
const referenceFolder = "../../testdata/reference"

type referenceRegion struct{ CX, CY, W, H, Rotation float64 }

type referenceHand struct {
	Label     string
	Landmarks [hand.NumPoints][3]float64
	World     [hand.NumPoints][3]float64
	Region    referenceRegion
}

type referencePicture struct {
	File          string
	Width, Height float64
	Expected      int `json:"expected_hands"`
	Palms         []struct {
		Score  float64
		Box    struct{ X, Y, W, H float64 }
		Points [palmPoints][2]float64
	}
	PalmRegions []referenceRegion `json:"palm_regions"`
	Hands       []referenceHand
	Tracked     []referenceHand
}

func readPNG(t testing.TB, path string) *image.RGBA {
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	m, err := png.Decode(f)
	require.NoError(t, err)
	img := image.NewRGBA(image.Rectangle{Max: m.Bounds().Size()})
	draw.Draw(img, img.Rect, m, m.Bounds().Min, draw.Src)
	return img
}

// realTracker is a Tracker on the real models.
func realTracker(t testing.TB, o Options) *Tracker {
	e, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	tr, err := New(e, o)
	require.NoError(t, err)
	t.Cleanup(func() {
		require.NoError(t, tr.Close())
		require.NoError(t, e.Close())
	})
	return tr
}

// requireRegion compares with a region that the reference gives in parts of
// the picture's sides. The reference's own tests allow 0.02 (MediaPipe,
// hand_detector_graph_test.cc, Apache-2.0).
func requireRegion(t *testing.T, p *referencePicture, want referenceRegion, got hand.Region) {
	t.Helper()
	const tolerance = 0.02
	require.InDelta(t, want.CX, got.CX/p.Width, tolerance)
	require.InDelta(t, want.CY, got.CY/p.Height, tolerance)
	require.InDelta(t, want.W, got.Size/p.Width, tolerance)
	require.InDelta(t, want.H, got.Size/p.Height, tolerance)
	require.InDelta(t, 0, math.Remainder(want.Rotation-got.Rotation, 2*math.Pi), tolerance*math.Pi)
}

// requireHand compares points to 3 % of the hand's size, the tolerance of the
// reference's own tests for the full model, and the side, which the reference
// names as in a mirror.
func requireHand(t *testing.T, p *referencePicture, want *referenceHand, got *reading) (worst float64) {
	t.Helper()
	size := got.next.Size / pointScale
	for i, w := range want.Landmarks {
		g := got.image[i]
		d := math.Hypot(w[0]*p.Width-g.X, w[1]*p.Height-g.Y)
		require.Less(t, d, 0.03*size, "point %d", i)
		require.InDelta(t, w[2]*p.Width, g.Z, 0.06*size, "z of point %d", i)
		worst = max(worst, d/size)
		v := want.World[i]
		require.Less(t, got.world[i].Sub(hand.Point{X: v[0], Y: v[1], Z: v[2]}).Norm(), 0.005, "point %d in space, metres", i)
	}
	wantSide := map[string]hand.Side{"Left": hand.Right, "Right": hand.Left}[want.Label]
	require.Equal(t, wantSide, scoredSide(got.rightScore))
	return worst
}

func TestAgainstReferencePipeline(t *testing.T) {
	data, err := os.ReadFile(filepath.Join(referenceFolder, "pipeline.json"))
	require.NoError(t, err)
	var reference struct{ Pictures []referencePicture }
	require.NoError(t, json.Unmarshal(data, &reference))
	require.NotEmpty(t, reference.Pictures)
	tr := realTracker(t, Options{MaxHands: 2})

	for i := range reference.Pictures {
		p := &reference.Pictures[i]
		t.Run(filepath.Base(p.File), func(t *testing.T) {
			img := readPNG(t, filepath.Join(referenceFolder, p.File))
			w, h := int(p.Width), int(p.Height)
			palms, err := tr.palms.find(img, wholePicture(w, h), tr.options.MinDetection)
			require.NoError(t, err)
			require.Len(t, palms, len(p.Palms))
			for _, want := range p.Palms {
				got := nearestPalm(palms, want.Box.X*p.Width, want.Box.Y*p.Height)
				require.InDelta(t, want.Score, got.score, 0.05)
				require.InDelta(t, want.Box.X, got.x0/p.Width, 0.01)
				require.InDelta(t, want.Box.Y, got.y0/p.Height, 0.01)
				require.InDelta(t, want.Box.W, (got.x1-got.x0)/p.Width, 0.01)
				require.InDelta(t, want.Box.H, (got.y1-got.y0)/p.Height, 0.01)
				for k, q := range want.Points {
					require.InDelta(t, q[0], got.points[k].X/p.Width, 0.01)
					require.InDelta(t, q[1], got.points[k].Y/p.Height, 0.01)
				}
			}
			var found []reading
			for i := range palms {
				r, err := tr.hands.read(img, palmRegion(palms[i]), 0.5)
				require.NoError(t, err)
				if r.presence > 0 {
					found = append(found, r)
				}
			}
			require.Len(t, found, len(p.Hands))
			for i := range p.PalmRegions {
				want := p.PalmRegions[i]
				requireRegion(t, p, want, palmRegion(nearestPalm(palms, p.Palms[i].Box.X*p.Width, p.Palms[i].Box.Y*p.Height)))
			}
			for i := range p.Hands {
				want := &p.Hands[i]
				worst := requireHand(t, p, want, nearestReading(found, want, p))
				t.Logf("worst point off by %.2f %% of the hand", 100*worst)
			}
			var again []reading
			for _, f := range found {
				// The reference lays it around the network's own points.
				r, err := tr.hands.read(img, pointsRegion(&f.image), 0.5)
				require.NoError(t, err)
				again = append(again, r)
			}
			for i := range p.Tracked {
				want := &p.Tracked[i]
				got := nearestReading(again, want, p)
				requireRegion(t, p, want.Region, got.region)
				requireHand(t, p, want, got)
			}

			list, err := tr.Detect(img)
			require.NoError(t, err)
			require.GreaterOrEqual(t, len(list), len(p.Hands), "no fewer than the reference")
			require.LessOrEqual(t, len(list), p.Expected, "none that is not there")
		})
	}
}

func nearestPalm(palms []palm, x, y float64) palm {
	best := palms[0]
	for _, p := range palms[1:] {
		if math.Hypot(p.x0-x, p.y0-y) < math.Hypot(best.x0-x, best.y0-y) {
			best = p
		}
	}
	return best
}

func nearestReading(list []reading, want *referenceHand, p *referencePicture) *reading {
	distance := func(r *reading) float64 {
		return math.Hypot(r.image[0].X-want.Landmarks[0][0]*p.Width, r.image[0].Y-want.Landmarks[0][1]*p.Height)
	}
	best := &list[0]
	for i := range list {
		if distance(&list[i]) < distance(best) {
			best = &list[i]
		}
	}
	return best
}
