// Command make-demo renders the clip that the program carries for its demo,
// and writes down what it shows. It takes a minute; run it again when the
// renderer or the movement has changed.
//
//	go run ./scripts/make-demo
package main

import (
	"encoding/json"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"time"

	"volar/internal/camera"
	"volar/internal/demonstration"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/handrender"
)

const (
	folder = "cmd/volar/demo"
	fps    = 15
	hold   = 2 * time.Second
)

func main() {
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "make-demo:", err)
		os.Exit(1)
	}
}

func run() error {
	m, err := exercise.Find("whole-hand-grip")
	if err != nil {
		return err
	}
	// The towel is left out of the picture so that every finger can be seen;
	// a lax index finger gives way as the hand opens for the second time.
	p, err := demonstration.New(demonstration.Plan{Movement: m, Repetitions: 3, Hold: hold,
		Faults: []demonstration.Fault{{Kind: demonstration.PastStraight, Repetition: 1, Joints: []hand.Joint{hand.IndexPIP}, Deg: 18, Start: 100 * time.Millisecond, Duration: 900 * time.Millisecond}}})
	if err != nil {
		return err
	}
	h, err := handrender.Default()
	if err != nil {
		return err
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	w, err := camera.NewVideoWriter(filepath.Join(folder, "clip.avi"), 640, 480, fps)
	if err != nil {
		return err
	}
	defer w.Abort()
	r := handrender.NewRenderer(h, handrender.Options{})
	img := image.NewRGBA(image.Rect(0, 0, 640, 480))
	for i := 0; ; i++ {
		at := time.Duration(i) * time.Second / fps
		if at >= p.Duration {
			break
		}
		// The hand stands right of the middle, to leave room for the text that
		// the annotated clip carries; the turn makes up for the slanted look.
		r.Render(img, handrender.Scene{
			Pose:       p.PoseAt(at),
			View:       handrender.View{Yaw: m.View.Best.YawDeg + 8},
			Side:       hand.Right,
			Skin:       handrender.Skin{Tone: 0.35},
			Sleeve:     handrender.Sleeve{On: true, Start: 0.03, Fabric: handrender.Fabric{Colour: handrender.RGB{R: 0.30, G: 0.38, B: 0.42}}},
			Camera:     handrender.Camera{Distance: 0.36, OffsetX: 0.16, OffsetY: 0.08},
			Background: handrender.Background{Kind: handrender.Gradient},
		})
		if err := w.Write(img); err != nil {
			return err
		}
	}
	if err := w.Close(); err != nil {
		return err
	}
	truth, err := json.MarshalIndent(map[string]any{"Exercise": m.ID, "Side": "right", "Hold": hold, "Performance": p}, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(folder, "truth.json"), append(truth, '\n'), 0o644)
}
