package handrender

import (
	"image"
	"testing"

	"volar/internal/hand"
)

func defaultHand(tb testing.TB) *Hand {
	tb.Helper()
	h, err := Default()
	if err != nil {
		tb.Fatal(err)
	}
	return h
}

// BenchmarkFrame draws 640 x 480 frames at the usual distance and at the
// nearest at which the whole hand is still in the picture.
func BenchmarkFrame(b *testing.B) {
	for _, c := range []struct {
		name string
		dist float64
		q    Quality
	}{{"usual", 0.42, Normal}, {"near", 0.24, Normal}, {"near-high", 0.24, High}} {
		b.Run(c.name, func(b *testing.B) {
			r := NewRenderer(defaultHand(b), Options{Quality: c.q})
			img := image.NewRGBA(image.Rect(0, 0, 640, 480))
			s := Scene{Pose: Hook(), View: View{Yaw: 60}, Camera: Camera{Distance: c.dist}, Effects: Effects{Noise: 2}}
			i := 0.0
			for b.Loop() {
				i++
				s.Pose.Fingers[0].PIP = 60 + 0.1*i
				s.Effects.NoiseSeed++
				r.Render(img, s)
			}
		})
	}
}

// BenchmarkCrop draws training crops of 224 x 224 pixels on one goroutine, each
// with another shape and skin.
func BenchmarkCrop(b *testing.B) {
	r := NewRenderer(defaultHand(b), Options{Quality: Draft, Workers: 1})
	img := image.NewRGBA(image.Rect(0, 0, 224, 224))
	s := Scene{Pose: Hook(), View: View{Yaw: 60}}
	i := 0
	for b.Loop() {
		i++
		s.Shape.PalmWidth = 0.001 * float64(i%100)
		s.Skin.Seed++
		r.RenderCrop(img, s, Crop{Region: hand.Region{CX: 320, CY: 240, Size: 260, Rotation: 0.3}})
	}
}
