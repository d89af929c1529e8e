// Command calibrate fits what corrects the bends read from hand landmarks, on
// rendered hands only, and writes internal/goniometry/calibration/table.go.
//
// Rendered hands at known angles are shown to the landmark tracker, its points
// are described by package goniometry, and two small networks learn the angles.
// Every fifth hand shape takes no part in the fit: on it the error is measured
// that becomes the standard error of each reading. No photograph takes part in
// either.
//
//	calibrate -meshes DIR [-pictures 9250]
//
// DIR holds at least four rigged hands as .glb files with the joint names of
// WebXR Hand Input; the built-in hand is shown besides. The committed table was
// made from 36 hands posed from the CC0 base mesh and shape targets of the
// MakeHuman project. Given the same DIR, number and seed the table comes out
// the same on the same kind of processor.
package main

import (
	"errors"
	"flag"
	"fmt"
	"log"
	"os"
	"path/filepath"

	"github.com/schollz/progressbar/v3"

	"volar/internal/infer"
)

type options struct {
	meshes   string
	pictures int
	workers  int
	seed     uint64
	render   string
	records  string
	out      string
	stills   string
}

func main() {
	log.SetFlags(0)
	log.SetPrefix("calibrate: ")
	var o options
	flag.StringVar(&o.meshes, "meshes", "", "folder of rigged hands (.glb)")
	flag.IntVar(&o.pictures, "pictures", 9250, "how many hands to render")
	flag.IntVar(&o.workers, "workers", 2, "how many to render at a time")
	flag.Uint64Var(&o.seed, "seed", 1, "seed of scenes and fit")
	flag.StringVar(&o.render, "render", "", "only render, and keep what the tracker saw in this file")
	flag.StringVar(&o.records, "records", "", "fit on files kept by -render (a pattern) and render nothing")
	flag.StringVar(&o.out, "out", "internal/goniometry/calibration/table.go", "file to write")
	flag.StringVar(&o.stills, "stills", "", "also keep 160 of the hands that take no part in the fit in this file, for tests")
	flag.Parse()
	if flag.NArg() > 0 {
		log.Fatalf("unexpected argument %q", flag.Arg(0))
	}
	if err := run(o); err != nil {
		log.Fatal(err)
	}
}

func run(o options) error {
	records, err := o.collect()
	if err != nil {
		return err
	}
	if o.render != "" {
		return save(o.render, records)
	}
	if o.stills != "" {
		if err := keepStills(o.stills, records, 160); err != nil {
			return err
		}
	}
	var fitted, apart []example
	depth, wrong := fitDepth(records)
	fmt.Printf("depths the wrong way round in %.1f %% of side views, after the decision in %.1f %%\n", 100*wrong[0], 100*wrong[1])
	for _, e := range examples(records, &depth) {
		if heldOut(e.mesh) {
			apart = append(apart, e)
		} else {
			fitted = append(fitted, e)
		}
	}
	if len(fitted) < 256 || len(apart) < 64 {
		return fmt.Errorf("%d hands to fit on and %d to measure on are too few; ask for more -pictures", len(fitted), len(apart))
	}
	d, loss := fit(fitted, o.seed)
	t := tabulate(&d, apart)
	fmt.Printf("fitted on %d hands (loss %.3f fingers, %.3f thumb, %.3f view), measured on %d of other shapes\n", len(fitted), loss[0], loss[1], loss[2], len(apart))
	report(os.Stdout, &d, &t, apart)
	how := fmt.Sprintf("Fitted on %d rendered hands, errors measured on %d of other shapes; seed %d.", len(fitted), len(apart), o.seed)
	return write(o.out, &d, &t, &depth, how)
}

// collect renders the hands, or reads what was kept of an earlier run.
func (o options) collect() ([]record, error) {
	if o.records != "" {
		files, err := filepath.Glob(o.records)
		if err != nil || len(files) == 0 {
			return nil, fmt.Errorf("no records match %s", o.records)
		}
		var all []record
		for _, f := range files {
			r, err := restore(f)
			if err != nil {
				return nil, err
			}
			all = append(all, r...)
		}
		return all, nil
	}
	hands, err := meshes(o.meshes)
	if err != nil {
		return nil, err
	}
	e, err := infer.OpenRuntime(infer.RuntimeOptions{})
	if err != nil {
		return nil, err
	}
	bar := progressbar.Default(int64(o.pictures), "hands")
	r, err := observe(e, hands, o.pictures, o.workers, o.seed, func(i int) int { return i % len(hands) }, func() { bar.Add(1) })
	return r, errors.Join(err, e.Close())
}

// heldOut says whether a mesh is kept out of the fit.
func heldOut(mesh int) bool { return mesh%5 == 3 }
