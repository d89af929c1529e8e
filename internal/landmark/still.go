package landmark

import (
	"fmt"
	"image"
	"math"

	"volar/internal/hand"
)

// What is tried on a still picture in which the first look finds no hand. The
// palm detector wants to see a whole palm with some space around it, at a
// twentieth to a half of the picture; photographs cut close to the hand, and
// hands far away in large pictures, fail it.
const (
	// lowDetection is the part of MinDetection at which a palm is still worth
	// showing to the landmark model, whose presence score then decides.
	lowDetection = 0.4
	// tileFrom is the long side, in pixels, from which a picture is also
	// searched in parts: below it a part has less detail than the detector
	// resolves.
	tileFrom = 2 * palmSide
	// closeUp is the long side, in pixels, up to which the picture as a whole
	// may be taken for the region of one hand.
	closeUp = 640
	// closeUpScale leaves the rim that a region has around the hand.
	closeUpScale = 1.2
	// secondLookPresence is the least presence of a hand that the first look
	// did not find, and faintPresence that of one with a faint palm or none.
	// Real hands in photographs read nearly all above 0.95 and rendered hands
	// of very dark skin above 0.8; things that are no hands mostly between 0.5
	// and 0.75, with a faint palm up to 0.85.
	secondLookPresence = 0.8
	faintPresence      = 0.9
	// apart is how much of its box a second hand with a faint palm may share
	// with the first: a faint palm upon a hand is a part of that hand.
	apart = 0.3
)

// padding is how much larger than the picture the searched square is, in the
// order of the chance to find a hand in a close-up.
var padding = [...]float64{1.5, 2, 1.25, 3}

// agreeing is how many squares must show a hand in the same place that none
// shows well enough. On rendered hands that are not found otherwise, mostly
// dark ones in side views and ones behind an object, two of the squares agree
// in a third, and in none of 504 rooms without a hand.
const agreeing = 2

// Detect finds the hands in one picture that stands alone, best detected
// first. It neither uses nor changes what Track remembers; Time and Track of
// the observations are 0. No hand is a nil slice and no error.
//
// Each hand is read twice, the second time from a region laid around the
// points of the first, which makes the points depend less on where the palm
// detector drew its box. Its angles, where the model gives any, are the mean of
// six looks: as they are, turned a little to both sides, and the three mirrored.
func (t *Tracker) Detect(img *image.RGBA) ([]hand.Observation, error) {
	w, h, err := pictureSize(img)
	if err != nil {
		return nil, fmt.Errorf("detect hands: %w", err)
	}
	s := still{t: t, img: img, w: w, h: h}
	if err := s.run(); err != nil {
		return nil, fmt.Errorf("detect hands: %w", err)
	}
	var list []hand.Observation
	for i := range s.found {
		if err := t.hands.lookAgain(img, &s.found[i], t.options.MinPresence); err != nil {
			return nil, fmt.Errorf("detect hands: %w", err)
		}
		list = append(list, s.found[i].observation(0))
	}
	return list, nil
}

// still is the search through one picture.
type still struct {
	t     *Tracker
	img   *image.RGBA
	w, h  int
	found []reading
}

// run goes from the likely to the unlikely and stops at the first step that
// finds a hand. Where one more is wanted, its palm may score less, as that of
// a hand turned away does.
func (s *still) run() error {
	if err := s.findFirst(); err != nil || len(s.found) == 0 || len(s.found) >= s.t.options.MaxHands {
		return err
	}
	if err := s.look(wholePicture(s.w, s.h), lowDetection*s.t.options.MinDetection, max(faintPresence, s.t.options.MinPresence)); err != nil {
		return err
	}
	if len(s.found) == 2 {
		a, b := pointsBox(&s.found[0].image), pointsBox(&s.found[1].image)
		if shared(a, b) > apart*min(a.area(), b.area()) {
			s.found = s.found[:1]
		}
	}
	return nil
}

func (s *still) findFirst() error {
	whole := wholePicture(s.w, s.h)
	searches := []hand.Region{whole}
	for _, p := range padding {
		r := whole
		r.Size *= p
		searches = append(searches, r)
	}
	searches = append(searches, tiles(s.w, s.h)...)

	detection, presence := s.t.options.MinDetection, s.t.options.MinPresence
	for _, where := range searches {
		if err := s.look(where, detection, presence); err != nil || len(s.found) > 0 {
			return err
		}
		presence = max(secondLookPresence, presence)
	}
	presence = max(faintPresence, presence)
	for _, where := range searches {
		if err := s.look(where, lowDetection*detection, presence); err != nil || len(s.found) > 0 {
			return err
		}
	}
	if err := s.agree(); err != nil || len(s.found) > 0 {
		return err
	}
	if max(s.w, s.h) <= closeUp {
		if err := s.takeWhole(whole); err != nil || len(s.found) > 0 {
			return err
		}
	}
	return s.glanceAll()
}

