package matrix

import (
	"context"
	"encoding/gob"
	"errors"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/klauspost/compress/zstd"

	"volar/internal/hand"
	"volar/internal/infer"
	"volar/internal/landmark"
)

// What the hand model finds in a clip does not hang on how it is judged, and
// finding it is what takes the time: rendering and the networks take a second
// for what goniometry and coach do in a millisecond. So observations are kept,
// and a change of the judge alone judges all clips again within a minute.

// Picture is what the hand model found in one picture of a clip.
type Picture struct {
	At    time.Duration
	Hands []hand.Observation
}

// Observe renders the case's clip and looks for hands in it.
func (c *Case) Observe(ctx context.Context, e infer.Engine, threads int) (seen []Picture, err error) {
	t, err := landmark.New(e, landmark.Options{MaxHands: 2, Expect: c.Movement.Hands, Threads: threads})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, t.Close()) }()
	err = c.film(ctx, func(img *image.RGBA, at time.Duration) error {
		found, err := t.Track(img, at)
		seen = append(seen, Picture{at, found})
		return err
	})
	return seen, err
}

// observations returns what is kept of the case's clip, or observes it and
// keeps that.
func (r *Runner) observations(ctx context.Context, c *Case) ([]Picture, error) {
	clip, err := c.key(r.Stamps.Film)
	if err != nil {
		return nil, err
	}
	path := filepath.Join(r.Dir, clip+"-"+r.Stamps.Observe+".observed")
	kept := path
	if r.Stale {
		kept = newest(filepath.Join(r.Dir, clip+"-*.observed"))
	}
	if seen, err := readPictures(kept); err == nil {
		return seen, nil
	}
	seen, err := c.Observe(ctx, r.Engine, 1)
	if err != nil {
		return nil, fmt.Errorf("observing %s: %w", c.ID(), err)
	}
	if err := writePictures(path, seen); err != nil {
		return nil, fmt.Errorf("keeping what was observed of %s: %w", c.ID(), err)
	}
	return seen, nil
}

// newest of the files that match, or "".
func newest(pattern string) (path string) {
	files, _ := filepath.Glob(pattern) // the pattern is the program's own
	var at time.Time
	for _, f := range files {
		if s, err := os.Stat(f); err == nil && s.ModTime().After(at) {
			path, at = f, s.ModTime()
		}
	}
	return path
}

// writePictures keeps observations, their numbers to seven digits, which is
// what the networks give. The file takes its place when it is complete.
func writePictures(path string, seen []Picture) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), "observed-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			os.Remove(f.Name())
		}
	}()
	z, err := zstd.NewWriter(f, zstd.WithEncoderConcurrency(1))
	if err != nil {
		return errors.Join(err, f.Close())
	}
	short := make([]Picture, len(seen))
	for i, p := range seen {
		short[i] = Picture{p.At, slices.Clone(p.Hands)}
		for k := range short[i].Hands {
			shorten(&short[i].Hands[k])
		}
	}
	err = errors.Join(gob.NewEncoder(z).Encode(short), z.Close(), f.Close())
	if err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// shorten rounds an observation's many numbers to single precision.
func shorten(o *hand.Observation) {
	one := func(x *float64) { *x = float64(float32(*x)) }
	points := func(p *hand.Points) {
		for i := range p {
			one(&p[i].X)
			one(&p[i].Y)
			one(&p[i].Z)
		}
	}
	points(&o.Image)
	points(&o.Shown)
	points(&o.World)
	if o.Angles == nil {
		return
	}
	a := *o.Angles
	for i := range a.FlexionDeg {
		one(&a.FlexionDeg[i])
		one(&a.SpreadDeg[i])
	}
	for i := range a.Visible {
		one(&a.Visible[i])
	}
	o.Angles = &a
}

func readPictures(path string) (seen []Picture, err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	z, err := zstd.NewReader(f, zstd.WithDecoderConcurrency(1))
	if err != nil {
		return nil, err
	}
	defer z.Close()
	err = gob.NewDecoder(z).Decode(&seen)
	return seen, err
}
