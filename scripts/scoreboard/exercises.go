package main

import (
	"fmt"
	"strings"

	"volar/internal/demonstration"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/handrender"
)

// wholeHand are the movements of the catalogue that all fingers do together.
var wholeHand = []string{"full-fist", "hook-fist", "straight-fist", "tabletop", "whole-hand-grip", "grip-hold", "straight-finger-hold"}

// angles are the views of the test in turn, as yaw with its spread: palm and
// thumb side most, as the exercises ask for.
var angles = []struct {
	name        string
	yaw, spread float64
}{
	{"palm", 0, 20}, {"thumb side", 82, 15}, {"oblique", 45, 12}, {"palm", 0, 20}, {"thumb side", 82, 15},
	{"oblique", 45, 12}, {"palm", 0, 20}, {"thumb side", 82, 15}, {"oblique", 45, 12}, {"little-finger side", -82, 15},
}

// still is one rendered picture and what the program made of it.
type still struct {
	group, view int
	truth       handrender.Truth
	tone        float64
	sample      hand.Sample
}

// exercises shows stills of the whole-hand movements on many hands.
type exercises struct {
	shapes    []shape
	each      int // pictures of one shape
	movements []*exercise.Movement
	stills    []still
}

func newExercises(shapes []shape, each int) (*exercises, error) {
	e := &exercises{shapes: shapes, each: each, stills: make([]still, len(shapes)*each)}
	for _, id := range wholeHand {
		m, err := exercise.Find(id)
		if err != nil {
			return nil, err
		}
		e.movements = append(e.movements, m)
	}
	return e, nil
}

func (e *exercises) units() []unit {
	var out []unit
	for g := range e.shapes {
		out = append(out, unit{e.each, func(w *worker) error { return e.show(w, g) }})
	}
	return out
}

// show measures the pictures of one shape.
func (e *exercises) show(w *worker, g int) error {
	sh := &e.shapes[g]
	d := sh.dice
	for k := range e.each {
		v := (g + k) % len(angles)
		sc, err := e.scene(w, sh, d, v, e.movements[(g+k)%len(e.movements)])
		if err != nil {
			return err
		}
		s := still{group: g, view: v, tone: sh.skin.Tone}
		s.truth = w.renderer.Render(w.picture, sc)
		if s.sample, _, err = w.still(w.picture, sh.side); err != nil {
			return fmt.Errorf("picture %d of hand %d (%s): %w", k+1, g+1, sh.mesh.Name, err)
		}
		e.stills[g*e.each+k] = s
	}
	return nil
}

// scene is one moment of a movement: a quarter of them at its start, more at
// its end, the others on the way.
func (e *exercises) scene(w *worker, sh *shape, d dice, view int, m *exercise.Movement) (handrender.Scene, error) {
	sc := sh.home(d)
	sc.View.Yaw = angles[view].yaw + d.between(-1, 1)*angles[view].spread
	object := ""
	if len(m.Objects) > 0 {
		object = pick(d, m.Objects).ID
	}
	on, err := m.With(object)
	if err != nil {
		return sc, err
	}
	end := on.EndPose()
	o, err := m.Object(object)
	if err != nil {
		return sc, err
	}
	if object != "" && d.chance(.6) {
		if sc.Object = demonstration.Object(o); sc.Object.Kind == handrender.Ball || sc.Object.Kind == handrender.Roll {
			sc.Pose = end
			end = w.renderer.Grip(sc)
		}
	}
	way := 1.0
	switch x := d.Float64(); {
	case x < .25:
		way = 0
	case x < .6:
		way = d.between(.15, .9)
	}
	sc.Pose = personal(on.StartPose().Blend(end, way), d, d.between(.82, 1.06)).Couple()
	// A lax finger gives way backwards in some of the straight poses.
	if f := &sc.Pose.Fingers[d.IntN(4)]; f.PIP < 12 && d.chance(.3) {
		f.PIP, f.DIP = d.between(-22, -4), d.between(2, 25)
	}
	return sc, nil
}

