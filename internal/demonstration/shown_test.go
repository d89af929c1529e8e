package demonstration

import (
	"image"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/handrender"
)

// Every movement that the catalogue marks as one of two hands is shown with both,
// the client's right hand on the right of the mirrored picture, and whichever
// hand the program is for.
func TestBothHandsAreShown(t *testing.T) {
	catalogue, err := exercise.Catalogue()
	require.NoError(t, err)
	pairs := 0
	for _, m := range catalogue {
		s, err := Show(Plan{Movement: m, Side: hand.Left}, m.View.Best)
		require.NoError(t, err, m.ID)
		scene := s.Scene(0)
		require.Equal(t, hand.Left, scene.Side)
		if m.Hands != 2 {
			require.Nil(t, scene.Behind, m.ID)
			require.Zero(t, s.At(time.Second)[1], m.ID)
			continue
		}
		pairs++
		require.NotNil(t, scene.Behind, m.ID)
		require.Equal(t, hand.Right, scene.Behind.Side)
		require.Equal(t, scene.Object, scene.Behind.Object, "each holds it")
		right, err := Show(Plan{Movement: m, Side: hand.Right}, m.View.Best)
		require.NoError(t, err)
		require.Equal(t, s.Duration, right.Duration)
		for at := time.Duration(0); at < s.Duration; at += 500 * time.Millisecond {
			a, b := s.At(at), right.At(at)
			require.Equal(t, a, Moments{b[1], b[0]}, "%s at %v", m.ID, at)
		}
	}
	require.Positive(t, pairs)
	_, err = Show(Plan{}, exercise.View{})
	require.ErrorContains(t, err, "no movement")
}

// Working together the hands turn against each other at the same time; one after
// the other each has its turn while the other waits.
func TestWhoMovesWhen(t *testing.T) {
	moved := func(id string) (together, one bool) {
		m := movement(t, id)
		s, err := Show(Plan{Movement: m}, m.View.Best)
		require.NoError(t, err)
		begin := s.At(0)
		for at := time.Duration(0); at < s.Duration; at += 100 * time.Millisecond {
			now := s.At(at)
			switch right, left := now[0].TurnDeg != begin[0].TurnDeg, now[1].TurnDeg != begin[1].TurnDeg; {
			case right && left:
				together = true
				require.InDelta(t, -now[0].TurnDeg, now[1].TurnDeg, 1e-9, "they turn against each other")
			case right || left:
				one = true
			}
		}
		return together, one
	}
	together, one := moved("wringing-together")
	require.True(t, together)
	require.False(t, one)
	together, one = moved("wringing-alternating")
	require.False(t, together)
	require.True(t, one)
}

// In the picture of the client's mirror image the hand that turns first, the
// right one, is on the right.
func TestTheRightHandIsOnTheRight(t *testing.T) {
	h, err := handrender.Default()
	require.NoError(t, err)
	m := movement(t, "wringing-alternating")
	r, err := NewReel(ReelOptions{
		Movement: m, Side: hand.Left, View: m.View.Best, Width: 96, Height: 72, Mirror: true,
		Renderer: handrender.NewRenderer(h, handrender.Options{Quality: handrender.Draft, Workers: 1}),
	})
	require.NoError(t, err)
	begin, turned := r.render(0), r.render(2*time.Second)
	changed := func(from, to int) (n int) {
		for y := range 72 {
			for x := from; x < to; x++ {
				if begin.RGBAAt(x, y) != turned.RGBAAt(x, y) {
					n++
				}
			}
		}
		return n
	}
	require.Zero(t, changed(0, 48), "the left hand waits")
	require.Greater(t, changed(48, 96), 100)
	empty := begin.RGBAAt(48, 2)
	for _, half := range []image.Rectangle{image.Rect(0, 0, 48, 72), image.Rect(48, 0, 96, 72)} {
		n := 0
		for y := half.Min.Y; y < half.Max.Y; y++ {
			for x := half.Min.X; x < half.Max.X; x++ {
				if begin.RGBAAt(x, y) != empty {
					n++
				}
			}
		}
		require.Greater(t, n, 300, "a hand is in each half")
	}
}
