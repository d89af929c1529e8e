// Command pictures renders the stills of testdata/reference: hands in various
// poses, views, sides, skins and places, two pictures with two hands and one
// without any.
//
//	go run ./scripts/capture-reference/pictures DIR
//
// It also writes DIR/pictures.json, the list that the capture page reads. All
// pictures are renderings of a hand model; nobody was photographed.
package main

import (
	"encoding/json"
	"fmt"
	"image"
	xdraw "image/draw"
	"image/png"
	"os"
	"path/filepath"

	"volar/internal/hand"
	"volar/internal/handrender"
)

const width, height = 640, 480

// still is one picture: the hands in it, drawn one over the other.
type still struct {
	name   string
	scenes []handrender.Scene
}

func stills() []still {
	clutter := func(seed uint32) handrender.Background {
		return handrender.Background{Kind: handrender.Clutter, Seed: seed}
	}
	wall := handrender.Background{Kind: handrender.Gradient}
	sleeve := handrender.Sleeve{On: true}
	one := func(name string, s handrender.Scene) still { return still{name, []handrender.Scene{s}} }
	tone := func(t float64) handrender.Skin { return handrender.Skin{Tone: t} }
	view := func(yaw, pitch, roll float64) handrender.View {
		return handrender.View{Yaw: yaw, Pitch: pitch, Roll: roll}
	}
	at := func(distance, x, y float64) handrender.Camera {
		return handrender.Camera{Distance: distance, OffsetX: x, OffsetY: y}
	}
	return []still{
		one("open-right-palm", handrender.Scene{Pose: handrender.Straight(), Side: hand.Right, Skin: tone(0.15), Background: wall}),
		one("open-left-palm", handrender.Scene{Pose: handrender.Straight(), Side: hand.Left, View: view(10, 5, -15), Skin: tone(0.8), Background: clutter(3), Sleeve: sleeve}),
		one("open-right-radial", handrender.Scene{Pose: handrender.Straight(), Side: hand.Right, View: view(85, 0, 5), Skin: tone(0.35), Background: wall, Sleeve: sleeve}),
		one("hyperextended-right-radial", handrender.Scene{Pose: handrender.Hyperextended(18), Side: hand.Right, View: view(80, 0, 0), Skin: tone(0.55), Background: clutter(7)}),
		one("hyperextended-left-radial", handrender.Scene{Pose: handrender.Hyperextended(12), Side: hand.Left, View: view(75, 5, 10), Skin: tone(0.1), Background: wall}),
		one("hook-right-oblique", handrender.Scene{Pose: handrender.Hook(), Side: hand.Right, View: view(45, 0, 0), Skin: tone(0.25), Background: wall, Sleeve: sleeve}),
		one("hook-left-radial", handrender.Scene{Pose: handrender.Hook(), Side: hand.Left, View: view(90, 0, -10), Skin: tone(0.7), Background: clutter(11)}),
		one("fist-right-palm", handrender.Scene{Pose: handrender.FullFist(), Side: hand.Right, View: view(15, 0, 0), Skin: tone(0.4), Background: wall}),
		one("fist-left-back", handrender.Scene{Pose: handrender.FullFist(), Side: hand.Left, View: view(150, 0, 0), Skin: tone(0.6), Background: wall, Sleeve: sleeve}),
		one("tabletop-right-radial", handrender.Scene{Pose: handrender.Tabletop(), Side: hand.Right, View: view(70, 0, 0), Skin: tone(0.2), Background: clutter(19)}),
		one("straight-fist-left-oblique", handrender.Scene{Pose: handrender.StraightFist(), Side: hand.Left, View: view(50, 0, 0), Skin: tone(0.9), Background: wall}),
		one("relaxed-right-turned", handrender.Scene{Pose: handrender.Relaxed(), Side: hand.Right, View: view(30, 0, 75), Skin: tone(0.3), Background: wall, Sleeve: sleeve}),
		one("relaxed-left-ulnar", handrender.Scene{Pose: handrender.Relaxed(), Side: hand.Left, View: view(-55, 0, -35), Skin: tone(0.45), Background: wall}),
		one("pinch-right-oblique", handrender.Scene{Pose: handrender.Pinch(), Side: hand.Right, View: view(60, 5, 0), Skin: tone(0.5), Background: clutter(23)}),
		one("relaxed-right-far", handrender.Scene{Pose: handrender.Relaxed(), Side: hand.Right, View: view(20, 0, 0), Camera: at(0.85, 0.22, -0.15), Skin: tone(0.3), Background: wall, Sleeve: sleeve}),
		one("open-left-edge", handrender.Scene{Pose: handrender.Straight(), Side: hand.Left, View: view(160, 0, 0), Camera: at(0.45, -0.3, 0.05), Skin: tone(0.65), Background: wall}),
		{"pair-palm", []handrender.Scene{
			{Pose: handrender.Straight(), Side: hand.Right, Camera: at(0.55, -0.24, 0), Skin: tone(0.3), Background: wall},
			{Pose: handrender.Relaxed(), Side: hand.Left, View: view(15, 0, 0), Camera: at(0.55, 0.24, 0), Skin: tone(0.3)},
		}},
		{"pair-mixed", []handrender.Scene{
			{Pose: handrender.Hook(), Side: hand.Left, View: view(60, 0, -10), Camera: at(0.6, -0.22, 0.08), Skin: tone(0.75), Background: clutter(29)},
			{Pose: handrender.Straight(), Side: hand.Right, View: view(170, 0, 20), Camera: at(0.7, 0.25, -0.05), Skin: tone(0.75)},
		}},
		{"nobody", []handrender.Scene{
			{Pose: handrender.Straight(), Camera: at(0.5, 5, 5), Background: clutter(31)},
		}},
	}
}

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: pictures DIR")
		os.Exit(2)
	}
	if err := run(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, "pictures:", err)
		os.Exit(1)
	}
}

