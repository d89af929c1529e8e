package main

import (
	"fmt"
	"math"
	"path/filepath"

	"volar/internal/camera"
	"volar/internal/goniometry"
	"volar/internal/goniometry/calibration"
	"volar/internal/hand"
)

// blocks is how many runs of neighbouring photographs are drawn as one:
// neighbours show the same person in much the same pose.
const blocks = 24

// photograph is one picture and what the program and its parts say of it.
type photograph struct {
	found  bool
	truth  [hand.NumJoints]float64
	sample hand.Sample
	// frame is the true MCP flexion against the palm, valid where framed is.
	frame  [hand.NumJoints]float64
	framed bool
	// What the program is made of, and what the usual programs do.
	head, image, world [hand.NumJoints]float64
	// bend is the head's own word on the angle at the MCPs between the line from
	// the wrist and the proximal phalanx, which is what the truth is there.
	bend    [4]float64
	hasHead bool
	// headTurn and pointsTurn are the degrees between the true direction out of
	// the palm and the one by the head and by the points in space.
	headTurn, pointsTurn float64
}

// photographs are real hands with true positions of their points.
type photographs struct {
	folder string
	rows   []truthRow
	seen   []photograph
}

func newPhotographs(folder string) (*photographs, error) {
	rows, err := readTruth(filepath.Join(folder, "truth.csv"))
	return &photographs{folder, rows, make([]photograph, len(rows))}, err
}

// block is the run that a photograph belongs to.
func (p *photographs) block(i int) int { return i * min(blocks, len(p.rows)) / len(p.rows) }

func (p *photographs) units() []unit {
	const each = 8
	var out []unit
	for first := 0; first < len(p.rows); first += each {
		last := min(first+each, len(p.rows))
		out = append(out, unit{last - first, func(w *worker) error {
			for i := first; i < last; i++ {
				if err := p.look(w, i); err != nil {
					return err
				}
			}
			return nil
		}})
	}
	return out
}

func (p *photographs) look(w *worker, i int) error {
	row, s := &p.rows[i], &p.seen[i]
	img, err := camera.ReadPicture(filepath.Join(p.folder, "images", row.image))
	if err != nil {
		return err
	}
	m, o, err := w.still(img, hand.UnknownSide)
	if err != nil {
		return fmt.Errorf("%s: %w", row.image, err)
	}
	d, ok := goniometry.Describe(o, &calibration.FittedDepth)
	if !m.Found || !ok {
		return nil
	}
	s.found, s.sample = true, m
	s.image, s.world = d.ImageDeg, d.WorldDeg
	for j := range hand.Joint(hand.NumJoints) {
		s.truth[j] = row.bend(j)
	}
	if t, ok := row.describe(o.Side); ok {
		s.frame, s.framed = t.FrameDeg, true
	}
	if o.Angles != nil {
		s.head, s.bend, s.hasHead = o.Angles.FlexionDeg, o.Angles.BendDeg, true
		palm := outOfPalm(&row.points, o.Side)
		s.headTurn, s.pointsTurn = between(palm, o.Angles.Normal), between(palm, outOfPalm(&o.World, o.Side))
	}
	return nil
}

func (p *photographs) sections() []Section {
	n := min(blocks, len(p.rows))
	return []Section{p.accuracy(n), p.sources(n), p.bent(n)}
}

// outOfPalm is the direction out of the palm by the wrist and the outer MCPs;
// zero for a hand of no known side.
func outOfPalm(p *hand.Points, side hand.Side) hand.Point {
	n := p[hand.Index.MCP()].Sub(p[hand.Wrist]).Cross(p[hand.Little.MCP()].Sub(p[hand.Wrist]))
	switch side {
	case hand.Left:
		return n.Scale(-1)
	case hand.Right:
		return n
	}
	return hand.Point{}
}

// between is the angle between two directions in degrees.
func between(u, v hand.Point) float64 {
	return math.Atan2(u.Cross(v).Norm(), u.Dot(v)) * 180 / math.Pi
}

// aims on photographs, by the key of the kind.
var photographAims = map[string]Goal{
	"pip": {Better: Lower, Target: 6.5, Name: "real photographs, PIP: mean error", Before: "8.1"},
	"mcp": {Better: Lower, Target: 7, Name: "real photographs, MCP: mean error", Before: "9.3"},
	"dip": {Better: Lower, Target: 7.5, Name: "real photographs, DIP: mean error", Before: "9.2"},
}

