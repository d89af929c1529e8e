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
}

// guessPatience is how long a hand must have been taken for the other one before it
// is taken for the wanted one. In its first pictures a hand may be read in the wrong
// place, as its own mirror image, and the name changes with that: after 0.7 s in a
// clip of testdata/matrix.md, which counted wrong without this.
const guessPatience = time.Second

// take returns the only hand in sight as one of the wanted side, or nil; track is the
// one that was taken for it until now, and becomes the one that is.
func (g *guess) take(seen []hand.Observation, side hand.Side, track *int, at time.Duration) *hand.Observation {
	if len(seen) != 1 || !seen[0].SideGuessed {
		*g = guess{}
		return nil
	}
	o := seen[0]
	if g.track != o.Track {
		*g = guess{o.Track, at}
	}
	if o.Track != *track && at-g.since < guessPatience {
		return nil
	}
	*track = o.Track
	o.Side, o.SideScore = side, 0.5
	return &o
}