// entry is a line of the list.
type entry struct {
	File          string `json:"file"`
	Width         int    `json:"width"`
	Height        int    `json:"height"`
	ExpectedHands int    `json:"expected_hands"`
}

func run(dir string) error {
	h, err := handrender.Default()
	if err != nil {
		return err
	}
	r := handrender.NewRenderer(h, handrender.Options{Quality: handrender.High})
	if err := os.MkdirAll(filepath.Join(dir, "pictures"), 0o755); err != nil {
		return err
	}
	var list []entry
	for _, s := range stills() {
		img, hands := draw(r, s)
		e := entry{File: "pictures/" + s.name + ".png", Width: width, Height: height, ExpectedHands: hands}
		if err := save(filepath.Join(dir, e.File), img); err != nil {
			return err
		}
		list = append(list, e)
	}
	b, err := json.MarshalIndent(list, "", " ")
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, "pictures.json"), append(b, '\n'), 0o644)
}

// draw renders the hands of a still, the later ones over the earlier ones, and
// counts those that stand in the picture.
func draw(r *handrender.Renderer, s still) (*image.RGBA, int) {
	img := image.NewRGBA(image.Rect(0, 0, width, height))
	hands := 0
	for i, scene := range s.scenes {
		var t handrender.Truth
		if i == 0 {
			t = r.Render(img, scene)
		} else {
			// The whole picture as a crop: a square, transparent around the hand.
			square := image.NewRGBA(image.Rect(0, 0, width, width))
			r.RenderCrop(square, scene, handrender.Crop{Width: width, Height: height,
				Region: hand.Region{CX: width / 2, CY: height / 2, Size: width}})
			xdraw.Draw(img, img.Rect, square, image.Pt(0, (width-height)/2), xdraw.Over)
			t = r.Locate(scene, width, height)
		}
		if p := t.Image[hand.Middle.MCP()]; p.X >= 0 && p.X < width && p.Y >= 0 && p.Y < height {
			hands++
		}
	}
	return img, hands
}

func save(path string, img image.Image) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	enc := png.Encoder{CompressionLevel: png.BestCompression}
	if err := enc.Encode(f, img); err != nil {
		f.Close()
		return fmt.Errorf("write %s: %w", path, err)
	}
	return f.Close()
}
