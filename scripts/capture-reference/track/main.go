// Command track times this project's own tracker on one picture shown again
// and again, as time.mjs beside it times the reference pipeline.
//
//	go run ./scripts/capture-reference/track PICTURE N
//
// It prints one JSON object: the median and the 95th percentile of N tracked
// frames, in milliseconds. Detection, in the first frames, is left out of both.
package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/draw"
	_ "image/png" // the pictures
	"os"
	"slices"
	"strconv"
	"time"

	"volar/internal/infer"
	"volar/internal/landmark"
)

const warm = 20

func main() {
	n := 0
	if len(os.Args) == 3 {
		n, _ = strconv.Atoi(os.Args[2]) // not a number is refused with the rest
	}
	if n < 1 {
		fmt.Fprintln(os.Stderr, "usage: track PICTURE N")
		os.Exit(2)
	}
	if err := run(os.Args[1], n); err != nil {
		fmt.Fprintln(os.Stderr, "track:", err)
		os.Exit(1)
	}
}

func run(path string, n int) (err error) {
	img, err := picture(path)
	if err != nil {
		return err
	}
	e, err := infer.OpenRuntime(infer.RuntimeOptions{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, e.Close()) }()
	t, err := landmark.New(e, landmark.Options{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, t.Close()) }()

	const frame = time.Second / 30
	var ms []float64
	for i := range warm + n {
		begin := time.Now()
		hands, err := t.Track(img, time.Duration(i)*frame)
		if err != nil {
			return err
		}
		if i < warm {
			continue
		}
		ms = append(ms, float64(time.Since(begin))/float64(time.Millisecond))
		if len(hands) != 1 {
			return fmt.Errorf("%s: %d hands in frame %d, want 1", path, len(hands), i)
		}
	}
	slices.Sort(ms)
	quantile := func(q float64) float64 { return ms[min(len(ms)-1, int(q*float64(len(ms))))] }
	return json.NewEncoder(os.Stdout).Encode(map[string]any{
		"frames": n, "median_ms": quantile(0.5), "p95_ms": quantile(0.95),
	})
}

func picture(path string) (*image.RGBA, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	src, _, err := image.Decode(f)
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", path, err)
	}
	img := image.NewRGBA(image.Rect(0, 0, src.Bounds().Dx(), src.Bounds().Dy()))
	draw.Draw(img, img.Rect, src, src.Bounds().Min, draw.Src)
	return img, nil
}
