package landmark

import (
	"math"
	"slices"

	"volar/internal/hand"
)

// When two readings are one hand, and when a reading is no hand at all.
// Lengths are parts of the side of the region laid around the points, of which
// the palm takes up about a third.
const (
	// samePoints is the mean distance of the points under which two readings
	// are the same hand, read twice alike.
	samePoints = 0.12
	// samePalm and sameBox: palms this close and boxes that overlap this much
	// are the same hand read in two ways, as with its sides confused.
	samePalm = 0.12
	sameBox  = 0.5
	// A reading that lies within another to insideBox of its box and has less
	// than insideSize of its region's side is a part of that hand taken for a
	// hand: the thumb, or the fingers beyond a roll that hides the palm. The
	// points run along the bones, so that the other one's box is taken larger
	// by flesh.
	insideBox, insideSize = 0.8, 0.6
	flesh                 = 0.08
	// leastSpan and mostSpan bound the side of the region laid around the
	// points by that of the region that was shown.
	leastSpan, mostSpan = 0.4, 2.5
	// leastReach is the least length from wrist to middle MCP joint, in space,
	// of the region that was shown: shorter and the points have collapsed.
	leastReach = 0.08
)

// palmCentre is the mean of the wrist and the four MCP joints.
func palmCentre(p *hand.Points) hand.Point {
	c := p[hand.Wrist]
	for _, f := range hand.Fingers {
		c = c.Add(p[f.MCP()])
	}
	return c.Scale(1.0 / 5)
}

// sameHand tells whether two readings of one picture are of one hand.
func sameHand(a, b *reading) bool {
	scale := math.Sqrt(a.next.Size * b.next.Size)
	var sum float64
	for i := range a.image {
		sum += math.Hypot(a.image[i].X-b.image[i].X, a.image[i].Y-b.image[i].Y)
	}
	if sum/hand.NumPoints < samePoints*scale {
		return true
	}
	p, q := palmCentre(&a.image), palmCentre(&b.image)
	if math.Hypot(p.X-q.X, p.Y-q.Y) < samePalm*scale && iou(pointsBox(&a.image), pointsBox(&b.image)) > sameBox {
		return true
	}
	return partOf(a, b) || partOf(b, a)
}

// partOf tells whether a reading is of a part of the hand that another shows
// whole.
func partOf(part, whole *reading) bool {
	if part.next.Size >= insideSize*whole.next.Size {
		return false
	}
	in, around := pointsBox(&part.image), pointsBox(&whole.image)
	f := flesh * whole.next.Size
	around = box{around.x0 - f, around.y0 - f, around.x1 + f, around.y1 + f}
	return shared(in, around) > insideBox*in.area()
}

// plausible tells whether the points can be those of a hand in a picture of w
// by h pixels, read from the region that was shown.
func (r *reading) plausible(w, h int) bool {
	if !usable(r.next, w, h) {
		return false
	}
	if s := r.next.Size / r.region.Size; s < leastSpan || s > mostSpan {
		return false
	}
	if reach := r.image[hand.Middle.MCP()].Sub(r.image[hand.Wrist]).Norm(); reach < leastReach*r.region.Size {
		return false
	}
	// The palm's middle beyond the rim: the points are guesswork.
	c := palmCentre(&r.image)
	return c.X >= 0 && c.Y >= 0 && c.X <= float64(w) && c.Y <= float64(h)
}

// duplicates tells whether the reading shows a hand that is sighted already. A
// surely seen hand of which only a part was sighted is not: the part is given
// up, and with it what was gathered of its side.
func (t *Tracker) duplicates(r *reading, sure bool) bool {
	for i := range t.sightings {
		s := &t.sightings[i]
		if !sameHand(&s.reading, r) {
			continue
		}
		if !sure || !partOf(&s.reading, r) {
			return true
		}
		if s.track >= 0 {
			t.tracks[s.track].gone = true
		}
		t.sightings = slices.Delete(t.sightings, i, i+1)
		return false
	}
	return false
}

// dropDuplicates keeps the better reading of a hand that two tracks have run
// into, as when one hand passes before the other. The hand goes on as the
// track whose side it has; if that does not tell, as that of the better
// reading.
func (t *Tracker) dropDuplicates() {
	if len(t.sightings) < 2 {
		return
	}
	kept := t.sightings[:1]
	for _, s := range t.sightings[1:] {
		known := -1
		for i := range kept {
			if sameHand(&kept[i].reading, &s.reading) {
				known = i
				break
			}
		}
		if known < 0 {
			kept = append(kept, s)
			continue
		}
		k := &kept[known]
		switch {
		case partOf(&k.reading, &s.reading) && s.presence >= t.options.MinPresence:
			t.tracks[k.track].gone = true
			*k = s
			continue
		case partOf(&s.reading, &k.reading) && k.presence >= t.options.MinPresence:
			t.tracks[s.track].gone = true
			continue
		}
		better := *k
		if s.presence > k.presence {
			better = s
		}
		side := scoredSide(better.rightScore)
		first, second := t.tracks[k.track].side.side == side, t.tracks[s.track].side.side == side
		switch {
		case first && !second:
			better.track = k.track
		case second && !first:
			better.track = s.track
		}
		*k = better
	}
	t.sightings = kept
}
