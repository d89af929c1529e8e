package live

import (
	"slices"
	"time"

	"volar/internal/hand"
)

// From the side a hand looks like the mirror image of the other one, and more
// so where an object hides its fingers. Of a hand that is alone in the picture,
// where one exercises, the client's word on which it is counts for more than
// such a look: it is taken for the wanted one, unless it has plainly been seen
// to be the other.
const (
	// plainView is the fourth power of the cosine between the palm's normal and
	// the line of sight from which a picture tells the side, 55 degrees: beyond,
	// about half of the scores on rendered hands are right.
	plainView = 0.1
	// plainlyOther is the time in plain views after which a hand is the other
	// one, until plain views take it back (chosen: a few pictures may be
	// misread).
	plainlyOther = 200 * time.Millisecond
	// sameLone is how long a hand may be away and still be the same one under
	// a new number (chosen: changing hands takes longer).
	sameLone = time.Second
	// longestPicture is the most that one picture counts for.
	longestPicture = 100 * time.Millisecond
)

// lone remembers what plain views have said of the hands lately seen, and gives
// the one that is alone in a picture to the wanted side. The zero value has seen
// nothing.
type lone struct{ hands []known }

// known is a followed hand, when it was last seen, and for how long plain views
// spoke for the other hand, less the time for the wanted one.
type known struct {
	track       int
	at, against time.Duration
}

// see enters every hand of one picture.
func (l *lone) see(found []hand.Observation, side hand.Side, at time.Duration) {
	l.hands = slices.DeleteFunc(l.hands, func(k known) bool { return at < k.at || at-k.at > sameLone })
	for i := range found {
		o := &found[i]
		k := l.of(o, found, at)
		gap := min(at-k.at, longestPicture)
		k.at = at
		switch {
		case side == hand.UnknownSide || !telling(o):
		case o.SeenSide == side:
			k.against = max(0, k.against-gap)
		default:
			k.against += gap
		}
	}
}

// of is what is known of a hand. One with a new number that is alone may be any
// of those lately seen.
func (l *lone) of(o *hand.Observation, found []hand.Observation, at time.Duration) *known {
	n := known{track: o.Track, at: at}
	for i := range l.hands {
		if l.hands[i].track == o.Track {
			return &l.hands[i]
		}
		if len(found) == 1 {
			n.against = max(n.against, l.hands[i].against)
		}
	}
	l.hands = append(l.hands, n)
	return &l.hands[len(l.hands)-1]
}

// take returns the one hand of the picture that see was given last, as the
// wanted side's, or nil where it is not alone or not doubtful.
func (l *lone) take(found []hand.Observation, side hand.Side) *hand.Observation {
	if side == hand.UnknownSide || len(found) != 1 {
		return nil
	}
	o := found[0]
	if telling(&o) && o.SeenSide != side || l.of(&o, found, o.Time).against >= plainlyOther {
		return nil
	}
	o.Side, o.SideScore = side, 0.5
	return &o
}

// telling is true of a picture that shows so much of the palm or the back that
// the side can be told. A model that does not give the palm's direction is
// believed.
func telling(o *hand.Observation) bool {
	if o.Angles == nil || o.Angles.Normal == (hand.Point{}) {
		return true
	}
	z := o.Angles.Normal.Z
	return z*z*z*z >= plainView
}