// kinds are the rows of the tables of angles.
var kinds = []struct {
	name, key string
	joints    []hand.Joint
}{
	{"MCP", "mcp", []hand.Joint{hand.IndexMCP, hand.MiddleMCP, hand.RingMCP, hand.LittleMCP}},
	{"PIP", "pip", []hand.Joint{hand.IndexPIP, hand.MiddlePIP, hand.RingPIP, hand.LittlePIP}},
	{"DIP", "dip", []hand.Joint{hand.IndexDIP, hand.MiddleDIP, hand.RingDIP, hand.LittleDIP}},
	{"thumb MP", "thumb-mp", []hand.Joint{hand.ThumbMP}},
	{"thumb IP", "thumb-ip", []hand.Joint{hand.ThumbIP}},
}

// kindOf is the row of a joint.
func kindOf(j hand.Joint) int {
	switch j {
	case hand.ThumbMP:
		return 3
	case hand.ThumbIP:
		return 4
	}
	return int(j.Kind())
}

func (e *exercises) sections() []Section {
	return []Section{e.accuracy(), e.groups(), e.bent(), e.judging()}
}

func (e *exercises) sheet(id, title string, about ...string) sheet {
	return sheet{Section{ID: id, Title: title, About: about}, len(e.shapes)}
}

// plainly goes through the joints that can be seen of the hands that were
// found, with what the program is off by.
func (e *exercises) plainly(do func(s *still, j hand.Joint, m *hand.Measurement, off float64)) {
	for i := range e.stills {
		s := &e.stills[i]
		if !s.sample.Found {
			continue
		}
		for j := range hand.Joint(hand.NumJoints) {
			if angleSight(&s.truth, j) == plain {
				m := &s.sample.Joints[j]
				do(s, j, m, m.RawDeg-s.truth.FlexionDeg[j])
			}
		}
	}
}

// accuracy is the error of joints that can be seen.
func (e *exercises) accuracy() Section {
	n := len(e.shapes)
	s := e.sheet("exercises", "Rendered hands: whole-hand exercises, joints that can be seen",
		fmt.Sprintf("%d single pictures of %d hands (mesh, bones, flesh and skin of its own), at the start, on the way and at the end of %d movements of the catalogue, with and without object, light and room varied.", len(e.stills), n, len(e.movements)),
		"Signed flexion against the renderer's. "+angleWords)
	var of [5]*errorsOf
	all, found := newErrors(n), newTally(n)
	for k := range of {
		of[k] = newErrors(n)
	}
	for i := range e.stills {
		found.is(e.stills[i].group, e.stills[i].sample.Found)
	}
	e.plainly(func(p *still, j hand.Joint, m *hand.Measurement, off float64) {
		of[kindOf(j)].add(p.group, off, m.SEDeg, m.Judged)
		all.add(p.group, off, m.SEDeg, m.Judged)
	})
	for k, kind := range kinds {
		aim := Goal{Better: Lower}
		if kind.key == "pip" {
			aim = Goal{Better: Lower, Target: 4, Name: "rendered unseen hands, whole-hand exercises, PIP in sight: mean error", Before: "6.1 (same mesh)"}
		}
		s.errors("exercises."+kind.key, kind.name, of[k], aim, Goal{Better: Lower})
	}
	s.coverage("exercises.all", all, "renders")
	s.share("exercises.found", "hand found", "share", found, Goal{Better: Higher})
	var views [4]*tally
	for v := range views {
		views[v] = newTally(n)
	}
	names := []string{"palm", "oblique", "thumb side", "little-finger side"}
	e.plainly(func(p *still, j hand.Joint, _ *hand.Measurement, off float64) {
		if j.Kind() == hand.PIP {
			for v, name := range names {
				if name == angles[p.view].name {
					views[v].add(p.group, max(off, -off))
				}
			}
		}
	})
	for v, name := range names {
		s.mean("exercises.pip.view."+slug(name), "PIP, "+name, "mean error", "°", views[v], Goal{Better: Lower})
	}
	return s.Section
}

// slug makes a name part of a key.
func slug(name string) string { return strings.ReplaceAll(strings.ReplaceAll(name, ",", ""), " ", "-") }

