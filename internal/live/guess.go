package live

import (
	"time"

	"volar/internal/hand"
)

// guess takes the only hand in sight for the one that exercises where what the
// model named it is a guess. From the side, where a knuckle past straight shows, it
// would else be passed over as the other hand half of the time. The zero value is
// ready.
type guess struct {
	track int
	since time.Duration
	// seen is when the wanted hand was in sight last, and known that it ever was.
	seen  time.Duration
	known bool
}

// guessPatience is how long a hand must have been taken for the other one before it
// is taken for the wanted one. In its first pictures a hand may be read in the wrong
// place, as its own mirror image, and the name changes with that: after 0.7 s in a
// clip of testdata/matrix.md, which counted wrong without this.
const guessPatience = time.Second

// backWithin is for how long a hand that was lost is waited for: the only hand in
// sight is then the one that has come back, whatever it is named, and is taken at
// once. A straight hand from the side is lost easily, and every second would cost
// the end of a hold.
const backWithin = 2 * time.Second

// take returns best, the hand of the wanted side, where there is one, else the only
// hand in sight as one of the wanted side, or nil. track is the one that was taken for
// it until now, and becomes the one that is.
func (g *guess) take(best *hand.Observation, seen []hand.Observation, side hand.Side, track *int, at time.Duration) *hand.Observation {
	if best != nil {
		*g = guess{seen: at, known: true}
		return best
	}
	if len(seen) != 1 || !seen[0].SideGuessed {
		g.track, g.since = 0, 0
		return nil
	}
	o := seen[0]
	if g.track != o.Track {
		g.track, g.since = o.Track, at
	}
	back := g.known && at-g.seen <= backWithin
	if o.Track != *track && !back && at-g.since < guessPatience {
		return nil
	}
	*track, g.seen, g.known = o.Track, at, true
	o.Side, o.SideScore = side, 0.5
	return &o
}
