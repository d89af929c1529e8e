package landmark

import (
	"fmt"
	"image"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/infer"
	"volar/models"
)

// These tests run the real models on rendered hands, whose points, side and
// view are known.

func newRenderer(t testing.TB) *handrender.Renderer {
	h, err := handrender.Default()
	require.NoError(t, err)
	return handrender.NewRenderer(h, handrender.Options{Quality: handrender.Draft})
}

// misplaced is the mean distance of the points from the truth in parts of the
// hand's size, which is half the side of its region.
func misplaced(o *hand.Observation, truth *handrender.Truth) float64 {
	var sum float64
	for i := range o.Image {
		sum += math.Hypot(o.Image[i].X-truth.Image[i].X, o.Image[i].Y-truth.Image[i].Y)
	}
	return sum / hand.NumPoints / (pointsRegion(&truth.Image).Size / pointScale)
}

// countedGraph counts the runs of a graph.
type countedGraph struct {
	infer.Graph
	runs int
}

func (g *countedGraph) Run(in, out []infer.Tensor) error {
	g.runs++
	return g.Graph.Run(in, out)
}

// countedTracker is a Tracker on the real models that counts their runs.
func countedTracker(t testing.TB, o Options) (tr *Tracker, palms, hands *countedGraph) {
	e, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	load := func(file func() ([]byte, error)) *countedGraph {
		g, err := loadGraph(e, file, o.Threads)
		require.NoError(t, err)
		return &countedGraph{Graph: g}
	}
	palms, hands = load(models.PalmDetection), load(models.HandLandmark)
	tr, err = newTracker(palms, hands, o)
	require.NoError(t, err)
	t.Cleanup(func() {
		require.NoError(t, tr.Close())
		require.NoError(t, e.Close())
	})
	return tr, palms, hands
}

func TestRenderedHands(t *testing.T) {
	tr := realTracker(t, Options{MaxHands: 2})
	r := newRenderer(t)
	img := image.NewRGBA(image.Rect(0, 0, 480, 360))
	tones := [...]float64{0, 0.35, 0.7, 1}
	distances := [...]float64{0.3, 0.45, 0.8} // metres: large, usual, small
	k := 0
	for _, side := range [...]hand.Side{hand.Left, hand.Right} {
		for _, yaw := range [...]float64{0, 45, 75, 90, 105, 180} {
			for _, pose := range [...]struct {
				name string
				handrender.Pose
			}{{"straight", handrender.Straight()}, {"hook", handrender.Hook()}} {
				tone, distance := tones[k%len(tones)], distances[k%len(distances)]
				k++
				t.Run(fmt.Sprintf("%v/%v/%s/tone %v/%v m", side, yaw, pose.name, tone, distance), func(t *testing.T) {
					s := handrender.Scene{Pose: pose.Pose, Side: side}
					s.View.Yaw, s.Camera.Distance, s.Skin.Tone = yaw, distance, tone
					s.Effects.Noise = 3
					truth := r.Render(img, s)
					list, err := tr.Detect(img)
					require.NoError(t, err)
					require.Len(t, list, 1)
					o := &list[0]
					require.Equal(t, side, o.Side)
					// The model's points lie systematically off the joints'
					// centres by about 5 % of the hand; more is a misreading.
					require.Less(t, misplaced(o, &truth), 0.12)
					require.Greater(t, o.Luma, 0.2)
					require.Greater(t, o.Contrast, 0.02)
				})
			}
		}
	}
}

