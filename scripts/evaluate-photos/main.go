// Command evaluate-photos measures real photographs and prints how far the
// joint angles are off, beside what the uncorrected landmarks give.
//
//	evaluate-photos [-truth DIR] [-counts DIR]
//
// The truth folder (or VOLAR_REALHANDS) holds truth.csv and images/: hands with
// the three-dimensional positions of the 21 points, as in the real-world test
// set of Ge et al., "3D Hand Shape and Pose Estimation from a Single RGB Image",
// CVPR 2019. The counts folder (or VOLAR_FINGERCOUNTS) holds folders 0 to 9 of
// photographs of hands that count, as in the Sign Language Digits Dataset
// (Mavi, arXiv:2011.08927). A folder that is not there is passed over, with a
// line that says so.
//
// These photographs serve to judge only: nothing is fitted to them, and only
// sums over a whole folder are printed.
package main

import (
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"log"
	"os"

	"volar/internal/goniometry"
	"volar/internal/infer"
	"volar/internal/landmark"
)

func main() {
	log.SetFlags(0)
	log.SetPrefix("evaluate-photos: ")
	truth := flag.String("truth", os.Getenv("VOLAR_REALHANDS"), "folder with truth.csv and images")
	counts := flag.String("counts", os.Getenv("VOLAR_FINGERCOUNTS"), "folder with folders 0 to 9")
	flag.Parse()
	if err := run(*truth, *counts); err != nil {
		log.Fatal(err)
	}
}

func run(truth, counts string) (err error) {
	jobs := []struct {
		what, folder, env string
		do                func(*meter, string) error
	}{
		{"photographs with true angles", truth, "VOLAR_REALHANDS", evaluateTruth},
		{"photographs of counting hands", counts, "VOLAR_FINGERCOUNTS", evaluateCounts},
	}
	var m *meter
	for _, j := range jobs {
		if j.folder == "" {
			fmt.Printf("%s: skipped, no folder given (set %s)\n", j.what, j.env)
			continue
		}
		if _, err := os.Stat(j.folder); errors.Is(err, fs.ErrNotExist) {
			fmt.Printf("%s: skipped, there is no folder %s\n", j.what, j.folder)
			continue
		}
		if m == nil {
			if m, err = newMeter(); err != nil {
				return err
			}
			defer func() { err = errors.Join(err, m.close()) }()
		}
		if err := j.do(m, j.folder); err != nil {
			return fmt.Errorf("%s: %w", j.what, err)
		}
	}
	return nil
}

// meter is the chain from picture to angles.
type meter struct {
	engine     infer.Engine
	tracker    *landmark.Tracker
	goniometer *goniometry.Goniometer
}

func newMeter() (*meter, error) {
	e, err := infer.OpenRuntime(infer.RuntimeOptions{})
	if err != nil {
		return nil, err
	}
	t, err := landmark.New(e, landmark.Options{})
	if err != nil {
		return nil, errors.Join(err, e.Close())
	}
	return &meter{e, t, goniometry.New(goniometry.Options{})}, nil
}

func (m *meter) close() error { return errors.Join(m.tracker.Close(), m.engine.Close()) }
