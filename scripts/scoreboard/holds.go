package main

import (
	"errors"
	"fmt"
	"time"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/live"
)

// A hold before the coach: the fingers are straight for a while, then the index
// finger gives way for 0.3 s and comes back. In another the index finger is past
// straight from before the hand turns to the side, and all the while.
const (
	holdRate    = 20 // pictures a second
	holdMove    = 100 * time.Millisecond
	holdGives   = 300 * time.Millisecond
	holdAfter   = 600 * time.Millisecond
	holdSlack   = 400 * time.Millisecond // of the coach's onset and end
	holdPicture = time.Second / holdRate
	lastingTime = 2 * time.Second
)

// lasting are the true PIP angles of the index finger that is past straight all
// the while.
var lasting = [...]float64{-12, -16, -20}

// hold is what the coach said of the two clips of one hand.
type hold struct {
	group, depth int
	tone         float64
	// last is the index, in lasting, of the second clip, and lastFound whether it
	// was flagged.
	last      int
	lastFound bool
	// falseFlags of the index finger, and of the others behind it.
	falseFlags [2]int
	found      bool
	// Pictures of the straight hand: all, with the hand found, and such that
	// the index finger is judged.
	straight, seen, judged int
}

// holds shows straight-finger holds to the whole program with its coach.
type holds struct {
	shapes   []shape
	straight time.Duration
	movement *exercise.Movement
	clips    []hold
}

func newHolds(shapes []shape, straight time.Duration) (*holds, error) {
	m, err := exercise.Find("straight-finger-hold")
	return &holds{shapes, straight, m, make([]hold, len(shapes))}, err
}

// long is how long the first clip is once the hand is turned to the side.
func (h *holds) long() time.Duration {
	return h.straight + holdMove + holdGives + holdMove + holdAfter
}

func (h *holds) units() []unit {
	var out []unit
	pictures := 2*len(lead) + int((h.long()+lastingTime)/holdPicture)
	for g := range h.shapes {
		out = append(out, unit{pictures, func(w *worker) error {
			c, err := h.show(w, g)
			if err == nil {
				err = h.showLasting(w, &c)
			}
			if err != nil {
				return fmt.Errorf("hold of hand %d (%s): %w", g+1, h.shapes[g].mesh.Name, err)
			}
			h.clips[g] = c
			return nil
		}})
	}
	return out
}

// gives is the share of the way that the finger has given at a moment.
func (h *holds) gives(at time.Duration) float64 {
	there, back := h.straight, h.straight+holdMove+holdGives
	share := clamp(float64(at-there)/float64(holdMove), 0, 1)
	return share - clamp(float64(at-back)/float64(holdMove), 0, 1)
}

// begin is when the hand is turned to the side.
const begin = time.Duration(len(lead)) * leadStep

