// Command crops cuts out of photographs what the landmark network is shown of
// the hand in them, for judging an angle head on photographs outside this
// repository, and for training on weakly labelled ones.
//
//	go run ./scripts/angle-head/crops -out FOLDER 'PATTERN'...
//
// Patterns are as in filepath.Glob and quoted, so that the shell passes them
// on: a very long command line makes ONNX Runtime 1.30 crash as it starts.
// It writes FOLDER/crops.rgb, 224 x 224 pixels of three bytes a picture, row
// by row, and FOLDER/crops.json, one object a picture in the same order: path,
// whether a hand was found, its region, side and landmarks in pixels of the
// picture. A picture without a hand gives a black crop.
package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"

	"volar/internal/camera"
	"volar/internal/hand"
	"volar/internal/infer"
	"volar/internal/landmark"
)

const side = 224

// entry is one line of crops.json.
type entry struct {
	Path      string      `json:"path"`
	Found     bool        `json:"found"`
	Side      string      `json:"side"`
	Presence  float64     `json:"presence"`
	Region    hand.Region `json:"region"`
	Landmarks hand.Points `json:"landmarks"`
	World     hand.Points `json:"world"`
}

func main() {
	out := flag.String("out", "", "folder to write to")
	flag.Parse()
	if err := run(*out, flag.Args()); err != nil {
		fmt.Fprintln(os.Stderr, "crops:", err)
		os.Exit(1)
	}
}

func run(out string, patterns []string) (err error) {
	if out == "" || len(patterns) == 0 {
		return errors.New("name a folder with -out, and at least one pattern of pictures")
	}
	var pictures []string
	for _, p := range patterns {
		found, err := filepath.Glob(p)
		if err != nil {
			return fmt.Errorf("pattern %q: %w", p, err)
		}
		if len(found) == 0 {
			return fmt.Errorf("no file matches %q", p)
		}
		pictures = append(pictures, found...)
	}
	if err := os.MkdirAll(out, 0o755); err != nil {
		return err
	}
	engine, err := infer.OpenRuntime(infer.RuntimeOptions{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, engine.Close()) }()
	tracker, err := landmark.New(engine, landmark.Options{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, tracker.Close()) }()

	f, err := os.Create(filepath.Join(out, "crops.rgb"))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	w := bufio.NewWriter(f)
	entries := make([]entry, 0, len(pictures))
	planes := make([]float32, 3*side*side)
	packed := make([]byte, len(planes))
	for _, path := range pictures {
		e := entry{Path: path}
		img, err := camera.ReadPicture(path)
		if err != nil {
			return err
		}
		found, err := tracker.Detect(img)
		if err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
		clear(packed)
		if len(found) > 0 {
			o := found[0]
			e.Found, e.Side, e.Presence = true, o.Side.String(), o.Presence
			e.Region, e.Landmarks, e.World = o.Region, o.Image, o.World
			if err := landmark.Crop(planes, side, img, o.Region); err != nil {
				return fmt.Errorf("%s: %w", path, err)
			}
			for i := range side * side {
				for c := range 3 {
					packed[3*i+c] = byte(planes[c*side*side+i]*255 + .5)
				}
			}
		}
		entries = append(entries, e)
		if _, err := w.Write(packed); err != nil {
			return err
		}
	}
	if err := w.Flush(); err != nil {
		return err
	}
	b, err := json.Marshal(entries)
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(out, "crops.json"), b, 0o644)
}
