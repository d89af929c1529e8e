package landmark

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/hand"
)

func TestDetect(t *testing.T) {
	middle := fakeHand{x: 320, y: 340, palm: 100, side: hand.Left}
	for _, c := range []struct {
		name  string
		hands []fakeHand
		most  int
		// The palm detector sees palms of these parts of the searched square.
		leastPalm, mostPalm float64
		want                []int // numbers of the hands, in order
		palmRuns            int   // 0: not looked at
	}{
		{name: "one hand at first sight", hands: []fakeHand{middle}, mostPalm: 1, want: []int{0}, palmRuns: 1},
		{name: "close-up, found in a padded picture", hands: []fakeHand{{x: 320, y: 400, palm: 180, side: hand.Right}},
			mostPalm: 0.2, want: []int{0}, palmRuns: 2},
		{name: "far away, found in a part", hands: []fakeHand{{x: 520, y: 160, palm: 20, side: hand.Right, turn: 1}},
			leastPalm: 0.05, mostPalm: 1, want: []int{0}},
		{name: "no palm seen, taken as a whole", hands: []fakeHand{{x: 320, y: 350, palm: 200, side: hand.Right, blind: true}},
			mostPalm: 1, want: []int{0}},
		{name: "no palm seen, sideways", hands: []fakeHand{{x: 150, y: 240, palm: 200, turn: math.Pi / 2, side: hand.Right, blind: true}},
			mostPalm: 1, want: []int{0}},
		{name: "only the palm detector is convinced", hands: []fakeHand{{x: 320, y: 340, palm: 100, side: hand.Right, faint: true}}, mostPalm: 1},
		{name: "two hands", hands: []fakeHand{{x: 160, y: 350, palm: 70, side: hand.Right}, {x: 480, y: 350, palm: 70, side: hand.Left}},
			most: 2, mostPalm: 1, want: []int{0, 1}, palmRuns: 1},
		{name: "one of two wanted", hands: []fakeHand{{x: 160, y: 350, palm: 70, side: hand.Right}, {x: 480, y: 350, palm: 70, side: hand.Left}},
			mostPalm: 1, want: []int{0}, palmRuns: 1},
		{name: "two wanted, one there", hands: []fakeHand{middle}, most: 2, mostPalm: 1, want: []int{0}, palmRuns: 2},
		{name: "a part of a hand is no hand", hands: []fakeHand{middle, {x: 315, y: 300, palm: 30, side: hand.Left}}, most: 2, mostPalm: 1, want: []int{0}},
		{name: "no hand", most: 2, mostPalm: 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newScene(t, c.hands...)
			s.leastPalm, s.mostPalm = c.leastPalm, c.mostPalm
			list, err := s.tracker(Options{MaxHands: c.most}).Detect(mapPicture())
			require.NoError(t, err)
			require.Len(t, list, len(c.want))
			for k, o := range list {
				i, d := s.nearest(o)
				require.Equal(t, c.want[k], i)
				require.Less(t, d, tolerance)
				require.Equal(t, s.hands[i].side, o.Side)
				require.Zero(t, o.Track)
				require.Zero(t, o.Time)
			}
			if c.palmRuns > 0 {
				require.Equal(t, c.palmRuns, s.palmRuns)
			}
		})
	}
}

// A hand that no square shows well is taken if two show it in one place.
func TestDetectByAgreement(t *testing.T) {
	for _, c := range []struct {
		name                string
		presence            float32
		leastPalm, mostPalm float64
		found               bool
	}{
		{name: "seen in every square", presence: 0.6, mostPalm: 1, found: true},
		// 100 pixels are 0.156 of the plain square and 0.125 of those a quarter
		// larger.
		{name: "seen in the plain square alone", presence: 0.6, leastPalm: 0.15, mostPalm: 1},
		{name: "seen in those a quarter larger", presence: 0.6, leastPalm: 0.12, mostPalm: 0.13, found: true},
		{name: "too faint", presence: 0.49, mostPalm: 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newScene(t, fakeHand{x: 320, y: 340, palm: 100, side: hand.Right, pale: true})
			s.leastPalm, s.mostPalm = c.leastPalm, c.mostPalm
			s.raw = setPresence(c.presence)
			list, err := s.tracker(Options{}).Detect(mapPicture())
			require.NoError(t, err)
			if !c.found {
				require.Empty(t, list)
				return
			}
			require.Len(t, list, 1)
			_, d := s.nearest(list[0])
			require.Less(t, d, tolerance)
		})
	}
}

func TestDetectLeavesTrackingAlone(t *testing.T) {
	s := newScene(t, rightHand())
	p := s.player(Options{})
	require.Equal(t, 1, p.play(3, nil)[0].Track)
	kept := s.hands
	s.hands = []fakeHand{{x: 500, y: 300, palm: 60, side: hand.Left}}
	list, err := p.tracker.Detect(p.img)
	require.NoError(t, err)
	require.Len(t, list, 1)
	s.hands = kept
	list = p.next()
	require.Len(t, list, 1)
	require.Equal(t, 1, list[0].Track)
	require.Equal(t, hand.Right, list[0].Side)
}

func TestTiles(t *testing.T) {
	require.Empty(t, tiles(383, 383))
	require.Len(t, tiles(384, 384), 9)
	require.Len(t, tiles(640, 480), 6, "two rows of three")
	require.Len(t, tiles(3000, 400), 3)
	// Anything up to a quarter of the long side lies whole in some tile.
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(384, 8000).Draw(t, "w"), rapid.IntRange(1, 8000).Draw(t, "h")
		list := tiles(w, h)
		side := float64(max(w, h)) / 4
		x := rapid.Float64Range(0, max(0, float64(w)-side)).Draw(t, "x")
		y := rapid.Float64Range(0, max(0, float64(h)-side)).Draw(t, "y")
		inside := false
		for _, r := range list {
			inside = inside || (x >= r.CX-r.Size/2-1e-6 && x+min(side, float64(w)) <= r.CX+r.Size/2+1e-6 &&
				y >= r.CY-r.Size/2-1e-6 && y+min(side, float64(h)) <= r.CY+r.Size/2+1e-6)
		}
		require.True(t, inside, "(%v, %v) of %v", x, y, side)
	})
}
