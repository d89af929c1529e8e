package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"

	"volar/internal/hand"
)

// still is a rendered hand kept for the tests of package goniometry, which
// read the same fields.
type still struct {
	Side       string                     `json:"side"`
	SeenSide   string                     `json:"seen_side"`
	Image      [hand.NumPoints][3]float64 `json:"image_px"`
	World      [hand.NumPoints][3]float64 `json:"world_m"`
	FlexionDeg [hand.NumJoints]float64    `json:"flexion_deg"`
	YawDeg     float64                    `json:"yaw_deg"`
	Visible    [hand.NumPoints]bool       `json:"visible"`
}

// keepStills writes n of the hands that take no part in the fit, evenly over
// the records.
func keepStills(file string, records []record, n int) error {
	var apart []record
	for _, r := range records {
		if heldOut(r.Mesh) {
			apart = append(apart, r)
		}
	}
	if n > len(apart) {
		return fmt.Errorf("stills: only %d hands were kept apart, want %d", len(apart), n)
	}
	out := make([]still, n)
	for i := range out {
		r := &apart[i*len(apart)/n]
		s := still{Side: r.Seen.Side.String(), SeenSide: r.Seen.SeenSide.String(), YawDeg: round(r.YawDeg, 1), Visible: r.Visible}
		for j, a := range r.FlexionDeg {
			s.FlexionDeg[j] = round(a, 1)
		}
		for k := range s.Image {
			a, b := r.Seen.Image[k], r.Seen.World[k]
			s.Image[k] = [3]float64{round(a.X, 2), round(a.Y, 2), round(a.Z, 2)}
			s.World[k] = [3]float64{round(b.X, 5), round(b.Y, 5), round(b.Z, 5)}
		}
		out[i] = s
	}
	// One hand a line, so that a change shows.
	text := []byte("[\n")
	for i, s := range out {
		b, err := json.Marshal(s)
		if err != nil {
			return fmt.Errorf("stills: %w", err)
		}
		text = append(text, b...)
		if i+1 < len(out) {
			text = append(text, ',')
		}
		text = append(text, '\n')
	}
	if err := os.WriteFile(file, append(text, "]\n"...), 0o644); err != nil {
		return fmt.Errorf("stills: %w", err)
	}
	return nil
}

func round(x float64, digits int) float64 {
	p := math.Pow10(digits)
	return math.Round(x*p) / p
}
