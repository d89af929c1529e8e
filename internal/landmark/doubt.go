package landmark

import (
	"image"
	"math"
	"slices"

	"volar/internal/hand"
)

// A region that lies wrong keeps itself: the points that are read in it lay the
// next one, as wrong as it is, and so on until the hand moves. The angle head
// tells: it is unsure of every long finger then.

const (
	// doubtDeg is the spread from which a reading is doubted. Of 19 300 pictures of
	// seven rendered hands that training never saw, in side views, the middle joint
	// of the finger before the camera was off by 4° or less in the mean for each
	// spread of the finger that is read best up to 8°, and by 18° in the 0.6 % of
	// more, four tenths of them by more than 20°. Since only what is much surer is
	// taken, the doubt may begin before; it costs time alone. It is a reason to look
	// again, not to judge nothing: of the photographs with known angles 22 % have
	// more than 8° and are not read worse than that says. A head that is trained
	// anew may state others.
	doubtDeg = 6
	// surer is the part of its spread that another reading may state at most to
	// take a doubted one's place.
	surer = 0.7
	// doubtsSoon is how many looks come every searchSoon before the next wait for
	// Options.SearchEvery: what they have not mended is mostly read as well as it
	// can be.
	doubtsSoon = 8
	// onTop is the part of the smaller box of two readings' points that they share at
	// least if they are of one hand, wherever on it the points of one have drawn
	// together: a hand beside, as one that holds a finger, is another.
	onTop = 0.5
)

// doubt is the spread stated for the middle joint of the long finger that is read
// best, degrees, for those behind it are never read surely; 0 without an angle head.
func (r *reading) doubt() float64 {
	if r.angles == nil {
		return 0
	}
	s := &r.angles.SpreadDeg
	return min(s[hand.IndexPIP], s[hand.MiddlePIP], s[hand.RingPIP], s[hand.LittlePIP])
}

func (r *reading) doubted() bool { return r.doubt() >= doubtDeg }

// reconsider looks for the palms of hands that are followed and doubted, in another
// square each time, and takes a reading of the same hand that is much surer in the
// place of the doubted one.
func (t *Tracker) reconsider(img *image.RGBA) error {
	if !slices.ContainsFunc(t.sightings, func(s sighting) bool { return s.doubted() }) {
		t.doubts = 0
		return nil
	}
	every := searchSoon
	if t.doubts > doubtsSoon {
		every = t.options.SearchEvery
	}
	if t.doubts > 0 && t.now-t.lastDoubt < every {
		return nil
	}
	w, h := img.Rect.Dx(), img.Rect.Dy()
	where, _ := lookAt(t.doubts, t.options.Expect, w, h)
	t.doubts++
	t.lastDoubt = t.now
	palms, err := t.palms.find(img, where, lowDetection*t.options.MinDetection)
	if err != nil {
		return err
	}
	for i := range palms {
		s := t.beneath(&palms[i])
		if s == nil || !s.doubted() {
			continue
		}
		r, err := t.hands.read(img, palmRegion(palms[i]), t.options.MinPresence)
		if err != nil {
			return err
		}
		if r.presence == 0 || !r.plausible(w, h) || r.doubt() > surer*s.doubt() || !t.replaces(&r, s) {
			continue
		}
		s.reading = r
		// The points jump to where they belong.
		tr := &t.tracks[s.track]
		tr.calm, tr.calmShown = calm{}, calm{}
	}
	return nil
}

// beneath is the sighting in whose region the palm lies, the nearest of them, or
// nil.
func (t *Tracker) beneath(p *palm) (nearest *sighting) {
	cx, cy := (p.x0+p.x1)/2, (p.y0+p.y1)/2
	least := math.Inf(1)
	for i := range t.sightings {
		s := &t.sightings[i]
		d := math.Hypot(s.next.CX-cx, s.next.CY-cy)
		if d < s.next.Size/2 && d < least {
			nearest, least = s, d
		}
	}
	return nearest
}

// replaces tells whether a reading is of the hand that the sighting shows, and of no
// other that is sighted.
func (t *Tracker) replaces(r *reading, s *sighting) bool {
	for i := range t.sightings {
		if other := &t.sightings[i]; other != s && sameHand(&other.reading, r) {
			return false
		}
	}
	a, b := pointsBox(&s.image), pointsBox(&r.image)
	return shared(a, b) >= onTop*min(a.area(), b.area())
}