// film shows the coach a hand that turns to the side and is held there, in the
// pose of each moment of the hold, and returns what it says in the end. each is
// called for every picture of the hold.
func (h *holds) film(w *worker, sh *shape, long time.Duration, pose func(still handrender.Pose, at time.Duration) handrender.Pose, each func(at time.Duration, r *live.Result)) (s coach.Summary, err error) {
	d := sh.dice
	j, err := live.New(w.engine, live.Options{Side: sh.side, Threads: 1, Coach: coach.Config{Movement: h.movement, Hold: h.straight}})
	if err != nil {
		return s, err
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	still := sh.home(d)
	still.View.Yaw = d.between(75, 105)
	still.Pose = heldOut(d)
	var at time.Duration
	for i := range len(lead) + int(long/holdPicture) {
		sc := tremble(still, d, i)
		at = time.Duration(i) * leadStep
		turning := i < len(lead)
		if turning {
			sc.View.Yaw *= lead[i]
		} else {
			at = begin + time.Duration(i-len(lead))*holdPicture
		}
		sc.Pose = pose(still.Pose, max(at-begin, 0))
		w.renderer.Render(w.picture, sc)
		r, err := j.Frame(w.picture, at)
		if err != nil {
			return s, err
		}
		if !turning {
			each(at-begin, &r)
		}
	}
	return j.Finish(at), nil
}

// show films the finger that gives way.
func (h *holds) show(w *worker, g int) (hold, error) {
	sh := &h.shapes[g]
	out := hold{group: g, depth: 1 + g%(len(depths)-1), tone: sh.skin.Tone}
	pose := func(still handrender.Pose, at time.Duration) handrender.Pose {
		return giveWay(still, []int{0}, depths[out.depth], h.gives(at))
	}
	s, err := h.film(w, sh, h.long(), pose, func(at time.Duration, r *live.Result) {
		if at >= h.straight {
			return
		}
		out.straight++
		if r.Sample.Found {
			out.seen++
			if r.Sample.Joints[hand.IndexPIP].ExtensionJudged {
				out.judged++
			}
		}
	})
	if err != nil {
		return hold{}, err
	}
	gives := begin + h.straight
	for _, f := range s.Flags {
		switch {
		case f.Kind != coach.Hyperextension:
		case f.Start < gives-holdMove:
			behind := 1
			if f.OnJoint && f.Joint == hand.IndexPIP {
				behind = 0
			}
			out.falseFlags[behind]++
		case f.OnJoint && f.Joint == hand.IndexPIP && f.Start <= gives+holdMove+holdGives+holdSlack:
			out.found = true
		}
	}
	return out, nil
}

// showLasting films the finger that is past straight all the while.
func (h *holds) showLasting(w *worker, c *hold) error {
	c.last = c.group % len(lasting)
	pose := func(still handrender.Pose, _ time.Duration) handrender.Pose {
		return giveWay(still, []int{0}, lasting[c.last], 1)
	}
	s, err := h.film(w, &h.shapes[c.group], lastingTime, pose, func(time.Duration, *live.Result) {})
	for _, f := range s.Flags {
		if f.Kind == coach.Hyperextension && f.OnJoint && f.Joint == hand.IndexPIP {
			c.lastFound = true
		}
	}
	return err
}

func (h *holds) sections() []Section {
	n := len(h.shapes)
	t := func() *tally { return newTally(n) }
	flags, clips, seen, judged := t(), t(), t(), t()
	tones, fingers := [4]*tally{t(), t(), t(), t()}, [2]*tally{t(), t()}
	var found [len(depths)]*tally
	for i := range found {
		found[i] = t()
	}
	var always [len(lasting)]*tally
	for i := range always {
		always[i] = t()
	}
	for _, c := range h.clips {
		// Only while the program judges can it raise a false flag.
		tens := float64(c.judged) * holdPicture.Seconds() / 10
		for behind, k := range c.falseFlags {
			fingers[behind].over(c.group, float64(k), tens)
		}
		all := c.falseFlags[0] + c.falseFlags[1]
		flags.over(c.group, float64(all), tens)
		tones[quarterOf(c.tone)].over(c.group, float64(all), tens)
		clips.is(c.group, all > 0)
		found[c.depth].is(c.group, c.found)
		always[c.last].is(c.group, c.lastFound)
		seen.add(c.group, float64(c.seen)/float64(c.straight))
		judged.add(c.group, float64(c.judged)/float64(c.straight))
	}
	s := sheet{Section{ID: "holds", Title: "Rendered hands: straight-finger holds before the coach", About: []string{
		fmt.Sprintf("%d clips of as many hands: the palm turns to the side (yaw 75 to 105), the fingers are held straight for %.3g s at 20 pictures a second, then the index finger gives way for 0.3 s. In all %.0f s of straight fingers, of which the program judged %.0f s whether the index finger is past straight; a hyperextension flag of any joint that begins in them is false.",
			n, h.straight.Seconds(), h.straight.Seconds()*float64(n), 10*flags.length()),
		fmt.Sprintf("In another clip of each hand the index finger is past straight before it turns to the side and for %.3g s there.", lastingTime.Seconds()),
		"The rate is of false flags in 10 s that were judged, in per cent, as if they came evenly over time.",
	}}, n}
	s.rate("holds.false", "all fingers and tones", flags, Goal{Better: Lower, Target: 1, Name: "false hyperextension, straight fingers, per 10 s hold, all skin tones", Before: "–"})
	s.rate("holds.false.index", "of the index finger", fingers[0], Goal{Better: Lower})
	s.rate("holds.false.others", "of fingers behind it", fingers[1], Goal{Better: Lower})
	for q, name := range quarters {
		s.rate(fmt.Sprintf("holds.false.tone.%d", q+1), name, tones[q], Goal{Better: Lower})
	}
	s.share("holds.clips", "clips with a false flag", "share", clips, Goal{Better: Lower})
	for depth, deg := range depths {
		if deg != 0 {
			s.share(fmt.Sprintf("holds.found.%.0f", -deg), fmt.Sprintf("index finger at −%.0f° for 0.3 s: flagged", -deg), "share", found[depth], Goal{Better: Higher})
		}
	}
	for i, deg := range lasting {
		s.share(fmt.Sprintf("holds.lasting.%.0f", -deg), fmt.Sprintf("index finger at −%.0f° all the while: flagged", -deg), "share", always[i], Goal{Better: Higher})
	}
	s.share("holds.seen", "straight pictures with the hand found, of the right side", "share", seen, Goal{Better: Higher})
	s.share("holds.judged", "straight pictures in which the index finger is judged", "share", judged, Goal{Better: Higher})
	return []Section{s.Section}
}

// rate adds false flags in 10 s, in per cent. With none seen the upper end is
// the exact one of a rate.
func (s *sheet) rate(key, row string, t *tally, g Goal) {
	f := Figure{Key: key, Row: row, Column: "flags in 10 s", Unit: "%", N: t.n, Groups: t.taken(), Goal: g}
	s.add(f, func(times []int) float64 { return 100 * t.mean(times) })
	if last := &s.Figures[len(s.Figures)-1]; last.Value == 0 {
		last.High = Number(100 * noneIn(t.length()))
	}
}
