package main

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

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

// countPicture is a photograph of a counting hand.
type countPicture struct {
	path          string
	count, person int
	// taught is false for the pictures that the recipe of the angle head
	// leaves out of teaching.
	taught bool
	sample hand.Sample
}

// counts are photographs of many people who count.
type counts struct {
	people   int
	pictures []countPicture
}

// newCounts lists folders 0 to 9. In each, pictures are numbered as they were
// taken, person after person, so that the n-th of every folder shows about the
// n-th person.
func newCounts(folder string) (*counts, error) {
	c := &counts{}
	for count := range counting {
		dir := filepath.Join(folder, strconv.Itoa(count))
		files, err := os.ReadDir(dir)
		if err != nil {
			return nil, err
		}
		slices.SortFunc(files, func(a, b os.DirEntry) int { return cmp.Compare(number(a.Name()), number(b.Name())) })
		for i, f := range files {
			c.pictures = append(c.pictures, countPicture{
				path: filepath.Join(dir, f.Name()), count: count, person: i,
				// As held in scripts/angle-head/source.py has it.
				taught: number(f.Name())/10%5 != 0,
			})
		}
		c.people = max(c.people, len(files))
	}
	return c, nil
}

// number is what the digits in a file's name spell.
func number(name string) int {
	digits := strings.Map(func(r rune) rune {
		if r < '0' || r > '9' {
			return -1
		}
		return r
	}, name)
	n, err := strconv.Atoi(digits)
	if err != nil {
		return 0
	}
	return n
}

func (c *counts) units() []unit {
	const each = 16
	var out []unit
	for part := range slices.Chunk(c.pictures, each) {
		out = append(out, unit{len(part), func(w *worker) error {
			for i := range part {
				img, err := camera.ReadPicture(part[i].path)
				if err != nil {
					return err
				}
				if part[i].sample, _, err = w.still(img, hand.UnknownSide); err != nil {
					return fmt.Errorf("%s: %w", part[i].path, err)
				}
			}
			return nil
		}})
	}
	return out
}

func (c *counts) sections() []Section {
	s := sheet{Section{ID: "counts", Title: "Real photographs: finger counts of many people", About: []string{
		fmt.Sprintf("%d photographs of about %d people, mostly palm or back to the camera; intervals over people. Right is a PIP at −10 to 20° where the finger is up, and above 40° where it is folded or touches the thumb.", len(c.pictures), c.people),
		"Most of these pictures also taught the angle head, as bounds; the second column is of those that did not.",
	}}, c.people}
	for _, group := range []struct {
		column, key string
		of          func(*countPicture) bool
	}{
		{"all", "all", func(*countPicture) bool { return true }},
		{"not taught on", "kept-out", func(p *countPicture) bool { return !p.taught }},
	} {
		t := func() *tally { return newTally(c.people) }
		found, up, folded, past, judged := t(), t(), t(), t(), t()
		for i := range c.pictures {
			p := &c.pictures[i]
			if !group.of(p) {
				continue
			}
			found.is(p.person, p.sample.Found)
			if !p.sample.Found {
				continue
			}
			for _, f := range counting[p.count].up {
				m := &p.sample.Joints[hand.JointOf(f, hand.PIP)]
				up.is(p.person, m.RawDeg >= -10 && m.RawDeg <= 20)
				past.is(p.person, m.ExtensionJudged && m.RawDeg < -10)
				judged.is(p.person, m.ExtensionJudged)
			}
			for _, f := range counting[p.count].folded {
				folded.is(p.person, p.sample.Joints[hand.JointOf(f, hand.PIP)].RawDeg > 40)
			}
		}
		// The aims are on all the people.
		aim := func(better Better, target float64, name, before string) Goal {
			g := Goal{Better: better, Target: target}
			if group.key == "all" {
				g.Name, g.Before = name, before
			}
			return g
		}
		k := "counts." + group.key
		s.share(k+".found", "hand found", group.column, found, aim(Higher, 100, "finger counts: hand found", "100 %"))
		s.share(k+".up", "up fingers read right", group.column, up, aim(Higher, 99.5, "finger counts: up fingers read −10 to 20°", "67 % world, 99.5 % image landmarks"))
		s.share(k+".folded", "folded fingers read right", group.column, folded, aim(Higher, 98, "finger counts: folded fingers read over 40°", "91 % world, 97 % image landmarks"))
		s.share(k+".past", "up fingers called hyperextended", group.column, past, aim(Lower, 0, "finger counts: up fingers called hyperextended", "–"))
		s.share(k+".judged", "up fingers in which it is judged whether past straight", group.column, judged, Goal{})
	}
	return []Section{s.Section}
}
