package main

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"volar/internal/camera"
	"volar/internal/goniometry"
	"volar/internal/goniometry/calibration"
	"volar/internal/hand"
)

// kinds are the rows of the tables.
var kinds = []struct {
	name   string
	joints []hand.Joint
}{
	{"MCP", []hand.Joint{hand.IndexMCP, hand.MiddleMCP, hand.RingMCP, hand.LittleMCP}},
	{"PIP", []hand.Joint{hand.IndexPIP, hand.MiddlePIP, hand.RingPIP, hand.LittlePIP}},
	{"DIP", []hand.Joint{hand.IndexDIP, hand.MiddleDIP, hand.RingDIP, hand.LittleDIP}},
	{"thumb MP", []hand.Joint{hand.ThumbMP}},
	{"thumb IP", []hand.Joint{hand.ThumbIP}},
}

// tally sums what was off.
type tally struct {
	n, judged                           int
	ours, bias, image, world, both      float64
	judgedErr, inside1, inside2, over20 float64
	z2                                  float64
}

// evaluateTruth compares unsigned bends, which is all that the truth of these
// sets gives: none of their hands is past straight.
func evaluateTruth(m *meter, folder string) error {
	rows, err := readTruth(filepath.Join(folder, "truth.csv"))
	if err != nil {
		return err
	}
	sums := make([]tally, len(kinds))
	found, past := 0, 0
	var palm, palmRaw, palms float64
	for _, row := range rows {
		img, err := camera.ReadPicture(filepath.Join(folder, "images", row.image))
		if err != nil {
			return err
		}
		seen, err := m.tracker.Detect(img)
		if err != nil {
			return err
		}
		if len(seen) == 0 {
			continue
		}
		found++
		d, ok := goniometry.Describe(seen[0], &calibration.FittedDepth)
		s := m.goniometer.MeasureStill(seen[0])
		if !ok {
			continue
		}
		// Whole bends at the knuckle count the spread of the fingers and the
		// slant of the palm as flexion. Against the palm, as the goniometer
		// means it:
		if t, ok := row.describe(seen[0].Side); ok {
			for _, j := range kinds[0].joints {
				palm += math.Abs(s.Joints[j].RawDeg - t.FrameDeg[j])
				palmRaw += math.Abs(d.FrameDeg[j] - t.FrameDeg[j])
				palms++
			}
		}
		for i, k := range kinds {
			for _, j := range k.joints {
				sums[i].add(s.Joints[j], d.ImageDeg[j], d.WorldDeg[j], row.bend(j))
				if j.Kind() == hand.PIP && s.Joints[j].ExtensionJudged && s.Joints[j].RawDeg < -6 {
					past++
				}
			}
		}
	}
	fmt.Printf("%d photographs, hand found in %d; PIP joints called hyperextended: %d\n\n", len(rows), found, past)
	fmt.Println("| joint | mean error | bias | over 20° | judged | error judged | rms / SE | in 1 SE | in 2 SE | image x,y,z | world | mean of both |")
	fmt.Println("|---|---|---|---|---|---|---|---|---|---|---|---|")
	for i, k := range kinds {
		t := &sums[i]
		n := float64(max(1, t.n))
		fmt.Printf("| %s | %.1f | %+.1f | %.1f %% | %.0f %% | %.1f | %.2f | %.2f | %.2f | %.1f | %.1f | %.1f |\n", k.name,
			t.ours/n, t.bias/n, 100*t.over20/n, 100*float64(t.judged)/n, t.judgedErr/float64(max(1, t.judged)),
			math.Sqrt(t.z2/n), t.inside1/n, t.inside2/n, t.image/n, t.world/n, t.both/n)
	}
	fmt.Printf("\nMCP against the palm, signed: mean error %.1f, of the image points uncorrected %.1f\n\n", palm/palms, palmRaw/palms)
	return nil
}

func (t *tally) add(m hand.Measurement, image, world, truth float64) {
	err := math.Abs(m.RawDeg) - truth
	t.n++
	t.ours += math.Abs(err)
	t.bias += err
	t.image += math.Abs(image - truth)
	t.world += math.Abs(world - truth)
	t.both += math.Abs((image+world)/2 - truth)
	z := math.Abs(err) / m.SEDeg
	t.z2 += z * z
	if z <= 1 {
		t.inside1++
	}
	if z <= 2 {
		t.inside2++
	}
	if math.Abs(err) > 20 {
		t.over20++
	}
	if m.Judged {
		t.judged++
		t.judgedErr += math.Abs(err)
	}
}

type truthRow struct {
	image  string
	points hand.Points // centimetres, camera axes
}

// describe measures the true points themselves.
func (r *truthRow) describe(side hand.Side) (goniometry.Description, bool) {
	return goniometry.Describe(hand.Observation{Side: side, Image: r.points, World: r.points}, new(calibration.Depth))
}

// bend is the true whole angle between the bones at the joint, degrees.
func (r *truthRow) bend(j hand.Joint) float64 {
	a, b, c := j.Triple()
	u, v := r.points[b].Sub(r.points[a]), r.points[c].Sub(r.points[b])
	return math.Atan2(u.Cross(v).Norm(), u.Dot(v)) * 180 / math.Pi
}

// readTruth reads lines of image, fx, fy, cx, cy, x0, y0, z0 … x20, y20, z20.
func readTruth(file string) ([]truthRow, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	const first = 5
	var out []truthRow
	for i, l := range lines {
		if i == 0 {
			continue
		}
		if len(l) != first+3*hand.NumPoints {
			return nil, fmt.Errorf("%s: line %d has %d fields, want %d", file, i+1, len(l), first+3*hand.NumPoints)
		}
		r := truthRow{image: l[0]}
		for p := range r.points {
			for k, v := range []*float64{&r.points[p].X, &r.points[p].Y, &r.points[p].Z} {
				if *v, err = strconv.ParseFloat(strings.TrimSpace(l[first+3*p+k]), 64); err != nil {
					return nil, fmt.Errorf("%s: line %d: %w", file, i+1, err)
				}
			}
		}
		out = append(out, r)
	}
	return out, nil
}
