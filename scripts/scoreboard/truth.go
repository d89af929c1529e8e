package main

import (
	"encoding/csv"
	"fmt"
	"os"
	"strconv"
	"strings"

	"volar/internal/goniometry"
	"volar/internal/goniometry/calibration"
	"volar/internal/hand"
)

// truthRow is a photograph and where its 21 points are.
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
	return between(u, v)
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
	if len(out) == 0 {
		return nil, fmt.Errorf("%s: no photograph in it", file)
	}
	return out, nil
}
