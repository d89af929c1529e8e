package landmark

import (
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
	"volar/internal/infer"
)

func TestADoubtedHandIsLookedForAnew(t *testing.T) {
	const spreads = 5 // the output
	for name, c := range map[string]struct {
		anew float32 // what a reading from the palm states
		want float64
	}{
		"surer":     {6, 6},
		"no better": {7, 9},
	} {
		t.Run(name, func(t *testing.T) {
			s := newScene(t, rightHand())
			s.extra = stating(9)
			p := s.player(Options{})
			track := p.next()[0].Track
			require.Equal(t, 1, s.palmRuns)

			runs := 0
			s.raw = func(out []infer.Tensor) {
				if runs++; runs == 2 {
					for i := range out[spreads].Data {
						out[spreads].Data[i] = c.anew
					}
				}
			}
			list := p.next()
			require.Len(t, list, 1)
			require.Equal(t, track, list[0].Track, "it is the same hand")
			require.Equal(t, c.want, list[0].Angles.SpreadDeg[hand.IndexPIP])
			require.Equal(t, 2, s.palmRuns)
			_, off := s.nearest(list[0])
			require.Less(t, off, tolerance)

			s.raw = nil
			p.next()
			require.Equal(t, 2, s.palmRuns, "not in every picture")
			p.next()
			require.Equal(t, 3, s.palmRuns)
		})
	}
}

// One finger that is read surely is enough, since those behind it never are; and a
// hand that is found elsewhere is not this one.
func TestWhatIsNotDoubted(t *testing.T) {
	s := newScene(t, rightHand())
	s.extra = stating(20)
	s.extra[1].Data[hand.RingPIP] = 4
	p := s.player(Options{})
	p.play(5, nil)
	require.Equal(t, 1, s.palmRuns)

	// What is read surely of a hand beside, whose palm lies in the region of the
	// doubted one, is not taken for it.
	right := rightHand()
	beside := fakeHand{x: right.x - 1.2*right.palm, y: right.y, palm: right.palm, side: hand.Left}
	s = newScene(t, right)
	s.extra = stating(9)
	p = s.player(Options{})
	first := p.next()[0]
	s.hands[0].blind = true
	s.hands = append(s.hands, beside)
	runs := 0
	s.raw = func(out []infer.Tensor) {
		if runs++; runs == 2 {
			clear(out[5].Data)
		}
	}
	list := p.next()
	require.Equal(t, 2, runs, "it was read")
	require.Len(t, list, 1)
	require.Equal(t, first.Track, list[0].Track)
	who, _ := s.nearest(list[0])
	require.Zero(t, who)
}
