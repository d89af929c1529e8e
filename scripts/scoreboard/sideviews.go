package main

import (
	"fmt"
	"math"
	"slices"
	"time"

	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/handrender"
)

// depths are the true PIP angles of the events; those of straight fingers are
// the ones from which a false call can come.
var depths = [...]float64{0, -10, -15, -20}

// An event: a straight finger gives way, stays so for 0.3 s and that is all
// that is read of it.
const (
	eventRate   = 30 // pictures a second
	eventBefore = 6  // pictures of the straight hand
	eventRamp   = 3  // pictures on the way; a lax joint snaps over
	eventFrames = 9  // 0.3 s

	eventPictures = eventBefore + eventRamp + eventFrames
)

// readBelow is the angle that a median must lie under to be called past
// straight without knowing how straight fingers read.
const readBelow = -6

// event is what was read of one: the index PIP in each of its pictures.
type event struct {
	group, depth int
	// found counts pictures with a hand; readings are of those in which the
	// program judges whether the joint is past straight.
	found          int
	readings, head []float64
}

// reads is the median of the event; NaN where less than half of it could be
// judged.
func (e *event) reads() float64 { return median(e.readings, eventFrames/2) }

// median of more than least values, or NaN.
func median(values []float64, least int) float64 {
	if len(values) <= least {
		return math.NaN()
	}
	s := slices.Sorted(slices.Values(values))
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}

// sideViews shows events in views from the thumb side.
type sideViews struct {
	shapes   []shape
	yaws     []float64
	straight int // events of straight fingers for each of another depth
	events   []event
}

func newSideViews(shapes []shape, yaws []float64, straight int) *sideViews {
	s := &sideViews{shapes: shapes, yaws: yaws, straight: straight}
	s.events = make([]event, len(shapes)*s.each())
	return s
}

// each is the number of events of one shape.
func (s *sideViews) each() int { return len(s.yaws) * (s.straight + len(depths) - 1) }

func (s *sideViews) units() []unit {
	var out []unit
	for g := range s.shapes {
		out = append(out, unit{s.each() * (len(lead) + eventPictures), func(w *worker) error { return s.show(w, g) }})
	}
	return out
}

func (s *sideViews) show(w *worker, g int) error {
	next := g * s.each()
	for _, yaw := range s.yaws {
		for k := range s.straight + len(depths) - 1 {
			depth := max(0, k-s.straight+1)
			e, err := s.event(w, &s.shapes[g], yaw, depth)
			if err != nil {
				return fmt.Errorf("side views of hand %d (%s): %w", g+1, s.shapes[g].mesh.Name, err)
			}
			e.group = g
			s.events[next] = e
			next++
		}
	}
	return nil
}

// heldOut is a straight hand such as one holds before the camera: big knuckles
// and end joints a little bent, middle knuckles straight.
func heldOut(d dice) (p handrender.Pose) {
	mcp, dip := d.between(-4, 18), d.between(0, 16)
	for k := range p.Fingers {
		p.Fingers[k] = handrender.FingerPose{MCP: d.about(mcp, 2), Abduction: d.about(2, 1.5), DIP: d.about(dip, 3)}
	}
	p.Thumb = handrender.ThumbPose{Palmar: d.about(6, 6), Radial: d.about(4, 6), MP: d.about(6, 6), IP: d.about(2, 8)}
	return p
}

// giveWay bends the PIP of some fingers to deg, a share of the way, with the
// end joint drawn into flexion as in a swan-neck posture (common practice).
func giveWay(p handrender.Pose, fingers []int, deg, share float64) handrender.Pose {
	for _, k := range fingers {
		f := &p.Fingers[k]
		f.PIP += (deg - f.PIP) * share
		f.DIP += .5 * max(-deg, 0) * share
	}
	return p
}

// event renders and measures one.
func (s *sideViews) event(w *worker, sh *shape, yaw float64, depth int) (event, error) {
	d := sh.dice
	still := sh.home(d)
	still.View.Yaw = yaw + d.between(-5, 5)
	still.Pose = heldOut(d)
	// All fingers give way together, or the index alone.
	fingers := []int{0, 1, 2, 3}
	if d.chance(.5) {
		fingers = fingers[:1]
	}
	w.tracker.Reset()
	g := goniometry.New(goniometry.Options{})
	e := event{depth: depth}
	for i := range len(lead) + eventPictures {
		sc, at := tremble(still, d, i), time.Duration(i)*leadStep
		k := i - len(lead) // picture of the event
		if k < 0 {
			sc.View.Yaw *= lead[i]
		} else {
			at = time.Duration(len(lead))*leadStep + time.Duration(k)*time.Second/eventRate
			sc.Pose = giveWay(still.Pose, fingers, depths[depth], clamp(float64(k-eventBefore+1)/float64(eventRamp+1), 0, 1))
		}
		w.renderer.Render(w.picture, sc)
		o, err := w.tracker.Track(w.picture, at)
		if err != nil {
			return e, err
		}
		if len(o) == 0 {
			continue
		}
		o[0].Side = sh.side
		m := g.Measure(o[0]).Joints[hand.IndexPIP]
		if k < eventBefore+eventRamp {
			continue
		}
		e.found++
		if m.ExtensionJudged {
			e.readings = append(e.readings, m.FlexionDeg)
		}
		if o[0].Angles != nil {
			e.head = append(e.head, o[0].Angles.FlexionDeg[hand.IndexPIP])
		}
	}
	return e, nil
}