func (p *photographs) accuracy(n int) Section {
	s := sheet{Section{ID: "photographs", Title: "Real photographs with known angles", About: []string{
		fmt.Sprintf("%d photographs, evaluation only; intervals over %d runs of neighbouring ones. The truth is the whole unsigned bend between the bones, so the size of the program's angle is held against it.", len(p.rows), n),
		"\"Against the palm\" is MCP flexion as the program means it, signed, from the true points; the others count spread and the slant of the palm as flexion. \"As the bend\" is what the head says of that whole bend itself, the one to hold against other figures for it.",
	}}, n}
	of := map[string]*errorsOf{}
	for _, k := range kinds {
		of[k.key] = newErrors(n)
	}
	all, palm, bend, found, past := newErrors(n), newTally(n), newTally(n), newTally(n), newTally(n)
	headTurn, pointsTurn := newTally(n), newTally(n)
	for i := range p.seen {
		ph, g := &p.seen[i], p.block(i)
		found.is(g, ph.found)
		if !ph.found {
			continue
		}
		if ph.hasHead {
			headTurn.add(g, ph.headTurn)
			pointsTurn.add(g, ph.pointsTurn)
		}
		for j := range hand.Joint(hand.NumJoints) {
			m := &ph.sample.Joints[j]
			off := math.Abs(m.RawDeg) - ph.truth[j]
			of[kinds[kindOf(j)].key].add(g, off, m.SEDeg, m.Judged)
			all.add(g, off, m.SEDeg, m.Judged)
			if j.Kind() == hand.PIP {
				past.is(g, m.ExtensionJudged && m.RawDeg < -6)
			}
			if kinds[kindOf(j)].key == "mcp" && ph.framed {
				palm.add(g, math.Abs(m.RawDeg-ph.frame[j]))
			}
			if kinds[kindOf(j)].key == "mcp" && ph.hasHead {
				bend.add(g, math.Abs(ph.bend[j.Finger()-hand.Index]-ph.truth[j]))
			}
		}
	}
	for _, k := range kinds {
		aim, ok := photographAims[k.key]
		if !ok {
			aim = Goal{Better: Lower}
		}
		over := Goal{Better: Lower}
		if k.key == "pip" {
			over = Goal{Better: Lower, Target: 3, Name: "real photographs, PIP errors over 20°", Before: "7.6 %"}
		}
		s.errors("photographs."+k.key, k.name, of[k.key], aim, over)
	}
	s.coverage("photographs.all", all, "photographs")
	s.mean("photographs.mcp-palm.error", "MCP against the palm", "mean error", "°", palm, Goal{Better: Lower})
	s.mean("photographs.mcp-bend.error", "MCP as the bend", "mean error", "°", bend,
		Goal{Better: Lower, Target: 7, Name: "real photographs, MCP as the bend that the truth is: mean error", Before: "9.3"})
	s.mean("photographs.turn.head", "turn of the palm, by the head", "mean error", "°", headTurn, Goal{Better: Lower})
	s.mean("photographs.turn.points", "turn of the palm, by the points", "mean error", "°", pointsTurn, Goal{Better: Lower})
	s.share("photographs.found", "hand found", "share", found, Goal{Better: Higher})
	s.share("photographs.past", "PIP called hyperextended", "share", past, Goal{Better: Lower})
	return s.Section
}

// sources sets the program beside what it is made of.
func (p *photographs) sources(n int) Section {
	s := sheet{Section{ID: "photographs-sources", Title: "The same photographs: the program beside what it is made of", About: []string{
		"Mean error. The head alone is the network's own angles; image and world are the whole bends of the landmarks, uncorrected, as most programs take them.",
	}}, n}
	for k, kind := range kinds {
		columns := []struct {
			name string
			deg  func(ph *photograph, j hand.Joint) (float64, bool)
		}{
			{"program", func(ph *photograph, j hand.Joint) (float64, bool) { return math.Abs(ph.sample.Joints[j].RawDeg), true }},
			{"head alone", func(ph *photograph, j hand.Joint) (float64, bool) { return math.Abs(ph.head[j]), ph.hasHead }},
			{"image x, y, z", func(ph *photograph, j hand.Joint) (float64, bool) { return ph.image[j], true }},
			{"world", func(ph *photograph, j hand.Joint) (float64, bool) { return ph.world[j], true }},
			{"mean of both", func(ph *photograph, j hand.Joint) (float64, bool) { return (ph.image[j] + ph.world[j]) / 2, true }},
		}
		for _, c := range columns {
			t := newTally(n)
			for i := range p.seen {
				ph := &p.seen[i]
				for _, j := range kinds[k].joints {
					if deg, ok := c.deg(ph, j); ok && ph.found {
						t.add(p.block(i), math.Abs(deg-ph.truth[j]))
					}
				}
			}
			s.mean("photographs.sources."+kind.key+"."+slug(c.name), kind.name, c.name, "°", t, Goal{})
		}
	}
	return s.Section
}

func (p *photographs) bent(n int) Section {
	s := sheet{Section{ID: "photographs-bent", Title: "The same photographs: bias of the PIP when bent beyond 40°", About: []string{"Negative reads too straight."}}, n}
	for _, f := range hand.Fingers {
		t, head := newTally(n), newTally(n)
		j := hand.JointOf(f, hand.PIP)
		for i := range p.seen {
			ph := &p.seen[i]
			if !ph.found || ph.truth[j] <= bentFrom {
				continue
			}
			t.add(p.block(i), math.Abs(ph.sample.Joints[j].RawDeg)-ph.truth[j])
			if ph.hasHead {
				head.add(p.block(i), math.Abs(ph.head[j])-ph.truth[j])
			}
		}
		aim := Goal{Better: Near, Within: 3}
		if f == hand.Ring {
			aim.Name, aim.Before = "real photographs, ring finger bias when bent", "−9°"
		}
		s.mean("photographs.bent."+f.String(), f.String(), "bias", "°", t, aim)
		s.mean("photographs.bent.head."+f.String(), f.String(), "head alone", "°", head, Goal{})
	}
	return s.Section
}
