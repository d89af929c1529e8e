package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"

	"volar/internal/camera"
	"volar/internal/hand"
)

// counting says which long fingers are up in a picture of each count and
// which are folded or touch the thumb. In a 0 all are bent to an O.
var counting = [10]struct{ up, folded []hand.Finger }{
	0: {nil, []hand.Finger{hand.Index, hand.Middle, hand.Ring, hand.Little}},
	1: {[]hand.Finger{hand.Index}, []hand.Finger{hand.Middle, hand.Ring, hand.Little}},
	2: {[]hand.Finger{hand.Index, hand.Middle}, []hand.Finger{hand.Ring, hand.Little}},
	3: {[]hand.Finger{hand.Index, hand.Middle}, []hand.Finger{hand.Ring, hand.Little}},
	4: {[]hand.Finger{hand.Index, hand.Middle, hand.Ring, hand.Little}, nil},
	5: {[]hand.Finger{hand.Index, hand.Middle, hand.Ring, hand.Little}, nil},
	6: {[]hand.Finger{hand.Index, hand.Middle, hand.Ring}, []hand.Finger{hand.Little}},
	7: {[]hand.Finger{hand.Index, hand.Middle, hand.Little}, []hand.Finger{hand.Ring}},
	8: {[]hand.Finger{hand.Index, hand.Ring, hand.Little}, []hand.Finger{hand.Middle}},
	9: {[]hand.Finger{hand.Middle, hand.Ring, hand.Little}, []hand.Finger{hand.Index}},
}

// evaluateCounts holds the PIP joints against what a count says of them:
// fingers that are up lie between -10 and 20 degrees, folded ones above 40.
func evaluateCounts(m *meter, folder string) error {
	var pictures, found, up, upRight, upJudged, past, judgeable, bent, bentRight int
	for count, c := range counting {
		dir := filepath.Join(folder, strconv.Itoa(count))
		files, err := os.ReadDir(dir)
		if err != nil {
			return err
		}
		for _, f := range files {
			img, err := camera.ReadPicture(filepath.Join(dir, f.Name()))
			if err != nil {
				return err
			}
			pictures++
			seen, err := m.tracker.Detect(img)
			if err != nil {
				return err
			}
			if len(seen) == 0 {
				continue
			}
			found++
			s := m.goniometer.MeasureStill(seen[0])
			for _, f := range c.up {
				j := s.Joints[hand.JointOf(f, hand.PIP)]
				up++
				if j.RawDeg >= -10 && j.RawDeg <= 20 {
					upRight++
				}
				if j.Judged {
					upJudged++
				}
				if j.ExtensionJudged {
					judgeable++
					if j.RawDeg < -10 {
						past++
					}
				}
			}
			for _, f := range c.folded {
				bent++
				if s.Joints[hand.JointOf(f, hand.PIP)].RawDeg > 40 {
					bentRight++
				}
			}
		}
	}
	share := func(n, of int) float64 { return 100 * float64(n) / float64(max(1, of)) }
	fmt.Printf("%d photographs of counts, hand found in %.1f %%\n", pictures, share(found, pictures))
	fmt.Printf("fingers up (%d): PIP -10..20° in %.1f %%, judged %.1f %%; hyperextension judged in %.1f %%, of these called below -10° %d (%.2f %% of all)\n",
		up, share(upRight, up), share(upJudged, up), share(judgeable, up), past, share(past, up))
	fmt.Printf("fingers folded or touching (%d): PIP above 40° in %.1f %%\n", bent, share(bentRight, bent))
	return nil
}
