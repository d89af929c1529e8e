// Command scoreboard measures the hand model that is in the program, and the
// program around it, and prints every table that the model card and the aims of
// the project speak of.
//
//	go run ./scripts/scoreboard [-truth DIR] [-counts DIR] [-meshes DIR] [-json FILE] [-markdown FILE]
//
// The truth folder (or VOLAR_REALHANDS) holds truth.csv and images/: hands with
// the three-dimensional positions of the 21 points, as in the real-world test
// set of Ge et al., "3D Hand Shape and Pose Estimation from a Single RGB Image",
// CVPR 2019. The counts folder (or VOLAR_FINGERCOUNTS) holds folders 0 to 9 of
// photographs of hands that count, as in the Sign Language Digits Dataset (Mavi,
// arXiv:2011.08927). The meshes folder (or VOLAR_HANDMESHES) holds rigged right
// hands in GLB; those that the angle head was trained on are passed over. A
// part whose folder is not given is left out, and the tables say so.
//
// Photographs serve to judge only: nothing is fitted to them, and only sums
// over a whole folder are printed.
//
// Angles are in degrees, flexion positive, past straight negative. The same
// arguments give the same figures with any number of jobs, but for the times;
// every hand has random sources of its own. The whole board takes about an hour
// of two cores, -quick some minutes. Everything is measured through what the
// program itself runs: palm detection, tracking, hand model, goniometer, and where
// it says so the coach.
package main

import (
	"crypto/sha256"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"runtime"
	"strings"
	"time"

	"volar/internal/infer"
	"volar/models"
	"volar/scripts/unseen"
)

// options of a run.
type options struct {
	truth, counts, meshes string
	json, markdown        string
	jobs, times           int
	quick                 bool
}

func main() {
	var o options
	flag.StringVar(&o.truth, "truth", os.Getenv("VOLAR_REALHANDS"), "folder with truth.csv and images")
	flag.StringVar(&o.counts, "counts", os.Getenv("VOLAR_FINGERCOUNTS"), "folder with folders 0 to 9")
	flag.StringVar(&o.meshes, "meshes", os.Getenv("VOLAR_HANDMESHES"), "folder of rigged hands (.glb)")
	flag.StringVar(&o.json, "json", "", "write the figures into this file, too")
	flag.StringVar(&o.markdown, "markdown", "", "write the tables into this file instead of printing them")
	flag.IntVar(&o.jobs, "jobs", runtime.GOMAXPROCS(0), "hands or photographs measured at the same time")
	flag.IntVar(&o.times, "times", 1, "so many times as many rendered hands: narrower intervals for more time")
	flag.BoolVar(&o.quick, "quick", false, "one or two rendered hands of each mesh instead of many")
	flag.Parse()
	if err := run(o, os.Stdout, os.Stderr); err != nil {
		fmt.Fprintln(os.Stderr, "scoreboard:", err)
		os.Exit(1)
	}
}

func run(o options, out, progress io.Writer) error {
	if flag.NArg() > 0 || o.jobs < 1 || o.times < 1 {
		return errors.New("usage: scoreboard [-truth DIR] [-counts DIR] [-meshes DIR] [-json FILE] [-markdown FILE] [-jobs N] [-times N] [-quick]")
	}
	parts, err := chosen(o)
	if err != nil {
		return err
	}
	set := fullSet
	if o.quick {
		set = quickSet
	}
	b, err := measure(parts, set, o.jobs, true, progress)
	if err != nil {
		return err
	}
	if o.json != "" {
		if err := b.write(o.json); err != nil {
			return err
		}
	}
	if o.markdown == "" {
		return b.markdown(out)
	}
	f, err := os.Create(o.markdown)
	if err != nil {
		return err
	}
	return errors.Join(b.markdown(f), f.Close())
}

// part is one set of pictures.
type part interface {
	// units is the work to do, once.
	units() []unit
	// sections sums it up when all units are done.
	sections() []Section
}

// leftOut stands for a part without its folder.
type leftOut struct{ id, title, why string }

func (l leftOut) units() []unit { return nil }

func (l leftOut) sections() []Section {
	return []Section{{ID: l.id, Title: l.title, LeftOut: l.why}}
}