// groups compares skin tones and sides.
func (e *exercises) groups() Section {
	n := len(e.shapes)
	s := e.sheet("groups", "Rendered hands: skin tones and sides, PIP joints that can be seen", "The same pictures. Tones run from 0, very light, to 1, very dark; hands are spread evenly over the quarters and the two sides.")
	var tones [4]*tally
	for q := range tones {
		tones[q] = newTally(n)
	}
	sides := [2]*tally{newTally(n), newTally(n)}
	e.plainly(func(p *still, j hand.Joint, _ *hand.Measurement, off float64) {
		if j.Kind() == hand.PIP {
			tones[quarterOf(p.tone)].add(p.group, max(off, -off))
			sides[p.truth.Side-hand.Left].add(p.group, max(off, -off))
		}
	})
	for q, name := range quarters {
		s.mean(fmt.Sprintf("groups.tone.%d", q+1), name, "mean error", "°", tones[q], Goal{Better: Lower})
	}
	for i, side := range []hand.Side{hand.Left, hand.Right} {
		s.mean("groups.side."+side.String(), side.String()+" hand", "mean error", "°", sides[i], Goal{Better: Lower})
	}
	s.ratio("groups.tone.ratio", "worst tone to best", tones[:], "spread between skin tones: worst to best quarter")
	s.ratio("groups.side.ratio", "worse side to better", sides[:], "spread between the two sides: worse to better")
	return s.Section
}

// bentFrom is the true PIP angle, degrees, from which a finger counts as bent.
const bentFrom = 40

// bent is the bias of bent fingers.
func (e *exercises) bent() Section {
	n := len(e.shapes)
	s := e.sheet("exercises-bent", "Rendered hands: bias of the PIP when bent beyond 40°", "The same pictures; negative reads too straight.")
	var of [4]*tally
	for i := range of {
		of[i] = newTally(n)
	}
	e.plainly(func(p *still, j hand.Joint, _ *hand.Measurement, off float64) {
		if j.Kind() == hand.PIP && p.truth.FlexionDeg[j] > bentFrom {
			of[j.Finger()-hand.Index].add(p.group, off)
		}
	})
	for i, f := range hand.Fingers {
		s.mean("exercises.bent."+f.String(), f.String(), "bias", "°", of[i], Goal{Better: Near, Within: 3})
	}
	return s.Section
}

// judging is whether the program knows what it can see.
func (e *exercises) judging() Section {
	n := len(e.shapes)
	s := e.sheet("judging", "Rendered hands: is \"cannot judge\" said where it must be, and only there",
		"The same pictures; a hand that was not found is not judged.", angleWords, extensionWords)
	questions := []struct {
		key, name string
		seen      func(*handrender.Truth, hand.Joint) sight
		judged    func(*hand.Measurement) bool
		pipOnly   bool
	}{
		{"angle", "angle", angleSight, func(m *hand.Measurement) bool { return m.Judged }, false},
		{"extension", "PIP past straight", extensionSight, func(m *hand.Measurement) bool { return m.ExtensionJudged }, true},
	}
	for _, q := range questions {
		can, cannot, between := newTally(n), newTally(n), newTally(n)
		for i := range e.stills {
			p := &e.stills[i]
			for j := range hand.Joint(hand.NumJoints) {
				if q.pipOnly && j.Kind() != hand.PIP {
					continue
				}
				judged := p.sample.Found && q.judged(&p.sample.Joints[j])
				seen := q.seen(&p.truth, j)
				between.is(p.group, seen == partly)
				switch seen {
				case plain:
					can.is(p.group, judged)
				case hidden:
					cannot.is(p.group, !judged)
				}
			}
		}
		s.share("judging."+q.key+".can", q.name, "judged where it can be seen", can, Goal{Better: Higher, Target: 97, Name: "\"cannot judge\", " + q.name + ": judged where it can be seen", Before: "–"})
		s.share("judging."+q.key+".cannot", q.name, "not judged where it cannot", cannot, Goal{Better: Higher, Target: 97, Name: "\"cannot judge\", " + q.name + ": not judged where it cannot be seen", Before: "–"})
		s.share("judging."+q.key+".between", q.name, "between, counted neither way", between, Goal{})
	}
	return s.Section
}
