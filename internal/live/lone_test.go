package live

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/hand"
)

// seenAs is a hand whose picture speaks for a side, with the palm's normal so
// far along the line of sight.
func seenAs(track int, side hand.Side, normalZ float64) hand.Observation {
	return hand.Observation{Track: track, Side: side, SeenSide: side, SideScore: 0.98, Presence: 0.9,
		Angles: &hand.ModelAngles{Normal: hand.Point{X: 0.1, Z: normalZ}}}
}

func TestLoneHand(t *testing.T) {
	const aside, flat = 0.2, -0.95
	left := func(z float64) hand.Observation { return seenAs(1, hand.Left, z) }
	none := []hand.Observation{}
	type picture struct {
		hands []hand.Observation
		n     int // so many pictures at 15 a second
	}
	one := func(o hand.Observation, n int) picture { return picture{[]hand.Observation{o}, n} }
	unturned := left(aside)
	unturned.Angles = nil
	misread := left(flat)
	misread.SeenSide = hand.Right
	for name, c := range map[string]struct {
		pictures []picture
		taken    bool // in the last one
	}{
		"doubtful":                            {[]picture{one(left(aside), 1)}, true},
		"doubtful for long":                   {[]picture{one(left(aside), 300)}, true},
		"plainly the other":                   {[]picture{one(left(flat), 1)}, false},
		"no palm's direction":                 {[]picture{one(unturned, 1)}, false},
		"plain for the wanted, not yet its":   {[]picture{one(misread, 1)}, true},
		"one plain look, then aside":          {[]picture{one(left(flat), 2), one(left(aside), 1)}, true},
		"plain for long, then aside":          {[]picture{one(left(flat), 6), one(left(aside), 100)}, false},
		"taken back by plain looks":           {[]picture{one(left(flat), 6), one(misread, 7), one(left(aside), 1)}, true},
		"back soon under a new number":        {[]picture{one(left(flat), 6), {none, 8}, one(seenAs(2, hand.Left, aside), 1)}, false},
		"back later, perhaps the other hand":  {[]picture{one(left(flat), 6), {none, 20}, one(seenAs(2, hand.Left, aside), 1)}, true},
		"plain beside the wanted, then alone": {[]picture{{[]hand.Observation{seenAs(2, hand.Right, aside), left(flat)}, 6}, one(left(aside), 1)}, false},
		"not alone":                           {[]picture{{[]hand.Observation{left(aside), seenAs(2, hand.Left, aside)}, 3}}, false},
		"none":                                {[]picture{{none, 3}}, false},
	} {
		var l lone
		var got *hand.Observation
		at := time.Duration(0)
		for _, p := range c.pictures {
			for range p.n {
				l.see(p.hands, hand.Right, at)
				got = l.take(p.hands, hand.Right)
				at += time.Second / 15
			}
		}
		require.Equal(t, c.taken, got != nil, name)
		if got != nil {
			require.Equal(t, hand.Right, got.Side, name)
			require.Equal(t, 0.5, got.SideScore, name)
			last := c.pictures[len(c.pictures)-1].hands[0]
			require.Equal(t, hand.Left, last.Side, "%s: the observation itself is left as it was", name)
		}
	}
	var l lone
	l.see([]hand.Observation{left(aside)}, hand.UnknownSide, 0)
	require.Nil(t, l.take([]hand.Observation{left(aside)}, hand.UnknownSide), "no side is wanted")
}

// Whatever came before, a picture that plainly shows the other hand is never
// judged, nor is any of a hand that has shown itself so for long without a plain
// look at the wanted one since.
func TestPlainOtherHandIsNeverTaken(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var l lone
		at, plain := time.Duration(0), time.Duration(0)
		for range rapid.IntRange(1, 60).Draw(t, "pictures") {
			gap := time.Duration(rapid.IntRange(10, 100).Draw(t, "gap")) * time.Millisecond
			at += gap
			o := seenAs(1, hand.Left, rapid.Float64Range(-1, 1).Draw(t, "normal"))
			if rapid.IntRange(0, 9).Draw(t, "misread") == 0 {
				o.SeenSide = hand.Right
			}
			found := []hand.Observation{o}
			l.see(found, hand.Right, at)
			got := l.take(found, hand.Right)
			z := o.Angles.Normal.Z
			switch against := o.SeenSide == hand.Left; {
			case z*z*z*z < plainView:
			case against:
				plain += gap
				require.Nil(t, got)
			default:
				plain = 0
			}
			// The first picture has no length.
			if plain >= plainlyOther+longestPicture {
				require.Nil(t, got)
			}
		}
	})
}