// straightCut is the reading under which one in a hundred straight events
// falls, each taken as often as its hand; NaN where there is none.
func (s *sideViews) straightCut(times []int) float64 {
	var v []float64
	for i := range s.events {
		e := &s.events[i]
		r := e.reads()
		if e.depth != 0 || math.IsNaN(r) {
			continue
		}
		k := 1
		if times != nil {
			k = times[e.group]
		}
		for range k {
			v = append(v, r)
		}
	}
	if len(v) == 0 {
		return math.NaN()
	}
	slices.Sort(v)
	return quantile(v, .01)
}

// found is the share of events of a depth that read under a cut, in per cent;
// an event that could not be judged is missed.
func (s *sideViews) found(depth int, cut float64, times []int) float64 {
	n, hit := 0, 0
	for i := range s.events {
		e := &s.events[i]
		if e.depth != depth {
			continue
		}
		k := 1
		if times != nil {
			k = times[e.group]
		}
		n += k
		if e.reads() < cut {
			hit += k
		}
	}
	return 100 * float64(hit) / float64(n)
}

func (s *sideViews) sections() []Section {
	n := len(s.shapes)
	sh := sheet{Section{ID: "side-views", Title: "Rendered hands: PIP past straight in a side view, over 0.3 s", About: []string{
		fmt.Sprintf("%d hands at yaw %v, 30 pictures a second: the hand shows its palm and turns to the side, then a straight finger gives way within 0.1 s and stays so for 0.3 s, all fingers together or the index alone; straight ones stay straight. Read is the median of the program's filtered angle of the index finger, over the pictures in which the program judges whether it is past straight; an event with less than half of those counts as not found.", n, s.yaws),
		"\"1 % cut\" is the reading under which one in a hundred straight events of this run falls; its own chance is in the intervals.",
	}}, n}
	for depth, deg := range depths {
		column := "straight"
		if deg != 0 {
			column = fmt.Sprintf("−%.0f°", -deg)
		}
		reads, off, head, judged, seen := newTally(n), newTally(n), newTally(n), newTally(n), newTally(n)
		events := 0
		for i := range s.events {
			e := &s.events[i]
			if e.depth != depth {
				continue
			}
			events++
			seen.add(e.group, float64(e.found)/eventFrames)
			r := e.reads()
			judged.is(e.group, !math.IsNaN(r))
			if !math.IsNaN(r) {
				reads.add(e.group, r)
				off.add(e.group, math.Abs(r-deg))
			}
			if h := median(e.head, eventFrames/2); !math.IsNaN(h) {
				head.add(e.group, h)
			}
		}
		key := fmt.Sprintf("side.%.0f", -deg)
		sizeGoal := Goal{Better: Lower}
		if deg != 0 {
			sizeGoal = Goal{Better: Lower, Target: 2.5, Name: "size of the hyperextension at " + column + ": mean error", Before: "3–4°"}
		}
		sh.mean(key+".reads", "reads, mean", column, "°", reads, Goal{Better: Near, Target: deg})
		sh.mean(key+".size", "size off, mean", column, "°", off, sizeGoal)
		foundGoal := Goal{Better: Lower}
		if deg != 0 {
			foundGoal = Goal{Better: Higher}
		}
		sh.percent(Figure{Key: key + ".below6", Row: "read below −6°", Column: column, N: events, Groups: n, Goal: foundGoal},
			func(times []int) float64 { return s.found(depth, readBelow, times) })
		if deg == 0 {
			sh.add(Figure{Key: key + ".cut", Row: "1 % cut", Column: column, Unit: "°", N: events, Groups: n}, s.straightCut)
		} else {
			aim := foundGoal
			aim.Target = map[float64]float64{-10: 92, -15: 99, -20: 100}[deg]
			aim.Before = map[float64]string{-10: "~75 %", -15: "96 %", -20: "100 %"}[deg]
			aim.Name = "PIP hyperextension found, side view, 0.3 s at " + column + " (1 % false)"
			sh.percent(Figure{Key: key + ".found", Row: "found at the 1 % cut", Column: column, N: events, Groups: n, Goal: aim},
				func(times []int) float64 { return s.found(depth, s.straightCut(times), times) })
		}
		sh.share(key+".judged", "could be judged", column, judged, Goal{Better: Higher})
		sh.share(key+".seen", "pictures with the hand found", column, seen, Goal{Better: Higher})
		sh.mean(key+".head", "head alone reads, mean", column, "°", head, Goal{})
	}
	return []Section{sh.Section}
}