// missing says why a folder cannot be used, "" if it can.
func missing(folder, flagName, env string) string {
	if folder == "" {
		return fmt.Sprintf("no folder given (-%s or %s)", flagName, env)
	}
	if _, err := os.Stat(folder); errors.Is(err, fs.ErrNotExist) {
		return "there is no folder " + folder
	}
	return ""
}

// chosen makes the parts for which there are folders.
func chosen(o options) ([]part, error) {
	var parts []part
	for _, p := range []struct {
		folder, flagName, env string
		id, title             string
		open                  func(folder string) ([]part, error)
	}{
		{o.truth, "truth", "VOLAR_REALHANDS", "photographs", "Real photographs with known angles", func(folder string) ([]part, error) {
			p, err := newPhotographs(folder)
			return []part{p}, err
		}},
		{o.counts, "counts", "VOLAR_FINGERCOUNTS", "counts", "Real photographs: finger counts of many people", func(folder string) ([]part, error) {
			p, err := newCounts(folder)
			return []part{p}, err
		}},
		{o.meshes, "meshes", "VOLAR_HANDMESHES", "renders", "Rendered hands of unseen shapes", func(folder string) ([]part, error) {
			meshes, err := unseen.Hands(folder)
			if err != nil {
				return nil, err
			}
			if o.quick {
				return quickSize.times(o.times).parts(meshes)
			}
			return fullSize.times(o.times).parts(meshes)
		}},
	} {
		if why := missing(p.folder, p.flagName, p.env); why != "" {
			parts = append(parts, leftOut{p.id, p.title, why})
			continue
		}
		made, err := p.open(p.folder)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", p.folder, err)
		}
		parts = append(parts, made...)
	}
	return parts, nil
}

// size is how much is rendered.
type size struct {
	exerciseHands, exercisePictures int // of a mesh, of a hand
	sideHands, straightEvents       int
	yaws                            []float64
	holdHands                       int
	hold                            time.Duration
}

var (
	fullSize  = size{6, 24, 3, 2, []float64{75, 90, 105}, 8, 4 * time.Second}
	quickSize = size{2, 16, 1, 1, []float64{85}, 2, 2 * time.Second}
)

// Each part has hands of its own.
const exerciseSeed, sideSeed, holdSeed = 101, 202, 303

// times makes a size of n times as many hands, which takes n times as long.
func (s size) times(n int) size {
	s.exerciseHands, s.sideHands, s.holdHands = n*s.exerciseHands, n*s.sideHands, n*s.holdHands
	return s
}

func (s size) parts(meshes []unseen.Hand) ([]part, error) {
	e, err := newExercises(shapes(meshes, s.exerciseHands, exerciseSeed), s.exercisePictures)
	if err != nil {
		return nil, err
	}
	h, err := newHolds(shapes(meshes, s.holdHands, holdSeed), s.hold)
	if err != nil {
		return nil, err
	}
	return []part{e, newSideViews(shapes(meshes, s.sideHands, sideSeed), s.yaws, s.straightEvents), h}, nil
}

// measure does the work of all parts and sums it up.
func measure(parts []part, set string, jobs int, timed bool, progress io.Writer) (_ *Board, err error) {
	engine, err := infer.OpenRuntime(infer.RuntimeOptions{})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, engine.Close()) }()
	b := &Board{Made: time.Now().UTC().Format(time.DateOnly), Commit: commit(), Engine: engine.Name(), Set: set}
	model, err := models.HandAngles()
	if err != nil {
		return nil, err
	}
	b.Model = fmt.Sprintf("%x", sha256.Sum256(model))
	var units []unit
	for _, p := range parts {
		units = append(units, p.units()...)
	}
	if err := work(engine, units, jobs, progress); err != nil {
		return nil, err
	}
	for _, p := range parts {
		b.Sections = append(b.Sections, p.sections()...)
	}
	if timed {
		s, err := cost(engine)
		if err != nil {
			return nil, err
		}
		b.Sections = append(b.Sections, s)
	}
	return b, nil
}

// commit names the state of the project, as far as version control tells.
func commit() string {
	out, err := exec.Command("git", "rev-parse", "--short", "HEAD").Output()
	if err != nil {
		return "unknown"
	}
	return strings.TrimSpace(string(out))
}
