package main

import (
	"encoding/gob"
	"errors"
	"fmt"
	"image"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sort"
	"sync"
	"time"

	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/infer"
	"volar/internal/landmark"
)

// record is one rendered hand as the tracker saw it, with the truth.
type record struct {
	Mesh int     // index into the meshes, 0 the built-in one
	Tone float64 // of the skin, 0 very light to 1 very dark
	Seen hand.Observation
	// The truth: angles, yaw of the palm to the line of sight, and which
	// points can be seen.
	FlexionDeg [hand.NumJoints]float64
	YawDeg     float64
	Visible    [hand.NumPoints]bool
}

// picturePixels is the side of the square pictures. At the distances drawn the
// palm is 50 to 130 pixels long, as in a 640 by 480 picture from arm's length.
const picturePixels = 320

// meshes loads the built-in hand and every .glb file in the folder, in the
// order of their names.
func meshes(folder string) ([]*handrender.Hand, error) {
	h, err := handrender.Default()
	if err != nil {
		return nil, err
	}
	out := []*handrender.Hand{h}
	if folder == "" {
		return out, nil
	}
	files, err := filepath.Glob(filepath.Join(folder, "*.glb"))
	if err != nil {
		return nil, fmt.Errorf("meshes in %s: %w", folder, err)
	}
	if len(files) == 0 {
		return nil, fmt.Errorf("meshes: no .glb file in %s", folder)
	}
	sort.Strings(files)
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			return nil, fmt.Errorf("mesh: %w", err)
		}
		if h, err = handrender.Load(b); err != nil {
			return nil, fmt.Errorf("mesh %s: %w", f, err)
		}
		out = append(out, h)
	}
	return out, nil
}

// observe renders n scenes and returns what the tracker made of them, in the
// order of the scenes; those in which it found no hand are left out. Scene i shows mesh pick(i) and depends on seed and i only.
func observe(e infer.Engine, hands []*handrender.Hand, n, workers int, seed uint64, pick func(i int) int, progress func()) ([]record, error) {
	found := make([][]record, n)
	errs := make([]error, workers)
	next := make(chan int)
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			o, err := newObserver(e, hands[0])
			if err == nil {
				defer o.tracker.Close()
			}
			// The channel is drained even after an error, so that the sender
			// never blocks.
			for i := range next {
				if err == nil {
					m := pick(i)
					found[i], err = o.observe(hands[m], m, dice{rand.New(rand.NewPCG(seed, uint64(i)))})
				}
			}
			errs[w] = err
		})
	}
	for i := range n {
		next <- i
		progress()
	}
	close(next)
	wg.Wait()
	var out []record
	for _, f := range found {
		out = append(out, f...)
	}
	return out, errors.Join(errs...)
}

// observer renders and tracks on one goroutine.
type observer struct {
	renderer *handrender.Renderer
	tracker  *landmark.Tracker
	picture  *image.RGBA
	clock    time.Duration
}

func newObserver(e infer.Engine, h *handrender.Hand) (*observer, error) {
	t, err := landmark.New(e, landmark.Options{Threads: 1})
	if err != nil {
		return nil, err
	}
	return &observer{
		renderer: handrender.NewRenderer(h, handrender.Options{Quality: handrender.Draft, Workers: 1}),
		tracker:  t,
		picture:  image.NewRGBA(image.Rect(0, 0, picturePixels, picturePixels)),
	}, nil
}

// observe renders one scene and returns what the tracker sees in the picture
// and in its mirror image, which shows the other hand.
func (o *observer) observe(h *handrender.Hand, mesh int, d dice) ([]record, error) {
	s := scene(d)
	s.Hand = h
	if s.Object.Kind != handrender.NoObject {
		s.Pose = o.renderer.Grip(s)
	}
	truth := o.renderer.Render(o.picture, s)
	var out []record
	for _, side := range [...]hand.Side{s.Side, s.Side.Other()} {
		seen, err := o.follow()
		if err != nil {
			return nil, err
		}
		if len(seen) == 1 {
			// In use the side is known from the program of exercises; what the
			// picture says of it stays in SeenSide.
			seen[0].Side = side
			out = append(out, record{
				Mesh: mesh, Tone: s.Skin.Tone, Seen: seen[0],
				FlexionDeg: truth.FlexionDeg, YawDeg: truth.View.YawDeg, Visible: truth.Visible,
			})
		}
		mirror(o.picture)
	}
	return out, nil
}

// follow looks twice at the picture, so that the second time it is seen through
// the region that tracking lays.
func (o *observer) follow() (seen []hand.Observation, err error) {
	defer o.tracker.Reset()
	for range 2 {
		o.clock += 33 * time.Millisecond
		if seen, err = o.tracker.Track(o.picture, o.clock); err != nil {
			return nil, err
		}
	}
	return seen, nil
}

// mirror turns a picture round, left for right.
func mirror(img *image.RGBA) {
	w := img.Rect.Dx()
	for y := range img.Rect.Dy() {
		row := img.Pix[y*img.Stride:][:4*w]
		for x := range w / 2 {
			for c := range 4 {
				a, b := 4*x+c, 4*(w-1-x)+c
				row[a], row[b] = row[b], row[a]
			}
		}
	}
}

// save and restore keep records, so that a fit can be tried again without
// rendering.
func save(file string, r []record) error {
	f, err := os.Create(file)
	if err != nil {
		return fmt.Errorf("records: %w", err)
	}
	defer f.Close()
	if err := gob.NewEncoder(f).Encode(r); err != nil {
		return fmt.Errorf("records %s: %w", file, err)
	}
	return f.Close()
}

func restore(file string) ([]record, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, fmt.Errorf("records: %w", err)
	}
	defer f.Close()
	var r []record
	if err := gob.NewDecoder(f).Decode(&r); err != nil {
		return nil, fmt.Errorf("records %s: %w", file, err)
	}
	return r, nil
}