func TestRenderedMotion(t *testing.T) {
	// A hand closes and opens while it wanders and turns, leaves over the
	// right rim and comes back.
	tr, palms, hands := countedTracker(t, Options{})
	r := newRenderer(t)
	img := image.NewRGBA(image.Rect(0, 0, 320, 240))
	open, fist := handrender.Straight(), handrender.FullFist()
	const seconds, rate = 2, 15
	at := time.Duration(0)
	frame := func(x, closed, yaw float64) ([]hand.Observation, handrender.Truth) {
		s := handrender.Scene{Pose: open.Blend(fist, closed), Side: hand.Right}
		s.View.Yaw, s.Camera.OffsetX = yaw, x
		at += time.Second / rate
		truth := r.Render(img, s)
		list, err := tr.Track(img, at)
		require.NoError(t, err)
		return list, truth
	}
	var worst float64
	for i := range seconds * rate {
		p := float64(i) / (seconds * rate) * 2 * math.Pi
		list, truth := frame(0.2*math.Sin(p), (1-math.Cos(2*p))/2, 30+30*math.Sin(p))
		require.Len(t, list, 1, "frame %d", i)
		require.Equal(t, 1, list[0].Track)
		require.Equal(t, hand.Right, list[0].Side)
		worst = max(worst, misplaced(&list[0], &truth))
	}
	require.Less(t, worst, 0.12)
	require.Equal(t, 1, palms.runs, "no second look for a hand in sight")
	require.Equal(t, seconds*rate, hands.runs)

	for x := 0.0; x < 1; x += 0.1 {
		frame(x, 0, 30)
	}
	list, _ := frame(1, 0, 30)
	require.Empty(t, list, "gone over the rim")
	list, _ = frame(0, 0, 30)
	require.Len(t, list, 1, "found again at once")
	require.Equal(t, 2, list[0].Track)
}

// From the side the network lays the long fingers beside each other where they are
// one behind the other; the points that are drawn lie on them.
func TestShownPointsLieOnTheFingers(t *testing.T) {
	tr := realTracker(t, Options{})
	r := newRenderer(t)
	img := image.NewRGBA(image.Rect(0, 0, 480, 360))
	off := func(p *hand.Points, truth *handrender.Truth) (sum float64) {
		for _, f := range hand.Fingers {
			for i := f.PIP(); i <= f.Tip(); i++ {
				sum += math.Hypot(p[i].X-truth.Image[i].X, p[i].Y-truth.Image[i].Y) / 12
			}
		}
		return sum
	}
	var drawn, measured float64
	var at time.Duration
	for _, yaw := range [...]float64{75, 90, 105} {
		for _, tone := range [...]float64{0.2, 0.8} {
			tr.Reset()
			s := handrender.Scene{Pose: handrender.Straight(), Side: hand.Left}
			s.View.Yaw, s.Skin.Tone, s.Effects.Noise = yaw, tone, 3
			for range 5 {
				truth := r.Render(img, s)
				at += time.Second / 15
				list, err := tr.Track(img, at)
				require.NoError(t, err)
				require.Len(t, list, 1)
				o := &list[0]
				require.Same(t, &o.Shown, o.Drawn())
				require.InDelta(t, o.Image[hand.Wrist].X, o.Shown[hand.Wrist].X, 1, "the network's own")
				drawn += off(o.Drawn(), &truth) / 30
				measured += off(&o.Image, &truth) / 30
			}
		}
	}
	t.Logf("long fingers off by %.1f pixels as drawn, %.1f as measured", drawn, measured)
	require.Less(t, drawn, 0.7*measured)
	var plain hand.Observation
	require.Same(t, &plain.Image, plain.Drawn(), "where nothing else is known")
}

// BenchmarkTrack follows one hand in a camera's picture: cropping, landmark
// model and decoding. The ratio shows how often 30 pictures a second fit.
func BenchmarkTrack(b *testing.B) {
	tr := realTracker(b, Options{})
	img := image.NewRGBA(image.Rect(0, 0, 640, 480))
	newRenderer(b).Render(img, handrender.Scene{View: handrender.View{Yaw: 60}})
	at := time.Duration(0)
	_, err := tr.Track(img, at)
	require.NoError(b, err)
	b.ReportAllocs()
	for b.Loop() {
		at += frameTime
		if list, err := tr.Track(img, at); err != nil || len(list) != 1 {
			b.Fatalf("%d hands, error %v", len(list), err)
		}
	}
	b.ReportMetric(float64(frameTime)*float64(b.N)/float64(b.Elapsed()), "x-realtime")
}

// BenchmarkSearch looks for a palm in a camera's picture without a hand.
func BenchmarkSearch(b *testing.B) {
	tr := realTracker(b, Options{})
	img := image.NewRGBA(image.Rect(0, 0, 640, 480))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := tr.Track(img, 0); err != nil {
			b.Fatal(err)
		}
	}
}