// glanceAll looks at the picture in every other way and takes the best of what
// the views agree on.
func (s *still) glanceAll() error {
	if !s.t.hands.statesSpread() {
		return nil
	}
	g := s.t.glancer(s.img)
	for i := range glances {
		if err := g.glance(&glances[i], stillPalms); err != nil {
			return err
		}
	}
	if g.best.merit > 0 {
		s.take(g.best.reading)
	}
	return nil
}

// agree looks at the picture in squares of several sizes and turned, and takes
// the hand that enough of them show in one place.
func (s *still) agree() error {
	var all [][]reading // of each square
	for _, q := range squares {
		palms, err := s.t.palms.find(s.img, q.of(s.w, s.h), lowDetection*s.t.options.MinDetection)
		if err != nil {
			return err
		}
		var here []reading
		for i := range palms {
			r, ok, err := s.readTwice(palmRegion(palms[i]))
			if err != nil {
				return err
			}
			if ok {
				here = append(here, r)
			}
		}
		all = append(all, here)
		for i := range here {
			if best, votes := agreed(&here[i], all); votes >= agreeing {
				s.take(best)
				return nil
			}
		}
	}
	return nil
}

// agreed returns the best of the readings that show the same hand, and the
// number of squares that have one.
func agreed(r *reading, all [][]reading) (best reading, votes int) {
	for _, square := range all {
		voted := false
		for i := range square {
			if q := &square[i]; sameHand(r, q) {
				voted = true
				if q.presence > best.presence {
					best = *q
				}
			}
		}
		if voted {
			votes++
		}
	}
	return best, votes
}

// look runs the palm detector on a part of the picture and takes the hands
// that reach the presence.
func (s *still) look(where hand.Region, minScore, presence float64) error {
	palms, err := s.t.palms.find(s.img, where, minScore)
	if err != nil {
		return err
	}
	for i := range palms {
		if len(s.found) == s.t.options.MaxHands {
			return nil
		}
		r, ok, err := s.readTwice(palmRegion(palms[i]))
		if err != nil {
			return err
		}
		if ok && r.presence >= presence {
			s.take(r)
		}
	}
	return nil
}

// takeWhole reads the picture as one hand, in four directions, and takes the
// best.
func (s *still) takeWhole(whole hand.Region) error {
	var best reading
	for _, turn := range [...]float64{0, math.Pi / 2, -math.Pi / 2, math.Pi} {
		where := whole
		where.Size *= closeUpScale
		where.Rotation = turn
		r, ok, err := s.readTwice(where)
		if err != nil {
			return err
		}
		if ok && r.presence > best.presence {
			best = r
		}
	}
	if best.presence >= max(faintPresence, s.t.options.MinPresence) {
		s.take(best)
	}
	return nil
}

// readTwice reads a hand and then again from the region around its points;
// both must find one, the first, from a region that may lie badly, with less
// presence.
func (s *still) readTwice(where hand.Region) (reading, bool, error) {
	var r reading
	for _, part := range [...]float64{keepPresence, 1} {
		var err error
		r, err = s.t.hands.read(s.img, where, part*s.t.options.MinPresence)
		if err != nil || r.presence == 0 || !r.plausible(s.w, s.h) {
			return reading{}, false, err
		}
		where = r.next
	}
	return r, true, nil
}

// take adds a reading unless it shows a hand that is there already; then the
// better of the two stays.
func (s *still) take(r reading) {
	for i := range s.found {
		if f := &s.found[i]; sameHand(f, &r) {
			if r.presence > f.presence {
				*f = r
			}
			return
		}
	}
	s.found = append(s.found, r)
}

// tiles covers a large picture with squares of half its long side that overlap
// by half; none for a small picture.
func tiles(w, h int) []hand.Region {
	long := max(w, h)
	if long < tileFrom {
		return nil
	}
	size := float64(long) / 2
	centres := func(length int) []float64 {
		n := int(math.Ceil(float64(length)/(size/2))) - 1
		if n < 2 {
			return []float64{float64(length) / 2}
		}
		c := make([]float64, n)
		for i := range c {
			c[i] = size/2 + (float64(length)-size)*float64(i)/float64(n-1)
		}
		return c
	}
	var list []hand.Region
	for _, y := range centres(h) {
		for _, x := range centres(w) {
			list = append(list, hand.Region{CX: x, CY: y, Size: size})
		}
	}
	return list
}
